"""Where a unit's figures come from, for who is not of the office: no user, no companion and no fault of data."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from regdash.output.explained_sheets import SECTIONS
from regdash.output.record import record_of_rows
from regdash.output.sheets import Withheld
from regdash.output.table import Column
from regdash.output.wording import NONE, number
from regdash.signals.explained_model import (
    UNITS,
    AlikeRow,
    ExcessRow,
    Explanation,
    FirstRevisionRow,
    PartRow,
)
from regdash.signals.first_revisions import DONE, USED
from regdash.signals.parts import PIECES
from regdash.summary.disclosure import why_hidden
from regdash.summary.document import Block, Paragraph, Section, Table
from regdash.summary.sections.outside_rows import as_read, bare, hidden_parts, without
from regdash.summary.sections.unit_explanation import NO_VERDICT
from regdash.summary.unit_asker import UnitAsker

NOT_WHOLE = (
    "Implants and constructs are explained, and not sizes or lots: its implant's figures less its own would be others'."
)
NOTHING = "None of its joints is revised: there is nothing to explain."
NOT_COMPARED = "too few to compare, or never apart from it"
FEW_USERS = "too few {unit}s have a figure of their own"
RATIOS = ("hazard_ratio", "lower", "upper")


@dataclass(frozen=True)
class RangeRow:
    """Between which ratios it lies with each user left out in turn; no user is named."""

    unit: str  # hospital or surgeon
    ratio: float | None
    lowest: float | None
    highest: float | None
    withheld: str | None = None


def section(asker: UnitAsker) -> Section:
    """Explain it, a section a part."""
    why_not = NOT_WHOLE if not asker.is_whole else "" if asker.rows[0].screened.revisions else NOTHING
    if why_not:
        return Section("explanation", "Where the figures come from", (Paragraph(why_not),))
    parts = tuple(_part(asker, part) for part in asker.edition.explained)
    blocks: tuple[Block, ...] = (Paragraph(NO_VERDICT),)
    return Section("explanation", "Where the figures come from", blocks, parts)


def _part(asker: UnitAsker, part: str) -> Section:
    explained, how, notes = asker.explained, TOLD[part], Withheld()
    rows = how.rows(asker, explained)
    columns = how.columns(rows, asker.level, notes)
    kept = tuple(
        replace(one, heading=one.heading or "kind", rank=0) for one in columns if one.heading not in how.dropped
    )
    of = f"Primaries with {explained.code}, beside all others of the class, followed to {asker.cut.through_date}."
    come_from = asker.uncounted(explained.head, explained.head.cohort, of)
    record = record_of_rows(explained.head.measure, how.kind, rows)
    title = f"{explained.code}: {how.title[:1].lower()}{how.title[1:]}"
    table = Table(part, title, kept, record, come_from, tuple(notes.notes))
    return Section(f"explained-{part}", how.title, (table,))


def excess_told(asker: UnitAsker, explained: Explanation) -> list[ExcessRow]:
    """Keep of the reasons those that tell no small count, nor let one follow from the total of the screen."""
    *reasons, whole = explained.excess
    total = asker.rows[0].screened.revisions
    hidden = hidden_parts(asker, [row.revisions for row in reasons], total)
    if hidden is None:
        reasons, hidden = [], []
    kept = [row for row, goes in zip(reasons, hidden, strict=True) if not goes]
    gone = sorted((row for row, goes in zip(reasons, hidden, strict=True) if goes), key=lambda row: row.reason)
    _keep(asker, "excess", [(row.reason, row.revisions) for row in gone])
    lacking = None if whole.revisions is None or total is None else total - whole.revisions
    last = whole if lacking == 0 else bare(asker, whole, ("reason",))
    digits = dict.fromkeys(("expected", "excess", "lower", "upper"), 1)
    digits |= dict.fromkeys(("ratio", "ratio_lower", "ratio_upper"), 2)
    rows = [*kept, *(bare(asker, row, ("reason",)) for row in gone), last]
    return [as_read(asker, without(row, "others_revisions"), digits) for row in rows]


def subgroups_told(asker: UnitAsker, explained: Explanation) -> list[PartRow]:
    """Keep of sex, age and time those groups that tell no small count; sizes and lots are never told apart here."""
    whole, told = asker.rows[0].screened, list[PartRow]()
    digits = {"per_100_implant_years": 2, "others_per_100_implant_years": 2, "hazard_ratio": 2}
    digits |= dict.fromkeys(("lower", "upper", "ratio_lower", "ratio_upper"), 2)
    for key in dict.fromkeys(row.field for row in explained.subgroups if row.field not in PIECES):
        rows = [row for row in explained.subgroups if row.field == key]
        revised = hidden_parts(asker, [row.revisions for row in rows], whole.revisions)
        joints = hidden_parts(asker, [row.joints for row in rows], whole.joints)
        if revised is None or joints is None:
            continue
        for row, *goes in zip(rows, revised, joints, strict=True):
            if any(goes):
                _keep(asker, "subgroups", [(f"{key} {row.group}", row.revisions)])
                told.append(bare(asker, row, ("field", "group", "words")))
            else:
                told.append(as_read(asker, without(row, "implant_years"), digits))
    return told


def first_revisions_told(asker: UnitAsker, explained: Explanation) -> list[FirstRevisionRow]:
    """Keep of what was done, and of what was used, that which tells no small count."""
    digits = dict.fromkeys(("share", "lower", "upper", "others_share", "others_lower", "others_upper"), 2)
    total, told = asker.rows[0].screened.revisions, list[FirstRevisionRow]()
    done = [row for row in explained.at_first_revision if row.kind == DONE]
    of_done = hidden_parts(asker, [row.revisions for row in done], total)
    hidden = {} if of_done is None else dict(zip(done, of_done, strict=True))
    for row in explained.at_first_revision:
        if row.kind == USED:
            own = hidden_parts(asker, [row.revisions], row.of)
            hidden |= {} if own is None else {row: own[0]}
        if row not in hidden:
            continue  # what else there is says again what was done, and would tell what is withheld of it
        if hidden[row]:
            _keep(asker, "first-revisions", [(row.what, row.revisions)])
            told.append(bare(asker, row, ("kind", "what", "words")))
        else:
            told.append(as_read(asker, without(row, "others_revisions", "others_of"), digits))
    return told


def alike_told(asker: UnitAsker, explained: Explanation) -> list[AlikeRow]:
    """Keep the ratios, and no number of users or joints."""
    counts = ("levels", "joints", "compared_joints", "compared_revisions")
    rows = [as_read(asker, without(row, *counts), dict.fromkeys(RATIOS, 2)) for row in explained.alike]
    return [replace(row, withheld=NOT_COMPARED) if row.hazard_ratio is None else row for row in rows]


def ranges_told(asker: UnitAsker, explained: Explanation) -> list[RangeRow]:
    """Give the range of the ratios with each hospital, and each surgeon, left out; of those with a figure to show."""
    rows = []
    for unit in UNITS:
        left = [row.ratio_without for row in explained.users if row.unit == unit and row.ratio_without is not None]
        whole = explained.whole.hazard_ratio
        if whole is None or len(left) < asker.edition.least_hospitals:
            rows.append(RangeRow(unit, None, None, None, FEW_USERS.format(unit=unit)))
        else:
            rows.append(RangeRow(unit, round(whole, 1), round(min(left), 1), round(max(left), 1)))
    return rows


def range_columns(rows: Sequence[RangeRow], level: float, notes: Withheld) -> list[Column]:
    """Show ranges; without limits, which would tell more of one user."""
    spans = [NONE if row.lowest is None else f"{number(row.lowest, 1)} to {number(row.highest, 1)}" for row in rows]
    return [
        Column("without each", [row.unit for row in rows], left=True),
        Column("ratio of all", [number(row.ratio, 1) for row in rows]),
        Column("ratio without one", notes.mark(spans, [row.withheld for row in rows]), left=True),
    ]


def _keep(asker: UnitAsker, table: str, gone: Sequence[tuple[str, int | None]]) -> None:
    for row, revisions in gone:
        asker.keep(table, row, "revisions", revisions, why_hidden(asker.others))


@dataclass(frozen=True)
class Told:
    """One part: its title, its kind of row, the rows that are told, and the columns that are not."""

    title: str
    kind: type
    rows: Callable[[UnitAsker, Explanation], Sequence[Any]]
    columns: Callable[[Any, float, Withheld], list[Column]]
    dropped: tuple[str, ...] = ()


def _of(part: str, rows: Callable[[UnitAsker, Explanation], Sequence[Any]], *dropped: str) -> Told:
    return Told(SECTIONS[part].title, SECTIONS[part].kind, rows, SECTIONS[part].columns, dropped)


TOLD = {
    "excess": _of("excess", excess_told, "others revised"),
    "first-revisions": replace(
        _of("first-revisions", first_revisions_told, "others of", "others, %"),
        title="What was done and used at first revisions",
    ),
    "subgroups": _of("subgroups", subgroups_told, "implant-years"),
    "falls": Told("Is it the implant or one user?", RangeRow, ranges_told, range_columns),
    "alike": _of("alike", alike_told, "different ones", "joints", "compared", "revised"),
}
