"""How numbers and cohorts are written for people. A figure that is not there is a dash, never a blank."""

from collections.abc import Sequence

from regdash.cohort import Cohort, Condition
from regdash.grouping import Grouping
from regdash.values import Range, Value

NONE = "–"
NO_LIMITS = "no limits"
Limits = tuple[float | None, float | None, float | None]  # estimate, lower, upper


def count(value: int | None) -> str:
    """
    Write a count.

    >>> count(20164), count(None)
    ('20,164', '–')
    """
    return NONE if value is None else f"{value:,}"


def so_many(value: int | None, noun: str) -> str:
    """
    Write a count with its noun.

    >>> so_many(1, "joint"), so_many(2164, "joint"), so_many(None, "joint")
    ('1 joint', '2,164 joints', '– joints')
    """
    return f"{count(value)} {noun}{'' if value == 1 else 's'}"


def number(value: float | None, decimals: int = 2) -> str:
    """
    Write a figure with thousands separators and so many decimals.

    >>> number(1234.56, 1), number(-0.04, 1)
    ('1,234.6', '0.0')
    """
    return NONE if value is None else f"{value:z,.{decimals}f}"


def percent(value: float | None, decimals: int = 1) -> str:
    """Write a proportion in per cent, without the sign."""
    return NONE if value is None else number(100 * value, decimals)


def p_value(value: float | None) -> str:
    """Write a p value; the smallest as a bound."""
    return NONE if value is None else "<0.0001" if value < 0.0001 else f"{value:.4f}"


def years(value: float) -> str:
    """
    Write a time since implantation.

    >>> years(10.0), years(0.25)
    ('10', '0.25')
    """
    return f"{value:g}"


def within(value: float) -> str:
    """
    Write up to when.

    >>> within(10.0), within(1)
    ('by 10 years', 'by 1 year')
    """
    return f"by {years(value)} year{'' if value == 1 else 's'}"


def window(start: float, end: float | None) -> str:
    """
    Write a window of time since implantation.

    >>> window(0, None), window(1, 5), window(5, None)
    ('all of follow-up', '1–5 years', '5 years and later')
    """
    if end is None:
        return f"{start:g} years and later" if start else "all of follow-up"
    return f"{start:g}–{end:g} years"


def with_limits(figures: Sequence[Limits], decimals: int, scale: float = 1) -> list[str]:
    """
    Write estimates with their limits, the points of the estimates under each other; what is missing is a dash.

    >>> with_limits([(0.056, 0.053, 0.059), (0.186, None, None), (None, None, None)], 1, 100)
    [' 5.6 (5.3 to 5.9)', '18.6 (no limits)', '–']
    """
    parts = [[NONE if x is None else number(scale * x, decimals) for x in figure] for figure in figures]
    wide = max((len(estimate) for estimate, _, _ in parts), default=0)
    whole = [f"{estimate.rjust(wide)} ({_limits(lower, upper)})" for estimate, lower, upper in parts]
    return [NONE if figure[0] is None else text for figure, text in zip(figures, whole)]


def _limits(lower: str, upper: str) -> str:
    return NO_LIMITS if (lower, upper) == (NONE, NONE) else f"{lower} to {upper}"


def cohort_in_words(cohort: Cohort) -> str:
    """Say a cohort in words: "class partial; age 50 to 59; hospital not H012"."""
    return "; ".join(map(_condition, cohort.conditions)) or "every joint of the data cut"


def _condition(condition: Condition) -> str:
    half_open = condition.field.kind == "decimal"
    said = " or ".join(_value(value, half_open) for value in condition.values)
    return f"{condition.key} {'not ' if condition.negated else ''}{said}"


def _value(value: Value | Range, half_open: bool) -> str:
    if not isinstance(value, Range):
        return str(value)
    lower, dots, upper = value.text.partition("..")
    if not dots:  # one date, month, quarter or year
        return lower
    under = "under " if half_open else ""
    if not lower:
        return f"{under or 'up to '}{upper}"
    return f"{lower} to {under}{upper}" if upper else f"{lower} or more"


def grouping_in_words(by: Sequence[Grouping]) -> str:
    """Say a grouping in words: "joint and class", "age in bands of 10, and sex"."""
    said = [f"{g.field.key} in bands of {g.width}" if g.width else g.field.key for g in by]
    if len(said) == 2 and not by[0].width:
        return " and ".join(said)
    return ", and ".join([", ".join(said[:-1]), said[-1]]) if len(said) > 1 else "".join(said)
