"""Mortality → a table of the document: a row a group and a column a time."""

from collections.abc import Mapping

import regdash.output.mortality_pages  # noqa: F401 - makes the answer known to `record_of`
from regdash.output.mortality_pages import DECIMALS
from regdash.output.record import record_of
from regdash.output.sheets import LABEL, Withheld
from regdash.output.table import Column
from regdash.output.wording import count, with_limits
from regdash.reports.mortality import after
from regdash.reports.mortality_model import MortalityReport
from regdash.summary.document import Provenance, Table


def mortality_table(
    name: str, title: str, report: MortalityReport, come_from: Provenance, labels: Mapping[str, str] | None = None
) -> Table:
    """
    Lay mortality out, with operations at risk and deaths by the last time.

    Args:
        labels: what groups are called for people, where that is not their label.
    """
    notes = Withheld()
    groups = [group.label for group in report.groups]
    at = {(row.group, row.days): row for row in report.rows}
    shown = [(labels or {}).get(group, group) for group in groups]
    columns = [Column(", ".join(by.field.key for by in report.head.by) or "group", shown, left=True, least=LABEL)]
    for days in report.days:
        rows = [at[group, days] for group in groups]
        plain = with_limits([(row.estimate, row.lower, row.upper) for row in rows], DECIMALS, 100)
        cells = notes.mark([cell.replace(" to ", "–") for cell in plain], [row.withheld for row in rows])
        columns.append(Column(f"by {after(days)}", cells, left=True))
    last = [at[group, report.days[-1]] for group in groups]
    columns.append(Column(f"died by {after(report.days[-1])}", [count(row.deaths) for row in last], rank=1))
    columns.append(Column(f"at risk, {after(report.days[-1])}", [count(row.at_risk) for row in last], rank=2))
    level = 100 * report.head.settings["confidence_level"]
    said = (f"Mortality in per cent, with {level:g} % limits.",)
    return Table(name, title, tuple(columns), record_of(report), come_from, tuple(notes.notes), said)
