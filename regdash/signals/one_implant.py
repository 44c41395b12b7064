"""The joints of one implant and all that it is compared with, fetched once for everything that is asked about them."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from regdash import grouping
from regdash.grouping import Grouping
from regdash.reports.model import LeftOut
from regdash.reports.use import CONSTRUCT, Use
from regdash.stats.design import distinct_patterns
from regdash.stats.events import FIRST_REASON
from regdash.stats.own_and_others import OwnAndOthers
from regdash.store.cuts import Cut
from regdash.store.event_counts import REASON_GROUP
from regdash.store.sqlfiles import statement
from regdash.vocabulary import MATERIAL_ROLES, NOT_RECORDED

LEVELS = grouping.parse("sex,age,implanted:5,hospital,surgeon")  # what its joints are split by
_NOT_ADJUSTED_FOR = ("joint", "class")  # all joints that are compared have one of each


@dataclass(frozen=True, eq=False)
class Lines:
    """Components of the primaries, one entry each, of joints that are compared."""

    place: np.ndarray  # (r,) int, place of the joint
    role: np.ndarray  # (r,) int, place in `roles`
    implant: np.ndarray  # (r,) int, place in `codes`
    roles: tuple[str, ...]
    codes: tuple[str, ...]

    def of_role(self, role: str, size: int) -> np.ndarray:
        """(size,) the implant that each joint has in a role; -1 where none is recorded. Of several, one counts."""
        found = np.full(size, -1, dtype=np.int64)
        rows = np.flatnonzero(self.role == self.roles.index(role))
        found[self.place[rows]] = self.implant[rows]
        return found


@dataclass(frozen=True, eq=False)
class OneImplant:
    """
    One implant's joints and all others of its class that have an implant in its role, one entry each.

    Joints with implants that are withdrawn or confirmed are in no comparison group, as in a screen.
    """

    cut: Cut
    use: Use
    adjust: tuple[Grouping, ...]
    joint_no: np.ndarray  # (n,) int64
    everything: OwnAndOthers  # of all of them; the stratum of a joint that lacks a field is 0 and means nothing
    stratified: np.ndarray  # (n,) bool, has every field that is adjusted for
    levels: dict[str, np.ndarray]  # (n,) int each, numbers of a grouping in LEVELS, by its key
    lines: Lines
    reasons: tuple[str, ...]  # cause n is the nth of these, from 1
    left_out: tuple[LeftOut, ...]
    apart: tuple[str, ...]  # the implants whose joints are in no comparison group

    def __len__(self) -> int:
        return len(self.joint_no)

    @cached_property
    def rows(self) -> np.ndarray:
        """Places of the joints that have every field that is adjusted for."""
        return np.flatnonzero(self.stratified)

    @cached_property
    def them(self) -> OwnAndOthers:
        """The same joints as two bodies to be compared."""
        return self.everything if self.stratified.all() else self.everything.only(self.rows)

    @property
    def own(self) -> np.ndarray:
        """(n,) bool."""
        return self.everything.own

    def label(self, key: str, number: int) -> str:
        """Name a level."""
        return _LEVEL[key].label(number, self.cut.known)

    def word(self, key: str, number: int) -> str:
        """The filter word of a level."""
        return _LEVEL[key].word(number, self.cut.known)


_LEVEL = {one.field.key: one for one in LEVELS}


def one_implant(cut: Cut, use: Use, adjust: Sequence[Grouping], apart: Collection[str]) -> OneImplant:
    """
    Fetch the joints of an implant and those that it is compared with.

    Args:
        adjust: fields that make the strata.
        apart: implants that are in nobody's comparison group.
    """
    unused = (*_NOT_ADJUSTED_FOR, *([CONSTRUCT] if use.kind == CONSTRUCT else []))
    adjust = tuple(one for one in adjust if one.field.key not in unused)
    columns = _fetched(cut, use, adjust)
    lines = _lines(cut, columns["joint_no"])
    own, compared = _sides(cut, use, columns, lines, set(apart))
    keep = np.flatnonzero(own | compared)
    place = np.full(len(own), -1)
    place[keep] = np.arange(len(keep))
    columns = {name: column[keep] for name, column in columns.items()}
    stratified, stratum, left_out = _strata(cut, adjust, columns)
    cause = np.where(columns["outcome"] >= FIRST_REASON, columns["outcome"] - FIRST_REASON + 1, 0)
    there = np.flatnonzero(place[lines.place] >= 0)
    kept = Lines(place[lines.place[there]], lines.role[there], lines.implant[there], lines.roles, lines.codes)
    words = cut.words[f"{REASON_GROUP}_words"]
    return OneImplant(
        cut=cut,
        use=use,
        adjust=adjust,
        joint_no=columns["joint_no"],
        everything=OwnAndOthers(own[keep], stratum, columns["day"], cause),
        stratified=stratified,
        levels={one.field.key: columns[str(one)] for one in LEVELS},
        lines=kept,
        reasons=words if NOT_RECORDED in words else (*words, NOT_RECORDED),
        left_out=left_out,
        apart=_held(lines, set(apart), None if use.kind == CONSTRUCT else use.main.role),
    )


def _fetched(cut: Cut, use: Use, adjust: Sequence[Grouping]) -> dict[str, np.ndarray]:
    groupings = {str(one): one for one in (*LEVELS, *adjust)}
    fields = {"joint_no": "joint_no", "construct": "enum_code(construct)::integer"}
    fields |= {name: one.sql() for name, one in groupings.items()}
    predicate = use.within.predicate()
    query = statement(
        "queries/event_rows",
        grouping="".join(f"{sql} as g{number}, " for number, sql in enumerate(fields.values())),
        reason=REASON_GROUP,
        no_reason=str(len(cut.words[f"{REASON_GROUP}_words"])),
        predicate=predicate.sql,
    )
    parts = cut.columns_in_parts(query, **predicate.parameters)
    names = {**{f"g{number}": name for number, name in enumerate(fields)}, "day": "day", "outcome": "outcome"}
    return {name: np.concatenate([part[given] for part in parts]).astype(np.int64) for given, name in names.items()}


def _lines(cut: Cut, joint_no: np.ndarray) -> Lines:
    found = cut.columns(statement("queries/screened_implants"))
    place = np.full(max(int(joint_no.max(initial=-1)), int(found["joint_no"].max(initial=-1))) + 1, -1)
    place[joint_no] = np.arange(len(joint_no))
    at = place[found["joint_no"]]
    there = np.flatnonzero(at >= 0)
    roles, codes = cut.words["role_words"], cut.words["implant_codes"]
    role, implant = found["role"][there].astype(np.int64), found["unit"][there]
    known = np.array([code != NOT_RECORDED for code in codes], dtype=bool)[implant]
    known &= np.array([name not in MATERIAL_ROLES for name in roles], dtype=bool)[role]
    return Lines(at[there][known], role[known], implant[known].astype(np.int64), roles, codes)


def _sides(
    cut: Cut, use: Use, columns: dict[str, np.ndarray], lines: Lines, apart: set[str]
) -> tuple[np.ndarray, np.ndarray]:
    """(n,) bool each: its own joints, and those that it is compared with."""
    size = len(columns["joint_no"])
    out = np.array([code in apart for code in lines.codes], dtype=bool)
    if use.kind == CONSTRUCT:
        codes = cut.words["construct_codes"]
        own = columns["construct"] == codes.index(use.code)
        gone = np.array([not apart.isdisjoint((code, *code.split("/"))) for code in codes], dtype=bool)
        unknown = np.array([NOT_RECORDED in code.split("/") for code in codes], dtype=bool)
        return own, ~own & ~(gone | unknown)[columns["construct"]]
    in_role = lines.role == lines.roles.index(use.main.role)
    own, compared = np.zeros(size, dtype=bool), np.zeros(size, dtype=bool)
    own[lines.place[in_role & (lines.implant == lines.codes.index(use.code))]] = True
    compared[lines.place[in_role & ~out[lines.implant]]] = True
    return own, compared & ~own


def _strata(
    cut: Cut, adjust: Sequence[Grouping], columns: dict[str, np.ndarray]
) -> tuple[np.ndarray, np.ndarray, tuple[LeftOut, ...]]:
    """(n,) bool, has every field; (n,) int, its stratum; and how many lack which field."""
    size = len(columns["joint_no"])
    known, codes, sizes, left_out = np.ones(size, dtype=bool), [], [], []
    for one in adjust:
        level = columns[str(one)]
        least = int(level.min(initial=0))
        seen = np.flatnonzero(np.bincount(level - least)) + least
        lacking = [each for each in seen.tolist() if one.label(each, cut.known) == NOT_RECORDED]
        lacks = np.isin(level, lacking) if lacking else np.zeros(size, dtype=bool)
        left_out += [LeftOut(one.field.key, int(lacks.sum()))] if lacks.any() else []
        known &= ~lacks
        codes.append(level - least)
        sizes.append(int(level.max(initial=0)) - least + 1)
    stratum = distinct_patterns(codes, sizes)[0] if codes else np.zeros(size, dtype=np.int64)
    return known, np.where(known, stratum, 0), tuple(left_out)


def _held(lines: Lines, apart: set[str], role: str | None) -> tuple[str, ...]:
    """The implants of a role, or of any, that are apart and that some of the joints have."""
    there = lines.implant if role is None else lines.implant[lines.role == lines.roles.index(role)]
    return tuple(lines.codes[number] for number in np.unique(there).tolist() if lines.codes[number] in apart)
