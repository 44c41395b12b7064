"""Hazard ratios against R, lifelines and printed tables; deaths in those data sets stand for revisions."""

from math import exp, inf, log

import numpy as np
import pytest
from lifelines import CoxPHFitter
from lifelines.datasets import load_rossi
from numpy.testing import assert_allclose

from regdash.errors import ModelError
from regdash.stats.cox import cox
from regdash.stats.cox_counts import PatternCounts
from regdash.stats.cox_tests import likelihood_ratio_test, score_test, wald_test
from regdash.stats.design import Design, categorical, interaction, linear
from regdash.stats.time_split import split_at
from tests.stats import plain_cox
from tests.stats.cases import rows_of
from tests.stats.cox_cases import MODELS, column, counts_of_rows, levels, veteran
from tests.stats.plain_cox import Joint

# R's lines for cox_coefficients and cox_fit: tests/reference/README.md.


@pytest.mark.parametrize("model", MODELS)
def test_coefficients_likelihoods_and_tests_are_those_of_r(model: str) -> None:
    fit = MODELS[model]()
    expected, (whole,) = rows_of("cox_coefficients", model=model), rows_of("cox_fit", model=model)
    found = {ratio.name: ratio for ratio in fit.ratios()}
    assert len(found) == len(expected)
    # R's terms come in another order where a term by window is written first; values tell them apart.
    by_coef = sorted(found.values(), key=lambda ratio: ratio.ratio or 0)
    for row, ratio in zip(sorted(expected, key=lambda row: float(row["coef"])), by_coef, strict=True):
        assert_allclose(log(ratio.ratio or 0), float(row["coef"]), rtol=1e-8)
        assert_allclose(ratio.log_se, float(row["se_model"]), rtol=1e-8)
        if row["se_robust"] == "NA":
            limits = [float(row["lower95"]), float(row["upper95"]), float(row["p"])]
            assert_allclose([ratio.lower, ratio.upper, ratio.p], limits, rtol=1e-7)
    assert_allclose([fit.loglik_null, fit.loglik], [float(whole["loglik_null"]), float(whole["loglik"])], rtol=1e-11)
    tests = [test(fit) for test in (likelihood_ratio_test, wald_test, score_test)]
    assert [test.df for test in tests] == [int(whole["df"])] * 3
    statistics = [float(whole[name]) for name in ("lr_test", "wald_test", "score_test")]
    assert_allclose([test.statistic for test in tests], statistics, rtol=1e-8)
    assert fit.events == int(whole["events"])


def test_recidivism_is_that_of_r_and_lifelines() -> None:
    rossi = load_rossi()
    names = ["fin", "age", "race", "wexp", "mar", "paro", "prio"]
    columns = [linear(name, rossi[name].to_numpy()) for name in names]
    counts = counts_of_rows(rossi["week"].to_numpy(), rossi["arrest"].to_numpy())
    fit = cox(counts, columns[0].beside(*columns[1:]))
    # R 4.2.2, survival 3.5-3: coxph(Surv(week, arrest) ~ fin + age + race + wexp + mar + paro + prio, eps = 1e-14);
    # the log-likelihood is printed as -658.75 in Fox & Weisberg's appendix on Cox regression, with the data.
    coef = [-0.3794221668712, -0.0574377430138, 0.3138997859493, -0.1497956972228]
    coef += [-0.4337038766903, -0.0848710829908, 0.0914970793511]
    se = [0.1913794807128, 0.0219994706280, 0.3079927763929, 0.2122242961582]
    se += [0.3818680574649, 0.1957566719209, 0.0286485500735]
    assert_allclose(fit.coef, coef, rtol=1e-10)
    assert_allclose(fit.se, se, rtol=1e-10)
    assert_allclose([fit.loglik_null, fit.loglik], [-675.38063234687, -658.74765944609], rtol=1e-13)
    breslow = [-0.3790218877950, -0.0572459253636, 0.3141297650682, -0.1511145996275]
    breslow += [-0.4327825725491, -0.0849828357516, 0.0911115405005]
    assert_allclose(cox(counts, fit.design, "breslow").coef, breslow, rtol=1e-10)
    other = CoxPHFitter().fit(rossi, "week", "arrest", fit_options={"precision": 1e-12})
    assert_allclose(fit.coef, other.params_[names], rtol=1e-7)
    assert_allclose(fit.se, other.standard_errors_[names], rtol=1e-7)


def remission(ties: str) -> tuple[float, float, float, float, float]:
    rows = rows_of("data_remission")
    fit = cox(
        counts_of_rows(column(rows, "time"), column(rows, "status")),
        levels(rows, "group", ("6-MP", "placebo")),
        ties,  # type: ignore[arg-type]
    )
    return float(fit.coef[0]), float(fit.se[0]), fit.loglik_null, fit.loglik, score_test(fit).statistic


def test_remission_is_that_of_r_and_of_the_textbooks() -> None:
    # R 4.2.2, survival 3.5-3; printed as 1.509 and 1.572 in Kalbfleisch & Prentice.
    expected = [1.509191412586, 0.409564406367, -93.985050478245, -86.379622071146, 15.930539564033]
    assert_allclose(remission("breslow"), expected, rtol=1e-11)
    expected = [1.572125148829, 0.412396717709, -93.184269996848, -85.008424577372, 17.246536795717]
    assert_allclose(remission("efron"), expected, rtol=1e-11)


@pytest.mark.parametrize("ties", ["efron", "breslow"])
def test_without_ties_the_score_test_is_the_log_rank_test(ties: str) -> None:
    # Cox (1972). Groups and endings made up; each day has one event at most.
    new = np.array([1, 0, 1, 1, 0, 1, 0, 0, 1, 0, 0, 1])
    event = np.array([1, 1, 1, 0, 1, 1, 0, 1, 1, 0, 1, 1])
    fit = cox(counts_of_rows(np.arange(1, 13), event), linear("new", new), ties)  # type: ignore[arg-type]
    at_risk = [(12 - i, int(new[i:].sum())) for i in range(12) if event[i]]
    observed = int((new * event).sum())
    expected = sum(of_new / n for n, of_new in at_risk)
    variance = sum(of_new / n * (1 - of_new / n) for n, of_new in at_risk)
    assert_allclose(score_test(fit).statistic, (observed - expected) ** 2 / variance, rtol=1e-12)


def test_counted_patterns_give_what_rows_give() -> None:
    rows = rows_of("data_veteran")
    cell, trt = (
        np.unique([row["celltype"] for row in rows], return_inverse=True)[1],
        column(rows, "trt").astype(int) - 1,
    )
    by_row = cox(
        counts_of_rows(column(rows, "time"), column(rows, "status")),
        categorical("cell", cell, "abcd").beside(linear("trt", trt)),
    )
    place, key = np.unique(
        np.stack([cell * 2 + trt, column(rows, "time"), column(rows, "status")]), axis=1, return_counts=True
    )
    patterns = np.arange(8)
    by_count = cox(
        PatternCounts(8, place[0], place[1], place[2], key),
        categorical("cell", patterns // 2, "abcd").beside(linear("trt", patterns % 2)),
    )
    assert key.max() > 1
    assert_allclose(by_count.coef, by_row.coef, rtol=1e-11)
    assert_allclose(by_count.covariance, by_row.covariance, rtol=1e-11)
    assert_allclose(by_count.loglik, by_row.loglik, rtol=1e-13)


def test_a_known_log_hazard_as_offset_is_taken_off() -> None:
    fit = veteran()
    known = fit.design.matrix @ fit.coef
    left = cox(fit.counts, fit.design, offset=known)
    assert_allclose(left.coef, 0, atol=1e-10)
    assert_allclose(left.loglik_null, fit.loglik, rtol=1e-13)
    assert_allclose(left.covariance, fit.covariance, rtol=1e-9)


def test_two_levels_are_compared_whatever_the_reference() -> None:
    fit = veteran()
    rows = rows_of("data_veteran")
    order = ("large", "squamous", "smallcell", "adeno")
    others = [fit.design.only(fit.design.places(term)) for term in ("trt", "karno", "age", "prior")]
    other = cox(fit.counts, levels(rows, "celltype", order).beside(*others))
    found = fit.between("celltype=adeno", "celltype=large")
    expected = {ratio.name: ratio for ratio in other.ratios()}["celltype=adeno"]
    assert found.name == "celltype=adeno against celltype=large"
    assert_allclose([found.ratio, found.lower, found.p], [expected.ratio, expected.lower, expected.p], rtol=1e-9)
    with pytest.raises(ModelError, match="no coefficient for 'celltype=squamous'"):
        fit.between("celltype=adeno", "celltype=squamous")


def test_terms_are_tested_by_fitting_without_them() -> None:
    rows = rows_of("data_veteran")
    fit = veteran()
    smaller = cox(fit.counts, fit.design.only(~fit.design.places("celltype", "age")))
    test = likelihood_ratio_test(fit, "celltype", "age")
    assert test.df == 4
    assert_allclose(test.statistic, 2 * (fit.loglik - smaller.loglik), rtol=1e-12)
    # The score test by its definition: the smaller model's coefficients, 0 for the rest, in plain Python.
    coef = [0.0] * 7
    for number, name in enumerate(fit.design.names):
        if name in smaller.design.names:
            coef[number] = float(smaller.coef[smaller.design.names.index(name)])
    joints = [
        Joint(int(row["time"]), row["status"] == "1", tuple(x)) for row, x in zip(rows, fit.design.matrix, strict=True)
    ]
    slope, information = np.array(plain_cox.score(joints, coef)), np.array(plain_cox.information(joints, coef))
    assert_allclose(
        score_test(fit, "celltype", "age").statistic, slope @ np.linalg.solve(information, slope), rtol=1e-8
    )
    (karno,) = fit.design.places("karno").nonzero()
    assert_allclose(wald_test(fit, "karno").statistic, (fit.coef[karno] / fit.se[karno]) ** 2, rtol=1e-10)
    for one in (likelihood_ratio_test, wald_test, score_test):
        with pytest.raises(ModelError, match="no term 'sex'"):
            one(fit, "sex")


def test_an_interaction_is_what_separate_models_say() -> None:
    # With everything but time stratified by the other covariate, the two levels share nothing.
    rows = rows_of("data_colon_death")
    arm, sex = levels(rows, "node4", ("0", "1")), levels(rows, "sex", ("0", "1"))
    days, died = column(rows, "time"), column(rows, "status")
    of_men = column(rows, "sex") == 1
    both = cox(
        counts_of_rows(days, died, stratum=of_men.astype(int)),
        arm.beside(interaction(sex, arm)),
    )
    women, men = (
        cox(counts_of_rows(days[of], died[of]), arm.of(np.flatnonzero(of))).coef[0] for of in (~of_men, of_men)
    )
    assert both.design.names == ("node4=1", "sex=1 × node4=1")
    assert_allclose(both.coef, [women, men - women], rtol=1e-9)


def three_levels(events: tuple[int, int, int], joints: int = 20) -> PatternCounts:
    """Events on days 1, 2, 3 ... of each level in turn, all others followed to day 99."""
    pattern = [level for level in range(3) for _ in range(events[level])]
    days = [1 + 3 * number + level for level in range(3) for number in range(events[level])]
    return PatternCounts(
        3,
        np.array([*pattern, 0, 1, 2]),
        np.array([*days, 99, 99, 99]),
        np.array([*(1 for _ in days), 0, 0, 0]),
        np.array([*(1 for _ in days), *(joints - seen for seen in events)]),
    )


LEVELS = categorical("bearing", np.arange(3), ("fixed", "mobile", "other"))


def test_a_level_without_events_is_told_and_not_given_a_ratio_of_0() -> None:
    fit = cox(three_levels((6, 4, 0)), LEVELS)
    mobile, other = fit.ratios()
    assert (other.ratio, other.lower, other.upper, other.p) == (None, None, None, None)
    assert other.note == "no events among its 20 joints"
    # The other ratio is the limit that a plain likelihood tends to as the level's hazard goes to 0.
    alone = cox(
        PatternCounts(2, *(values[:-1] for values in columns(three_levels((6, 4, 0))))), linear("mobile", [0, 1])
    )
    assert mobile.note is None
    assert_allclose([log(mobile.ratio or 0), mobile.log_se], [alone.coef[0], alone.se[0]], rtol=1e-10)
    joints = [
        Joint(int(day), bool(event), (float(pattern == 1), float(pattern == 2)))
        for pattern, day, event, many in zip(*columns(three_levels((6, 4, 0))), strict=True)
        for _ in range(many)
    ]
    assert_allclose(fit.loglik, plain_cox.loglik(joints, [float(fit.coef[0]), -30.0]), rtol=1e-10)
    assert_allclose(fit.loglik_null, plain_cox.loglik(joints, [0.0, 0.0]), rtol=1e-12)
    test = likelihood_ratio_test(fit)
    assert test.df == 2
    assert_allclose(test.statistic, 2 * (fit.loglik - fit.loglik_null), rtol=1e-12)
    assert score_test(fit).df == 2
    assert wald_test(fit).df == 1
    dose = cox(three_levels((6, 4, 0)), linear("mobile", [0, 1, 0]).beside(linear("other", [0, 0, 1])))
    assert likelihood_ratio_test(dose, "other").df == 1
    with pytest.raises(ModelError, match="No level of other but the reference has an event"):
        wald_test(dose, "other")


def columns(counts: PatternCounts) -> tuple[np.ndarray, ...]:
    return counts.pattern, counts.day, counts.event, counts.weights


def test_a_reference_without_events_is_refused_by_name() -> None:
    with pytest.raises(ModelError, match=r"reference of 'bearing' has no events among its 20 joints.*Firth"):
        cox(three_levels((0, 5, 4)), LEVELS)
    with pytest.raises(ModelError, match="No level but the references has an event"):
        cox(three_levels((5, 0, 0)), LEVELS)


def test_a_term_is_tested_beside_a_level_without_events_alone() -> None:
    # R 4.2.2, survival 3.5-3: l$event <- l$status == 2 & l$sex == 1; twice the loglik of coxph(Surv(time, event) ~
    # age + factor(sex), lung, control = coxph.control(eps = 1e-14, iter.max = 60)) less that without age.
    rows = rows_of("data_lung")
    event = (column(rows, "status") == 2) & (column(rows, "sex") == 1)
    counts = counts_of_rows(column(rows, "time"), event.astype(np.int64))
    design = linear("age", column(rows, "age")).beside(levels(rows, "sex", ("1", "2")))
    assert likelihood_ratio_test(cox(counts, design), "age").statistic == pytest.approx(2.8942646829, rel=1e-9)


def test_no_events_at_all_are_refused() -> None:
    with pytest.raises(ModelError, match="None of 60 joints has the event"):
        cox(three_levels((0, 0, 0)), LEVELS)
    empty = np.zeros(0, dtype=np.int64)
    with pytest.raises(ModelError, match="None of 0 joints has the event"):
        cox(PatternCounts(3, empty, empty, empty), LEVELS)


def test_collinear_columns_are_refused_by_name() -> None:
    counts, double = three_levels((6, 4, 3)), linear("twice", np.array([0, 2, 0]))
    with pytest.raises(ModelError, match="'twice' says nothing that 'bearing=mobile' does not say already"):
        cox(counts, LEVELS.beside(double))
    with pytest.raises(ModelError, match="'sum' says nothing that 'bearing=mobile' and 'bearing=other' does not say"):
        cox(counts, LEVELS.beside(linear("sum", np.array([5, 7, 9]))))
    strata = PatternCounts(3, *columns(counts), stratum=np.arange(3))
    with pytest.raises(ModelError, match="'bearing=mobile' does not vary among the joints that are compared"):
        cox(strata, LEVELS)


def test_a_covariate_with_one_value_is_refused() -> None:
    with pytest.raises(ModelError, match="'dose' has one value only"):
        cox(three_levels((6, 4, 3)), LEVELS.beside(linear("dose", np.full(3, 2.5))))
    with pytest.raises(ModelError, match="'side' is 'left' in every joint"):
        categorical("side", np.zeros(3, dtype=int), ("left", "right"))


def test_separation_that_no_single_level_shows_is_refused_by_name() -> None:
    # The higher the dose, the earlier the event, without exception.
    counts = counts_of_rows(np.arange(1, 7), np.ones(6, dtype=int))
    with pytest.raises(ModelError, match=r"rises without end as the coefficient of 'dose' grows.*Firth"):
        cox(counts, linear("dose", np.array([9.0, 7, 5, 4, 2, 1])))


def test_what_does_not_fit_together_is_refused() -> None:
    counts = three_levels((6, 4, 3))
    with pytest.raises(ModelError, match="2 rows for 3 covariate patterns"):
        cox(counts, linear("new", np.array([0, 1])))
    with pytest.raises(ModelError, match="at least one covariate"):
        cox(counts, Design((), (), np.zeros((3, 0))))
    for offset in (np.zeros(2), np.array([0, inf, 0])):
        with pytest.raises(ModelError, match="one finite number for each of 3 patterns"):
            cox(counts, LEVELS, offset=offset)


def test_an_upper_limit_beyond_all_numbers_is_left_out() -> None:
    ratio = veteran().ratio("far", np.array([0, 0, 0, 0, 0, 90000.0, 0]))
    assert ratio.upper is None
    assert ratio.note == "no upper limit can be stated"


@pytest.mark.parametrize("cuts", [[], [90, 1000]])
@pytest.mark.parametrize("strata", [1, 4])
def test_many_joints_on_the_quick_road_give_the_same_digits(
    cuts: list[int], strata: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    # 60,000 joints: sparse counts and a rough start, against a plain matrix and Newton's method alone.
    random = np.random.default_rng(7)
    size, sizes = 60_000, (2, 5, 4, 3)
    codes = [random.integers(0, levels, size) for levels in sizes]
    effects = 0.3 * codes[0] - 0.2 * codes[1] + 0.1 * codes[2] * (codes[3] == 1)
    fails, ends = random.exponential(20_000 * np.exp(-effects)).astype(int), random.integers(1, 4000, size)
    pattern = np.ravel_multi_index(codes, sizes)
    counts = PatternCounts(
        int(np.prod(sizes)),
        pattern,
        np.minimum(fails, ends),
        (fails <= ends).astype(int),
        stratum=np.unravel_index(np.arange(np.prod(sizes)), sizes)[2] % strata,
    )
    parts = [
        categorical(str(number), np.unravel_index(np.arange(counts.patterns), sizes)[number], "abcde"[:levels])
        for number, levels in enumerate(sizes)
    ]
    design = parts[0].beside(parts[1], parts[3], *(() if strata > 1 else (parts[2],)))
    if cuts:
        split = split_at(counts, cuts)
        counts, design = split.counts, split.constant(parts[1]).beside(split.by_window(parts[0]))
    monkeypatch.setattr("regdash.stats.risk_sets._DENSE", 2**13)
    quick = cox(counts, design)
    assert not quick.scaled.likelihood.sets.is_dense
    assert quick.scaled.likelihood.rough is not None
    monkeypatch.setattr("regdash.stats.risk_sets._DENSE", 2**24)
    plain = cox(counts, design)
    assert plain.scaled.likelihood.rough is None
    assert_allclose(quick.coef, plain.coef, rtol=1e-10, atol=1e-12)
    assert_allclose(quick.covariance, plain.covariance, rtol=1e-9, atol=1e-15)
    assert_allclose(quick.loglik, plain.loglik, rtol=1e-14)
    assert quick.ratios()[0].name.startswith("1=b" if cuts else "0=b")
    assert exp(quick.coef[0]) == pytest.approx(exp(-0.2 if cuts else 0.3), rel=0.15)


@pytest.mark.slow
def test_limits_cover_the_truth_as_often_as_they_say_and_tests_reject_as_often() -> None:
    # 600 registers of 400 joints: 95 % limits should miss in 30 ± 16 of them (3 standard deviations).
    random = np.random.default_rng(20)
    truth, misses, rejected = np.array([log(2), 0.0]), np.zeros(2), np.zeros(3)
    for _ in range(600):
        x = np.stack([random.random(400) < 0.5, random.random(400) < 0.3], axis=1).astype(float)
        fails = random.exponential(1500 / np.exp(x @ truth)).astype(int)
        ends = random.integers(1, 1500, 400)
        counts = counts_of_rows(np.minimum(fails, ends), (fails <= ends).astype(int))
        fit = cox(counts, numbers_of(x))
        for number, ratio in enumerate(fit.ratios()):
            assert ratio.lower is not None
            assert ratio.upper is not None
            misses[number] += not ratio.lower < exp(truth[number]) < ratio.upper
        rejected += [test(fit, "x1").p < 0.05 for test in (likelihood_ratio_test, wald_test, score_test)]
    assert np.all((misses > 13) & (misses < 47))
    assert np.all((rejected > 13) & (rejected < 47))


def numbers_of(x: np.ndarray) -> Design:
    names = tuple(f"x{k}" for k in range(x.shape[1]))
    return Design(names, names, x)
