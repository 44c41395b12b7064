"""What moved of single units between two data cuts: revisions by cause and window, as `reports.changes` splits them."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from regdash import grouping
from regdash.cohort import Cohort
from regdash.reports.changes import PARTS, text_of
from regdash.signals.model import CONSTRUCTS, IMPLANTS
from regdash.signals.pool import Window
from regdash.store.signal_reviews import Unit
from regdash.store.two_cuts import ChosenUnits, Move, TwoCuts

_PLACE = grouping.parse("joint,class")  # what tells units apart beside their role and code
_PART = {"sizes": "size", "lots": "lot"}


@dataclass
class UnitMoves:
    """Counts of one unit: of the earlier cut in step 0, then what each step adds, in the order of `PARTS`."""

    joints: list[int] = field(default_factory=lambda: [0] * (len(PARTS) + 1))
    revised_on: list[tuple[int, int, int]] = field(default_factory=list)  # step, day, joints

    def revisions(self, window: Window) -> dict[str, int]:
        """Count the revisions in a window that each cause adds, or takes away; those that do neither are left out."""
        found = {name: self._revised(step, window) for step, name in enumerate(PARTS, 1)}
        return {name: count for name, count in found.items() if count}

    def revised_before(self, window: Window) -> int:
        """Count the revisions in a window that the earlier cut had."""
        return self._revised(0, window)

    def _revised(self, step: int, window: Window) -> int:
        last = window.stop
        return sum(
            joints
            for own, day, joints in self.revised_on
            if own == step and day > window.start and (last is None or day <= last)
        )


def unit_moves(two: TwoCuts, cohort: Cohort, units: Sequence[Unit]) -> dict[Unit, UnitMoves]:
    """
    Count what moved of each unit; they are all of one kind.

    Raises:
        Cancelled: from another thread.
    """
    if not units:
        return {}
    chosen = _chosen(units[0].kind, sorted({unit.code for unit in units}))
    found = _counted(units[0].kind, two.moves(cohort.predicate(), [text_of(one) for one in _PLACE], chosen))
    return {unit: found[unit] for unit in units}


def _chosen(kind: str, codes: Sequence[str]) -> ChosenUnits:
    part = None if kind in (IMPLANTS, CONSTRUCTS) else _PART[kind]
    return ChosenUnits(tuple(codes), part, constructs=kind == CONSTRUCTS)


def _counted(kind: str, moves: Iterable[Move]) -> dict[Unit, UnitMoves]:
    found: dict[Unit, UnitMoves] = defaultdict(UnitMoves)
    for move in moves:
        held, joint, joint_class = move.place
        for role, code in ChosenUnits.of(held):
            of_unit = found[Unit(kind, joint, joint_class, role, code)]
            of_unit.joints[move.step] += move.joints
            if move.is_revised:
                of_unit.revised_on.append((move.step, move.day, move.joints))
    return found
