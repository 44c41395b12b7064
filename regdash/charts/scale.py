"""Axes: where they end and which round values they name."""

import math
from dataclasses import dataclass

from regdash.stats.years import days_in, years_in

YEAR_STEPS = (0.25, 0.5, 1.0, 2.0, 3.0, 5.0, 10.0)
FIRST_DAYS = (0, 30, 90, 180, 270, 365)  # named on an axis of days, as far as there is room
DAYS_APART = 8  # columns from one of them to the next


@dataclass(frozen=True)
class Axis:
    """From `low` to `high`, with the places that carry a label."""

    low: float
    high: float
    ticks: tuple[tuple[float, str], ...]


def percent_axis(largest: float, lines: int) -> Axis:
    """
    An axis of proportions from 0 to a round value at or above the largest, labelled in per cent.

    >>> percent_axis(0.186, 10).ticks
    ((0.0, '0'), (0.05, '5'), (0.1, '10'), (0.15, '15'), (0.2, '20'))
    """
    wanted = min(max(largest, 0.001), 1.0) if math.isfinite(largest) else 1.0
    most = max(2, min(5, lines // 2))
    step = _round_step(wanted * 100 / most)
    count = math.ceil(wanted * 100 / step - 1e-9)
    ticks = tuple((n * step / 100, f"{n * step:g}") for n in range(count + 1))
    return Axis(0.0, count * step / 100, ticks)


def year_axis(horizon: float, columns: int) -> Axis:
    """
    An axis of years since implantation that ends at the horizon, with room for a number under each label.

    >>> [label for _, label in year_axis(15, 60).ticks]
    ['0', '3', '6', '9', '12', '15']
    """
    room = max(2, columns // 10)
    least = 0.25 if horizon <= 2 else 0.5 if horizon <= 5 else 1.0  # as often as joints at risk are counted
    usable = (step for step in YEAR_STEPS if step >= least and horizon / step <= room)
    step = next((step for step in usable if (horizon / step).is_integer()), horizon)
    count = round(horizon / step)
    return Axis(0.0, float(horizon), tuple((n * step, f"{n * step:g}") for n in range(count + 1)))


def day_axis(horizon: float, columns: int) -> Axis:
    """
    An axis of years since an operation that names days, its last day for sure, with room for a number under each.

    >>> [label for _, label in day_axis(1, 60).ticks], [label for _, label in day_axis(1, 120).ticks][:3]
    (['0', '90', '180', '270', '365'], ['0', '30', '90'])
    """
    last = days_in(horizon)
    apart = DAYS_APART * last / columns
    named = [0]
    for day in FIRST_DAYS:
        if day - named[-1] >= apart and last - day >= apart:
            named.append(day)
    return Axis(0.0, float(horizon), tuple((years_in(day), f"{day}") for day in (*named, last)))


def _round_step(least: float) -> float:
    """The smallest of 1, 2, 5, 10, 20, … (and their tenths) that is not below `least`."""
    power = 10.0 ** math.floor(math.log10(least))
    return next(m * power for m in (1, 2, 5, 10) if m * power >= least - 1e-12)
