"""Standard errors by cluster against R, and against moving weights; rows and pairs tell the same."""

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from regdash.errors import CountError
from regdash.stats.aalen_johansen import CumulativeIncidence, aalen_johansen
from regdash.stats.clustered import clustered_incidence, clustered_net_risk, shared_covariance
from regdash.stats.clusters import JointPairs, JointRows
from regdash.stats.difference import risk_difference
from regdash.stats.events import Entries, EventTable
from regdash.stats.influence import incidence_influence, net_influence
from regdash.stats.kaplan_meier import NetRisk, kaplan_meier
from regdash.stats.restricted_mean import mean_influence, restricted_mean
from tests.stats import plain_influence
from tests.stats.cases import rows_of, values_of
from tests.stats.plain_influence import covariance, influences

Row = tuple[int, int, int, int]  # begins after this day, ends on this, how, cluster

CAUSES = {1, 2, 3}


@st.composite
def some_rows(draw: st.DrawFn, late: bool | None = None) -> list[Row]:
    """Few days, many ties; some joints enter late, or none does."""
    stops = st.integers(0, 5)
    rows = draw(st.lists(st.tuples(stops, st.integers(0, 3), st.integers(0, 3)), min_size=2, max_size=12))
    late = draw(st.booleans()) if late is None else late
    starts = [draw(st.integers(-1, stop - 1)) if late else -1 for stop, _, _ in rows]
    return [(start, *row) for start, row in zip(starts, rows, strict=True)] + [(-1, 6, 0, 9)]


def columns(rows: list[Row]) -> tuple[np.ndarray, ...]:
    return tuple(np.array(column, dtype=np.int64) for column in zip(*rows, strict=True))


def counted(rows: list[Row]) -> EventTable:
    """The counts of the same rows; those with start -1 have no entry to count, but the table wants one for all."""
    start, stop, how, _ = columns(rows)
    shifted = Entries(np.zeros(len(rows)), start + 1, np.ones(len(rows)))
    labels = ("censored", "died", "reason 1", "reason 2")
    return EventTable((("all",),), labels, np.zeros(len(rows)), stop + 1, how, np.ones(len(rows)), shifted)


def incidence_of(rows: list[Row]) -> CumulativeIncidence:
    counts = counted(rows).of(0)
    return aalen_johansen(counts.days, counts.competing, counts.left, counts.entered)


def net_of(rows: list[Row]) -> NetRisk:
    counts = counted(rows).of(0)
    return kaplan_meier(counts.days, counts.revised, counts.left, counts.entered)


def listed(rows: list[Row], net: bool = False) -> JointRows:
    """All a day later, as `counted` has them."""
    start, stop, how, cluster = columns(rows)
    return JointRows(cluster, stop + 1, (how > 1).astype(int) if net else how, start + 1)


def paired(rows: list[Row], net: bool = False) -> JointPairs:
    """Every two joints of one cluster, each pair once; all joints enter on day 0."""
    joints = listed(rows, net)
    numbers = [pair for pair in combinations(range(len(rows)), 2) if len({rows[n][3] for n in pair}) == 1]
    pairs = np.array(numbers, dtype=np.int64).reshape(-1, 2)
    return JointPairs(joints.day[pairs], joints.cause[pairs], np.ones(len(pairs)), landmark=0)


def forms(rows: list[Row], net: bool = False) -> list[JointRows | JointPairs]:
    """Rows, and pairs too where all joints enter on one day."""
    return [listed(rows, net), *([paired(rows, net)] if {row[0] for row in rows} == {-1} else [])]


def plain_rows(rows: list[Row], net: bool = False) -> list[plain_influence.Joint]:
    return [(start, stop, how if not net or how > 1 else 0) for start, stop, how, _ in rows]


def diabetic() -> tuple[NetRisk, JointRows, JointPairs, list[int]]:
    """Two eyes of each person; months with decimals, of which only the order matters."""
    rows = rows_of("data_diabetic")
    months = np.array(values_of(rows, "time"))
    order, day = np.unique(months, return_inverse=True)
    event = np.array(values_of(rows, "status"), dtype=np.int64)
    net = kaplan_meier(np.arange(len(order)), np.bincount(day, event).astype(int), np.bincount(day))
    person = np.array(values_of(rows, "id"), dtype=np.int64)
    eyes = np.argsort(person, kind="stable").reshape(-1, 2)
    asked = [int(np.searchsorted(order, float(row["time"]), "right")) - 1 for row in rows_of("km_diabetic_cluster")]
    return net, JointRows(person, day, event), JointPairs(day[eyes], event[eyes], np.ones(len(eyes))), asked


def test_two_eyes_of_one_person_have_the_errors_and_limits_of_r() -> None:
    net, rows, pairs, asked = diabetic()
    expected = rows_of("km_diabetic_cluster")
    for joints in (rows, pairs):
        found = clustered_net_risk(net, joints)
        points = found.at(asked)
        assert_allclose([1 - point.risk for point in points], values_of(expected, "surv"), rtol=1e-10)
        assert_allclose(found.se_at(asked), values_of(expected, "se_cluster_robust"), rtol=1e-10)
        assert_allclose([1 - point.upper for point in points], values_of(expected, "lower_robust"), rtol=1e-9)
        assert_allclose([1 - point.lower for point in points], values_of(expected, "upper_robust"), rtol=1e-9)
    assert_allclose(net.steps.se_at(asked), values_of(expected, "se_greenwood"), rtol=1e-10)


@given(some_rows())
def test_errors_of_a_net_risk_are_those_of_moving_weights_by_cluster(rows: list[Row]) -> None:
    net = net_of(rows)
    found = [clustered_net_risk(net, joints) for joints in forms(rows, net=True)]
    for day in range(7):
        figure = plain_influence.incidence({2, 3}, {2, 3}, day)
        moves = influences(figure, plain_rows(rows, net=True))
        expected = covariance(moves, moves, [row[3] for row in rows])
        for curve in found:
            if curve.at([day + 1])[0].risk != 1:
                assert_allclose(curve.se_at([day + 1])[0] ** 2, expected, rtol=1e-8, atol=1e-12)


@given(some_rows())
def test_errors_of_an_incidence_are_those_of_moving_weights_by_cluster(rows: list[Row]) -> None:
    found = incidence_of(rows)
    for cause in sorted(CAUSES):
        curves = [clustered_incidence(found, cause - 1, joints) for joints in forms(rows)]
        for day in (1, 3, 6):
            moves = influences(plain_influence.incidence({cause}, CAUSES, day), plain_rows(rows))
            expected = covariance(moves, moves, [row[3] for row in rows])
            for curve in curves:
                assert_allclose(curve.se_at([day + 1])[0] ** 2, expected, rtol=1e-8, atol=1e-12)


@given(some_rows(), st.integers(1, 6))
def test_errors_of_a_restricted_mean_are_those_of_moving_weights_by_cluster(rows: list[Row], end: int) -> None:
    moves = influences(plain_influence.area({2, 3}, end), plain_rows(rows, net=True))
    expected = covariance(moves, moves, [row[3] for row in rows])
    for joints in forms(rows, net=True):
        found = restricted_mean(net_of(rows), end + 1, joints=joints)
        if found.se is not None:
            assert_allclose(found.se**2, expected, rtol=1e-8, atol=1e-10)


@given(some_rows(late=False))
def test_each_joint_a_cluster_of_its_own_gives_the_errors_of_independent_joints(rows: list[Row]) -> None:
    apart = [(*row[:3], number) for number, row in enumerate(rows)]
    net, found = net_of(rows), incidence_of(rows)
    assert_allclose(clustered_net_risk(net, listed(apart, net=True)).se, net.se.filled(0), rtol=1e-9, atol=1e-12)
    for cause in range(3):
        assert_allclose(clustered_incidence(found, cause, listed(apart)).se, found.of(cause).se, rtol=1e-9, atol=1e-12)


@given(some_rows(), st.permutations(range(10)))
def test_neither_the_order_of_rows_nor_the_numbers_of_clusters_matter(rows: list[Row], names: list[int]) -> None:
    mixed = [(*row[:3], names[row[3]]) for row in sorted(rows, key=lambda row: (row[1], row[0]))]
    one, other = (clustered_net_risk(net_of(rows), listed(each, net=True)) for each in (rows, mixed))
    assert_allclose(one.se, other.se, rtol=1e-9, atol=1e-12)


def test_many_like_patients_are_one_row_of_pairs() -> None:
    net, _, pairs, _ = diabetic()
    order = np.lexsort((*pairs.cause.T, *pairs.day.T))
    cells, number = np.unique(np.column_stack([pairs.day, pairs.cause])[order], axis=0, return_counts=True)
    assert len(cells) < len(pairs.pairs)
    merged = JointPairs(cells[:, :2], cells[:, 2:], number)
    assert_allclose(clustered_net_risk(net, merged).se, clustered_net_risk(net, pairs).se, rtol=1e-10)


def test_patients_doubled_with_all_they_have_double_the_variance() -> None:
    """Two joints that always share their fate are one joint: twice the variance of as many independent ones."""
    days, how = np.array([1, 3, 3, 8, 9]), np.array([1, 1, 0, 1, 0])
    twice = JointPairs(np.column_stack([days, days]), np.column_stack([how, how]), np.ones(5))
    net = kaplan_meier(np.array([1, 3, 8, 9]), np.array([2, 2, 2, 0]), np.array([2, 4, 2, 2]))
    assert_allclose(clustered_net_risk(net, twice).se ** 2, 2 * net.se**2, rtol=1e-12)


@given(some_rows(late=False), some_rows(late=False))
def test_patients_with_a_joint_in_each_group_make_the_risks_covary(first: list[Row], second: list[Row]) -> None:
    """The difference of two groups has the variance of moving every weight of a patient, in both groups at once."""
    one, other, day = net_of(first), net_of(second), 4
    rows = (listed(first, net=True), listed(second, net=True))
    both = shared_covariance(net_influence(one).by([day + 1]), net_influence(other).by([day + 1]), rows)
    across = [(a, b) for a in range(len(first)) for b in range(len(second)) if first[a][3] == second[b][3]]
    picked = [np.array(part, dtype=np.int64) for part in zip(*across, strict=True)]
    pairs = JointPairs(
        *(np.column_stack([getattr(r, f)[p] for r, p in zip(rows, picked, strict=True)]) for f in ("day", "cause")),
        np.ones(len(across)),
        landmark=0,
    )
    counted_pairs = shared_covariance(net_influence(one).by([day + 1]), net_influence(other).by([day + 1]), pairs)
    assert_allclose(counted_pairs, both, rtol=1e-9, atol=1e-14)
    figure = plain_influence.incidence({2, 3}, {2, 3}, day)
    moves = [influences(figure, plain_rows(each, net=True)) for each in (first, second)]
    clusters = [row[3] for row in first + second]
    expected = covariance([*moves[0], *(-move for move in moves[1])], [*moves[0], *(-m for m in moves[1])], clusters)
    curves = clustered_net_risk(one, rows[0]), clustered_net_risk(other, rows[1])
    (found,) = risk_difference(*curves, [day + 1], covariance=both)
    if found.se is not None:
        assert_allclose(found.se**2, expected, rtol=1e-7, atol=1e-12)


def test_means_of_groups_that_share_patients_covary_too() -> None:
    """The same joints in both groups: the covariance is the variance."""
    net, rows, _, asked = diabetic()
    end = asked[3]
    (shared,) = shared_covariance(mean_influence(net, end), mean_influence(net, end), (rows, rows))
    assert_allclose(shared, (restricted_mean(net, end, joints=rows).se or 0) ** 2, rtol=1e-12)


def test_influences_on_an_incidence_add_up_to_nothing() -> None:
    """Giving every joint more weight changes no proportion."""
    rows = [(-1, day, how, 0) for day, how in ((1, 2), (1, 1), (2, 0), (3, 2), (3, 3), (5, 1), (6, 0))]
    values = incidence_influence(incidence_of(rows), 1).at(listed(rows).followed(), [2, 4, 7])
    assert_allclose(values.sum(axis=0), 0, atol=1e-15)


def test_joints_that_were_not_counted_are_refused() -> None:
    net, rows, _, _ = diabetic()
    with pytest.raises(CountError, match="393 joints listed by cluster are not those counted"):
        clustered_net_risk(net, JointRows(rows.cluster[1:], rows.day[1:], rows.cause[1:]))
    with pytest.raises(CountError, match="394 joints listed by cluster are not those counted"):
        restricted_mean(net, 50, joints=JointRows(rows.cluster, rows.day, 1 - rows.cause))
    alien = JointPairs(np.array([[0, 1]]), np.array([[1, 2]]), np.array([1]))
    with pytest.raises(CountError, match="an event that the counts do not hold"):
        clustered_net_risk(net, alien)


def test_pairs_are_refused_where_joints_enter_on_different_days() -> None:
    """Counts of entries do not say who entered; for a landmark, where all do, they need not."""
    rows = [(-1, 1, 2, 0), (-1, 5, 0, 1), (2, 3, 2, 0), (2, 5, 0, 2), (2, 4, 2, 3)]
    with pytest.raises(CountError, match="list the joints one by one"):
        clustered_net_risk(net_of(rows), JointPairs(np.array([[2, 4]]), np.array([[1, 1]]), np.array([1])))


def test_columns_at_odds_are_refused() -> None:
    with pytest.raises(CountError, match="causes must come as 3 numbers, but come as 2"):
        JointRows(np.array([1, 2, 3]), np.array([5, 5, 5]), np.array([0, 1]))
    with pytest.raises(CountError, match="days of pairs must come as 1 × 2 numbers"):
        JointPairs(np.array([5, 5]), np.array([[0, 1]]), np.array([1]))
    with pytest.raises(CountError, match="below 0"):
        JointPairs(np.array([[5, -5]]), np.array([[0, 1]]), np.array([1]))
    with pytest.raises(CountError, match="Each of 3 joints needs an entry, but 1 have one"):
        JointRows(np.array([1, 2, 3]), np.array([5, 5, 5]), np.array([0, 1, 1]), np.array([0]))
