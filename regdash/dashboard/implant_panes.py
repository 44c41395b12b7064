"""The lists that explain one implant, as the dashboard shows them: titles, columns, rows, and what a row opens."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from regdash.dashboard import wording
from regdash.dashboard.widgets.grid import Column, Row
from regdash.vocabulary import coded

if TYPE_CHECKING:
    from regdash.signals.explained_model import (
        AlikeRow,
        CompanionRow,
        ExcessRow,
        Explanation,
        FirstRevisionRow,
        NearbyRow,
        PartRow,
        UserRow,
    )

REVISED = "ended=revised"
MOST_NAMED = 5  # figures that are withheld for one reason
LONGEST_WHY = 22  # of a reason for withholding that stands in a cell
_LIMITS = "(95 %)"  # limits stand behind the figure
_EVERY = "all reasons"  # the last line of the excess


@dataclass(frozen=True)
class Painted:
    """A list that is ready to be shown."""

    title: str
    columns: tuple[Column, ...]
    rows: list[Row]


def painted(name: str, explained: Explanation) -> Painted:
    """Make the list of a name in EXPLAINED."""
    return EXPLAINED[name](explained)


def finding(name: str, explained: Explanation) -> str:
    """What was found when each hospital or surgeon was left out; empty for other lists."""
    return next((row.finding for row in explained.falls if f"{row.unit}s" == name), "")


def withheld(explained: Explanation, pane: str) -> list[str]:
    """Name the figures that are withheld, reason by reason; those of the list in view first."""
    lists: dict[str, Sequence[tuple[str, str | None]]] = {
        "excess": [(row.reason, row.withheld) for row in explained.excess],
        "revised": [(row.what, row.withheld) for row in explained.at_first_revision],
        "groups": [(_group_name(row), row.withheld) for row in (*explained.windows, *explained.subgroups)],
        "hospitals": [(row.user, row.withheld) for row in explained.users if row.unit == "hospital"],
        "surgeons": [(row.user, row.withheld) for row in explained.users if row.unit == "surgeon"],
        "alike": [
            *((f"same {row.alike}", row.withheld) for row in explained.alike),
            *((f"with {row.companion}", row.withheld) for row in explained.companions),
        ],
        "records": [(row.what, row.withheld) for row in explained.nearby],
    }
    names: dict[str, list[str]] = {}
    for name in sorted(lists, key=lambda one: one != pane):
        for what, why in lists[name]:
            if why:
                names.setdefault(why, []).append(what)
    return [f"{_first_of(found)}: {why}" for why, found in names.items()]


def _first_of(names: list[str]) -> str:
    rest = len(names) - MOST_NAMED
    return ", ".join(names[:MOST_NAMED]) + (f" and {rest} more" if rest > 0 else "")


def _opens(label: str, *words: str) -> tuple[str, tuple[str, ...]]:
    """What Enter opens: the revised joints that these words choose among its own, and what they are called."""
    return label, (REVISED, *(part for word in words for part in word.split()))


def _ratio(ratio: float | None, lower: float | None, upper: float | None, why: str | None) -> str:
    """Write a ratio with its limits in one cell, or why it is withheld where that is short; x says the rest."""
    if ratio is None:
        return wording.NO_FIGURE if why is None else why if len(why) <= LONGEST_WHY else "withheld, x: why"
    return f"{wording.number(ratio)} ({wording.limits(lower, upper)})"


def _excess(explained: Explanation) -> Painted:
    columns = (
        Column("reason", "reason", left=True),
        Column("revised", "revised"),
        Column("expected", "expected"),
        Column("excess", "excess"),
        Column("95 % limits", left=True),
        Column(f"ratio {_LIMITS}", "ratio", left=True),
    )
    return Painted("excess revisions by reason, adding up", columns, [_excess_row(row) for row in explained.excess])


def _excess_row(row: ExcessRow) -> Row:
    cells = (
        row.reason,
        wording.count(row.revisions),
        wording.number(row.expected, 1),
        wording.number(row.excess, 1),
        wording.limits(row.lower, row.upper, 1) if row.lower is not None else wording.NO_FIGURE,
        _ratio(row.ratio, row.ratio_lower, row.ratio_upper, row.withheld),
    )
    words = () if row.reason == _EVERY else (f"reason={coded(row.reason)}",)
    keys = (row.reason, row.revisions, row.expected, row.excess, None, row.ratio)
    return Row(cells, _opens(row.reason, *words), keys)


def _first(explained: Explanation) -> Painted:
    columns = (
        Column("at first revision", "what", left=True),
        Column("revised", "revised"),
        Column("of"),
        Column(f"share % {_LIMITS}", "share", left=True),
        Column("others %", "others"),
    )
    rows = [_first_row(row) for row in explained.at_first_revision]
    return Painted("what was done, used and taken out at first revisions", columns, rows)


def _first_row(row: FirstRevisionRow) -> Row:
    said = {"used": f"{row.what} was used", "taken out": f"{row.what} taken out"}.get(row.kind, row.what)
    share = f"{wording.percent(row.share, 0)} ({wording.percent_limits(row.lower, row.upper, 0)})"
    cells = (
        said,
        wording.count(row.revisions),
        wording.count(row.of),
        share if row.share is not None else row.withheld or wording.NO_FIGURE,
        wording.percent(row.others_share, 0),
    )
    keys = (said, row.revisions, None, row.share, row.others_share)
    return Row(cells, _opens(said, row.words) if row.words else None, keys)


def _groups(explained: Explanation) -> Painted:
    columns = (
        Column("group", left=True),
        Column("joints", "joints"),
        Column("revised", "revised"),
        Column(f"ratio {_LIMITS}", "ratio", left=True),
        Column("per 100", "rate"),
        Column("others", "others"),
    )
    rows = [_group_row(row, explained.whole) for row in (*explained.windows, *explained.subgroups)]
    return Painted("windows and subgroups, each beside all others", columns, rows)


def _group_row(row: PartRow, whole: PartRow) -> Row:
    name = _group_name(row)
    cells = (
        name,
        wording.count(row.joints),
        wording.count(row.revisions),
        _ratio(row.hazard_ratio, row.ratio_lower, row.ratio_upper, row.withheld),
        wording.number(row.per_100_implant_years),
        wording.number(row.others_per_100_implant_years),
    )
    rates = (row.per_100_implant_years, row.others_per_100_implant_years)
    keys = (None, row.joints, row.revisions, row.hazard_ratio, *rates)
    opens = _opens(name, row.words) if row.words or row is whole else None  # no filter word speaks of a window
    return Row(cells, opens, keys)


def _group_name(row: PartRow) -> str:
    return f"{row.field} {row.group}" if row.words else f"years {row.group}"


def _users(unit: str) -> Callable[[Explanation], Painted]:
    def make(explained: Explanation) -> Painted:
        columns = (
            Column(unit, "user", left=True),
            Column("joints", "joints"),
            Column("revised", "revised"),
            Column("expected", "expected"),
            Column(f"without {_LIMITS}", "ratio", left=True),
            Column("fall %", "fall"),
            Column("others", "others"),
        )
        rows = [_user_row(row) for row in explained.users if row.unit == unit]
        return Painted(f"each {unit}; others: revised of expected there; the ratio without", columns, rows)

    return make


def _user_row(row: UserRow) -> Row:
    cells = (
        row.user,
        wording.count(row.joints),
        wording.count(row.revisions),
        wording.number(row.expected, 1),
        _ratio(row.ratio_without, row.lower, row.upper, row.withheld),
        wording.percent(row.fall, 0),
        f"{wording.count(row.others_revisions)} of {wording.number(row.others_expected, 1)}",
    )
    figures = (row.expected, row.ratio_without, row.fall, row.others_revisions)
    keys = (row.user, row.joints, row.revisions, *figures)
    return Row(cells, _opens(row.user, f"{row.unit}={row.user}"), keys)


def _alike(explained: Explanation) -> Painted:
    columns = (
        Column("alike, or with", left=True),
        Column("joints", "joints"),
        Column("revised", "revised"),
        Column(f"ratio {_LIMITS}", "ratio", left=True),
        Column("elsewhere", "elsewhere"),
        Column("there"),
    )
    rows = [_alike_row(row) for row in explained.alike] + [_companion_row(row) for row in explained.companions]
    return Painted("the ratio where one more thing is the same, and with each companion", columns, rows)


def _alike_row(row: AlikeRow) -> Row:
    cells = (
        f"same {row.alike}",
        wording.count(row.compared_joints),
        wording.count(row.compared_revisions),
        _ratio(row.hazard_ratio, row.lower, row.upper, row.withheld),
        "",
        "",
    )
    return Row(cells, None, (None, row.compared_joints, row.compared_revisions, row.hazard_ratio, None, None))


def _companion_row(row: CompanionRow) -> Row:
    name = f"with {row.companion}"
    cells = (
        name,
        wording.count(row.joints),
        wording.count(row.revisions),
        _ratio(row.hazard_ratio, row.lower, row.upper, row.withheld),
        wording.count(row.elsewhere_joints),
        wording.number(row.elsewhere_ratio),
    )
    keys = (None, row.joints, row.revisions, row.hazard_ratio, row.elsewhere_joints, None)
    return Row(cells, None, keys)


def _records(explained: Explanation) -> Painted:
    columns = (
        Column("in the records", left=True, width=38),
        Column("found", "found"),
        Column("of"),
        Column("%", "share"),
        Column("others %", "others"),
        Column("what it is", left=True),
    )
    return Painted("faults of data near its joints", columns, [_record_row(row) for row in explained.nearby])


def _record_row(row: NearbyRow) -> Row:
    cells = (
        f"{row.kind}: {row.what}",
        wording.count(row.found),
        wording.count(row.of),
        wording.percent(row.share),
        wording.percent(row.others_share),
        row.withheld or row.note,
    )
    return Row(cells, None, (None, row.found, None, row.share, row.others_share, None))


EXPLAINED: dict[str, Callable[[Explanation], Painted]] = {
    "excess": _excess,
    "revised": _first,
    "groups": _groups,
    "hospitals": _users("hospital"),
    "surgeons": _users("surgeon"),
    "alike": _alike,
    "records": _records,
}
