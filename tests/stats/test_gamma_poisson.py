"""Shrunken ratios against R on published data, and against the truth of simulated registers."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy.stats import gamma, nbinom

from regdash.errors import CountError, ModelError
from regdash.stats.gamma_poisson import GammaPoisson, gamma_poisson
from tests.stats.cases import Row, rows_of, values_of
from tests.stats.finite import assert_finite

some_units = st.lists(st.tuples(st.integers(0, 60), st.floats(0.05, 50)), min_size=2, max_size=25)


def fitted(name: str) -> tuple[GammaPoisson, list[Row]]:
    """Lip cancer in 56 districts, Clayton & Kaldor (1987); failures of ten pumps, Gaver & O'Muircheartaigh (1987)."""
    rows = rows_of("gamma_poisson", data=name)
    return gamma_poisson([int(row["y"]) for row in rows], values_of(rows, "e")), rows


@pytest.mark.parametrize("name", ["lip", "pumps"])
def test_the_spread_between_units_is_that_of_r(name: str) -> None:
    """
    R: dnbinom, maximised by optim. Its highest point is flat, so that R's own parameters are good to about 1e-7
    (and the published ones, shape 1.88 and 0.82, to what is printed); the likelihood is good to all digits.
    """
    fit, rows = fitted(name)
    assert_allclose([fit.shape, fit.rate], [float(rows[0]["shape"]), float(rows[0]["rate"])], rtol=2e-7)
    assert_allclose(fit.loglik, float(rows[0]["loglik"]), rtol=1e-13)
    assert round(fit.shape or 0, 2) == {"lip": 1.88, "pumps": 0.82}[name]


@pytest.mark.parametrize("name", ["lip", "pumps"])
def test_posteriors_are_those_of_r(name: str) -> None:
    """To what is left of the parameters' 1e-7; small probabilities magnify it."""
    fit, rows = fitted(name)
    found = fit.ratios(above=2 * fit.mean)
    for attribute, column, rtol in (("raw", "raw", 1e-13), ("ratio", "eb_mean", 1e-7), ("lower", "eb_lower", 1e-7)):
        assert_allclose([getattr(one, attribute) for one in found], values_of(rows, column), rtol=rtol)
    assert_allclose([one.upper for one in found], values_of(rows, "eb_upper"), rtol=1e-7)
    assert_allclose([one.probability for one in found], values_of(rows, "p_gt_twice_mean"), rtol=1e-5)
    assert_finite(fit, found)


@pytest.mark.parametrize("name", ["lip", "pumps"])
def test_no_other_spread_is_likelier(name: str) -> None:
    fit, rows = fitted(name)
    seen, due = np.array([int(row["y"]) for row in rows]), np.array(values_of(rows, "e"))

    def loglik(shape: float, mean: float) -> float:
        return float(nbinom.logpmf(seen, shape, shape / (shape + mean * due)).sum())

    assert_allclose(fit.loglik, loglik(fit.shape, fit.mean), rtol=1e-12)
    for factor in (0.5, 0.99, 1.01, 2):
        assert loglik(fit.shape * factor, fit.mean) < fit.loglik
        assert loglik(fit.shape, fit.mean * factor) < fit.loglik


@settings(max_examples=40)
@given(some_units)
def test_the_spread_found_is_the_likeliest_and_shrinks_towards_the_mean(units: list[tuple[int, float]]) -> None:
    seen, due = (np.array(column) for column in zip(*units, strict=True))
    fit = gamma_poisson(seen, due)
    found = fit.ratios(above=1.5)
    assert_finite(fit, found)
    if fit.shape is None:
        assert {one.ratio for one in found} == {fit.mean}
        assert fit.loglik == fit.loglik_pooled
        assert "no spread" in str(found[0].note)
    else:
        assert fit.loglik > fit.loglik_pooled
        for one in found:
            assert min(one.raw, fit.mean) - 1e-9 <= one.ratio <= max(one.raw, fit.mean) + 1e-9
    # No distribution with the same or another mean does better, down to next to no spread.
    for spread in np.geomspace(1e-3, 1e3, 13):
        for mean in fit.mean * np.array([0.7, 1, 1.4]):
            if mean:
                other = nbinom.logpmf(seen, 1 / spread, 1 / (1 + spread * mean * due)).sum()
                assert other <= fit.loglik + 1e-7 * (1 + abs(fit.loglik))
    assert all(one.lower <= one.ratio <= one.upper for one in found)
    assert all(0 <= one.probability <= 1 for one in found)


@settings(max_examples=40)
@given(some_units, st.randoms())
def test_order_of_units_does_not_matter(units: list[tuple[int, float]], random: object) -> None:
    mixed = list(range(len(units)))
    random.shuffle(mixed)  # type: ignore[attr-defined]
    first = gamma_poisson(*(np.array(column) for column in zip(*units, strict=True))).ratios(1.2)
    second = gamma_poisson(*(np.array(column) for column in zip(*(units[place] for place in mixed), strict=True)))
    ratios = [first[place].ratio for place in mixed]
    assert_allclose([one.ratio for one in second.ratios(1.2)], ratios, rtol=1e-6, atol=1e-9)


def test_a_known_spread_is_recovered_and_limits_cover_true_ratios() -> None:
    """500 implants, true ratios from a gamma distribution with mean 1.2 and shape 4; 95 % limits over 5 registers."""
    random = np.random.default_rng(51)
    shapes, covered = [], []
    for _ in range(5):
        true, due = random.gamma(4, 0.3, 500), random.uniform(2, 60, 500)
        fit = gamma_poisson(random.poisson(true * due), due)
        shapes.append(fit.shape)
        covered += [one.lower <= ratio <= one.upper for one, ratio in zip(fit.ratios(2.0), true, strict=True)]
        calls = [(one.probability, ratio > 2.0) for one, ratio in zip(fit.ratios(2.0), true, strict=True)]
        assert_allclose(sum(chance for chance, _ in calls), sum(above for _, above in calls), atol=20)
    assert_allclose(np.mean(shapes), 4, rtol=0.1)
    assert abs(np.mean(covered) - 0.95) < 4 * 0.0044


def test_units_that_differ_by_chance_alone_are_pooled_and_it_is_said() -> None:
    fit = gamma_poisson(np.array([3, 4, 5, 4]), np.array([4.0, 4.0, 4.0, 4.0]))
    found = fit.ratios(above=1.5)
    assert (fit.shape, fit.rate, fit.mean) == (None, None, 1.0)
    assert {one.ratio for one in found} == {1.0}
    assert [one.raw for one in found] == [0.75, 1, 1.25, 1]
    assert_allclose(found[0].probability, gamma.sf(1.5, 16.5, scale=1 / 16), rtol=1e-12)
    assert_allclose(found[0].upper, gamma.ppf(0.975, 16.5, scale=1 / 16), rtol=1e-12)


def test_a_unit_of_which_nothing_is_expected_has_the_others_distribution() -> None:
    fit = gamma_poisson(np.array([0, 9, 2, 30, 0]), np.array([0.0, 4.0, 5.0, 8.0, 6.0]))
    nothing = fit.ratios(above=1.0)[0]
    assert nothing.raw is None
    assert_allclose(nothing.ratio, fit.mean, rtol=1e-12)
    without = gamma_poisson(np.array([9, 2, 30, 0]), np.array([4.0, 5.0, 8.0, 6.0]))
    assert fit.shape == without.shape


def test_without_any_event_all_ratios_are_0() -> None:
    found = gamma_poisson(np.zeros(30), np.ones(30)).ratios(above=0.5)
    assert {(one.ratio, one.lower) for one in found} == {(0.0, 0.0)}
    assert found[0].upper > 0


def test_what_has_no_ratio_is_refused() -> None:
    with pytest.raises(CountError, match="none are expected"):
        gamma_poisson(np.array([1, 1]), np.array([0.0, 1.0]))
    with pytest.raises(CountError, match="one length"):
        gamma_poisson(np.array([1]), np.array([1.0, 1.0]))
    with pytest.raises(ModelError, match="Nothing is expected"):
        gamma_poisson(np.array([0, 0]), np.array([0.0, 0.0]))
    with pytest.raises(ValueError, match="0 or more"):
        gamma_poisson(np.array([1, 2]), np.array([1.0, 1.0])).ratios(above=-1)
