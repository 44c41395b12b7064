"""How numbers, limits and cohorts are written on the screen. A figure that is withheld is a word, never a blank."""

from collections.abc import Iterable

from regdash.cohort import Cohort, Condition
from regdash.values import Range, Value

NO_FIGURE = "–"  # beside a word that says why
NO_LIMITS = "no limits"


def count(value: int | None) -> str:
    """Write a count: 8,292."""
    return NO_FIGURE if value is None else f"{value:,}"


def so_many(value: int | None, noun: str) -> str:
    """
    Write a count with its noun.

    >>> so_many(1, "joint"), so_many(8292, "joint"), so_many(None, "joint")
    ('1 joint', '8,292 joints', '– joints')
    """
    return f"{count(value)} {noun}{'' if value == 1 else 's'}"


def percent(value: float | None, decimals: int = 1) -> str:
    """Write a proportion in per cent, without the sign."""
    return NO_FIGURE if value is None else f"{100 * value:z.{decimals}f}"


def percent_limits(lower: float | None, upper: float | None, decimals: int = 1) -> str:
    """Write limits of a proportion: 17.1 to 20.2."""
    return NO_LIMITS if lower is None or upper is None else f"{percent(lower, decimals)} to {percent(upper, decimals)}"


def number(value: float | None, decimals: int = 2) -> str:
    """Write a rate or a ratio."""
    return NO_FIGURE if value is None else f"{value:z,.{decimals}f}"


def limits(lower: float | None, upper: float | None, decimals: int = 2) -> str:
    """Write the limits of a rate or a ratio."""
    return NO_LIMITS if lower is None or upper is None else f"{number(lower, decimals)} to {number(upper, decimals)}"


def p_value(value: float | None) -> str:
    """Write a p value; the smallest as a bound."""
    if value is None:
        return NO_FIGURE
    return "<0.0001" if value < 0.0001 else f"{value:.4f}"


def years(value: float) -> str:
    """
    Write a time since implantation.

    >>> years(15.0), years(0.25), years(1.0)
    ('15 years', '0.25 years', '1 year')
    """
    return f"{value:g} year" + ("" if value == 1 else "s")


def window(start: float, end: float | None) -> str:
    """
    Write a window of time since implantation.

    >>> window(0.0, None), window(0.0, 1.0), window(5.0, None)
    ('all', '0–1 years', '5 years on')
    """
    if end is None:
        return f"{start:g} years on" if start else "all"
    return f"{start:g}–{end:g} years"


def decimals_for(values: Iterable[float | None]) -> int:
    """One decimal of per cent where that says enough, two where all values are small."""
    return 2 if max((value for value in values if value is not None), default=1.0) < 0.02 else 1


def cohort_in_words(cohort: Cohort) -> str:
    """Say a cohort in words: "class of the replacement is partial; sex of the patient is not male"."""
    return "; ".join(map(_condition, cohort.conditions)) or "every joint of the data cut"


def _condition(condition: Condition) -> str:
    values = " or ".join(map(_value, condition.values))
    return f"{condition.field.about} {'is not' if condition.negated else 'is'} {values}"


def _value(value: Value | Range) -> str:
    if not isinstance(value, Range):
        return str(value)
    if value.lower is None:
        return f"up to {value.upper}"
    if value.upper is None:
        return f"{value.lower} or more"
    return str(value.lower) if value.lower == value.upper else f"{value.lower} to {value.upper}"


def evidence_for(code: str, words: Iterable[str]) -> str:
    """
    Name the command that packs the evidence on a unit of a screen.

    >>> evidence_for("KT-062 size 4", ["joint=knee"])
    "regdash evidence 'KT-062 size 4' joint=knee --out FOLDER packs it for the committee, with --for maker for a maker"
    """
    command = f"regdash evidence {words_for_shell([code, *words])} --out FOLDER"
    return f"{command} packs it for the committee, with --for maker for a maker"


def words_for_shell(words: Iterable[str]) -> str:
    """Join filter words for a command line."""
    import shlex

    return " ".join(map(shlex.quote, words))
