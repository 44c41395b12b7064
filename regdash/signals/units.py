"""Which unit each primary's components are: an implant, a construct, or an implant's size or lot."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from regdash.signals.model import CONSTRUCTS, IMPLANTS, SIZES
from regdash.store.cuts import Cut
from regdash.store.sqlfiles import statement
from regdash.vocabulary import MATERIAL_ROLES, NOT_RECORDED

CONSTRUCT = "construct"
_PART = {"sizes": "size", "lots": "lot"}


@dataclass(frozen=True, eq=False)
class Units:
    """Lines that say of a joint which unit it has in a role."""

    codes: tuple[str, ...]
    implants: tuple[tuple[str, ...], ...]  # that each unit is, or is made of
    roles: tuple[str, ...]
    joint_no: np.ndarray  # (r,) int
    role: np.ndarray  # (r,) int, place in `roles`
    unit: np.ndarray  # (r,) int, place in `codes`

    @cached_property
    def _unknown(self) -> np.ndarray:
        """(units,) bool: an implant of it is not recorded."""
        return np.array([NOT_RECORDED in names for names in self.implants], dtype=bool)

    @cached_property
    def _in_order(self) -> tuple[np.ndarray, np.ndarray]:
        """The lines in the order of their roles, and where each role begins."""
        order = np.argsort(self.role, kind="stable")
        return order, np.insert(np.cumsum(np.bincount(self.role, minlength=len(self.roles))), 0, 0)

    @property
    def roles_there(self) -> list[int]:
        """Roles that some joint has a unit in, but for those that are no part of a joint."""
        size = np.diff(self._in_order[1]).tolist()
        return [n for n, role in enumerate(self.roles) if size[n] and role not in MATERIAL_ROLES]

    def of_role(self, role: int) -> tuple[np.ndarray, np.ndarray]:
        """The joints with a recorded unit in a role, and the unit of each; no joint has one unit twice."""
        order, starts = self._in_order
        rows = order[starts[role] : starts[role + 1]]
        joint_no, unit = self.joint_no[rows], self.unit[rows]
        if self._unknown.any():
            known = np.logical_not(self._unknown[unit])
            joint_no, unit = joint_no[known], unit[known]
        if not several_times(joint_no):
            return joint_no, unit
        often = np.bincount(joint_no)[joint_no] > 1
        pairs = np.unique(np.stack([joint_no[often], unit[often]]).astype(np.int64), axis=1)
        once = np.logical_not(often)
        return np.concatenate([joint_no[once], pairs[0]]), np.concatenate([unit[once], pairs[1]])


def several_times(numbers: np.ndarray) -> bool:
    """Whether a number from 0 up is there more than once."""
    seen = np.zeros(int(numbers.max(initial=-1)) + 1, dtype=bool)
    seen[numbers] = True
    return int(np.count_nonzero(seen)) < len(numbers)


def units_of(cut: Cut, kind: str, construct: tuple[np.ndarray, np.ndarray]) -> Units:
    """
    Find the units of a kind that primaries of a cut hold.

    Args:
        kind: one of `model.KINDS`.
        construct: of the joints asked about, their numbers and the places of their constructs in the cut's list.
    """
    if kind == CONSTRUCTS:
        return _constructs(cut, *construct)
    roles = cut.words["role_words"]
    if kind == IMPLANTS:
        codes = cut.words["implant_codes"]
        return _recorded(codes, [(code,) for code in codes], roles, cut.columns(statement("queries/screened_implants")))
    names = cut.rows(statement("queries/screened_part_names", part=_PART[kind]))
    word = "size" if kind == SIZES else "lot"
    codes = tuple(f"{implant} {word} {part}" for implant, part in names)
    found = cut.columns(statement("queries/screened_parts", part=_PART[kind]))
    return _recorded(codes, [(implant,) for implant, _ in names], roles, found)


def withdrawn(cut: Cut) -> set[str]:
    """The implants that were withdrawn by the end of the cut."""
    query = statement("queries/withdrawn_implants")
    return {implant for (implant,) in cut.rows(query, through=cut.manifest.through_date)}


def _constructs(cut: Cut, joint_no: np.ndarray, construct: np.ndarray) -> Units:
    codes = cut.words["construct_codes"]
    none = np.zeros(len(joint_no), dtype=np.uint8)
    return Units(codes, tuple(tuple(code.split("/")) for code in codes), (CONSTRUCT,), joint_no, none, construct)


def _recorded(
    codes: tuple[str, ...],
    implants: list[tuple[str, ...]],
    roles: tuple[str, ...],
    found: dict[str, np.ndarray],
) -> Units:
    return Units(codes, tuple(implants), roles, found["joint_no"], found["role"].astype(np.uint8), found["unit"])
