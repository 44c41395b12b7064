"""Run lengths of CUSUMs against two other ways to find them, and against runs."""

from math import log

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from regdash.stats.run_length import cusum_limit, mean_run
from tests.stats.cases import rows_of


def test_mean_runs_are_those_of_the_boundary_value_problem_marched_from_the_limit() -> None:
    """
    The reference prints 8 digits. Marching magnifies errors by e^(rate × limit / (rho - 1)): in the two rows where
    that is more than e^25 its last digits are off, as `plain_mean_run`, which does not march, shows below.
    """
    for row in rows_of("cusum_arl"):
        limit, rho, rate = (float(row[name]) for name in ("h", "rho", "true_rate_multiple"))
        magnified = rate * limit / (rho - 1) > 25
        found = mean_run(limit, rho, rate)
        assert_allclose(found, float(row["arl_in_expected_events"]), rtol=3e-5 if magnified else 6e-8)


@pytest.mark.parametrize(("limit", "doubled", "calm"), [(2, 3.5137316, 20.004398), (3, 5.9101022, 68.636091)])
def test_calm_and_doubled_rates_are_those_that_simulation_agreed_with(
    limit: float, doubled: float, calm: float
) -> None:
    assert_allclose([mean_run(limit, rate=2), mean_run(limit)], [doubled, calm], rtol=3e-8)


def plain_mean_run(limit: float, rho: float, rate: float, degree: int = 24) -> float:
    """
    L(x), expected events from value x to the signal, solves (rho - 1) L' = 1 - rate (L(x) - L(x + log rho)), with
    L = 0 from the limit on and L(0) = 1 / rate + L(log rho). Collocation at Chebyshev points of all pieces at once.
    """
    jump, edges = log(rho), [limit]
    while edges[0] > 1e-12:
        edges.insert(0, max(0.0, edges[0] - jump))
    pieces, size = len(edges) - 1, degree + 1
    x = -np.cos(np.pi * np.arange(size) / degree)
    weight = np.where(np.isin(np.arange(size), (0, degree)), 0.5, 1) * (-1.0) ** np.arange(size)
    gap = x[:, None] - x + np.eye(size)
    slope = weight / weight[:, None] / gap
    slope -= np.diag(slope.sum(axis=1))

    def value_at(point: float) -> np.ndarray:
        piece = min(int(np.searchsorted(edges, point + 1e-13, side="right")) - 1, pieces - 1)
        low, high = edges[piece : piece + 2]
        from_points = 2 * (point - low) / (high - low) - 1 - x
        row = np.zeros(pieces * size)
        if np.min(np.abs(from_points)) < 1e-12:
            row[piece * size + int(np.argmin(np.abs(from_points)))] = 1
        else:
            row[piece * size : (piece + 1) * size] = weight / from_points / np.sum(weight / from_points)
        return row

    matrix, right = np.zeros((pieces * size, pieces * size)), np.full(pieces * size, 1 / (rho - 1))
    for piece in range(pieces):
        low, high = edges[piece : piece + 2]
        rows = slice(piece * size, (piece + 1) * size)
        matrix[rows, rows] = slope * 2 / (high - low) + rate / (rho - 1) * np.eye(size)
        if piece < pieces - 1:
            points = low + (high - low) * (x + 1) / 2
            matrix[rows] -= rate / (rho - 1) * np.array([value_at(min(point + jump, limit)) for point in points])
        first = piece * size
        matrix[first] = value_at(0.0) - (value_at(jump) if pieces > 1 else 0) if piece == 0 else 0
        right[first] = 1 / rate if piece == 0 else 0
        if piece:
            matrix[first, [first, first - 1]] = 1, -1
    return float(np.linalg.solve(matrix, right)[0])


@pytest.mark.parametrize(
    ("limit", "rho", "rate"),
    [(5, 2, 1), (5, 1.5, 1), (5, 1.5, 3), (4.5, 1.5, 3), (4, 1.2, 1), (3, 3, 0.5), (0.4, 2, 1), (2.5, 2, 2)],
)
def test_mean_runs_are_those_of_collocation(limit: float, rho: float, rate: float) -> None:
    assert_allclose(mean_run(limit, rho, rate), plain_mean_run(limit, rho, rate), rtol=1e-8)


@pytest.mark.parametrize(("limit", "rho", "rate"), [(2.0, 2.0, 1.0), (3.0, 2.0, 2.0), (2.0, 1.5, 1.0), (3.0, 2.0, 1.0)])
def test_mean_runs_are_those_of_twenty_thousand_runs(limit: float, rho: float, rate: float) -> None:
    random = np.random.default_rng(7)
    value, expected, running = np.zeros(20_000), np.zeros(20_000), np.ones(20_000, dtype=bool)
    while running.any():
        gap = random.exponential(1 / rate, running.sum())
        value[running] = np.maximum(0, value[running] - (rho - 1) * gap) + log(rho)
        expected[running] += gap
        running &= value < limit
    se = expected.std() / np.sqrt(len(expected))
    assert abs(expected.mean() - mean_run(limit, rho, rate)) < 4 * se


@settings(max_examples=40)
@given(st.floats(1.01, 1e5), st.floats(1.2, 4))
def test_a_limit_gives_the_run_that_it_was_set_for_or_the_shortest_above_1(run: float, rho: float) -> None:
    limit = cusum_limit(run, rho)
    shortest = mean_run(log(rho) * (1 + 1e-9), rho)
    assert limit > log(rho)
    assert_allclose(mean_run(limit, rho), max(run, shortest), rtol=1e-9)


def test_the_run_leaps_where_a_single_event_is_no_longer_enough() -> None:
    """A path that rests at 0 comes to exactly log rho by one event: the limit's own run is 1, just above it 3."""
    assert mean_run(log(2)) == 1
    assert_allclose(mean_run(log(2) + 1e-12), 3, rtol=1e-9)
    assert_allclose(plain_mean_run(log(2) + 1e-9, 2, 1), 3, rtol=1e-7)


def test_starting_higher_shortens_the_run_and_one_jump_below_the_limit_is_one_event() -> None:
    runs = [mean_run(4.0, start=start) for start in (0, 1, 2, 3, 3.9)]
    assert runs == sorted(runs, reverse=True)
    assert_allclose(mean_run(0.5), 1, rtol=1e-14)  # every event signals
    half = mean_run(4.0, start=2.0)
    assert_allclose(half, plain_half_run(), rtol=0.02)


def plain_half_run() -> float:
    """20,000 runs from half of the limit; their mean has a standard error of about 1 %."""
    random = np.random.default_rng(8)
    value, expected, running = np.full(20_000, 2.0), np.zeros(20_000), np.ones(20_000, dtype=bool)
    while running.any():
        gap = random.exponential(1, running.sum())
        value[running] = np.maximum(0, value[running] - gap) + log(2)
        expected[running] += gap
        running &= value < 4
    return float(expected.mean())


def test_arguments_out_of_range_are_refused() -> None:
    for wrong in (
        {"limit": 0.0},
        {"limit": 5.0, "rho": 1.0},
        {"limit": 5.0, "rate": 0.0},
        {"limit": 5.0, "start": 5.0},
    ):
        with pytest.raises(ValueError, match="above"):
            mean_run(**wrong)
    with pytest.raises(ValueError, match="300 events in a row"):
        mean_run(5.0, rho=1.001)
    for run in (1.0, float("inf")):
        with pytest.raises(ValueError, match="above 1 expected event"):
            cusum_limit(run)
