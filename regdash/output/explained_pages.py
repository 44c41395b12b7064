"""The page of one implant with its explanation, whole or one part of it; importing it makes it known to all forms."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from textwrap import shorten
from typing import Any

from regdash.output import people
from regdash.output.explained_sheets import SECTIONS, Section
from regdash.output.people import Lines, closing, level_of, opening, tabled, wrapped
from regdash.output.record import WITHHELD, Record, Row, columns_of, head_facts, record_of
from regdash.output.sheets import Withheld
from regdash.output.table import labelled
from regdash.output.wording import number, with_limits
from regdash.reports.model import ImplantReport
from regdash.reports.wording import fields
from regdash.signals.explained_cautions import cautions_of_answer, cautions_of_page, cautions_of_part
from regdash.signals.explained_model import Explanation
from regdash.store.signal_reviews import EVERY

MOST_DECISIONS = 3  # on a page, the last ones
LONGEST_WHY = 200  # characters of their reasons
MORE = "All rows and columns of one part: --section NAME, on a wider terminal or with --csv."


@dataclass(frozen=True)
class ImplantPage:
    """Everything on one implant: its figures, and their explanation."""

    report: ImplantReport
    explained: Explanation


@dataclass(frozen=True)
class ExplainedPart:
    """One part of an explanation; `name` is one of SECTIONS."""

    explained: Explanation
    name: str

    @property
    def section(self) -> Section:
        """How it is written."""
        return SECTIONS[self.name]


def rows_of(rows: Iterable[Any]) -> list[Row]:
    """Write rows as programs get them."""
    written = [{name: getattr(row, name) for name in columns_of(type(row))} for row in rows]
    return [{name: value for name, value in row.items() if name != WITHHELD or value is not None} for row in written]


def _facts(explained: Explanation) -> dict[str, Any]:
    return {
        "code": explained.code,
        "role": explained.role,
        "class": explained.joint_class,
        "adjust": ",".join(map(str, explained.adjust)),
        "screening": explained.settings,
        "reviews": explained.reviews,
        "decisions": [one.facts for one in explained.decisions],
    }


@record_of.register
def _(page: ImplantPage) -> Record:
    record, explained = record_of(page.report), page.explained
    about = {"method": explained.head.method, **_facts(explained)}
    facts = {**record.facts, "cautions": cautions_of_answer(page.report, explained)}
    lists = {f"explained_{name.replace('-', '_')}": rows_of(one.rows(explained)) for name, one in SECTIONS.items()}
    more = {**record.more, "explanation": about, **lists, "left_out": rows_of(explained.left_out)}
    return replace(record, facts=facts, more=more)


@record_of.register
def _(part: ExplainedPart) -> Record:
    explained, section = part.explained, part.section
    facts = {**head_facts(explained.head), "section": part.name, **_facts(explained)}
    return Record(facts, columns_of(section.kind), rows_of(section.rows(explained)))


@people.page.register
def _(page: ImplantPage, width: int) -> Lines:
    notes, explained, report = Withheld(), page.explained, page.report
    facts = [*people.implant_facts(report), *_adjusted(explained), *_decided(explained)]
    lines = [*opening(report.head, width), *labelled(facts, width)]
    (risk, reasons) = people.implant_tables(report, notes, ("risk", "reasons"))
    lines += ["", risk[0], "", *tabled(risk[1], width), "", *wrapped(_title(explained), width)]
    for name in SECTIONS:
        lines += _section(explained, name, notes, width)
    lines += ["", reasons[0], "", *tabled(reasons[1], width)]
    lines += ["", *wrapped(MORE, width)]
    method = f"{report.head.method} {explained.head.method}"
    return lines + closing(method, cautions_of_page(report, explained), width, notes)


@people.page.register
def _(part: ExplainedPart, width: int) -> Lines:
    notes, explained = Withheld(), part.explained
    adjusted = [("adjusted", fields([one.field.key for one in explained.adjust]) or "for nothing")]
    lines = [*opening(explained.head, width, adjusted), *wrapped(_title(explained), width)]
    lines += _section(explained, part.name, notes, width, whole=True)
    return lines + closing(explained.head.method, cautions_of_part(explained, part.name), width, notes)


def _adjusted(explained: Explanation) -> list[tuple[str, str]]:
    """Say its hazard ratio beside the ratio of rates."""
    row, fields_held = explained.whole, fields([one.field.key for one in explained.adjust])
    (ratio,) = with_limits([(row.hazard_ratio, row.ratio_lower, row.ratio_upper)], 2)
    how = f"adjusted for {fields_held}" if fields_held else "not adjusted"
    level = f"{100 * level_of(explained.head):g} % limits"
    said = f"withheld: {row.withheld}" if row.hazard_ratio is None else f"{ratio}, {level}"
    expected = f"; expected {number(explained.excess[-1].expected, 1)}" if explained.excess else ""
    return [("hazard ratio", f"{said}, {how}{expected}")]


def _decided(explained: Explanation) -> list[tuple[str, str]]:
    """Say what people decided on it last, oldest first."""
    of = {EVERY: "", "all": " (all of follow-up)"}
    before = len(explained.decisions) - MOST_DECISIONS
    said = [
        f"{one.decided_at[:10]} {one.state}{of.get(one.window, f' (years {one.window})')}, {one.decided_by}: "
        f"{shorten(one.why, LONGEST_WHY, placeholder=' …')}"
        for one in explained.decisions[-MOST_DECISIONS:]
    ]
    said += [f"{before:,} more: regdash signals show {explained.code}"] if before > 0 else []
    return [("review", one) for one in said or ["nobody has decided on it"]]


def _title(explained: Explanation) -> str:
    adjusted = fields([one.field.key for one in explained.adjust])
    alike = f" alike in {adjusted}" if adjusted else ""
    return f"Explanation: {explained.code} beside all others of the class {explained.joint_class}{alike}"


def _section(explained: Explanation, name: str, notes: Withheld, width: int, whole: bool = False) -> Lines:
    """Write one part: its first rows, or the `whole` of it."""
    section = SECTIONS[name]
    rows = section.rows(explained)
    shown = rows if whole else section.shown(explained)
    more = "" if len(shown) == len(rows) else f", {len(shown)} of {len(rows)} (all of them: --section {name})"
    lines = ["", f"{section.title}{more}"]
    if whole or name != "falls":  # its sentences say the same
        lines += ["", *tabled(section.columns(shown, level_of(explained.head), notes), width, says_left_out=whole)]
    if name == "falls":
        for row in explained.falls:
            lines += ["", *wrapped(row.finding, width)]
    return lines
