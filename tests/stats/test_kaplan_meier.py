"""Net revision risk against R, published tables and lifelines; the deaths of those data sets stand for revisions."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from regdash.errors import CountError
from regdash.stats.kaplan_meier import NetRisk, kaplan_meier
from regdash.stats.limits import ALL_HAD_IT, EXACT_BOUND, NO_FOLLOW_UP
from tests.stats.cases import Row, counts_of, joints_of, rows_of, values_of

# R's lines for each file: tests/reference/README.md.
CURVES = [
    *(("km_veteran_celltype", "data_veteran", "celltype", g) for g in ("squamous", "smallcell", "adeno", "large")),
    *(("km_aml_x", "data_aml", "x", group) for group in ("Maintained", "Nonmaintained")),
    *(("km_lung_sex", "data_lung", "sex", group) for group in ("1", "2")),
]
EVENT = {"data_lung": {"1": 0, "2": 2}}  # in all other files 1 is the event


def risk_of(
    rows: list[Row], time: str = "time", status: str = "status", outcomes: dict[str, int] | None = None
) -> NetRisk:
    counts = counts_of(joints_of(rows, time, status, outcomes or {"0": 0, "1": 2}))
    return kaplan_meier(counts.days, counts.revised, counts.left)


@pytest.mark.parametrize(("name", "data", "column", "group"), CURVES)
def test_every_step_and_limit_is_that_of_r(name: str, data: str, column: str, group: str) -> None:
    found = risk_of(rows_of(data, **{column: group}), outcomes=EVENT.get(data))
    expected = [row for row in rows_of(name, group=group) if row["n_event"] != "0"]
    assert found.days.tolist() == values_of(expected, "time")
    assert found.at_risk.tolist() == values_of(expected, "n_risk")
    assert found.revised.tolist() == values_of(expected, "n_event")
    assert_allclose(1 - found.risk, values_of(expected, "surv"), rtol=1e-10, atol=1e-15)
    points = found.at(found.days)
    for row, point, se in zip(expected, points, found.se, strict=True):
        if row["lower"] == "NA":  # everybody has had the event
            assert point.risk == 1
            assert (point.lower, point.upper, point.note) == (None, None, ALL_HAD_IT)
            assert se is np.ma.masked
        else:
            assert_allclose(se, float(row["se_surv"]), rtol=1e-10)
            assert_allclose([1 - point.upper, 1 - point.lower], [float(row["lower"]), float(row["upper"])], rtol=1e-10)


@pytest.mark.parametrize("sex", ["F", "M"])
def test_deaths_on_day_0_count_and_values_at_chosen_days_are_those_of_r(sex: str) -> None:
    found = risk_of(rows_of("data_flchain", sex=sex), "futime", "death")
    expected = rows_of("km_flchain_sex_at_times", group=sex)
    points = found.at([int(row["time"]) for row in expected])
    assert [point.at_risk for point in points] == values_of(expected, "n_risk")
    assert [point.events for point in points] == np.cumsum(values_of(expected, "n_event_interval")).tolist()
    with_events = [(point, row) for point, row in zip(points, expected, strict=True) if row["surv"] != "1"]
    assert len(with_events) >= len(points) - 1
    for point, row in with_events:
        assert_allclose(1 - point.risk, float(row["surv"]), rtol=1e-10)
        assert_allclose([1 - point.upper, 1 - point.lower], [float(row["lower"]), float(row["upper"])], rtol=1e-10)


@pytest.mark.parametrize("sex", ["F", "M"])
def test_deaths_that_censor_give_the_net_risk_of_r(sex: str) -> None:
    counts = counts_of(joints_of(rows_of("data_mgus2", sex=sex), "etime", "event", {"0": 0, "1": 2, "2": 1}))
    found = kaplan_meier(counts.days, counts.revised, counts.left)
    expected = rows_of("km_mgus2_pcm_deaths_censored", group=sex)
    points = found.at([int(row["time"]) for row in expected])
    assert_allclose([point.risk for point in points], values_of(expected, "one_minus_km"), rtol=1e-10)
    assert_allclose([1 - point.upper for point in points], values_of(expected, "lower"), rtol=1e-10)
    assert_allclose([1 - point.lower for point in points], values_of(expected, "upper"), rtol=1e-10)


@pytest.mark.parametrize("scale", ["log-log", "log", "plain"])
def test_limits_on_each_scale_are_those_of_r(scale: str) -> None:
    found = risk_of(rows_of("data_lung"), outcomes=EVENT["data_lung"])
    expected = rows_of("km_lung_transforms", conf_type=scale)
    points = found.at([int(row["time"]) for row in expected], scale=scale)  # type: ignore[arg-type]
    assert_allclose([1 - point.upper for point in points], values_of(expected, "lower"), rtol=1e-10, atol=1e-15)
    assert_allclose([1 - point.lower for point in points], values_of(expected, "upper"), rtol=1e-10, atol=1e-15)


@pytest.mark.parametrize(
    ("name", "outcomes"), [("edge_km_any", {"0": 0, "1": 2, "2": 2}), ("edge_km_event1", {"0": 0, "1": 2, "2": 1})]
)
def test_day_0_and_three_endings_on_one_day_are_counted_as_r_does(name: str, outcomes: dict[str, int]) -> None:
    found = risk_of(rows_of("data_edge"), "time", "event", outcomes)
    expected = rows_of(name)
    points = found.at([int(row["time"]) for row in expected])
    assert [point.at_risk for point in points] == values_of(expected, "n_risk")
    assert_allclose([1 - point.risk for point in points], values_of(expected, "surv"), rtol=1e-10)
    assert_allclose([1 - point.upper for point in points], values_of(expected, "lower"), rtol=1e-10)
    assert_allclose([1 - point.lower for point in points], values_of(expected, "upper"), rtol=1e-10)


def test_the_remission_table_of_the_textbooks_comes_out() -> None:
    """Freireich et al. (1963); Kalbfleisch & Prentice; Klein & Moeschberger. Digits: R and a plain program agreed."""
    found = risk_of(rows_of("data_remission", group="6-MP"))
    assert found.days.tolist() == [6, 7, 10, 13, 16, 22, 23]
    assert found.at_risk.tolist() == [21, 17, 15, 12, 11, 7, 6]
    assert found.revised.tolist() == [3, 1, 1, 1, 1, 1, 1]
    free = [0.857142857143, 0.806722689076, 0.752941176471, 0.690196078431]
    free += [0.627450980392, 0.537815126050, 0.448179271709]
    se = [0.076360354832, 0.086935285180, 0.096349652994, 0.106814707775]
    se += [0.114053865257, 0.128233751693, 0.134591456756]
    lower = [0.619717955266, 0.563146564622, 0.503199510800, 0.431610222486]
    lower += [0.367510855988, 0.267778936767, 0.188052005959]
    upper = [0.951551747647, 0.922809019203, 0.889361835169, 0.849065963349]
    upper += [0.804912189472, 0.746790717635, 0.680142628495]
    points = found.at(found.days)
    assert_allclose(1 - found.risk, free, atol=6e-13)
    assert_allclose(found.se, se, atol=6e-13)
    assert_allclose([1 - point.upper for point in points], lower, atol=6e-13)
    assert_allclose([1 - point.lower for point in points], upper, atol=6e-13)


def test_where_everybody_has_relapsed_the_risk_is_1_and_has_no_limits() -> None:
    """The placebo arm of the same trial: 21 of 21 relapse; R prints NA, some programs a limit of 0 to 0."""
    found = risk_of(rows_of("data_remission", group="placebo"))
    free = [0.904761904762, 0.809523809524, 0.761904761905, 0.666666666667, 0.571428571429, 0.380952380952]
    free += [0.285714285714, 0.190476190476, 0.142857142857, 0.095238095238, 0.047619047619, 0]
    assert_allclose(1 - found.risk, free, atol=6e-13)
    last = found.at([23])[0]
    assert (last.risk, last.lower, last.upper, last.note) == (1, None, None, ALL_HAD_IT)


@pytest.mark.parametrize(
    ("group", "free", "se", "lower", "upper"),
    [
        ("ALL", 0.5491990847, 0.0812232143, 0.3782972518, 0.6910997565),
        ("AML-Low Risk", 0.7777777778, 0.0565750086, 0.6419882679, 0.8671776851),
        ("AML-High Risk", 0.3777777778, 0.0722744351, 0.2390991533, 0.5156879308),
    ],
)
def test_a_year_after_marrow_transplant_the_textbooks_values_come_out(
    group: str, free: float, se: float, lower: float, upper: float
) -> None:
    """Klein & Moeschberger, Survival Analysis. Digits: R and a plain program agreed."""
    found = risk_of(rows_of("data_bmt", Group=group), "T", "Status")
    point = found.at([365])[0]
    assert_allclose([1 - point.risk, 1 - point.upper, 1 - point.lower], [free, lower, upper], atol=6e-11)
    assert_allclose(found.se[np.searchsorted(found.days, 365, "right") - 1], se, atol=6e-11)


@pytest.mark.parametrize(
    ("data", "time", "status", "event"),
    [
        ("data_flchain", "futime", "death", "1"),
        ("data_veteran", "time", "status", "1"),
        ("data_lung", "time", "status", "2"),
    ],
)
@pytest.mark.parametrize("level", [0.9, 0.95, 0.99])
def test_curves_and_limits_are_those_of_lifelines(data: str, time: str, status: str, event: str, level: float) -> None:
    from lifelines import KaplanMeierFitter

    rows = rows_of(data)
    times, events = [int(row[time]) for row in rows], [row[status] == event for row in rows]
    other = KaplanMeierFitter(alpha=1 - level).fit(times, events)
    curve = risk_of(rows, time, status, {row[status]: 2 * (row[status] == event) for row in rows}).curve(level)
    defined = ~curve.lower.mask & (curve.risk > 0)  # lifelines gives limits of (0, 0) where S = 0, (1, 1) where S = 1
    assert defined.sum() > 90
    survival = other.survival_function_.iloc[:, 0].reindex(curve.days)
    limits = other.confidence_interval_.reindex(curve.days)
    assert_allclose(1 - curve.risk, survival, rtol=1e-10, atol=1e-15)
    assert_allclose(1 - curve.upper[defined], limits.iloc[:, 0][defined], rtol=1e-10)
    assert_allclose(1 - curve.lower[defined], limits.iloc[:, 1][defined], rtol=1e-10)


def test_a_revision_and_a_censoring_on_one_day_counts_the_revision_first() -> None:
    """Kaplan & Meier (1958), p. 461: of 2 joints, one revised and one lost on day 5, half is revised."""
    found = kaplan_meier(np.array([5]), np.array([1]), np.array([2]))
    assert found.risk.tolist() == [0.5]


def test_before_any_revision_the_upper_limit_is_the_exact_bound() -> None:
    """With none of n, 1 - (alpha / 2)^(1 / n) is Clopper and Pearson's upper limit; for n = 10 it is 0.30850."""
    counts = counts_of([(100, 0)] * 10)
    point = kaplan_meier(counts.days, counts.revised, counts.left).at([50])[0]
    assert (point.risk, point.lower, point.note) == (0, 0, EXACT_BOUND)
    assert_allclose(point.upper, 0.308497107818761, rtol=1e-12)  # binom.test(0, 10)$conf.int[2]


def test_the_exact_bound_uses_the_joints_still_at_risk_on_the_day() -> None:
    found = kaplan_meier(np.array([10, 20]), np.array([0, 0]), np.array([30, 10]))
    assert found.at([15])[0].upper == found.at([20])[0].upper > found.at([5])[0].upper


def test_after_the_last_observation_there_is_no_risk() -> None:
    found = kaplan_meier(np.array([10, 20]), np.array([1, 0]), np.array([1, 3]))
    assert found.at([20])[0].risk == 0.25
    after = found.at([21])[0]
    assert (after.risk, after.lower, after.upper, after.at_risk, after.note) == (None, None, None, 0, NO_FOLLOW_UP)
    assert found.curve().days.tolist() == [0, 10, 20]


def test_an_empty_group_has_an_empty_curve_and_no_risk() -> None:
    nothing = np.array([], dtype=np.int64)
    found = kaplan_meier(nothing, nothing, nothing)
    assert (len(found.days), len(found.curve().days), found.followed.last_day) == (0, 0, None)
    assert found.at([0, 365])[1].note == NO_FOLLOW_UP


def test_one_revision_in_a_million_keeps_its_digits() -> None:
    found = kaplan_meier(np.array([1, 2]), np.array([1, 0]), np.array([1, 999_999]))
    assert found.risk[0] == 1e-6
    assert_allclose(found.se[0], 1e-6 * np.sqrt(1 - 1e-6), rtol=1e-12)  # binomial: nobody is censored
    point = found.at([1])[0]
    # theta = log(-log S) has standard error se / (S |log S|); by hand with log S = log1p(-1e-6).
    width = 1.959963984540054 * 1e-6 * np.sqrt(1 - 1e-6) / ((1 - 1e-6) * 1.0000005000003333e-6)
    assert_allclose([point.lower, point.upper], -np.expm1(-1.0000005000003333e-6 * np.exp([-width, width])), rtol=1e-10)


def test_those_who_enter_at_a_landmark_have_the_risk_given_unrevised_until_then() -> None:
    """S(t) / S(L) is what Kaplan and Meier's product gives for those still followed after day L."""
    joints = joints_of(rows_of("data_veteran"), "time", "status", {"0": 0, "1": 2})
    counts = counts_of(joints)
    whole = kaplan_meier(counts.days, counts.revised, counts.left)
    later = counts_of([joint for joint in joints if joint[0] > 100])
    days, left = np.insert(later.days, 0, 100), np.insert(later.left, 0, 0)
    entered = np.zeros_like(days)
    entered[0] = later.joints
    given = kaplan_meier(days, np.insert(later.revised, 0, 0), left, entered)
    free = {point.day: 1 - point.risk for point in whole.at([100, *given.days]) if point.risk is not None}
    assert len(given.days) > 30
    assert_allclose(1 - given.risk, [free[day] / free[100] for day in given.days], rtol=1e-12, atol=1e-15)
    assert given.at([100])[0].note == NO_FOLLOW_UP  # at risk from the next day on


@pytest.mark.parametrize(
    ("days", "revised", "left", "says"),
    [
        ([1, 2], [1], [1, 1], "one length"),
        ([2, 1], [0, 0], [1, 1], "day 2 is followed by day 1"),
        ([1, 1], [0, 0], [1, 1], "day 1 is followed by day 1"),
        ([1, 2], [1, 3], [1, 2], "day 2, 3 of 2"),
        ([1, 2], [-1, 0], [1, 2], "below 0"),
        ([-1, 2], [0, 0], [1, 2], "below 0"),
        ([1, 2], [0.5, 0], [1, 2], "not whole numbers"),
        ([1, 2], [np.nan, 0], [1, 2], "not whole numbers"),
        ([1, 2], ["a", "b"], [1, 2], "must be whole numbers"),
        ([[1, 2]], [0, 0], [1, 2], "2 dimensions"),
    ],
)
def test_counts_at_odds_are_refused_with_the_value(days: list, revised: list, left: list, says: str) -> None:
    with pytest.raises(CountError, match=says):
        kaplan_meier(np.array(days), np.array(revised), np.array(left))


@pytest.mark.parametrize(("entered", "says"), [([2, 0], "must enter on an earlier day"), ([1, 0], "1 joints enter")])
def test_entries_at_odds_with_endings_are_refused(entered: list[int], says: str) -> None:
    with pytest.raises(CountError, match=says):
        kaplan_meier(np.array([5, 9]), np.array([0, 1]), np.array([1, 1]), np.array(entered))


@pytest.mark.parametrize("level", [0, 1, 95, float("nan")])
def test_a_level_that_is_none_is_refused(level: float) -> None:
    with pytest.raises(ValueError, match="between 0 and 1"):
        kaplan_meier(np.array([1]), np.array([1]), np.array([2])).at([1], level=level)
