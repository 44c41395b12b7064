"""Log-rank and trend tests against R, published values and lifelines."""

import random

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from regdash.errors import CountError, ModelError
from regdash.stats.compared import GroupTest
from regdash.stats.events import EventTable
from regdash.stats.landmark import given_unrevised
from regdash.stats.log_rank import log_rank_test, trend_test
from tests.stats import plain_tests
from tests.stats.cases import Row, rows_of, values_of
from tests.stats.group_cases import Joint, table_of, table_of_rows

ONE = {"0": 0, "1": 2}
SOURCES = {  # data, time, status, outcomes
    "aml": ("data_aml", "time", "status", ONE),
    "veteran": ("data_veteran", "time", "status", ONE),
    "lung": ("data_lung", "time", "status", {"1": 0, "2": 2}),
    "colon": ("data_colon_death", "time", "status", ONE),
    "flchain": ("data_flchain", "futime", "death", ONE),
}

joints = st.lists(st.tuples(st.integers(0, 6), st.integers(0, 3)), max_size=9)
some_groups = st.lists(joints, min_size=2, max_size=4)


def labelled(groups: list[list[Joint]]) -> EventTable:
    return table_of([(f"group {number}", each) for number, each in enumerate(groups)], reasons=2)


def with_strata(strata: list[list[list[Joint]]]) -> tuple[EventTable, list[str], list[int]]:
    """Every group of every stratum as a group of the table, what each is compared as, and its stratum."""
    parts = [(f"group {g}", s, each) for s, groups in enumerate(strata) for g, each in enumerate(groups)]
    table = table_of([(f"{label} of {s}", each) for label, s, each in parts], reasons=2)
    return table, [label for label, _, _ in parts], [s for _, s, _ in parts]


def surplus(found: GroupTest) -> list[float]:
    return [group.observed - group.expected for group in found.groups]


@pytest.mark.parametrize("test", sorted({row["test"] for row in rows_of("logrank")}))
def test_statistics_and_expected_events_are_those_of_r(test: str) -> None:
    expected, (data, of, *rest) = rows_of("logrank", test=test), test.split()
    name, time, status, outcomes = SOURCES[data]
    within = rest[0].removeprefix("strata(").removesuffix(")") if rest and rest[0].startswith("strata") else None

    def group(row: Row) -> str:
        return f"{row[of]}|{row[within]}" if within else row[of]

    table = table_of_rows(rows_of(name), group, time, status, outcomes)
    compare = [label.split("|")[0] for (label,) in table.groups]
    strata = [label.split("|")[1] for (label,) in table.groups] if within else None
    found = log_rank_test(table, compare=compare, stratum=strata, rho=1 if "rho=1" in test else 0)
    by_label = {each.label: each for each in found.groups}
    for row in expected:
        of_group = by_label[row["group"].split("=")[1]]
        assert of_group.joints == int(row["n"])
        assert_allclose(
            [of_group.observed, of_group.expected], [float(row["observed"]), float(row["expected"])], rtol=1e-10
        )
    assert found.df == int(expected[0]["df"])
    assert_allclose(found.statistic, float(expected[0]["chisq"]), rtol=1e-9)
    assert_allclose(found.p, float(expected[0]["p"]), rtol=1e-8)
    assert found.dropped == ()


def test_the_covariance_is_that_of_r() -> None:
    labels = ["squamous", "smallcell", "adeno", "large"]
    table = table_of_rows(rows_of("data_veteran"), lambda row: row["celltype"], "time", "status", ONE)
    found = log_rank_test(table)
    order = [[group.label for group in found.groups].index(label) for label in labels]
    expected = np.array([[float(value) for value in row.values()] for row in rows_of("logrank_veteran_celltype_var")])
    assert_allclose(found.covariance[np.ix_(order, order)], expected, rtol=1e-10)


def test_the_remission_trial_has_the_published_statistic() -> None:
    """Freireich et al. (1963): 16.79; observed 9 and 21, expected 19.25 and 10.75. Digits: R and a plain program."""
    table = table_of_rows(rows_of("data_remission"), lambda row: row["group"], "time", "status", ONE)
    found = log_rank_test(table)
    assert [group.observed for group in found.groups] == [9, 21]
    assert_allclose([group.expected for group in found.groups], [19.250500948031, 10.749499051969], atol=6e-13)
    assert_allclose(np.diag(found.covariance), 6.25696057368, atol=6e-12)
    assert_allclose(found.statistic, 16.792940989217, atol=6e-13)
    assert_allclose(log_rank_test(table, rho=1).statistic, 14.4571508188, atol=6e-11)


def test_three_groups_after_marrow_transplant_have_the_textbooks_statistic() -> None:
    """Klein & Moeschberger: 13.80 on 2 degrees of freedom (from memory). Digits: R and a plain program agreed."""
    found = log_rank_test(table_of_rows(rows_of("data_bmt"), lambda row: row["Group"], "T", "Status", ONE))
    assert_allclose(found.statistic, 13.8037218872, atol=6e-11)
    assert found.df == 2


def test_stage_of_larynx_cancer_has_the_textbooks_trend() -> None:
    """Klein & Moeschberger, section 7.4, scores 1 to 4: Z = 3.72, and 22.76 on 3 degrees without (from memory)."""
    tenths = [row | {"tenths": str(round(10 * float(row["years"])))} for row in rows_of("data_larynx")]
    found = log_rank_test(table_of_rows(tenths, lambda row: row["stage"], "tenths", "death", ONE))
    trend = trend_test(found)
    assert round(found.statistic, 2) == 22.76
    assert round(trend.z, 2) == 3.72
    assert trend.p < 0.0005
    assert_allclose(trend.statistic, trend.z**2)


@pytest.mark.parametrize("data", ["veteran celltype", "colon rx", "flchain flc.grp"])
def test_statistics_are_those_of_lifelines(data: str) -> None:
    from lifelines.statistics import multivariate_logrank_test

    name, of = data.split()
    file, time, status, outcomes = SOURCES[name]
    rows = rows_of(file)
    other = multivariate_logrank_test(
        values_of(rows, time), [row[of] for row in rows], [row[status] == "1" for row in rows]
    )
    found = log_rank_test(table_of_rows(rows, lambda row: row[of], time, status, outcomes))
    assert_allclose([found.statistic, found.p], [other.test_statistic, other.p_value], rtol=1e-8)


def test_a_trend_between_two_groups_is_the_test_itself() -> None:
    found = log_rank_test(table_of_rows(rows_of("data_lung"), lambda row: row["sex"], *SOURCES["lung"][1:]))
    trend = trend_test(found, [5, 9])
    assert_allclose([trend.statistic, trend.p], [found.statistic, found.p], rtol=1e-12)
    assert trend.z < 0  # fewer events in the second group
    assert trend.scores == (5, 9)


@given(some_groups)
def test_scores_and_covariance_are_the_plain_ones(groups: list[list[Joint]]) -> None:
    observed, expected, spread = plain_tests.log_rank([groups], {2, 3})
    assume(sum(map(bool, groups)) > 1 and any(observed) and any(map(any, spread)))
    found = log_rank_test(labelled(groups))
    assert [group.observed for group in found.groups] == observed
    assert_allclose([group.expected for group in found.groups], np.array(expected, dtype=float), rtol=1e-12)
    assert_allclose(found.covariance, np.array(spread, dtype=float), rtol=1e-10, atol=1e-13)
    assert found.dropped == tuple(f"group {n}" for n in range(len(groups)) if spread[n][n] == 0)
    inverse = np.linalg.pinv(np.array(spread, dtype=float), rcond=1e-9)
    q = np.array(observed, dtype=float) - np.array(expected, dtype=float)
    assert_allclose(found.statistic, q @ inverse @ q, rtol=1e-7, atol=1e-10)


@given(some_groups, st.data())
def test_strata_add_up(groups: list[list[Joint]], data: st.DataObject) -> None:
    strata = [groups, data.draw(st.lists(joints, min_size=len(groups), max_size=len(groups)))]
    observed, expected, spread = plain_tests.log_rank(strata, {2})
    assume(sum(any(s[g] for s in strata) for g in range(len(groups))) > 1 and any(observed) and any(map(any, spread)))
    table, compare, stratum = with_strata(strata)
    found = log_rank_test(table, [2], compare=compare, stratum=stratum)
    assert_allclose(surplus(found), np.array(observed) - np.array(expected, dtype=float), rtol=1e-9, atol=1e-13)
    assert_allclose(found.covariance, np.array(spread, dtype=float), rtol=1e-10, atol=1e-13)


@given(some_groups, joints)
def test_a_stratum_with_one_group_adds_nothing(groups: list[list[Joint]], alone: list[Joint]) -> None:
    assume(any(map(any, plain_tests.log_rank([groups], {2, 3})[2])))
    plain = log_rank_test(labelled(groups))
    table, compare, stratum = with_strata([groups, [alone]])
    found = log_rank_test(table, compare=compare, stratum=stratum)
    assert_allclose(surplus(found), surplus(plain), atol=1e-12)
    assert_allclose(found.covariance, plain.covariance, atol=1e-13)
    assert_allclose([found.statistic, found.p], [plain.statistic, plain.p], rtol=1e-9, atol=1e-12)


@given(some_groups, st.randoms(use_true_random=False))
def test_neither_splitting_counts_nor_the_order_of_rows_matters(
    groups: list[list[Joint]], chance: random.Random
) -> None:
    assume(any(map(any, plain_tests.log_rank([groups], {2, 3})[2])))
    whole = labelled(groups)
    rows = [(g, *joint, part) for g, each in enumerate(groups) for joint in each for part in (2, 3)]
    counts = [(g, *joint, 5) for g, each in enumerate(groups) for joint in each]
    chance.shuffle(rows)
    one, other = (
        log_rank_test(EventTable(whole.groups, whole.outcomes, *zip(*each, strict=True))) for each in (rows, counts)
    )
    assert surplus(one) == surplus(other)
    assert (one.statistic, one.p) == (other.statistic, other.p)


@given(some_groups)
def test_a_group_counted_in_two_parts_is_one_group(groups: list[list[Joint]]) -> None:
    assume(any(map(any, plain_tests.log_rank([groups], {2, 3})[2])))
    halves = [(f"group {n}", part) for n, each in enumerate(groups) for part in (each[::2], each[1::2])]
    table = table_of([(f"{label}, part {n}", part) for n, (label, part) in enumerate(halves)], reasons=2)
    found, plain = log_rank_test(table, compare=[label for label, _ in halves]), log_rank_test(labelled(groups))
    assert [group.label for group in found.groups] == [group.label for group in plain.groups]
    assert_allclose(surplus(found), surplus(plain), atol=1e-13)
    assert_allclose(found.statistic, plain.statistic, rtol=1e-9)


def test_reasons_taken_together_are_any_revision() -> None:
    table = labelled([[(1, 2), (3, 3), (5, 0), (5, 1)], [(2, 3), (4, 0), (5, 2), (6, 0)]])
    assert log_rank_test(table).statistic == log_rank_test(table, [3, 2]).statistic


def test_after_a_landmark_only_those_who_stayed_are_compared() -> None:
    groups = [[(1, 2), (3, 2), (6, 0), (6, 2)], [(2, 2), (4, 2), (5, 0), (9, 2)]]
    later = [[joint for joint in each if joint[0] > 2] for each in groups]
    found, expected = log_rank_test(given_unrevised(labelled(groups), 2)), log_rank_test(labelled(later))
    assert_allclose([found.statistic, found.p], [expected.statistic, expected.p], rtol=1e-12)


def test_a_group_gone_before_the_first_event_is_dropped_and_named() -> None:
    groups = [[(5, 2), (9, 0)], [(6, 2), (9, 0)], [(1, 0), (2, 1)], []]
    found, without = log_rank_test(labelled(groups)), log_rank_test(labelled(groups[:2]))
    assert found.dropped == ("group 2", "group 3")
    assert (found.df, found.statistic) == (1, pytest.approx(without.statistic))
    assert trend_test(found, [1, 2, 7, 9]).statistic == pytest.approx(without.statistic)


def test_a_group_alone_in_its_stratum_is_dropped_and_named() -> None:
    """What it expects is what it has; its variance is 0, however the digits fall."""
    pair, many = (
        [[(1, 2), (2, 0), (4, 2)], [(2, 2), (3, 0)], []],
        [(0, 0)] * 3 + [(0, 2), (1, 0), (1, 2), (2, 2), (3, 2)],
    )
    table, compare, stratum = with_strata([pair, [[], [], many]])
    found = log_rank_test(table, compare=compare, stratum=stratum)
    assert found.dropped == ("group 2",)
    assert (found.df, found.statistic) == (1, pytest.approx(log_rank_test(labelled(pair)).statistic))


def test_groups_that_were_never_followed_together_cost_a_degree_of_freedom() -> None:
    pair = [[(1, 2), (2, 0)], [(2, 2), (3, 0)]]
    table, _, stratum = with_strata([pair, pair])
    found = log_rank_test(table, compare=["a", "b", "c", "d"], stratum=stratum)
    assert found.df == 2
    assert_allclose(found.statistic, 2 * log_rank_test(labelled(pair)).statistic)


@pytest.mark.parametrize(
    ("groups", "says"),
    [
        ([[(5, 2), (9, 0)], []], r"only one group has joints \(group 0\)"),
        ([[], []], "no group has joints"),
        ([[(5, 0)], [(9, 1)]], "No joint has the event"),
        ([[(5, 2)], [(0, 0)]], "No two groups were followed on a day"),
        ([[(5, 2), (5, 2)], [(5, 2)]], "No two groups were followed on a day"),
    ],
)
def test_what_cannot_be_compared_is_refused_in_words(groups: list[list[Joint]], says: str) -> None:
    with pytest.raises(ModelError, match=says):
        log_rank_test(labelled(groups))


def test_labels_strata_and_scores_must_be_one_a_group() -> None:
    table = labelled([[(1, 2), (2, 0)], [(2, 2), (3, 0)]])
    with pytest.raises(CountError, match="needs a label to compare, but 1 have one"):
        log_rank_test(table, compare=["a"])
    with pytest.raises(CountError, match="needs a stratum, but 3 have one"):
        log_rank_test(table, stratum=[0, 0, 1])
    found = log_rank_test(table)
    with pytest.raises(ModelError, match="needs a score, but 3 are given"):
        trend_test(found, [1, 2, 3])
    with pytest.raises(ModelError, match="scores that differ"):
        trend_test(found, [2, 2])
