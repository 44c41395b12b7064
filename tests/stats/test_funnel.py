"""Funnel lines against R, flags against every count that could have come."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from regdash.errors import CountError
from regdash.stats.funnel import Spread, expected_false_flags, funnel_lines, funnel_points
from regdash.stats.overdispersion import overdispersion
from regdash.stats.targets import BinomialTarget, PoissonTarget, Target
from tests.stats.cases import rows_of, values_of
from tests.stats.finite import assert_finite

LEVELS = [(0.95, "0.025", "0.975"), (0.998, "0.001", "0.999")]


def check_lines(target: Target, level: float, lower: list[float], upper: list[float], most: float) -> None:
    found = funnel_lines(target, level)
    assert_allclose(found.lower, np.maximum(lower, 0), rtol=1e-9, atol=1e-13)
    assert_allclose(found.upper, np.minimum(upper, most), rtol=1e-9)


@pytest.mark.parametrize(("level", "low", "high"), LEVELS)
def test_lines_of_expected_events_are_those_of_r(level: float, low: str, high: str) -> None:
    """R: qpois and ppois; its lower limits below 0 are not floored, ours are."""
    lower, upper = (rows_of("funnel_poisson", p=p) for p in (low, high))
    target = PoissonTarget(values_of(lower, "expected"))
    check_lines(target, level, *(values_of(rows, "limit_interpolated") for rows in (lower, upper)), np.inf)


@pytest.mark.parametrize("proportion", ["0.01", "0.05", "0.2"])
@pytest.mark.parametrize(("level", "low", "high"), LEVELS)
def test_lines_of_proportions_are_those_of_r(level: float, low: str, high: str, proportion: str) -> None:
    lower, upper = (rows_of("funnel_binomial", p=p, target=proportion) for p in (low, high))
    target = BinomialTarget([int(row["n"]) for row in lower], float(proportion))
    check_lines(target, level, *(values_of(rows, "limit_interpolated") for rows in (lower, upper)), 1)


some_targets = st.one_of(
    st.lists(st.floats(0.01, 60), min_size=1, max_size=4).map(lambda due: PoissonTarget(np.array(due))),
    st.tuples(st.lists(st.integers(1, 80), min_size=1, max_size=4), st.floats(0.01, 0.9)).map(
        lambda pair: BinomialTarget(np.array(pair[0]), pair[1])
    ),
)


@settings(max_examples=25)
@given(some_targets, st.sampled_from([0.8, 0.95, 0.998]))
def test_false_flags_are_all_counts_that_would_be_flagged_times_their_chance(target: Target, level: float) -> None:
    flags, higher, lower = expected_false_flags(target, level), 0.0, 0.0
    for count in range(140):
        counts = np.minimum(np.full(len(target.size), count), target.most).astype(int)
        sides = [point.side for point in funnel_points(target, counts, (level,))]
        chances = np.where(count <= target.most, target.exactly(counts), 0)
        higher += sum(chance for chance, side in zip(chances, sides) if side == "higher")
        lower += sum(chance for chance, side in zip(chances, sides) if side == "lower")
    assert_allclose([flags.higher, flags.lower], [higher, lower], rtol=1e-8, atol=1e-12)
    assert max(flags.higher, flags.lower) <= len(target.size) * (1 - level) / 2 + 1e-12
    assert_finite(flags)


def test_flags_are_fewer_than_their_share_of_units_since_counts_are_whole() -> None:
    """Tables of the Poisson distribution print for a mean of 10: up to 17 0.9857, up to 3 0.0103, up to 4 0.0293."""
    flags = expected_false_flags(PoissonTarget(np.full(1000, 10.0)), 0.95)
    assert_allclose(flags.higher, 14.3, atol=0.05)
    assert_allclose(flags.lower, 10.3, atol=0.05)


@given(some_targets, st.lists(st.integers(0, 80), min_size=4, max_size=4))
def test_a_unit_is_flagged_by_its_exact_tail_not_by_the_line(target: Target, counts: list[int]) -> None:
    observed = np.minimum(counts[: len(target.size)], target.most).astype(int)
    for number, point in enumerate(funnel_points(target, observed)):
        tail = [target.exactly(np.full(len(target.size), count))[number] for count in range(int(observed[number]))]
        assert_allclose(point.p_higher, 1 - sum(tail), atol=1e-10)
        assert_allclose(point.p_lower, sum(tail) + target.exactly(observed)[number], atol=1e-10)
        smaller = min(point.p_higher, point.p_lower)
        assert point.beyond == (0.998 if smaller <= 0.001 else 0.95 if smaller <= 0.025 else None)
        assert (point.side is None) == (point.beyond is None)
    assert_finite(funnel_points(target, observed), funnel_lines(target))


def test_limits_do_not_depend_on_what_was_observed_and_close_in_with_size() -> None:
    lines = funnel_lines(PoissonTarget(np.array([5.0, 50.0, 5000.0, 500_000.0])), 0.998)
    assert np.all(np.diff(lines.upper) < 0)
    assert np.all(np.diff(lines.lower) > 0)
    assert_allclose((lines.upper[-1] - 1) * np.sqrt(500_000), 3.0902, rtol=0.01)  # the normal limit


def made_up() -> tuple[PoissonTarget, np.ndarray]:
    rows = rows_of("overdispersion_units")
    return PoissonTarget(values_of(rows, "expected")), np.array([int(row["observed"]) for row in rows])


@pytest.mark.parametrize("allowance", ["multiplicative", "additive"])
def test_spread_widens_the_funnel_and_never_flags_whom_chance_alone_does_not(allowance: str) -> None:
    target, observed = made_up()
    spread = Spread(overdispersion(target, observed), allowance)  # type: ignore[arg-type]
    for level in (0.5, 0.95, 0.998):
        narrow, wide = funnel_lines(target, level), funnel_lines(target, level, spread)
        assert np.all(wide.lower <= narrow.lower)
        assert np.all(wide.upper >= narrow.upper)
    for one, other in zip(funnel_points(target, observed), funnel_points(target, observed, spread=spread), strict=True):
        assert other.p_higher >= one.p_higher
        assert other.p_lower >= one.p_lower
        assert (other.beyond or 0) <= (one.beyond or 0)
    assert_allclose(expected_false_flags(target, 0.95, spread).higher, 20 * 0.025)
    assert "nominal" in str(expected_false_flags(target, 0.95, spread).note)


def test_multiplied_limits_are_phis_root_further_from_the_target() -> None:
    target, observed = made_up()
    between = overdispersion(target, observed)
    narrow, wide = funnel_lines(target), funnel_lines(target, spread=Spread(between, "multiplicative"))
    assert_allclose(wide.upper - 1, (narrow.upper - 1) * np.sqrt(4.01073795406565), rtol=1e-10)
    added = funnel_lines(target, spread=Spread(between, "additive"))
    s = np.sqrt(1 / (4 * target.expected) + 0.0530054262518513)
    assert_allclose(added.upper, (1 + 1.959963984540054 * s) ** 2, rtol=1e-10)


@pytest.mark.parametrize("allowance", ["multiplicative", "additive"])
def test_units_that_agree_too_well_do_not_narrow_the_funnel(allowance: str) -> None:
    target = PoissonTarget(np.full(30, 25.0))
    between = overdispersion(target, np.full(30, 25))
    assert (between.phi, between.tau_squared) == (0, 0)
    spread = Spread(between, allowance)  # type: ignore[arg-type]
    narrow, wide = funnel_lines(target), funnel_lines(target, spread=spread)
    assert (wide.lower.tolist(), wide.upper.tolist()) == (narrow.lower.tolist(), narrow.upper.tolist())
    assert expected_false_flags(target, 0.95, spread) == expected_false_flags(target, 0.95)


def test_proportions_near_an_end_keep_their_limits_between_0_and_1() -> None:
    target = BinomialTarget(np.array([5, 20, 400]), 0.97)
    spread = Spread(overdispersion(target, np.array([2, 15, 300])), "additive")
    for lines in (funnel_lines(target, 0.998), funnel_lines(target, 0.998, spread)):
        assert np.all((lines.lower >= 0) & (lines.upper <= 1))


def test_a_unit_of_which_nothing_is_expected_has_no_place_in_the_funnel() -> None:
    for target in (PoissonTarget(np.array([0.0, 3.0])), BinomialTarget(np.array([0, 9]), 0.3)):
        nothing, other = funnel_points(target, np.array([0, 3]))
        assert (nothing.value, nothing.p_higher, nothing.beyond) == (None, None, None)
        assert "nothing is expected" in str(nothing.note)
        assert other.value in (1, 1 / 3)
        assert expected_false_flags(target).higher <= 0.025


def test_what_does_not_fit_is_refused() -> None:
    with pytest.raises(CountError, match="one observed count each"):
        funnel_points(PoissonTarget(np.array([1.0, 2.0])), np.array([1]))
    with pytest.raises(CountError, match="4 events cannot come from 3 joints"):
        funnel_points(BinomialTarget(np.array([3]), 0.1), np.array([4]))
    with pytest.raises(ValueError, match="sizes above 0"):
        funnel_lines(PoissonTarget(np.array([0.0])))
    with pytest.raises(ValueError, match="between 0 and 1"):
        BinomialTarget(np.array([3]), 1.0)
    with pytest.raises(ValueError, match="between 0 and 1"):
        funnel_points(PoissonTarget(np.array([1.0])), np.array([1]), levels=(95,))
    target, observed = made_up()
    with pytest.raises(ValueError, match="multiplicative or additive"):
        funnel_lines(target, spread=Spread(overdispersion(target, observed), "both"))  # type: ignore[arg-type]
