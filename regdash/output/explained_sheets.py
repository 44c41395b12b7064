"""What people see of an explanation: a table for each part of it, short enough to read."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from regdash.output.sheets import LABEL, Withheld, limits_heading, once
from regdash.output.table import Column
from regdash.output.wording import NONE, Limits, count, number, percent, with_limits
from regdash.signals.explained_model import (
    UNITS,
    AlikeRow,
    CompanionRow,
    ExcessRow,
    Explanation,
    FallRow,
    FirstRevisionRow,
    NearbyRow,
    PartRow,
    UserRow,
)
from regdash.signals.parts import LOT, PIECES

MOST = 8  # hospitals, surgeons, sizes and lots on a page
MOST_BARE = 2  # of these without a ratio


@dataclass(frozen=True)
class Section:
    """One part of an explanation: how programs call it, its title, its kind of row, and the rows themselves."""

    name: str
    title: str
    kind: type
    rows: Callable[[Explanation], Sequence[Any]]
    columns: Callable[[Any, float, Withheld], list[Column]]

    def shown(self, explained: Explanation) -> list[Any]:
        """The rows of a page: of many alike, those with most joints, few lots without a ratio, and faults there are."""
        kept, seen = [], dict[tuple[str, bool], int]()
        for row in self.rows(explained):
            many = row.unit if isinstance(row, UserRow) else row.field if isinstance(row, PartRow) else ""
            if many in (*PIECES, *UNITS):
                bare = many == LOT and row.hazard_ratio is None
                seen[many, bare] = seen.get((many, bare), 0) + 1
                if seen[many, bare] > (MOST_BARE if bare else MOST):
                    continue
            if not isinstance(row, NearbyRow) or row.found != 0:
                kept.append(row)
        return kept


def part_columns(rows: Sequence[PartRow], level: float, notes: Withheld) -> list[Column]:
    """Show subgroups or windows beside all others."""
    ratios: list[Limits] = [(row.hazard_ratio, row.ratio_lower, row.ratio_upper) for row in rows]
    no_rate = [row.withheld if row.per_100_implant_years is None else None for row in rows]
    no_ratio = [row.withheld if row.hazard_ratio is None else None for row in rows]
    within = [NONE if row.lower is None else f"{number(row.lower)} to {number(row.upper)}" for row in rows]
    several = len({row.field for row in rows}) > 1
    return [
        *([Column("by", once([row.field for row in rows]), left=True)] if several else []),
        Column("group" if several else "years since", [row.group for row in rows], left=True, least=LABEL),
        Column("joints", [count(row.joints) for row in rows], rank=3),
        Column("implant-years", [number(row.implant_years, 0) for row in rows], rank=5),
        Column("revised", [count(row.revisions) for row in rows]),
        Column("per 100 years", notes.mark([number(row.per_100_implant_years) for row in rows], no_rate), rank=1),
        Column(f"{100 * level:g} % limits", within, left=True, rank=4),
        Column("others", [number(row.others_per_100_implant_years) for row in rows], rank=2),
        Column(limits_heading("hazard ratio", level), notes.mark(with_limits(ratios, 2), no_ratio), left=True),
    ]


def excess_columns(rows: Sequence[ExcessRow], level: float, notes: Withheld) -> list[Column]:
    """Show observed less expected revisions by reason."""
    excess: list[Limits] = [(row.excess, row.lower, row.upper) for row in rows]
    ratios: list[Limits] = [(row.ratio, row.ratio_lower, row.ratio_upper) for row in rows]
    why = [row.withheld if row.excess is None else None for row in rows]
    no_ratio = [row.withheld if row.ratio is None else None for row in rows]
    return [
        Column("reason", [row.reason for row in rows], left=True, least=LABEL),
        Column("revised", [count(row.revisions) for row in rows]),
        Column("expected", [number(row.expected, 1) for row in rows]),
        Column(limits_heading("excess", level), notes.mark(with_limits(excess, 1), why), left=True),
        Column(limits_heading("ratio", level), notes.mark(with_limits(ratios, 2), no_ratio), left=True, rank=1),
        Column("others revised", [count(row.others_revisions) for row in rows], rank=2),
    ]


def first_revision_columns(rows: Sequence[FirstRevisionRow], level: float, notes: Withheld) -> list[Column]:
    """Show what was done at first revisions."""
    shares: list[Limits] = [(row.share, row.lower, row.upper) for row in rows]
    others: list[Limits] = [(row.others_share, row.others_lower, row.others_upper) for row in rows]
    why = [row.withheld for row in rows]
    return [
        Column("kind", once([row.kind for row in rows]), left=True),
        Column("at first revision", [row.what for row in rows], left=True, least=LABEL),
        Column("revised", [count(row.revisions) for row in rows], rank=3),
        Column("of", [count(row.of) for row in rows], rank=2),
        Column(limits_heading("share, %", level), notes.mark(with_limits(shares, 0, 100), why), left=True),
        Column("others, %", [percent(row.others_share, 0) for row in rows]),
        Column(limits_heading("others, %", level), with_limits(others, 0, 100), left=True, rank=5),
        Column("others of", [count(row.others_of) for row in rows], rank=4),
    ]


def fall_columns(rows: Sequence[FallRow], level: float, notes: Withheld) -> list[Column]:
    """Show how far the ratio falls at most, and how far it does by chance."""

    left: list[Limits] = [(row.ratio_without, row.lower, row.upper) for row in rows]

    def span(lower: float | None, upper: float | None) -> str:
        return NONE if lower is None else f"{percent(lower, 0)} to {percent(upper, 0)}"

    return [
        Column("without", [f"{row.unit} {row.user or ''}".strip() for row in rows], left=True),
        Column("of", [count(row.users) for row in rows], rank=1),
        Column("ratio", [number(row.ratio) for row in rows]),
        Column(
            limits_heading("left", level), notes.mark(with_limits(left, 2), [row.withheld for row in rows]), left=True
        ),
        Column("fall, %", [percent(row.fall, 0) for row in rows]),
        Column("chance, %", [span(row.chance_lower, row.chance_upper) for row in rows], left=True),
        Column("differing, %", [span(row.spread_lower, row.spread_upper) for row in rows], left=True),
    ]


def of_expected(revisions: int | None, expected: float | None) -> str:
    """Write revisions beside those expected."""
    return f"{count(revisions)} of {number(expected, 1)}"


def user_columns(rows: Sequence[UserRow], level: float, notes: Withheld) -> list[Column]:
    """Show who uses it, what they do with other implants, and the ratio without each."""
    ratios: list[Limits] = [(row.ratio_without, row.lower, row.upper) for row in rows]
    several = len({row.unit for row in rows}) > 1
    return [
        *([Column("unit", once([row.unit for row in rows]), left=True)] if several else []),
        Column("user", [row.user for row in rows], left=True),
        Column("joints", [count(row.joints) for row in rows]),
        Column("revised of expected", [of_expected(row.revisions, row.expected) for row in rows]),
        Column("other joints", [count(row.others_joints) for row in rows], rank=3),
        Column("with other implants", [of_expected(row.others_revisions, row.others_expected) for row in rows], rank=1),
        Column(
            limits_heading("without", level),
            notes.mark(with_limits(ratios, 2), [row.withheld if row.ratio_without is None else None for row in rows]),
            left=True,
        ),
        Column("fall, %", [percent(row.fall, 0) for row in rows], rank=2),
    ]


def alike_columns(rows: Sequence[AlikeRow], level: float, notes: Withheld) -> list[Column]:
    """Show its ratio where one more thing is held alike."""
    ratios: list[Limits] = [(row.hazard_ratio, row.lower, row.upper) for row in rows]
    return [
        Column("same", [row.alike for row in rows], left=True, least=LABEL),
        Column("different ones", [count(row.levels) for row in rows], rank=2),
        Column("joints", [count(row.joints) for row in rows], rank=1),
        Column("compared", [count(row.compared_joints) for row in rows]),
        Column("revised", [count(row.compared_revisions) for row in rows]),
        Column(
            limits_heading("hazard ratio", level),
            notes.mark(with_limits(ratios, 2), [row.withheld for row in rows]),
            left=True,
        ),
    ]


def companion_columns(rows: Sequence[CompanionRow], level: float, notes: Withheld) -> list[Column]:
    """Show the implant with each companion, and the companion without the implant."""
    ratios: list[Limits] = [(row.hazard_ratio, row.lower, row.upper) for row in rows]
    apart: list[Limits] = [(row.elsewhere_ratio, row.elsewhere_lower, row.elsewhere_upper) for row in rows]
    return [
        Column("role", once([row.role for row in rows]), left=True, rank=4, least=8),
        Column("companion", [row.companion for row in rows], left=True),
        Column("joints", [count(row.joints) for row in rows]),
        Column("revised", [count(row.revisions) for row in rows], rank=3),
        Column(
            limits_heading("hazard ratio", level),
            notes.mark(with_limits(ratios, 2), [row.withheld if row.hazard_ratio is None else None for row in rows]),
            left=True,
        ),
        Column("joints elsewhere", [count(row.elsewhere_joints) for row in rows], rank=2),
        Column(limits_heading("its own elsewhere", level), with_limits(apart, 2), left=True, rank=1),
    ]


def nearby_columns(rows: Sequence[NearbyRow], level: float, notes: Withheld) -> list[Column]:
    """Show faults of data near its joints."""
    return [
        Column("kind", once([row.kind for row in rows]), left=True),
        Column("in the records", [row.what for row in rows], left=True, least=LABEL),
        Column("found", notes.mark([count(row.found) for row in rows], [row.withheld for row in rows])),
        Column("of", [count(row.of) for row in rows]),
        Column("share, %", [percent(row.share) for row in rows]),
        Column("others, %", [percent(row.others_share) for row in rows]),
        Column("what it is", [row.note for row in rows], left=True, least=30, rank=1),
    ]


SECTIONS = {
    section.name: section
    for section in (
        Section("windows", "Hazard ratios by time since implantation", PartRow, lambda e: e.windows, part_columns),
        Section("excess", "Excess revisions by reason", ExcessRow, lambda e: e.excess, excess_columns),
        Section("falls", "Is it the implant or one user?", FallRow, lambda e: e.falls, fall_columns),
        *(
            Section(
                f"{unit}s",
                f"The ratio without each {unit}",
                UserRow,
                lambda e, unit=unit: [row for row in e.users if row.unit == unit],  # type: ignore[misc]
                user_columns,
            )
            for unit in UNITS
        ),
        Section("subgroups", "Subgroups, each beside all others", PartRow, lambda e: e.subgroups, part_columns),
        Section("alike", "Its ratio where one more thing is the same", AlikeRow, lambda e: e.alike, alike_columns),
        Section("companions", "With each companion", CompanionRow, lambda e: e.companions, companion_columns),
        Section(
            "first-revisions",
            "What was done, used and taken out at first revisions",
            FirstRevisionRow,
            lambda e: e.at_first_revision,
            first_revision_columns,
        ),
        Section("nearby", "Faults of data near its joints", NearbyRow, lambda e: e.nearby, nearby_columns),
    )
}
