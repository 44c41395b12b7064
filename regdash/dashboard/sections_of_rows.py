"""The lists about submitted rows: what rules found, in whose rows, and what became of all that was sent."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, ClassVar

from regdash.cohort import Cohort
from regdash.dashboard import wording
from regdash.dashboard.sections import Opens, Section, Table
from regdash.dashboard.widgets.grid import Column, Row, room_beside
from regdash.reports.submitted_rows import (
    FindingsReport,
    ReceivedReport,
    RuleTotal,
    SenderTotal,
    UnitRow,
    UnitsReport,
)

if TYPE_CHECKING:
    from regdash.dashboard.questions import Questions

SEVERITIES = {"reject": "rejected", "hold": "held", "known already": "known", "warn": "warned", "note": "noted"}
KEEPS_BACK = ("reject", "hold")
SHORTEST_TEXT = 20


class RulesSection(Section):
    """What each rule found."""

    name = "rules"
    about = "what rules found in submitted rows"
    enter = "its rows"
    empty = "no rule found anything"

    def ask(self, desk: Questions, cohort: Cohort, by: tuple[str, ...]) -> FindingsReport:
        """Ask what rules found."""
        return desk.findings(cohort)

    def table(self, report: FindingsReport, width: int) -> Table:
        """One row a rule and file, the gravest first."""
        columns = [
            Column("rule", "rule", left=True),
            Column("severity", "severity", left=True),
            Column("rows", "rows"),
            Column("hospitals", "hospitals"),
            Column("file", "file", left=True),
        ]
        cells = [
            (row.rule, row.severity, wording.count(row.rows), wording.count(row.hospitals), row.file)
            for row in report.rules
        ]
        room = room_beside(width, columns, cells)
        told = [Column("the hospital is told", left=True, width=room)] if room >= SHORTEST_TEXT else []
        rows = [
            Row((*own, row.told), row, (row.rule, n, row.rows, row.hospitals, row.file, None))
            for n, (own, row) in enumerate(zip(cells, report.rules))
        ]
        return [*columns, *told], rows

    def counts(self, report: FindingsReport) -> str:
        """Count rows by severity."""
        said = [f"{wording.count(report.by[severity])} {word}" for severity, word in SEVERITIES.items()]
        return f"rows and rules: {' · '.join(said)}"

    def sentence(self, report: FindingsReport, row: Row | None, chosen: int) -> str:
        """Say what the hospital is told."""
        return row.value.told if row else super().sentence(report, row, chosen)

    def command(self, cohort: Cohort, by: tuple[str, ...], row: Row | None) -> str:
        """List what is held, or else what is noted."""
        return found_command(cohort, row.value if row else None)


class SendersSection(Section):
    """What rules found in each sender's rows."""

    name = "hospitals"
    about = "rows that rules found, by hospital"
    empty = "no rule found anything"

    def ask(self, desk: Questions, cohort: Cohort, by: tuple[str, ...]) -> FindingsReport:
        """Ask what rules found."""
        return desk.findings(cohort)

    def table(self, report: FindingsReport, width: int) -> Table:
        """One row a sender."""
        words = [Column(word, severity) for severity, word in SEVERITIES.items()]
        columns = [Column("hospital", "hospital", left=True), *words, Column("rules", "rules")]
        return columns, [_sender_row(row) for row in report.hospitals]

    def counts(self, report: FindingsReport) -> str:
        """Count rows by severity."""
        return RulesSection().counts(report)

    def command(self, cohort: Cohort, by: tuple[str, ...], row: Row | None) -> str:
        """List what is held of the sender under the cursor."""
        return f"regdash held --hospital {row.value.hospital}" if row else "regdash held"


def _sender_row(row: SenderTotal) -> Row:
    counts = [row.by[severity] for severity in SEVERITIES]
    cells = (row.hospital, *map(wording.count, counts), wording.count(row.rules))
    return Row(cells, Opens(row.hospital, row.hospital), (row.hospital, *counts, row.rules))


class ReceivedSection(Section):
    """What became of the rows that each sender has sent."""

    name = "sent"
    about = "rows received = accepted + held + rejected + known already"
    empty = "nothing was sent"
    columns: ClassVar = (
        Column("hospital", "hospital", left=True),
        Column("received", "received"),
        Column("accepted", "accepted"),
        Column("held", "held"),
        Column("rejected", "rejected"),
        Column("known", "known"),
        Column("kind", "kind", left=True),
        Column("submissions", "submissions"),
        Column("last came", "last", left=True),
    )

    def ask(self, desk: Questions, cohort: Cohort, by: tuple[str, ...]) -> ReceivedReport:
        """Ask what became of rows."""
        return desk.received(cohort)

    def table(self, report: ReceivedReport, width: int) -> Table:
        """One row a sender and kind."""
        rows = []
        for row in report.rows:
            counts = (row.received, row.accepted, row.held, row.rejected, row.known_already)
            keys = (row.sender, *counts, row.kind, row.submissions, row.last_received)
            cells = (*map(wording.count, counts), row.kind, wording.count(row.submissions), row.last_received)
            rows.append(Row((row.sender, *cells), Opens(f"{row.sender} {row.kind}", row.sender), keys))
        return self.columns, rows

    def counts(self, report: ReceivedReport) -> str:
        """Count senders."""
        return f"{len({row.sender for row in report.rows}):,} senders"

    def command(self, cohort: Cohort, by: tuple[str, ...], row: Row | None) -> str:
        """The tables that it is counted from."""
        return "regdash sql 'select * from submission_files' --csv"


class UnitsSection(Section):
    """Which hospitals and surgeons have unusual figures."""

    name = "units"
    about = "hospitals and surgeons with unusual figures: questions, no faults"
    empty = "no figure is unusual"
    columns: ClassVar = (
        Column("unit", "unit", left=True),
        Column("rule", "rule", left=True),
        Column("period", "period", left=True),
        Column("about", "about", left=True),
        Column("figure", "figure"),
        Column("usual", "usual"),
        Column("severity", "severity", left=True),
    )

    def ask(self, desk: Questions, cohort: Cohort, by: tuple[str, ...]) -> UnitsReport:
        """Ask which units have unusual figures."""
        return desk.units(cohort)

    def table(self, report: UnitsReport, width: int) -> Table:
        """One row a figure; the rule's sentence stands under the list."""
        return self.columns, [_unit_row(row) for row in report.rows]

    def counts(self, report: UnitsReport) -> str:
        """Count figures and units."""
        units = len({row.unit for row in report.rows})
        return f"{wording.so_many(len(report.rows), 'unusual figure')} of {wording.so_many(units, 'unit')}"

    def command(self, cohort: Cohort, by: tuple[str, ...], row: Row | None) -> str:
        """The table that it is read from."""
        return "regdash rules --units"


def _unit_row(row: UnitRow) -> Row:
    hospital = row.unit if row.unit_kind == "hospital" else None
    opens = Opens(f"{row.unit} {row.rule} {row.period} {row.detail}", hospital, row.withheld or row.told)
    missing = "withheld" if row.withheld else wording.NO_FIGURE
    figures = (missing if value is None else wording.number(value, 2) for value in (row.figure, row.usual))
    cells = (row.unit, row.rule, row.period, row.detail or wording.NO_FIGURE, *figures, row.severity)
    return Row(cells, opens, (row.unit, row.rule, row.period, row.detail, row.figure, row.usual, row.severity))


def found_command(cohort: Cohort, rule: RuleTotal | None) -> str:
    """List found rows at the command line: `held` has those that are kept back, and one hospital at a time."""
    named = [c for c in cohort.conditions if c.key == "hospital"]
    single = len(named) == 1 and not named[0].negated and len(named[0].values) == 1
    if (rule is None or rule.severity in KEEPS_BACK) and (single or not named):
        hospital = f" --hospital {named[0].values[0]}" if named else ""
        return f"regdash held{hospital}{f' --rule {rule.rule}' if rule else ''}"
    table = "held_rows" if rule is None or rule.severity in KEEPS_BACK else "noted_rows"
    tests = [_listed(c.values, c.negated) for c in named] + ([f"rule = '{rule.rule}'"] if rule else [])
    where = f" where {' and '.join(tests)}" if tests else ""
    return f'regdash sql "select * from {table}{where}" --csv'


def _listed(values: Sequence[Any], negated: bool) -> str:
    quoted = ", ".join("'" + str(value).replace("'", "''") + "'" for value in values)
    return f"hospital_id {'not ' if negated else ''}in ({quoted})"
