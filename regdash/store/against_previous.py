"""
Whether a new cut may be made beside the one before: links must not have been lost, and what counted must not be gone
without a correction. Who freezes can say why it is so.
"""

from dataclasses import dataclass, field
from datetime import date
from fractions import Fraction
from pathlib import Path
from typing import Any

import duckdb

from regdash.errors import CutRefused, StoreError
from regdash.store.cuts import Manifest, cut_path, list_cuts
from regdash.store.run import run
from regdash.store.words import quoted

# How far a cut may differ from the one before without being told why (rules 75 and 76 of the office).
MOST_POINTS_LOST = 3  # percentage points by which the linked share of revisions may fall
MOST_VANISHED = 0  # counted operations that may be gone with no correction
RULE = "rule "  # what the causes that are rules begin with
NAMED = 5  # operations of each cause that a refusal names


@dataclass(frozen=True)
class Compared:
    """What became of the links and operations of the cut before; no patient is named."""

    previous: str
    revisions_before: int = 0
    linked_before: int = 0
    revisions: int = 0
    linked: int = 0
    vanished: dict[str, int] = field(default_factory=dict)  # operations by what takes them out
    first_vanished: tuple[str, ...] = ()  # numbers of a few of them

    @property
    def points_lost(self) -> Fraction:
        """Percentage points by which the linked share fell; 0 where either cut has no revision."""
        if not self.revisions_before or not self.revisions:
            return Fraction(0)
        return 100 * (Fraction(self.linked_before, self.revisions_before) - Fraction(self.linked, self.revisions))

    @property
    def reasons(self) -> list[str]:
        """Why the new cut may not be made unless somebody says why; empty where it may."""
        said = []
        if self.points_lost > MOST_POINTS_LOST:
            said.append(
                f"the linked share of revisions fell from {_share(self.linked_before, self.revisions_before)} to "
                f"{_share(self.linked, self.revisions)}, by more than {MOST_POINTS_LOST} points"
            )
        count = sum(self.vanished.values())
        if count > MOST_VANISHED:
            causes = ", ".join(map(_told, self.vanished, self.vanished.values()))
            more = ", …" if count > len(self.first_vanished) else ""
            are = "operation that counted is" if count == 1 else "operations that counted are"
            said.append(f"{count:,} {are} gone with no correction ({causes}): {', '.join(self.first_vanished)}{more}")
        return said

    @property
    def holding(self) -> list[str]:
        """Name the rules that now hold what counted."""
        return [cause.removeprefix(RULE) for cause in self.vanished if cause.startswith(RULE)]

    def as_kept(self) -> dict[str, Any]:
        """Write it for the manifest."""
        return {
            "previous": self.previous,
            "linked_before": [self.linked_before, self.revisions_before],
            "linked": [self.linked, self.revisions],
            "vanished": self.vanished,
            "most_points_lost": MOST_POINTS_LOST,
            "most_vanished": MOST_VANISHED,
        }


def _told(cause: str, count: int) -> str:
    """Say what takes operations out."""
    if not cause.startswith(RULE):
        return f"{cause} {count:,}"
    them = "it" if count == 1 else f"{count:,}"
    return f"the rule {cause.removeprefix(RULE)} now holds {them}"


def _share(linked: int, revisions: int) -> str:
    return f"{100 * linked / revisions:.1f} % ({linked:,} of {revisions:,})"


def previous_cut(store: Path, through: date, as_of: date) -> Manifest | None:
    """Find the newest cut of no later time that was known no later; None where there is none."""
    earlier = [
        one
        for one in list_cuts(store)
        if one.through_date <= through.isoformat() and one.known_as_of <= as_of.isoformat()
    ]
    return max(earlier, key=lambda one: (one.through_date, one.known_as_of), default=None)


def compare_with_previous(
    connection: duckdb.DuckDBPyConnection, store: Path, through: date, as_of: date, because: str = ""
) -> Compared | None:
    """
    Compare what was settled for a new cut with the newest earlier one; None where there is none to compare with.

    Raises:
        CutRefused: links were lost or counted operations vanished, and nobody says why.
        StoreError: the earlier cut's file is missing, and nobody says why.
    """
    before = previous_cut(store, through, as_of)
    if before is None:
        return None
    path = cut_path(store, before.cut)
    if not path.is_file():
        if because:
            return Compared(before.cut)
        raise StoreError(
            f"The data cut {before.cut} is listed but its file is missing, so a new one cannot be compared with it. "
            "Restore it from a backup, or say why it is left out with: --because TEXT"
        )
    compared = _compared(connection, path, before.cut, through)
    if compared.reasons and not because:
        held = f" with: regdash held --live --rule {compared.holding[0]}" if compared.holding else ""
        raise CutRefused(
            f"No cut was made: against {before.cut} {'; and '.join(compared.reasons)}. "
            f"Look into it{held}; or say why it is right with: --because TEXT"
        )
    return compared


def _compared(connection: duckdb.DuckDBPyConnection, path: Path, name: str, through: date) -> Compared:
    connection.execute(f"attach {quoted(str(path))} as previous (read_only)")
    try:
        (shares,) = run(connection, "freeze/linked_shares", {"through": through})
        gone = run(connection, "freeze/vanished_operations", {"through": through, "named": NAMED})
    finally:
        connection.execute("detach previous")
    first = [number for _, _, numbers in gone for number in numbers]
    before, linked_before, revisions, linked = shares
    by_cause = {cause: count for cause, count, _ in gone}
    return Compared(name, before, linked_before, revisions, linked, by_cause, tuple(first[:NAMED]))
