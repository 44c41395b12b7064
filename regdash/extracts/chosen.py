"""Which filters an extract may be chosen by: its page tells them, so they tell no more than the field list does."""

import math
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from regdash.cohort import Cohort, Condition
from regdash.errors import ExtractError
from regdash.extracts.calendar import told_date
from regdash.extracts.coarseness import AS_RECORDED, BANDS, DAY, ONLY, Coarseness
from regdash.extracts.field_list import FieldList
from regdash.extracts.sources import SOURCES
from regdash.values import Range
from regdash.vocabulary import NOT_RECORDED

NEVER_CHOSEN = ("hospital", "surgeon")  # in no extract
_ONE_DAY = timedelta(days=1)


def refuse_finer(wanted: FieldList, cohort: Cohort) -> None:
    """
    Refuse a filter that tells of every row what the list leaves out, or more exactly than it tells it.

    Raises:
        ExtractError: it does.
    """
    for condition in cohort.conditions:
        key = condition.key
        if key in NEVER_CHOSEN:
            raise ExtractError(f"No extract tells a {key}, so rows cannot be chosen by {condition}.")
        if key in wanted.left_out:
            raise ExtractError(f"The list {wanted.name} leaves {key} out, so rows cannot be chosen by {condition}.")
        how = wanted.told.get(key)
        if how is not None and not _fits(condition, how):
            raise ExtractError(
                f"{condition} is finer than the list {wanted.name} tells {key} ({how.said}). Use whole groups of it."
            )
        if key == "lot" and how is None:
            raise ExtractError(f"The list {wanted.name} tells no lots, so rows cannot be chosen by {condition}.")


def _fits(condition: Condition, how: Coarseness) -> bool:
    """Whether a condition keeps whole groups as they are told."""
    if how.way == AS_RECORDED or how.way == DAY:
        return True
    if how.way == ONLY:
        return all(value in (*how.only, NOT_RECORDED) for value in condition.values)
    if how.way == BANDS:
        whole = SOURCES[condition.key].kind == "whole"
        return all(_on_edges(value, how, whole) for value in condition.values)
    return all(_whole_periods(value, how) for value in condition.values)


def _on_edges(value: Any, how: Coarseness, whole: bool) -> bool:
    """Whether a range of numbers begins and ends where bands do; whole numbers are closed at both ends."""
    if value == NOT_RECORDED:
        return True
    if not isinstance(value, Range):
        value = Range(value, value, str(value))
    lower = _number(value.lower, -math.inf)
    upper = _number(value.upper, math.inf) + (1 if whole else 0)
    return lower in (-math.inf, *how.edges) and upper in (math.inf, *how.edges) and lower < upper


def _number(end: Any, otherwise: float) -> float:
    return float(end) if isinstance(end, (int, Decimal)) else otherwise


def _whole_periods(value: Any, how: Coarseness) -> bool:
    """Whether a range of days begins and ends where periods do."""
    if not isinstance(value, Range):
        return False
    return _turns(value.lower, -_ONE_DAY, how) and _turns(value.upper, _ONE_DAY, how)


def _turns(day: Any, step: timedelta, how: Coarseness) -> bool:
    """Whether the next day, or the one before, is told otherwise; an open end is no day."""
    if not isinstance(day, date):
        return True
    return told_date(day, how, day).label != told_date(day + step, how, day).label
