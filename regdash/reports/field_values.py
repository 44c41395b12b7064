"""Which values a field has among a cohort's joints, and how many joints each: for completing filters."""

from typing import Any

from regdash import fields, values, vocabulary
from regdash.cohort import Cohort
from regdash.errors import FilterError
from regdash.fields import Field
from regdash.grouping import Grouping
from regdash.reports.policy import Policy
from regdash.store.cuts import Cut
from regdash.store.sqlfiles import statement
from regdash.suggest import nearest


def value_counts(cut: Cut, policy: Policy, key: str, cohort: Cohort) -> dict[str, int]:
    """
    Count a cohort's joints by the values of a field, as filters write them; the most frequent first.

    Numbers and dates come in the bands that grouping by them makes. Conditions of the cohort on the
    field itself are left aside, so that another value can be chosen in their place. A value whose count the policy
    withholds is left out.

    Raises:
        FilterError: there is no such field.
    """
    field = fields.FIELDS.get(key)
    if field is None:
        raise FilterError(f"There is no filter word {key}. {nearest(key, fields.FIELDS)}")
    cohort = cohort.without(key)
    counts = {value: n for value, n in _counts(cut, field, cohort).items() if policy.count(n) is not None}
    return dict(sorted(counts.items(), key=lambda item: (-item[1], item[0])))


def _counts(cut: Cut, field: Field, cohort: Cohort) -> dict[str, int]:
    if field.component:
        return {_written(field, value): n for value, n in _ask(cut, "component_value_counts", field.column, cohort)}
    if field.key == "reason":
        return _reasons(cut, field, cohort)
    if field.kind in ("words", "code"):
        found = _ask(cut, "value_counts", f"{field.column}::varchar", cohort)
        return {_written(field, value): n for value, n in found if value is not None or not field.outcome}
    if field.outcome:  # the date of the first revision, by year
        return {str(year): n for year, n in _ask(cut, "value_counts", f"year({field.column})", cohort) if year}
    grouping = Grouping(field)
    found = _ask(cut, "value_counts", grouping.sql(), cohort)
    return {grouping.word(number, cut.known).partition("=")[2]: n for number, n in found}


def _reasons(cut: Cut, field: Field, cohort: Cohort) -> dict[str, int]:
    """Count details, then groups over them: a word that names both means the whole group."""
    details = _ask(cut, "value_counts", "reason::varchar", cohort)
    groups = _ask(cut, "value_counts", "reason_group::varchar", cohort)
    return {_written(field, value): n for value, n in [*details, *groups] if value is not None}


def _ask(cut: Cut, query: str, value: str, cohort: Cohort) -> list[tuple[Any, int]]:
    predicate = cohort.predicate()
    return cut.rows(statement(f"queries/{query}", value=value, predicate=predicate.sql), **predicate.parameters)


def _written(field: Field, value: Any) -> str:
    if value in (None, ""):
        return vocabulary.coded(vocabulary.NOT_RECORDED)
    if field.enum == "boolean":
        return "yes" if value == "true" else "no"
    return values.written(str(value), field)
