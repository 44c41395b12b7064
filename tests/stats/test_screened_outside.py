"""Units that are in nobody's comparison group: each equals a screen of its own joints and the others alone."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from regdash.errors import CountError, ModelError
from regdash.stats.cox_counts import PatternCounts
from regdash.stats.events import Entries
from regdash.stats.partial_likelihood import Ties
from regdash.stats.screened import screened_hazard_ratios
from regdash.stats.screened_outside import outside_hazard_ratios

UNITS, STRATA = 9, 4  # unit 0 stands for the others
UNIT, STRATUM = np.divmod(np.arange(UNITS * STRATA), STRATA)
NAMES = [f"KF-{number:03}" for number in range(1, UNITS)]


def rows(seed: int, span: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Joints with many ties; unit 1 alone is in the last stratum, and is followed for longer than the others."""
    random = np.random.default_rng(seed)
    pattern = random.choice(UNITS * STRATA, 800, p=random.dirichlet(np.where(UNIT == 0, 6, 0.4)))
    pattern = pattern[(STRATUM[pattern] < STRATA - 1) | (UNIT[pattern] == 1)]
    hazard = np.exp(random.normal(0, 0.8, UNITS))[UNIT[pattern]] * (1 + STRATUM[pattern])
    fails = random.exponential(2 * span / hazard).astype(int)
    ends = random.integers(0, np.where(UNIT[pattern] == 1, span + 9, span))
    return pattern, np.minimum(fails, ends), fails <= ends


def of(pattern: np.ndarray, day: np.ndarray, event: np.ndarray, which: np.ndarray) -> PatternCounts:
    return PatternCounts(UNITS * STRATA, pattern[which], day[which], event[which], stratum=STRATUM)


@pytest.mark.parametrize("ties", ["efron", "breslow"])
@pytest.mark.parametrize("span", [20, 400])
@pytest.mark.parametrize("block", [2**19, 1])
def test_each_unit_is_as_if_it_were_alone_with_the_others(
    ties: Ties, span: int, block: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("regdash.stats.screened.BLOCK", block)
    told = 0
    for seed in range(5):
        pattern, day, event = rows(seed, span)
        unit = UNIT[pattern]
        others, own = (of(pattern, day, event, which) for which in (unit == 0, unit > 0))
        found = outside_hazard_ratios(others, own, np.maximum(UNIT - 1, 0), NAMES, ties, stated=1.3)
        for number, one in enumerate(found, start=1):
            both = of(pattern, day, event, (unit == 0) | (unit == number))
            names = ["others", *NAMES]
            alone = screened_hazard_ratios(both, UNIT, names, ties, stated=1.3)[number]
            assert (one.ratio.name, one.joints, one.events) == (alone.ratio.name, alone.joints, alone.events)
            assert one.ratio.note == alone.ratio.note
            assert_allclose(one.expected, alone.expected, rtol=1e-9, atol=1e-12)
            assert_allclose(one.p_higher, alone.p_higher, rtol=1e-9)
            assert (one.due is None) == (alone.due is None)
            if one.due is not None:
                assert_allclose(one.due, alone.due, rtol=1e-8)
            if one.ratio.ratio is not None:
                told += 1
                figures = [(each.ratio.ratio, each.ratio.lower, each.ratio.log_se) for each in (one, alone)]
                assert_allclose(*figures, rtol=1e-9)
    assert told > 25


def test_what_cannot_be_compared_is_refused() -> None:
    pattern, day, event = rows(1, 20)
    others, own = (of(pattern, day, event, which) for which in (UNIT[pattern] == 0, UNIT[pattern] > 0))
    with pytest.raises(CountError, match="needs a unit from 0 to 7"):
        outside_hazard_ratios(others, own, UNIT, NAMES)
    with pytest.raises(ModelError, match="there is nothing to compare"):
        outside_hazard_ratios(PatternCounts(1, [0], [5], [0]), own, np.maximum(UNIT - 1, 0), NAMES)
    late = PatternCounts(1, [0], [5], [1], entered=Entries(np.array([0]), np.array([2]), np.array([1])))
    with pytest.raises(CountError, match="enter late"):
        outside_hazard_ratios(late, own, np.maximum(UNIT - 1, 0), NAMES)
