"""A list of revisions, a page at a time."""

from regdash.cohort import Cohort
from regdash.errors import FilterError
from regdash.reports.done_asked import DoneAsked
from regdash.reports.done_model import RevisionListReport
from regdash.reports.policy import Policy
from regdash.reports.revisions import FIRST_ALONE
from regdash.stats.years import years_in
from regdash.store.cuts import Cut
from regdash.store.revisions_done import revisions_done
from regdash.store.sqlfiles import sql_file, statement
from regdash.suggest import nearest

PAGE = 200
DEFAULT_ORDER = "done_date"
SINCE = "years_since"
METHOD = "Revisions as the data cut holds them, two stages as one; nothing is estimated."
_ALL_ROWS = 2**31


def revision_columns() -> tuple[str, ...]:
    """Name the columns of the list, each of which it can be ordered by."""
    return tuple(SINCE if name == "day" else name for name, _ in sql_file("queries/revisions_listed").columns)


def revision_list_report(
    cut: Cut,
    policy: Policy,
    cohort: Cohort,
    offset: int = 0,
    limit: int | None = PAGE,
    order: str = DEFAULT_ORDER,
    first: bool = False,
) -> RevisionListReport:
    """
    List revisions, whoever did the primary.

    Args:
        cohort: words on the primary, and on the revision itself.
        offset: rows to leave out at the beginning.
        limit: rows at most; None for all.
        order: a column of the list, with a minus before it for falling order.
        first: first revisions of registered joints alone.

    Raises:
        FilterError: there is no such column, or a row below 0.
        PolicyError: small counts are withheld, and each row is one.
    """
    policy.refuse_single("a list of revisions")
    if offset < 0 or (limit is not None and limit < 0):
        raise FilterError(f"Rows are counted from 0 up; {min(offset, limit or 0)} is below.")
    asked = DoneAsked(cut, cohort, (), (FIRST_ALONE,) if first else ())
    said, revisions = asked.predicate, revisions_done()[0]
    where = f"{said.sql} and {asked.judged}"
    query = statement("queries/revisions_listed", predicate=where, order=_order(order), revisions=revisions)
    most = _ALL_ROWS if limit is None else limit
    found = cut.rows(query, most=most, skipped=offset, **said.parameters)
    day = revision_columns().index(SINCE)
    rows = tuple(
        (*row[:day], None if row[day] is None else round(years_in(float(row[day])), 2), *row[day + 1 :])
        for row in found
    )
    total, unlinked = _totals(asked, where)
    cautions = asked.cautions(policy, "revised=")
    head = asked.head(policy, "revisions", METHOD, cautions, (None, total, unlinked))
    return RevisionListReport(head, revision_columns(), rows, total, offset)


def _totals(asked: DoneAsked, where: str) -> tuple[int, int]:
    """Count all of them, and those without a primary here."""
    parts = {"grouping": "", "reason": "reason_group", "predicate": where, "revisions": revisions_done()[0]}
    found = asked.cut.rows(statement("queries/revision_counts", **parts), **asked.predicate.parameters)
    counts = [(linked, revisions) for *_, linked, revisions in found]
    return sum(n for _, n in counts), sum(n for linked, n in counts if not linked)


def _order(order: str) -> str:
    """Say an order in SQL; the operation decides between equals, so that pages never overlap."""
    name = order.removeprefix("-")
    columns = revision_columns()
    if name not in columns:
        raise FilterError(f"Revisions have no column {name} to be ordered by. {nearest(name, columns, most=20)}")
    place = columns.index(name) + 1
    return f"{place} {'desc' if order.startswith('-') else 'asc'} nulls last, operation_id"
