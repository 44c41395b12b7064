"""What counts must be before any arithmetic starts: whole, not negative, of one length, and not at odds."""

from typing import Any

import numpy as np

from regdash.errors import CountError


def whole_numbers(name: str, values: Any) -> np.ndarray:
    """
    Read one-dimensional counts, days or codes of any numeric type as int64.

    Args:
        name: what the values are, for the message.
        values: (m,) numbers without a fraction; a masked array without masked values will do.

    Raises:
        CountError: not one-dimensional, not numbers, a missing value, a fraction or a negative one.
    """
    plain = _one_row(name, values)
    if plain.size and plain.dtype.kind not in "iuf":
        raise CountError(f"The {name} must be whole numbers, but are of type {plain.dtype}.")
    with np.errstate(invalid="ignore"):
        whole = plain.astype(np.int64)
    _refuse(name, plain, whole != plain, "not whole numbers")
    _refuse(name, plain, whole < 0, "below 0")
    return whole


def amounts(name: str, values: Any) -> np.ndarray:
    """
    Read one-dimensional amounts that need not be whole, such as expected events, as float64.

    Args:
        name: what the values are, for the message.
        values: (m,) numbers of any type; a masked array without masked values will do.

    Raises:
        CountError: not one-dimensional, not numbers, a missing value, an infinite or a negative one.

    >>> amounts("expected events", [0, 2.5]).tolist()
    [0.0, 2.5]
    """
    plain = _one_row(name, values)
    if plain.size and plain.dtype.kind not in "iuf":
        raise CountError(f"The {name} must be numbers, but are of type {plain.dtype}.")
    _refuse(name, plain, ~np.isfinite(plain), "not finite")
    _refuse(name, plain, plain < 0, "below 0")
    return plain.astype(np.float64)


def checked_at_risk(
    days: np.ndarray, events: np.ndarray, left: np.ndarray, entered: np.ndarray | None = None
) -> np.ndarray:
    """
    Check one group's counts against each other, and find how many joints were at risk on each day.

    Args:
        days: (m,) int64, whole days since implantation.
        events: (m,) int64, joints whose follow-up ended in an event on each day.
        left: (m,) int64, joints whose follow-up ended on each day in any way.
        entered: (m,) int64, joints whose follow-up began at the end of each day; left out, all began before day 0.

    Returns:
        (m,) joints in follow-up just before the events of each day.

    Raises:
        CountError: unequal lengths, days out of order, more events than joints that left, or more
            joints leaving than are in follow-up.
    """
    lengths = {len(days), len(events), len(left)} | ({len(entered)} if entered is not None else set())
    if len(lengths) > 1:
        raise CountError(f"Days and counts must be of one length, but are of {sorted(lengths)}.")
    if np.any(np.diff(days) <= 0):
        first = int(np.flatnonzero(np.diff(days) <= 0)[0])
        raise CountError(
            f"Days must rise, but day {days[first]} is followed by day {days[first + 1]}. Merge and sort them."
        )
    if np.any(events > left):
        first = int(np.flatnonzero(events > left)[0])
        raise CountError(
            f"On {int(np.sum(events > left)):,} of {len(days):,} days more joints have an event than leave follow-up "
            f"(first: day {days[first]}, {events[first]} of {left[first]}). Count each joint once."
        )
    return at_risk_on(days, left, entered)


def at_risk_on(days: np.ndarray, left: np.ndarray, entered: np.ndarray | None = None) -> np.ndarray:
    """
    Count the joints in follow-up just before the events of each day.

    A joint that enters on a day is at risk from the next day on, as in an interval (start, stop].

    Raises:
        CountError: more joints leave on a day than are in follow-up, or some enter and never leave.

    >>> at_risk_on(np.array([1, 2, 5]), np.array([1, 0, 2])).tolist()
    [3, 2, 2]
    """
    if entered is None:
        return np.cumsum(left[::-1])[::-1]
    if entered.sum() != left.sum():
        raise CountError(f"{entered.sum():,} joints enter follow-up, but {left.sum():,} leave it. Count every ending.")
    at_risk = np.cumsum(entered) - entered - np.cumsum(left) + left
    if np.any(left > at_risk):
        first = int(np.flatnonzero(left > at_risk)[0])
        raise CountError(
            f"On day {days[first]} {left[first]} joints leave follow-up, but {at_risk[first]} are in it. "
            "A joint must enter on an earlier day than it leaves."
        )
    return at_risk


def _one_row(name: str, values: Any) -> np.ndarray:
    given = np.ma.asarray(values)
    if given.ndim != 1:
        raise CountError(f"The {name} must be one row of numbers, but come in {given.ndim} dimensions.")
    if np.ma.is_masked(given):
        missing = int(np.ma.getmaskarray(given).sum())
        raise CountError(f"{missing:,} of {given.size:,} values of the {name} are missing. Leave those rows out.")
    return given.filled(0)


def _refuse(name: str, values: np.ndarray, wrong: np.ndarray, what: str) -> None:
    if np.any(wrong):
        first = values[np.flatnonzero(wrong)[0]]
        raise CountError(f"{int(np.sum(wrong)):,} of {values.size:,} values of the {name} are {what} (first: {first}).")
