"""Gray's test against R's cmprsk and a plain program in fractions."""

import random

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from regdash.errors import ModelError
from regdash.stats.compared import GroupTest
from regdash.stats.events import EventTable
from regdash.stats.gray import gray_test
from regdash.stats.landmark import given_unrevised
from regdash.stats.log_rank import log_rank_test, trend_test
from tests.stats import plain_tests
from tests.stats.cases import Row, rows_of
from tests.stats.group_cases import Joint, table_of, table_of_rows

THREE = {"0": 0, "1": 1, "2": 2, "3": 3}
SOURCES = {  # data, time, status
    "mgus2": ("data_mgus2", "etime", "event"),
    "pbc": ("data_pbc", "time", "status"),
    "flchain": ("data_flchain", "futime", "cause"),
}

joints = st.lists(st.tuples(st.integers(0, 5), st.integers(0, 3)), max_size=9)
some_groups = st.lists(joints, min_size=2, max_size=4)


def labelled(groups: list[list[Joint]]) -> EventTable:
    return table_of([(f"group {number}", each) for number, each in enumerate(groups)], reasons=2)


def with_strata(strata: list[list[list[Joint]]]) -> tuple[EventTable, list[str], list[int]]:
    parts = [(f"group {g}", s, each) for s, groups in enumerate(strata) for g, each in enumerate(groups)]
    table = table_of([(f"{label} of {s}", each) for label, s, each in parts], reasons=2)
    return table, [label for label, _, _ in parts], [s for _, s, _ in parts]


def surplus(found: GroupTest) -> list[float]:
    return [group.observed - group.expected for group in found.groups]


def age_group(row: Row) -> str:
    return str(np.searchsorted([60, 70, 80], float(row["age"]), side="right"))


@pytest.mark.parametrize("row", rows_of("gray_tests"), ids=lambda row: f"{row['test']}, cause {row['cause']}")
def test_statistics_are_those_of_r(row: dict[str, str]) -> None:
    data, _, of, *rest = row["test"].split()
    name, time, status = SOURCES[data]
    within = rest[-1] if "stratified" in rest else None

    def group(each: Row) -> str:
        label = age_group(each) if of == "age" else each[of]
        return f"{label}|{each[within]}" if within else label

    table = table_of_rows(rows_of(name), group, time, status, THREE)
    compare = [label.split("|")[0] for (label,) in table.groups]
    strata = [label.split("|")[1] for (label,) in table.groups] if within else None
    rho = 1 if "rho=1" in rest else 0
    found = gray_test(table, [int(row["cause"])], compare=compare, stratum=strata, rho=rho)
    assert found.df == int(row["df"])
    assert_allclose(found.statistic, float(row["stat"]), rtol=1e-8)
    assert_allclose(found.p, float(row["p"]), rtol=1e-7)


@pytest.mark.parametrize(
    ("cause", "statistic", "p"), [(1, 1.30163454362, 0.25391487), (2, 7.08227802511, 0.00778499802)]
)
def test_35_transplants_two_of_them_ending_in_month_0_come_out(cause: int, statistic: float, p: float) -> None:
    """Scrucca, Santucci & Aversa (2007). Digits: R and a plain program agreed."""
    table = table_of_rows(rows_of("data_transplants"), lambda row: row["dis"], "ftime", "status", THREE)
    found = gray_test(table, [cause])
    assert_allclose(found.statistic, statistic, rtol=1e-10)
    assert_allclose(found.p, p, rtol=1e-7)


def plain_gray(strata: list[list[list[Joint]]], events: set[int]) -> tuple[np.ndarray, np.ndarray]:
    """And the assumption that there is something to compare, with no event after the common incidence has run out."""
    assume(sum(any(s[g] for s in strata) for g in range(len(strata[0]))) > 1)
    assume(any(how in events for groups in strata for each in groups for _, how in each))
    score, spread = plain_tests.gray(strata, events, {1, 2, 3} - events)
    assume(any(map(any, spread)))
    return np.array(score, dtype=float), np.array(spread, dtype=float)


@given(some_groups)
def test_scores_and_covariance_are_the_plain_ones(groups: list[list[Joint]]) -> None:
    score, spread = plain_gray([groups], {2, 3})
    found = gray_test(labelled(groups))
    assert_allclose(surplus(found), score, rtol=1e-9, atol=1e-12)
    assert_allclose(found.covariance, spread, rtol=1e-9, atol=1e-12)


@given(some_groups, st.data())
def test_strata_add_up(groups: list[list[Joint]], data: st.DataObject) -> None:
    strata = [groups, data.draw(st.lists(joints, min_size=len(groups), max_size=len(groups)))]
    score, spread = plain_gray(strata, {2})
    table, compare, stratum = with_strata(strata)
    found = gray_test(table, [2], compare=compare, stratum=stratum)
    assert_allclose(surplus(found), score, rtol=1e-9, atol=1e-12)
    assert_allclose(found.covariance, spread, rtol=1e-9, atol=1e-12)


@given(some_groups, joints)
def test_a_stratum_with_one_group_adds_nothing(groups: list[list[Joint]], alone: list[Joint]) -> None:
    plain_gray([groups], {2, 3})
    plain = gray_test(labelled(groups))
    table, compare, stratum = with_strata([groups, [alone]])
    found = gray_test(table, compare=compare, stratum=stratum)
    assert_allclose(surplus(found), surplus(plain), atol=1e-12)
    assert_allclose(found.covariance, plain.covariance, atol=1e-12)


@given(some_groups, st.randoms(use_true_random=False))
def test_neither_splitting_counts_nor_the_order_of_rows_matters(
    groups: list[list[Joint]], chance: random.Random
) -> None:
    plain_gray([groups], {2, 3})
    whole = labelled(groups)
    rows = [(g, *joint, part) for g, each in enumerate(groups) for joint in each for part in (2, 3)]
    counts = [(g, *joint, 5) for g, each in enumerate(groups) for joint in each]
    chance.shuffle(rows)
    one, other = (
        gray_test(EventTable(whole.groups, whole.outcomes, *zip(*each, strict=True))) for each in (rows, counts)
    )
    assert surplus(one) == surplus(other)
    assert (one.statistic, one.p) == (other.statistic, other.p)


@given(some_groups)
def test_reasons_merged_into_one_give_the_test_of_any_revision(groups: list[list[Joint]]) -> None:
    plain_gray([groups], {2, 3})
    merged = [[(day, min(how, 2)) for day, how in each] for each in groups]
    one, other = gray_test(labelled(groups)), gray_test(labelled(merged), [2])
    assert surplus(one) == surplus(other)
    assert one.statistic == other.statistic


@given(some_groups)
def test_with_nothing_competing_the_score_is_that_of_the_log_rank_test(groups: list[list[Joint]]) -> None:
    """Then a joint is at risk until its event, as in Kaplan and Meier: h (1 - F) is the number at risk."""
    only = [[(day, 2 if how > 1 else 0) for day, how in each] for each in groups]
    plain_gray([only], {2, 3})
    try:
        other = log_rank_test(labelled(only))
    except ModelError:
        assume(False)
    found = gray_test(labelled(only))
    assert_allclose(surplus(found), surplus(other), atol=1e-12)


def test_a_trend_can_be_read_from_grays_scores_too() -> None:
    table = table_of_rows(rows_of("data_mgus2"), age_group, "etime", "event", {"0": 0, "1": 2, "2": 1})
    found = gray_test(table, [1])
    trend = trend_test(found)
    assert trend.z > 10  # deaths come with age
    assert trend.statistic <= found.statistic
    pair = gray_test(table_of([("a", [(1, 2), (2, 1), (5, 0)]), ("b", [(1, 1), (3, 2), (6, 0)])]))
    assert_allclose(trend_test(pair).statistic, pair.statistic)


def test_after_a_landmark_only_those_who_stayed_are_compared() -> None:
    rows = rows_of("data_pbc")
    later = [row for row in rows if int(row["time"]) > 1000]
    one = gray_test(given_unrevised(table_of_rows(rows, lambda row: row["trt"], "time", "status", THREE), 1000))
    other = gray_test(table_of_rows(later, lambda row: row["trt"], "time", "status", THREE))
    assert_allclose([one.statistic, one.p], [other.statistic, other.p], rtol=1e-12)


def test_a_group_gone_before_the_first_event_is_dropped_and_named() -> None:
    groups = [[(5, 2), (7, 1), (9, 0)], [(6, 2), (9, 0), (9, 2)], [(1, 0), (2, 1)]]
    found, without = gray_test(labelled(groups)), gray_test(labelled(groups[:2]))
    assert found.dropped == ("group 2",)
    assert (found.df, found.statistic) == (1, pytest.approx(without.statistic))


@pytest.mark.parametrize(
    ("groups", "says"),
    [
        ([[(5, 2), (9, 0)], []], r"only one group has joints \(group 0\)"),
        ([[(5, 0)], [(9, 1)]], "No joint has the event"),
        ([[(5, 2)], [(0, 0)]], "No two groups were followed on a day"),
    ],
)
def test_what_cannot_be_compared_is_refused_in_words(groups: list[list[Joint]], says: str) -> None:
    with pytest.raises(ModelError, match=says):
        gray_test(labelled(groups))
