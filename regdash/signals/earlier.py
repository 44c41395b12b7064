"""The screen of an earlier data cut, made again with the settings and reviews of today, and what moved since."""

from collections.abc import Callable, Collection
from contextlib import closing
from dataclasses import dataclass

from regdash.cohort import Cohort
from regdash.errors import StoreError
from regdash.signals.model import ScreenReport
from regdash.signals.unit_moves import UnitMoves, unit_moves
from regdash.store.cuts import Cut, Manifest, check_layout, find_cut, list_cuts
from regdash.store.signal_reviews import Unit
from regdash.store.two_cuts import TwoCuts


def earlier_cut(cut: Cut, wanted: str | None = None) -> Manifest | None:
    """
    Find the cut that another is compared with: that of the through-date before, its last, unless one is named.

    Returns:
        None where there is no earlier one.

    Raises:
        StoreError: the one named is not there, or is not earlier.
    """
    own = cut.manifest
    if wanted is None:
        before = [one for one in list_cuts(cut.store) if one.through_date < own.through_date]
        return before[-1] if before else None
    found = find_cut(cut.store, wanted)
    if found.through_date >= own.through_date:
        raise StoreError(f"Data cut {found.cut} is not of an earlier time than {own.cut}, so nothing is new since.")
    return found


@dataclass(frozen=True)
class Earlier:
    """An earlier cut beside the one that is asked."""

    cut: Cut
    manifest: Manifest

    def screened(self, screen: Callable[[Cut], ScreenReport]) -> ScreenReport:
        """Screen the earlier cut; cancelling the question of the later one ends it too."""
        with closing(Cut(self.cut.store, self.manifest.cut)) as other, other.asking(self.cut.question):
            return screen(other)

    def moves(self, cohort: Cohort, units: Collection[Unit]) -> dict[Unit, UnitMoves]:
        """Count what moved of some units since; neither cut ever changes, so that it is counted once."""
        if not units:
            return {}
        asked = ("moves", self.manifest.cut, str(cohort), frozenset(units))
        return self.cut.remembered.get(asked, lambda: self._counted(cohort, units), len)

    def _counted(self, cohort: Cohort, units: Collection[Unit]) -> dict[Unit, UnitMoves]:
        with closing(TwoCuts(self.cut.store, self.manifest, self.cut.manifest, self.cut.question)) as two:
            return unit_moves(two, cohort, sorted(units, key=str))

    def why_not(self) -> str | None:
        """Say why it cannot be read, or None."""
        try:
            check_layout(self.manifest)
        except StoreError as refusal:
            return str(refusal)
        return None
