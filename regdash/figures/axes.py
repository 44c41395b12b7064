"""Axes of figures whose values may lie on both sides of a line: plain ones around 0, ratios around 1."""

import math
from collections.abc import Iterable

from regdash.charts.scale import Axis

_RATIOS = (0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0)


def plain_axis(values: Iterable[float], scale: float = 1.0) -> Axis:
    """
    An axis that holds 0 and all values, with about five round labels.

    Args:
        scale: what a value is multiplied by where it is labelled: 100 for per cent.

    >>> plain_axis([-0.01, 0.042], 100).ticks
    ((-0.01, '-1'), (0.0, '0'), (0.01, '1'), (0.02, '2'), (0.03, '3'), (0.04, '4'), (0.05, '5'))
    """
    there = [0.0, *(scale * value for value in values if math.isfinite(value))]
    low, high = min(there), max(there)
    step = _round(max(high - low, 1e-9) / 6)
    first, last = math.floor(low / step + 1e-9), max(math.ceil(high / step - 1e-9), 1)
    ticks = tuple((n * step / scale, f"{n * step:.10g}") for n in range(first, last + 1))
    return Axis(first * step / scale, last * step / scale, ticks)


def ratio_axis(values: Iterable[float]) -> Axis:
    """
    An axis of the logarithms of ratios that holds 1 and all values, as far as 0.05 and 20.

    >>> [label for _, label in ratio_axis([0.8, 3.1]).ticks]
    ['0.5', '1', '2', '5']
    """
    there = [1.0, *(min(max(value, _RATIOS[0]), _RATIOS[-1]) for value in values if value > 0 and math.isfinite(value))]
    low = max(tick for tick in _RATIOS if tick <= min(*there, 0.999))
    high = min(tick for tick in _RATIOS if tick >= max(*there, 1.001))
    ticks = tuple((math.log(tick), f"{tick:g}") for tick in _RATIOS if low <= tick <= high)
    return Axis(math.log(low), math.log(high), ticks)


def _round(least: float) -> float:
    """The smallest of 1, 2, 5, 10, … and their tenths that is not below `least`."""
    power = 10.0 ** math.floor(math.log10(least))
    return next(m * power for m in (1, 2, 5, 10) if m * power >= least - 1e-12)
