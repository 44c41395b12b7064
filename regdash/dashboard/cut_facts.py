"""How data cuts are listed: the facts of each in a row, its manifest, and the rules that hold its rows back."""

from __future__ import annotations

import json
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from rich.table import Table
from rich.text import Text

from regdash.dashboard import wording
from regdash.dashboard.widgets.grid import Column, Row
from regdash.errors import RegdashError

if TYPE_CHECKING:
    from regdash.dashboard.questions import Manifest
    from regdash.reports.cut_contents import CutContents
    from regdash.reports.submitted_rows import RuleTotal

COLUMNS = (
    Column("data cut", "cut", left=True),
    Column("known as of", "known", left=True),
    Column("joints", "joints"),
    Column("revised", "revised"),
    Column("linked %", "linked"),
    Column("held", "held"),
    Column("open", left=True),
    Column("patients", "patients"),
    Column("rule set", "rules", left=True),
)
RULES = (
    Column("rule", "rule", left=True),
    Column("severity", "severity", left=True),
    Column("rows", "rows"),
    Column("hospitals", "hospitals"),
    Column("file", "file", left=True),
)
EXPLAINED = (
    ("a data cut", "what was known on one day of the time up to another; never changed, and named by every figure"),
    ("joints, revised", "primary joints that are followed, and those of them whose follow-up ended in a revision"),
    ("linked %", "revisions that have a primary, of all that count, all joints together; by hospital: place 7"),
    ("held", "rows, and rules that keep them back or reject them; a row that two rules found counts for each"),
    ("rule set", "how many rules judged the rows, and a word that changes with any of them"),
    ("caution", "Another cut has other rules, links and corrections: d says what moved, and why. A cut of another "
                "release cannot be read; its manifest can."),
    ("command", "regdash cuts"),
)  # fmt: skip
MOST_NAMED = 6  # dates by sender that are written out one by one
UNREAD = "–"  # a cut of another release cannot be counted


def cut_row(cut: Manifest, found: CutContents | RegdashError | None, is_open: bool) -> Row:
    """One cut of the list; what it holds is not known yet, or cannot be read, or is counted."""
    counted = None if found is None or isinstance(found, RegdashError) else found
    unread = "…" if found is None else UNREAD
    share, held = (counted.linked_share, counted.held) if counted else (None, None)
    cells = (
        cut.cut,
        cut.known_as_of,
        wording.count(cut.joints),
        wording.count(cut.revisions),
        wording.percent(share) if counted else unread,
        wording.count(held) if counted else unread,
        "open now" if is_open else "",
        wording.count(cut.patients),
        cut.rule_set,
    )
    keys = (cut.cut, cut.known_as_of, cut.joints, cut.revisions, share, held, None, cut.patients, cut.rule_set)
    return Row(cells, cut.cut, keys)


def rule_row(number: int, rule: RuleTotal) -> Row:
    """One rule that holds rows back."""
    cells = (rule.rule, rule.severity, wording.count(rule.rows), wording.count(rule.hospitals), rule.file)
    return Row(cells, rule, (rule.rule, number, rule.rows, rule.hospitals, rule.file))


def manifest_table(cut: Manifest, found: CutContents | RegdashError | None) -> Table:
    """Lay out a manifest, and what the cut itself was asked."""
    table = Table.grid(padding=(0, 2))
    table.add_column(style="bold", no_wrap=True)
    table.add_column(overflow="fold")
    said = [(name.replace("_", " "), _said(value)) for name, value in asdict(cut).items()]  # type: ignore[call-overload]
    for name, value in [*said[:1], *_counted(found), *said[1:]]:
        table.add_row(Text(name), Text(value))
    return table


def _counted(found: CutContents | RegdashError | None) -> list[tuple[str, str]]:
    """What the cut itself was asked, beside what its manifest says."""
    if found is None:
        return [("contents", "counting…")]
    if isinstance(found, RegdashError):
        return [("contents", str(found))]
    joints = ", ".join(f"{joint} {wording.count(count)}" for joint, count in found.joints.items())
    linked = f"{wording.count(found.linked)} of {wording.so_many(found.revisions, 'revision')}"
    share = f", {wording.percent(found.linked_share)} %" if found.linked_share is not None else ""
    return [("by joint", joints or "none"), ("linked", linked + share), ("held", wording.so_many(found.held, "row"))]


def _said(value: Any) -> str:
    if isinstance(value, dict) and len(value) > MOST_NAMED and all(isinstance(part, str) for part in value.values()):
        return f"{min(value.values())} to {max(value.values())}, {len(value)} senders"
    if isinstance(value, dict):
        parts = [f"{name} {_said(part)}" for name, part in value.items()]
        return ", ".join(parts) or "none"
    return f"{value:,}" if isinstance(value, int) else value if isinstance(value, str) else json.dumps(value)
