"""A list of joints, a page at a time; the one answer that may be chosen by what happened later."""

from regdash.cohort import Cohort
from regdash.errors import FilterError
from regdash.reports import wording
from regdash.reports.counted import count, head
from regdash.reports.model import JointsReport
from regdash.reports.policy import Policy
from regdash.stats.years import years_in
from regdash.store.cuts import Cut
from regdash.store.sqlfiles import sql_file, statement
from regdash.suggest import nearest

FOLLOWED = "followed_years"
PAGE = 200
DEFAULT_ORDER = "implanted_date"
_ALL_ROWS = 2**31


def joint_columns() -> tuple[str, ...]:
    """Name the columns of the list, each of which it can be ordered by."""
    return tuple(FOLLOWED if name == "days" else name for name, _ in sql_file("queries/joints").columns)


def joints_report(
    cut: Cut, policy: Policy, cohort: Cohort, offset: int = 0, limit: int | None = PAGE, order: str = DEFAULT_ORDER
) -> JointsReport:
    """
    List the joints of a cohort.

    Args:
        offset: rows to leave out at the beginning.
        limit: rows at most; None for all.
        order: a column of the list, with a minus before it for falling order.

    Raises:
        FilterError: there is no such column, or a row below 0.
        PolicyError: small counts are withheld, and each row is one.
    """
    policy.refuse_single("a list of joints")
    if offset < 0 or (limit is not None and limit < 0):
        raise FilterError(f"Rows are counted from 0 up; {min(offset, limit or 0)} is below.")
    predicate = cohort.predicate()
    query = statement("queries/joints", predicate=predicate.sql, order=_order(order))
    most = _ALL_ROWS if limit is None else limit
    found = cut.rows(query, most=most, skipped=offset, **predicate.parameters)
    columns = joint_columns()
    days = columns.index(FOLLOWED)
    rows = tuple((*row[:days], round(years_in(float(row[days])), 2), *row[days + 1 :]) for row in found)
    counted = count(cut, cohort, listing=True)
    cautions = [wording.CHOSEN_BY_OUTCOME] if cohort.outcome_keys else []
    written = head(counted, policy, "joints", wording.LISTING, cautions)
    return JointsReport(written, columns, rows, counted.joints, offset)


def _order(order: str) -> str:
    """Say an order in SQL; the joint decides between equals, so that pages never overlap."""
    name = order.removeprefix("-")
    columns = joint_columns()
    if name not in columns:
        raise FilterError(f"Joints have no column {name} to be ordered by. {nearest(name, columns, most=20)}")
    place = columns.index(name) + 1
    return f"{place} {'desc' if order.startswith('-') else 'asc'} nulls last, joint_id"
