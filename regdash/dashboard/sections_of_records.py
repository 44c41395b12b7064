"""The lists about records: up to when they are complete, which are linked, how many are there, how late, how full."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from regdash.cohort import Cohort
from regdash.dashboard import wording
from regdash.dashboard.sections import Opens, Section, Table
from regdash.dashboard.widgets.grid import Column, Row

if TYPE_CHECKING:
    from regdash.dashboard.questions import Questions
    from regdash.reports.complete_through import CompleteThroughReport, CompleteThroughRow
    from regdash.reports.completeness import CompletenessReport
    from regdash.reports.linked import LinkedReport, LinkedRow
    from regdash.reports.missingness import MissingReport, MissingRow
    from regdash.reports.records import RecordsHead
    from regdash.reports.timeliness import DelaysReport

WORDS = ("joint", "implanted", "hospital", "region")  # that speak of any operation
WITHHELD = "withheld"
ALL = "all"


class FeedsSection(Section):
    """Up to when each sender has told everything."""

    name = "feeds"
    about = "complete through, by feed, and how far each hospital's joints are followed"
    empty = "nothing was sent"
    columns: ClassVar = (
        Column("sender", "sender", left=True),
        Column("feed", "feed", left=True),
        Column("complete through", "complete", left=True),
        Column("days behind", "behind"),
        Column("followed to", "followed", left=True),
        Column("sent", "sent"),
        Column("last came", "last", left=True),
    )

    def ask(self, desk: Questions, cohort: Cohort, by: tuple[str, ...]) -> CompleteThroughReport:
        """Ask for every feed, or for those that bear on one hospital."""
        return desk.complete_through(str(cohort.conditions[0].values[0]) if cohort.conditions else None)

    def table(self, report: CompleteThroughReport, width: int) -> Table:
        """One row a feed."""
        return self.columns, [_feed_row(row) for row in report.rows]

    def counts(self, report: CompleteThroughReport) -> str:
        """Count feeds, and those that are behind."""
        behind = sum(bool(row.days_behind) for row in report.rows)
        return f"{len(report.rows):,} feeds · {behind:,} behind the day of the data cut"

    def followed(self, cohort: Cohort) -> Cohort:
        """Follow a word that names one hospital; the office's feeds bear on each."""
        return one_hospital(cohort)

    def not_followed(self, cohort: Cohort) -> tuple[str, ...]:
        """Name the other words."""
        followed = self.followed(cohort).conditions
        return tuple(str(c) for c in cohort.conditions if c not in followed)

    def command(self, cohort: Cohort, by: tuple[str, ...], row: Row | None) -> str:
        """The feeds at the command line."""
        return "regdash quality feeds" + "".join(f" --hospital {c.values[0]}" for c in cohort.conditions)


def _feed_row(row: CompleteThroughRow) -> Row:
    values = (row.complete_through, row.days_behind, row.followed_to, row.submissions, row.last_received)
    through, followed, last = (
        date or wording.NO_FIGURE for date in (row.complete_through, row.followed_to, row.last_received)
    )
    cells = (
        row.sender,
        row.feed,
        through,
        wording.count(row.days_behind),
        followed,
        wording.count(row.submissions),
        last,
    )
    opens = Opens(f"{row.sender} {row.feed}", row.sender if row.feed == "operations" else None)
    return Row(cells, opens, (row.sender, row.feed, *values))


class GroupedSection(Section):
    """A list with a row for each group of records."""

    words = WORDS
    grouped = True
    asks: ClassVar[str]  # the question of the desk, and its name at the command line

    def command(self, cohort: Cohort, by: tuple[str, ...], row: Row | None) -> str:
        """The same question at the command line."""
        words = wording.words_for_shell(cohort.words)
        return f"regdash quality {self.asks} {words} --by {','.join(by)}".replace("  ", " ")


class LinksSection(GroupedSection):
    """Which revisions have a primary."""

    name = "links"
    about = "revisions that have a primary, and why the others have none"
    empty = "no revisions"

    def ask(self, desk: Questions, cohort: Cohort, by: tuple[str, ...]) -> LinkedReport:
        """Ask for the linked share."""
        return desk.linked(cohort, by)

    def table(self, report: LinkedReport, width: int) -> Table:
        """One row a group, and a column for each reason to be without a primary."""
        columns = [
            *group_columns(report.head),
            Column("revisions", "revisions"),
            Column("linked", "linked"),
            Column("linked %", "share"),
            *(Column(cause, cause) for cause in report.causes),
            Column("by decision", "decision"),
        ]
        return columns, [_linked_row(report, row) for row in report.rows]

    def command(self, cohort: Cohort, by: tuple[str, ...], row: Row | None) -> str:
        """The command on links takes one hospital; other words choose among the rows that it lists."""
        keys = {c.key for c in cohort.conditions}
        also = [
            key for key, word in (("hospital", "hospital"), ("year", "implanted")) if word in keys and key not in by
        ]
        hospital = "".join(f" --hospital {c.values[0]}" for c in one_hospital(cohort).conditions)
        return f"regdash links --by {','.join(('joint', *by, *also))}{hospital}"


def _linked_row(report: LinkedReport, row: LinkedRow) -> Row:
    causes = [row.unlinked[cause] for cause in report.causes]
    counts = (row.revisions, row.linked)
    cells = (
        *map(wording.count, counts),
        _share(row.share, row.withheld),
        *map(wording.count, (*causes, row.by_decision)),
    )
    own = _cells(report.head, row.group)
    return Row(
        (*own, *cells),
        _opens(report.head, row.group, row.withheld),
        (*own, *counts, row.share, *causes, row.by_decision),
    )


class CompletenessSection(GroupedSection):
    """How many of the operations that were done are there."""

    name = "complete"
    about = "operations in the data cut over those that administrative systems count"
    asks = "completeness"
    empty = "no operations"

    def ask(self, desk: Questions, cohort: Cohort, by: tuple[str, ...]) -> CompletenessReport:
        """Ask for completeness; kinds are kept apart."""
        return desk.completeness(cohort, by)

    def table(self, report: CompletenessReport, width: int) -> Table:
        """One row a group."""
        columns = [
            *group_columns(report.head),
            Column("in the cut", "registered"),
            Column("counted", "counted"),
            Column("complete %", "completeness"),
            Column("", left=True),
            Column("no count", "without"),
            Column("awaited", "awaited"),
        ]
        rows = []
        for row in report.rows:
            own = _cells(report.head, row.group)
            counts = (row.registered, row.counted)
            cells = (*map(wording.count, counts), _share(row.completeness, row.withheld), "over" if row.fault else "")
            rest = (row.without_count, row.awaited)
            keys = (*own, *counts, row.completeness, None, *rest)
            opens = _opens(report.head, row.group, row.fault or row.withheld)
            rows.append(Row((*own, *cells, *map(wording.count, rest)), opens, keys))
        return columns, rows


class DelaysSection(GroupedSection):
    """How long records take."""

    name = "delays"
    about = "days from an operation to its record"
    asks = "delays"
    empty = "no operations"

    def ask(self, desk: Questions, cohort: Cohort, by: tuple[str, ...]) -> DelaysReport:
        """Ask for delays."""
        return desk.delays(cohort, by)

    def table(self, report: DelaysReport, width: int) -> Table:
        """One row a group."""
        columns = [
            *group_columns(report.head),
            Column("operations", "operations"),
            Column("median d", "median"),
            Column("90th d", "ninetieth"),
            *(Column(f"in {days} d %", f"within{days}") for days in (30, 60, 90)),
            Column("too recent", "recent"),
        ]
        rows = []
        for row in report.rows:
            own = _cells(report.head, row.group)
            days = (row.operations, row.median_days, row.ninetieth_days)
            within = (row.within_30, row.within_60, row.within_90)
            cells = (*map(wording.count, days), *(_share(one, row.withheld) for one in within))
            keys = (*own, *days, *within, row.too_recent)
            opens = _opens(report.head, row.group, row.withheld)
            rows.append(Row((*own, *cells, wording.count(row.too_recent)), opens, keys))
        return columns, rows


class MissingSection(GroupedSection):
    """How often each field is missing: fields down, all records and then each group across."""

    name = "missing"
    about = "records without a field, in % of those that it applies to"
    asks = "missing"
    enter = ""
    empty = "no records"

    def ask(self, desk: Questions, cohort: Cohort, by: tuple[str, ...]) -> _Both:
        """Ask for all records together, and for each group."""
        return _Both(desk.missing(cohort, ()), desk.missing(cohort, by))

    def table(self, report: _Both, width: int) -> Table:
        """One row a field."""
        cells = report.cells
        fields = list(dict.fromkeys((row.table, row.field) for row in report.whole.rows))
        groups = list(dict.fromkeys(group for group, _, _ in cells))
        columns = [Column("field", "field", left=True), *(Column(group, group) for group in groups)]
        rows = []
        for n, (table, field) in enumerate(fields):
            found = [cells.get((group, table, field)) for group in groups]
            shown = [wording.NO_FIGURE if one is None else _share(one.share, one.withheld) for one in found]
            rows.append(Row((field, *shown), (table, field), (n, *(one.share if one else None for one in found))))
        return columns, rows

    def sentence(self, report: _Both, row: Row | None, chosen: int) -> str:
        """Say the counts behind the share in the chosen column."""
        groups = list(dict.fromkeys(group for group, _, _ in report.cells))
        if row is None or not 1 <= chosen <= len(groups):
            return "Left and right choose a column, and this line gives its counts. " + report.head.cautions[0]
        group = groups[chosen - 1]
        found = report.cells.get((group, *row.value))
        where = f"{row.value[1]} of {row.value[0]}, {group}"
        if found is None:
            return f"{where}: applies to no record"
        if found.withheld:
            return f"{where}: {found.withheld}"
        return f"{where}: missing in {wording.count(found.missing)} of {wording.so_many(found.records, 'record')}"


class _Both:
    """Missingness of all records together, and of each group."""

    def __init__(self, whole: MissingReport, grouped: MissingReport) -> None:
        self.whole = whole
        self.head = grouped.head
        rows = [*whole.rows, *(grouped.rows if grouped.head.by != whole.head.by else ())]
        self.cells: dict[tuple[str, str, str], MissingRow] = {(row.group, row.table, row.field): row for row in rows}


def one_hospital(cohort: Cohort) -> Cohort:
    """The word of a filter that names one hospital, where there is one and no other speaks of hospitals."""
    named = [c for c in cohort.conditions if c.key == "hospital"]
    is_one = len(named) == 1 and not named[0].negated and len(named[0].values) == 1
    return Cohort(tuple(named) if is_one else ())


def group_columns(head: RecordsHead) -> list[Column]:
    """A column for each field that groups, or one for all together."""
    return [Column(key, key, left=True) for key in head.by] or [Column("records", "records", left=True)]


def _cells(head: RecordsHead, group: str) -> tuple[str, ...]:
    """Take a group's label apart, a cell for each field that groups."""
    return tuple(group.split(", ", len(head.by) - 1)) if head.by else (group,)


def _opens(head: RecordsHead, group: str, note: str | None) -> Opens:
    """What a group's row opens: its hospital, where it is of one."""
    cells = _cells(head, group)
    return Opens(group, cells[head.by.index("hospital")] if "hospital" in head.by else None, note)


def _share(share: float | None, withheld: str | None) -> str:
    return wording.percent(share) if share is not None else WITHHELD if withheld else wording.NO_FIGURE
