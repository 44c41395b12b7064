"""Spread between units against R's arithmetic and against simulated registers."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from regdash.errors import ModelError
from regdash.stats.overdispersion import overdispersion
from regdash.stats.targets import BinomialTarget, PoissonTarget
from tests.stats.cases import rows_of, values_of
from tests.stats.finite import assert_finite


def test_spread_of_twenty_made_up_units_is_that_of_r() -> None:
    """R: z = 2 (sqrt(O) - sqrt(E)), pulled in at 10 % by quantile type 7. Invented data, the arithmetic is checked."""
    rows, (whole,) = rows_of("overdispersion_units"), rows_of("overdispersion_summary")
    target, observed = PoissonTarget(values_of(rows, "expected")), np.array([int(row["observed"]) for row in rows])
    found = overdispersion(target, observed)
    values = [found.units, found.phi_raw, found.phi, found.tau_squared, found.low, found.high]
    columns = ("K", "phi_raw", "phi_winsorised10", "tau2_additive", "q_lo", "q_hi")
    assert_allclose(values, [float(whole[column]) for column in columns], rtol=1e-11)
    assert_allclose(found.z(target, observed, "multiplicative"), values_of(rows, "z_multiplicative"), rtol=1e-10)
    assert_allclose(found.z(target, observed, "additive"), values_of(rows, "z_additive"), rtol=1e-10)
    assert_allclose(found.test.statistic, 20 * found.phi_raw, rtol=1e-14)
    assert found.test.p < 1e-10


def test_chance_alone_gives_a_phi_of_about_1_and_a_test_that_seldom_rejects() -> None:
    """Pulling in makes phi about 0.75 on normal z (common practice; the factor by integration, no published source)."""
    random = np.random.default_rng(11)
    expected = random.uniform(20, 200, 60)
    found = [overdispersion(PoissonTarget(expected), random.poisson(expected)) for _ in range(200)]
    assert_allclose(np.mean([one.phi_raw for one in found]), 1, atol=0.04)
    z = np.linspace(-8, 8, 100_001)
    pulled_in = np.clip(z, -1.2815515655446004, 1.2815515655446004) ** 2
    factor = np.sum(pulled_in * np.exp(-(z**2) / 2)) / np.sum(np.exp(-(z**2) / 2))
    assert_allclose(np.mean([one.phi for one in found]), factor, atol=0.04)
    assert 0.01 < np.mean([one.test.p < 0.05 for one in found]) < 0.12


def test_a_known_spread_between_units_is_found() -> None:
    """True ratios with a standard deviation of 0.3 have one of 0.15 on the scale of square roots."""
    random = np.random.default_rng(12)
    expected = random.uniform(50, 500, 2000)
    target = PoissonTarget(expected)
    observed = random.poisson(expected * (1 + 0.3 * random.choice([-1.0, 1.0], 2000)))
    found = overdispersion(target, observed, pulled_in=0)
    assert_allclose(np.sqrt(found.tau_squared), 0.15, rtol=0.05)
    assert found.phi == found.phi_raw
    proportions = BinomialTarget(np.full(2000, 400), 0.1)
    chance = overdispersion(proportions, random.binomial(400, 0.1, 2000), pulled_in=0)
    assert_allclose(chance.phi, 1, atol=0.1)


@given(
    st.lists(st.tuples(st.floats(0, 50), st.integers(0, 80)), min_size=2, max_size=12).filter(
        lambda units: sum(due > 1e-3 for due, _ in units) > 1
    ),
    st.randoms(),
)
def test_order_of_units_does_not_matter_and_nothing_is_lost(units: list[tuple[float, int]], random: object) -> None:
    units = [(due if due > 1e-3 else 0.0, seen) for due, seen in units]
    mixed = units[:]
    random.shuffle(mixed)  # type: ignore[attr-defined]
    first, second = (
        overdispersion(PoissonTarget([due for due, _ in some]), np.array([seen for _, seen in some]))
        for some in (units, mixed)
    )
    assert_allclose([first.phi, first.tau_squared], [second.phi, second.tau_squared], rtol=1e-10, atol=1e-13)
    assert_finite(first)
    assert first.units == sum(due > 0 for due, _ in units)
    assert first.tau_squared >= 0
    target = PoissonTarget([due for due, _ in units])
    assert_finite(first.z(target, np.array([seen for _, seen in units]), "additive"))


def test_few_units_are_said_and_fewer_than_two_refused() -> None:
    assert "fewer than 20" in str(overdispersion(PoissonTarget(np.array([3.0, 4.0])), np.array([3, 4])).note)
    with pytest.raises(ModelError, match="not 1"):
        overdispersion(PoissonTarget(np.array([3.0, 0.0])), np.array([3, 0]))
    with pytest.raises(ValueError, match=r"below 0\.5"):
        overdispersion(PoissonTarget(np.array([3.0, 4.0])), np.array([3, 4]), pulled_in=0.5)
