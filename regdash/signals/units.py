"""Which unit each primary's components are: an implant, a construct, or an implant's size or lot."""

from dataclasses import dataclass

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

    def of_role(self, role: int) -> tuple[np.ndarray, np.ndarray]:
        """The joints with a unit in a role, and the unit of each; no joint has one unit twice."""
        rows = np.flatnonzero(self.role == role)
        joint_no, unit = self.joint_no[rows], self.unit[rows]
        often = np.bincount(joint_no)[joint_no] > 1 if len(rows) else rows > 0
        if not often.any():
            return joint_no, unit
        pairs = np.unique(np.stack([joint_no[often], unit[often]]), axis=1)
        once = np.logical_not(often)
        return np.concatenate([joint_no[once], pairs[0]]), np.concatenate([unit[once], pairs[1]])


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
    found = {"joint_no": joint_no, "role": np.zeros(len(joint_no), dtype=np.int64), "unit": construct}
    return _recorded(codes, [tuple(code.split("/")) for code in codes], (CONSTRUCT,), found)


def _recorded(
    codes: tuple[str, ...],
    implants: list[tuple[str, ...]],
    roles: tuple[str, ...],
    found: dict[str, np.ndarray],
) -> Units:
    """Keep the lines of implants that are recorded, and are parts of the joint."""
    unknown = np.array([NOT_RECORDED in names for names in implants], dtype=bool)
    material = np.array([role in MATERIAL_ROLES for role in roles], dtype=bool)
    joint_no, role, unit = (np.asarray(found[name]).astype(np.int64) for name in ("joint_no", "role", "unit"))
    if unknown.any() or material.any():
        keep = np.logical_not(unknown[unit] | material[role])
        joint_no, role, unit = joint_no[keep], role[keep], unit[keep]
    return Units(codes, tuple(implants), roles, joint_no, role, unit)
