"""A difference in risk split by reason, against R and against moving the weights of joints."""

from math import sqrt

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from regdash.stats.aalen_johansen import aalen_johansen
from regdash.stats.difference import NONE_IN_EITHER, NONE_IN_ONE_GROUP
from regdash.stats.events import EventTable
from regdash.stats.gap import MAY_BE_NOTHING, NO_LIMITS, Gap, View, gap_by_reason
from regdash.stats.kaplan_meier import kaplan_meier
from regdash.stats.limits import ALL_HAD_IT, NO_FOLLOW_UP
from regdash.stats.shares import NOBODY_HAD_IT, ONE_HAS_NONE, WITHOUT_END
from tests.stats import plain_influence
from tests.stats.cases import rows_of
from tests.stats.group_cases import Joint, table_of, table_of_rows
from tests.stats.plain_influence import covariance, influences

Z95 = 1.959963984540054
VIEWS: tuple[View, ...] = ("implant", "patient")

joints = st.lists(st.tuples(st.integers(0, 5), st.integers(0, 4)), min_size=1, max_size=20)


def two_groups(first: list[Joint], second: list[Joint]) -> EventTable:
    return table_of([("one", first), ("other", second)], reasons=3)


def uncensored(first: list[int], second: list[int], sizes: tuple[int, int]) -> EventTable:
    """Revised on day 1 for each reason; all others followed for long."""
    rows = [(g, 1, 2 + reason, n) for g, counts in enumerate((first, second)) for reason, n in enumerate(counts)]
    rows += [
        (g, 999, 0, size - sum(counts)) for g, (counts, size) in enumerate(zip((first, second), sizes, strict=True))
    ]
    outcomes = ("censored", "died", *(f"reason {n + 1}" for n in range(len(first))))
    return EventTable((("one",), ("other",)), outcomes, *zip(*rows, strict=True))


def flchain() -> EventTable:
    rows = rows_of("data_flchain")
    return table_of_rows(rows, lambda row: row["sex"], "futime", "cause", {"0": 0, "1": 2, "2": 3, "3": 4})


@pytest.mark.parametrize("day", [365, 1826, 3652, 4383])
def test_parts_by_three_causes_are_the_differences_of_rs_incidences(day: int) -> None:
    """Nothing else competes with the three, so that both views ask the same."""
    rows = rows_of("aj_flchain", time=str(day))
    expected = {(row["group"], row["cause"]): (float(row["cif"]), float(row["se_ij"])) for row in rows}
    for view in VIEWS:
        gap = gap_by_reason(flchain(), 0, 1, day, view)
        for cause, part in zip(("1", "2", "3"), gap.parts, strict=True):
            (one, se), (other, other_se) = expected["F", cause], expected["M", cause]
            assert_allclose([part.part.difference, part.part.se], [one - other, sqrt(se**2 + other_se**2)], rtol=1e-8)


def test_in_the_patient_view_death_competes_and_is_no_part() -> None:
    """Progression in men and women with gammopathy: R's incidences at 120 months, men less women."""
    table = table_of_rows(rows_of("data_mgus2"), lambda row: row["sex"], "etime", "event", {"0": 0, "1": 2, "2": 1})
    expected = {row["group"]: row for row in rows_of("aj_mgus2", cause="pcm", time="120")}
    gap = gap_by_reason(table, 1, 0, 120, "patient")
    difference = float(expected["M"]["cif"]) - float(expected["F"]["cif"])
    se = sqrt(float(expected["M"]["se_ij"]) ** 2 + float(expected["F"]["se_ij"]) ** 2)
    assert_allclose([gap.whole.difference, gap.whole.se], [difference, se], rtol=1e-9)
    assert [part.reason for part in gap.parts] == ["reason 1"]
    net = gap_by_reason(table, 1, 0, 240, "implant").whole
    assert_allclose(net.first, 0.230379284582, atol=6e-13)  # 1 - Kaplan-Meier of men; R and a plain program agreed


@pytest.mark.parametrize("view", VIEWS)
@given(first=joints, second=joints, day=st.integers(0, 6))
def test_the_parts_add_up_to_the_whole_difference(
    first: list[Joint], second: list[Joint], day: int, view: View
) -> None:
    table = two_groups(first, second)
    gap = gap_by_reason(table, 0, 1, day, view)
    risks = []
    for counts in (table.of(0), table.of(1)):
        merged = np.column_stack([counts.by_outcome[:, 1], counts.revised])
        incidence = aalen_johansen(counts.days, merged, counts.left).at([day], 1)[0].risk
        net = kaplan_meier(counts.days, counts.revised, counts.left).at([day])[0].risk
        risks.append(net if view == "implant" else incidence)
    if None in risks:
        assert gap.parts == ()
        return
    assert abs(gap.whole.difference - (risks[0] - risks[1])) < 1e-12
    assert abs(sum(part.part.difference for part in gap.parts) - gap.whole.difference) < 1e-12
    if gap.withheld is None:
        assert abs(sum(part.share.share for part in gap.parts if part.share) - 1) < 1e-9


def moved(first: list[Joint], second: list[Joint], view: View, day: int, reasons: set[int]) -> list[float]:
    """How each joint of both groups moves the part of some reasons."""
    causes = {2, 3, 4} if view == "implant" else {1, 2, 3, 4}
    figure = plain_influence.incidence(reasons, causes, day)
    one, other = (influences(figure, [(-1, *joint) for joint in each]) for each in (first, second))
    return [*one, *(-move for move in other)]


@pytest.mark.parametrize("view", VIEWS)
@given(first=joints, second=joints, day=st.integers(1, 5))
def test_errors_of_parts_and_limits_of_shares_are_those_of_moving_weights(
    first: list[Joint], second: list[Joint], day: int, view: View
) -> None:
    """A limit s of a share is where part - s × whole is just z of its own standard errors away from 0."""
    gap = gap_by_reason(two_groups(first, second), 0, 1, day, view, level=0.5)
    assume(gap.parts)
    of_whole = moved(first, second, view, day, {2, 3, 4})
    if gap.whole.se is not None:
        assert_allclose(gap.whole.se**2, covariance(of_whole, of_whole), rtol=1e-8, atol=1e-13)
    for number, each in enumerate(gap.parts):
        of_part = moved(first, second, view, day, {number + 2})
        if each.part.se is not None:
            assert_allclose(each.part.se**2, covariance(of_part, of_part), rtol=1e-8, atol=1e-13)
        if each.share is None or each.share.lower is None or each.share.note:
            continue
        assert each.share.lower <= each.share.share + 1e-9 <= each.share.upper + 2e-9
        for limit in (each.share.lower, each.share.upper):
            moves = [p - limit * w for p, w in zip(of_part, of_whole, strict=True)]
            away = each.part.difference - limit * gap.whole.difference
            assert_allclose(away**2, 0.6744897501960817**2 * covariance(moves, moves), rtol=1e-5, atol=1e-9)


@given(joints, st.integers(0, 6))
def test_the_covariance_of_reasons_is_that_of_moving_weights(one: list[Joint], day: int) -> None:
    counts = table_of([("all", one)], reasons=3).of(0)
    found = aalen_johansen(counts.days, counts.competing, counts.left).covariance_at(day)
    figures = [plain_influence.incidence({cause}, {1, 2, 3, 4}, day) for cause in (1, 2, 3, 4)]
    moves = [influences(figure, [(-1, *joint) for joint in one]) for figure in figures]
    expected = [[covariance(a, b) for b in moves] for a in moves]
    assert_allclose(found, expected, rtol=1e-9, atol=1e-13)


def test_without_censoring_reasons_covary_as_in_a_multinomial_sample() -> None:
    """Var p (1 - p) / n and covariance -p q / n; the diagonal is the variance that each incidence has on its own."""
    found = aalen_johansen(np.array([1, 4, 99]), np.array([[3, 0], [4, 5], [0, 0]]), np.array([3, 9, 88]))
    assert_allclose(found.covariance_at(50), np.array([[0.07 * 0.93, -0.07 * 0.05], [-0.07 * 0.05, 0.05 * 0.95]]) / 100)
    assert_allclose(np.diag(found.covariance_at(4)), found.variance[-1])
    assert found.covariance_at(0).tolist() == [[0, 0], [0, 0]]


def test_all_causes_together_vary_as_kaplan_and_meiers_curve() -> None:
    counts = flchain().of(0)
    found = aalen_johansen(counts.days, counts.competing, counts.left)
    net = kaplan_meier(counts.days, counts.revised, counts.left)
    for day in (100, 2000, 4000):
        assert_allclose(found.covariance_at(day).sum(), net.steps.se_at([day])[0] ** 2, rtol=1e-10)


def test_a_share_without_censoring_comes_out_by_hand() -> None:
    """
    60 + 40 of 1,000 less 20 + 30 of 1,000: parts 0.04 and 0.01 of a difference of 0.05, shares 0.8 and 0.2. Limits are
    the roots of s² (0.05² - z² v) - 2 s (0.05 p - z² c) + p² - z² u, with multinomial v, c and u.
    """
    gap = gap_by_reason(uncensored([60, 40], [20, 30], (1000, 1000)), 0, 1, 365)
    u = (0.06 * 0.94 + 0.02 * 0.98) / 1000
    c = u - (0.06 * 0.04 + 0.02 * 0.03) / 1000
    v = (0.1 * 0.9 + 0.05 * 0.95) / 1000
    roots = np.roots([0.05**2 - Z95**2 * v, -2 * (0.05 * 0.04 - Z95**2 * c), 0.04**2 - Z95**2 * u])
    share = gap.parts[0].share
    assert share is not None
    assert_allclose([share.share, share.lower, share.upper], [0.8, *sorted(roots)], rtol=1e-9)
    assert_allclose([part.share.share for part in gap.parts if part.share], [0.8, 0.2])


def test_one_reason_alone_is_the_whole_difference() -> None:
    gap = gap_by_reason(uncensored([90], [30], (1000, 1000)), 0, 1, 365)
    share = gap.parts[0].share
    assert share is not None
    assert_allclose([share.share, share.lower, share.upper], [1, 1, 1], atol=1e-7)


def test_a_reason_that_pulls_the_other_way_has_a_share_below_0_and_another_above_1() -> None:
    gap = gap_by_reason(uncensored([100, 10], [20, 30], (1000, 1000)), 0, 1, 365)
    assert [round(part.share.share, 4) for part in gap.parts if part.share] == [1.3333, -0.3333]


def test_shares_are_withheld_where_the_difference_may_be_nothing() -> None:
    gap = gap_by_reason(uncensored([60, 40], [55, 35], (1000, 1000)), 0, 1, 365)
    assert gap.withheld == MAY_BE_NOTHING
    assert [part.share for part in gap.parts] == [None, None]
    assert [part.part.lower is not None for part in gap.parts] == [True, True]


def test_a_reason_that_one_or_both_groups_lack_says_so_and_has_honest_limits() -> None:
    gap = gap_by_reason(uncensored([90, 10, 0], [30, 0, 0], (1000, 800)), 0, 1, 365)
    wear, other, none = gap.parts
    bound = 1 - 0.025 ** (1 / 770)  # of those whose follow-up reaches the day
    assert other.part.note == NONE_IN_ONE_GROUP
    assert_allclose(other.part.lower, 0.01 - np.hypot(Z95 * sqrt(0.01 * 0.99 / 1000), bound), rtol=1e-9)
    assert (other.share.note, none.share.note) == (ONE_HAS_NONE, NOBODY_HAD_IT)  # type: ignore[union-attr]
    assert (none.share.share, none.share.lower) == (0, None)  # type: ignore[union-attr]
    assert (none.part.difference, none.part.note) == (0, NONE_IN_EITHER)
    assert none.part.lower < 0 < none.part.upper  # type: ignore[operator]
    assert wear.share.note is None  # type: ignore[union-attr]


@pytest.mark.parametrize("view", VIEWS)
@given(first=joints, second=joints, day=st.integers(0, 5))
def test_the_limits_of_a_share_leave_out_0_just_where_those_of_its_part_do(
    first: list[Joint], second: list[Joint], day: int, view: View
) -> None:
    """The same data cannot say that a reason adds nothing, and that its share is surely something."""
    for each in gap_by_reason(two_groups(first, second), 0, 1, day, view, level=0.5).parts:
        if each.share is None or each.share.lower is None or min(map(abs, (each.part.lower, each.part.upper))) < 1e-9:
            continue
        leaves_out = not each.share.lower <= 0 <= each.share.upper
        assert leaves_out == (not each.part.lower <= 0 <= each.part.upper), each


@pytest.mark.parametrize("lacking", ["one", "other"])
@given(
    counts=st.tuples(st.integers(1, 40), st.integers(0, 200), st.integers(0, 200)),
    sizes=st.tuples(st.integers(300, 3000), st.integers(300, 3000)),
)
def test_a_share_of_a_reason_that_one_group_lacks_ends_where_its_bound_no_longer_reaches(
    counts: tuple[int, int, int], sizes: tuple[int, int], lacking: str
) -> None:
    """
    Written from the definition: no risk of the lacking group from 0 to its bound brings part - s × whole within z
    standard errors of 0, combined as squares, beyond the limits, and one does at them.
    """
    reason, rest, of_lacking = counts
    one, other = ([reason, rest], [0, of_lacking]) if lacking == "other" else ([0, of_lacking], [reason, rest])
    assume(sum(one) and sum(other))
    gap = gap_by_reason(uncensored(one, other, sizes), 0, 1, 365)
    share = gap.parts[0].share
    assume(share is not None and share.lower is not None)
    assert share.note == ONE_HAS_NONE
    p, q = (np.array(each) / size for each, size in zip((one, other), sizes, strict=True))
    without = sizes[1] - of_lacking if lacking == "other" else sizes[0] - of_lacking
    bound = 1 - 0.025 ** (1 / without)
    risks = [(0.0, 0.0), (bound, 0.0)] + ([(0.0, bound)] if of_lacking == 0 else [])  # of the reason, and of others

    def beyond(s: float) -> float:
        a = np.array([1 - s, -s])  # part - s × whole, as a sum over the reasons of each group
        away = a @ (p - q)
        variance = sum((a**2 @ r - (a @ r) ** 2) / size for r, size in ((p, sizes[0]), (q, sizes[1])))
        way = 1 if lacking == "one" else -1
        reach = max(-np.sign(away) * way * (a @ np.array(risk)) for risk in risks)
        return (away**2 - Z95**2 * variance - reach**2) / (abs(away) + 1e-9) ** 2

    width = share.upper - share.lower
    for limit, outward in ((share.lower, -1), (share.upper, 1)):
        assert abs(beyond(limit)) < 1e-6
        assert beyond(limit + outward * 0.01 * width) > 0
        assert beyond(limit - outward * 0.01 * width) < 0


def test_a_part_that_may_be_nothing_has_a_share_that_may_be_nothing() -> None:
    """
    4 of 600 joints against none of 220: limits that took the none for certain gave a share of -3.6 to -0.04 %, surely
    of the other sign, beside a part of -2.2 to 1.3 points.
    """
    gap = gap_by_reason(uncensored([10, 4], [90, 0], (600, 220)), 0, 1, 365)
    part = gap.parts[1]
    assert part.part.lower < 0 < part.part.upper  # type: ignore[operator]
    assert part.share.lower < 0 < part.share.upper  # type: ignore[operator, union-attr]


def test_a_share_whose_bound_reaches_further_than_the_whole_has_no_limits() -> None:
    """Few joints of the other group are followed that far: what it lacks could be all of the difference."""
    rows = [(0, 1, 2, 300), (0, 1, 3, 60), (0, 999, 0, 640), (1, 1, 2, 4), (1, 2, 0, 194), (1, 999, 0, 2)]
    table = EventTable((("one",), ("other",)), ("censored", "died", "wear", "pain"), *zip(*rows, strict=True))
    share = gap_by_reason(table, 0, 1, 365).parts[1].share
    assert share is not None
    assert (share.lower, share.upper, share.note) == (None, None, WITHOUT_END)
    assert_allclose(share.share, 0.06 / (0.36 - 4 / 200))


def test_after_the_last_observation_of_one_group_there_is_no_gap() -> None:
    gap = gap_by_reason(two_groups([(5, 2), (9, 0)], [(2, 2), (20, 0)]), 0, 1, 15)
    assert (gap.whole.difference, gap.whole.note, gap.parts, gap.withheld) == (None, NO_FOLLOW_UP, (), NO_LIMITS)


def test_where_every_joint_was_revised_the_parts_stand_and_shares_are_withheld() -> None:
    gap = gap_by_reason(two_groups([(5, 2), (5, 3)], [(5, 2), (6, 0), (6, 0)]), 0, 1, 5)
    assert (gap.whole.note, gap.withheld) == (ALL_HAD_IT, NO_LIMITS)
    assert_allclose([part.part.difference for part in gap.parts], [0.5 - 1 / 3, 0.5, 0])


@given(joints, joints, st.integers(0, 5))
def test_reasons_merged_have_the_parts_of_each_added_up(first: list[Joint], second: list[Joint], day: int) -> None:
    merged = [[(d, min(how, 3)) for d, how in each] for each in (first, second)]
    fine, coarse = (gap_by_reason(two_groups(*each), 0, 1, day) for each in ((first, second), merged))
    assume(fine.parts)
    parts = [part.part.difference for part in fine.parts]
    assert_allclose([part.part.difference for part in coarse.parts], [parts[0], parts[1] + parts[2], 0], atol=1e-12)
    assert fine.withheld == coarse.withheld


def test_groups_changing_places_turn_parts_over_and_keep_shares() -> None:
    there, back = gap_by_reason(flchain(), 1, 0, 3652, level=0.5), gap_by_reason(flchain(), 0, 1, 3652, level=0.5)

    def turned(gap: Gap, sign: int) -> list[list[float]]:
        return [
            [sign * part.part.difference, part.share.share, part.share.lower, part.share.upper] for part in gap.parts
        ]  # type: ignore

    assert there.withheld is None
    assert_allclose(turned(there, 1), turned(back, -1), rtol=1e-9)


def test_an_unknown_view_is_refused() -> None:
    with pytest.raises(ValueError, match="not from the surgeon"):
        gap_by_reason(flchain(), 0, 1, 365, "surgeon")  # type: ignore[arg-type]
