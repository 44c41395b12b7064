"""Shrunken log ratios against a published meta-analysis, a textbook's, and the whole posterior at once."""

from math import exp, log

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from regdash.errors import CountError, ModelError
from regdash.stats.normal_shrinkage import normal_shrinkage
from tests.stats.finite import assert_finite

some_units = st.lists(st.tuples(st.floats(-3, 3), st.floats(0.05, 2)), min_size=2, max_size=15)


def tuberculosis() -> tuple[list[float], list[float]]:
    """Thirteen trials of a vaccine, Colditz et al. (1994), JAMA 271:698-702: log risk ratios and standard errors."""
    cases = np.array([4, 6, 3, 62, 33, 180, 8, 505, 29, 17, 186, 5, 27])
    without = np.array([119, 300, 228, 13536, 5036, 1361, 2537, 87886, 7470, 1699, 50448, 2493, 16886])
    control = np.array([11, 29, 11, 248, 47, 372, 10, 499, 45, 65, 141, 3, 29])
    spared = np.array([128, 274, 209, 12619, 5761, 1079, 619, 87892, 7232, 1600, 27197, 2338, 17825])
    treated, untreated = cases + without, control + spared
    variance = 1 / cases - 1 / treated + 1 / control - 1 / untreated
    return np.log(cases / treated / (control / untreated)).tolist(), np.sqrt(variance).tolist()


def test_the_vaccine_trials_spread_as_published() -> None:
    """Viechtbauer (2010), J Stat Softw 36(3), by restricted maximum likelihood, and the manual of that R package."""
    fit = normal_shrinkage(*tuberculosis())
    assert [round(value, 4) for value in (fit.tau_squared, fit.mean, fit.mean_se)] == [0.3132, -0.7145, 0.1798]
    assert (round(fit.test.statistic, 4), fit.test.df) == (152.2330, 12)
    assert_finite(fit, fit.ratios(1.5))


def test_eight_schools_do_not_spread_beyond_chance() -> None:
    """Rubin (1981); Gelman et al., Bayesian Data Analysis, section 5.5: all together 7.7, standard error 4.1."""
    fit = normal_shrinkage([28, 8, -3, 7, -1, 1, 18, 12], [15, 10, 16, 11, 9, 11, 10, 18])
    assert fit.tau_squared == 0
    assert (round(fit.mean, 1), round(fit.mean_se, 1)) == (7.7, 4.1)
    found = fit.ratios(above=1.0)
    assert {one.ratio for one in found} == {exp(fit.mean)}
    assert "no spread" in str(found[0].note)


@given(some_units)
def test_posteriors_are_those_of_all_units_and_their_mean_at_once(units: list[tuple[float, float]]) -> None:
    """With a flat prior on the mean, true log ratios and mean are jointly normal: one matrix to turn over."""
    y, se = ([one[part] for one in units] for part in (0, 1))
    fit = normal_shrinkage(y, se)
    found = fit.ratios(above=1.2)
    assert_finite(fit, found)
    if fit.tau_squared < 1e-4:
        return
    size = len(y)
    precision = np.zeros((size + 1, size + 1))
    precision[range(size), range(size)] = 1 / np.array(se) ** 2 + 1 / fit.tau_squared
    precision[size, :size] = precision[:size, size] = -1 / fit.tau_squared
    precision[size, size] = size / fit.tau_squared
    covariance = np.linalg.inv(precision)
    middle = covariance @ np.append(np.array(y) / np.array(se) ** 2, 0)
    assert_allclose(fit.mean, middle[size], atol=1e-7)
    for one, centre, variance in zip(found, middle, np.diag(covariance)):
        assert_allclose(log(one.ratio), centre, atol=1e-7)
        assert_allclose(log(one.upper), centre + 1.959963984540054 * np.sqrt(variance), atol=1e-6)


@given(some_units)
def test_no_other_variance_is_likelier(units: list[tuple[float, float]]) -> None:
    y, variance = np.array([one[0] for one in units]), np.array([one[1] for one in units]) ** 2

    def restricted(tau_squared: float) -> float:
        """Of contrasts that do not know the mean: normal, with a covariance that is turned over whole."""
        contrasts = np.linalg.svd(np.ones((1, len(y))))[2][1:]
        covariance = contrasts @ np.diag(variance + tau_squared) @ contrasts.T
        seen = contrasts @ y
        return float(-(np.linalg.slogdet(covariance)[1] + seen @ np.linalg.solve(covariance, seen)) / 2)

    fit = normal_shrinkage(*([one[part] for one in units] for part in (0, 1)))
    best = restricted(fit.tau_squared)
    for other in (0, *(fit.tau_squared * np.array([0.5, 0.98, 1.02, 2])), *np.geomspace(1e-4, 100, 25)):
        assert restricted(float(other)) <= best + 1e-9 * (1 + abs(best))


@given(some_units, st.randoms())
def test_order_of_units_does_not_matter(units: list[tuple[float, float]], random: object) -> None:
    mixed = list(range(len(units)))
    random.shuffle(mixed)  # type: ignore[attr-defined]
    first = normal_shrinkage(*([one[part] for one in units] for part in (0, 1))).ratios(1.2)
    second = normal_shrinkage(*([units[place][part] for place in mixed] for part in (0, 1))).ratios(1.2)
    assert_allclose([one.ratio for one in second], [first[place].ratio for place in mixed], rtol=1e-6)


def test_a_unit_without_a_ratio_has_none_to_shrink_and_changes_nothing() -> None:
    fit = normal_shrinkage([0.1, None, 0.9, -0.3], [0.2, None, 0.1, 0.1])
    assert fit.tau_squared == normal_shrinkage([0.1, 0.9, -0.3], [0.2, 0.1, 0.1]).tau_squared
    found = fit.ratios(1.5)[1]
    assert (found.raw, found.ratio, found.probability) == (None, None, None)
    assert "no ratio of its own" in str(found.note)


def test_true_ratios_are_covered_and_probabilities_are_as_often_right_as_they_say() -> None:
    random = np.random.default_rng(61)
    covered, calls = [], []
    for _ in range(8):
        se, true = random.uniform(0.1, 0.6, 300), random.normal(0.1, 0.3, 300)
        fit = normal_shrinkage(random.normal(true, se).tolist(), se.tolist())
        for one, ratio in zip(fit.ratios(1.5), np.exp(true), strict=True):
            covered.append(one.lower <= ratio <= one.upper)
            calls.append(one.probability - (ratio > 1.5))
    assert abs(np.mean(covered) - 0.95) < 4 * 0.0045
    assert abs(np.mean(calls)) < 4 * 0.007


def test_one_unit_stays_as_it_is() -> None:
    fit = normal_shrinkage([0.7], [0.2])
    assert (fit.mean, fit.tau_squared, fit.test) == (0.7, 0, None)
    assert_allclose(fit.ratios(1.5)[0].ratio, exp(0.7), rtol=1e-14)


def test_limits_too_far_out_for_a_number_are_none() -> None:
    fit = normal_shrinkage([0.0, 0.1, 5.0, -5.0], [1e6, 0.1, 0.1, 0.1])
    assert_finite(fit.ratios(1.5))
    far = normal_shrinkage([0.0, 1.0], [1000.0, 1000.0]).ratios(1.5)[0]
    assert (far.upper, far.note) == (None, "no upper limit can be stated")


def test_what_is_no_estimate_is_refused() -> None:
    for y, se in (([float("nan")], [0.1]), ([0.1], [0.0]), ([0.1], [float("inf")]), ([800.0], [0.1])):
        with pytest.raises(CountError, match="finite"):
            normal_shrinkage(y, se)
    with pytest.raises(CountError, match="one length"):
        normal_shrinkage([0.1, 0.2], [0.1])
    with pytest.raises(ModelError, match="No unit has an estimate"):
        normal_shrinkage([None], [None])
    with pytest.raises(ValueError, match="above 0"):
        normal_shrinkage([0.1, 0.2], [0.1, 0.1]).ratios(above=0)
