"""
Which revisions of a data cut have a primary, which could have one, and what people decide about single links.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from regdash.errors import FilterError, LinkError
from regdash.store.cuts import Cut
from regdash.store.held import refuse_unknown
from regdash.store.link_decisions import ACCEPTED, UNDONE, LinkDecision, decide, decisions_known, standing
from regdash.store.sqlfiles import statement
from regdash.suggest import nearest

# Fields that links are counted by, and what each is in a cut.
FIELDS = {
    "hospital": "o.hospital_id::varchar",
    "year": "year(o.operation_date)",
    "joint": "o.joint::varchar",
    "method": "l.method",
    "confidence": "coalesce(l.confidence, 'not linked')",
    "class": "coalesce(l.cause, 'linked')",
}


@dataclass(frozen=True)
class LinkShare:
    """Revisions of one group."""

    group: tuple[str | int, ...]
    revisions: int
    linked: int
    by_decision: int  # of those linked

    @property
    def share(self) -> float:
        """Linked share."""
        return self.linked / self.revisions


@dataclass(frozen=True)
class Candidate:
    """A primary that a revision could belong to, and what speaks for it."""

    revision_id: str
    hospital: str  # of the revision
    joint: str
    revision_date: date
    primary_id: str
    primary_date: date | None  # None where it is held, or after the cut's through-date
    method: str
    confidence: str
    same_side: bool
    same_sex: bool
    same_birth_year: bool
    same_component: bool
    is_held: bool  # its hospital must answer

    @property
    def agrees(self) -> str:
        """Name what the two records have in common."""
        said = {
            "side": self.same_side,
            "sex": self.same_sex,
            "birth year": self.same_birth_year,
            "component": self.same_component,
        }
        return ", ".join(name for name, same in said.items() if same) or "nothing"


@dataclass(frozen=True)
class _Record:
    kind: str
    joint: str
    operation_date: date
    primary_id: str | None


def link_shares(
    store: Path,
    cut: str | None = None,
    by: Sequence[str] = ("hospital", "year"),
    hospital: str | None = None,
    *,
    unlinked: bool = False,
) -> tuple[str, list[LinkShare]]:
    """
    Count the revisions of a cut and those that have a primary, by group; and name the cut.

    Args:
        by: keys of FIELDS.
        hospital: revisions of one hospital; all if None.
        unlinked: only revisions without a primary.

    Raises:
        StoreError: there is no such cut.
        FilterError: there is no such field or hospital.
    """
    for field in by:
        if field not in FIELDS:
            raise FilterError(f"Links are not counted by {field}. {nearest(field, FIELDS, len(FIELDS))}")
    opened = Cut(store, cut)
    try:
        refuse_unknown(opened, hospital)
        grouping = "".join(f"{FIELDS[field]}, " for field in by)
        which = "l.primary_operation_id is null" if unlinked else "true"
        asked = statement("queries/link_shares", grouping=grouping, which=which)
        rows = opened.rows(asked, hospital=hospital)
    finally:
        opened.close()
    # Without a group there is one row, of nothing where there are no revisions.
    return opened.name, [LinkShare(tuple(row[:-3]), *row[-3:]) for row in rows if row[-3]]


def candidates(store: Path, cut: str | None = None, hospital: str | None = None) -> tuple[str, list[Candidate]]:
    """
    List the primaries that revisions could belong to and nobody has decided on, and name the cut.

    Raises:
        StoreError: there is no such cut.
        FilterError: there is no such hospital.
    """
    opened = Cut(store, cut)
    try:
        return opened.name, undecided(candidates_in(opened, hospital), standing(decisions_known(store)))
    finally:
        opened.close()


def candidates_in(opened: Cut, hospital: str | None = None) -> list[Candidate]:
    """
    List the candidates of a cut that is open, whatever was decided on them.

    Raises:
        FilterError: there is no such hospital.
    """
    refuse_unknown(opened, hospital)
    return [Candidate(*row) for row in opened.rows(statement("queries/link_review"), hospital=hospital)]


def undecided(found: Sequence[Candidate], decisions: Sequence[LinkDecision]) -> list[Candidate]:
    """Leave out what decisions that stand have settled: every candidate of a joined revision, and links undone."""
    joined = {one.revision_id for one in decisions if one.decision == ACCEPTED}
    undone = {(one.revision_id, one.primary_id) for one in decisions if one.decision == UNDONE}
    return [one for one in found if one.revision_id not in joined and (one.revision_id, one.primary_id) not in undone]


def accept(store: Path, revision_id: str, primary_id: str, why: str) -> LinkDecision:
    """
    Join a revision to a primary, from the next freeze on.

    Raises:
        LinkError: the newest cut has no such revision or primary, they do not fit, or the revision has a primary.
        StoreError: there is no cut, or the office file cannot be written.
    """
    why = _checked_why(why)
    opened = Cut(store)
    try:
        revision = _revision(opened, revision_id)
        primary = _record(opened, primary_id)
    finally:
        opened.close()
    if primary is None or primary.kind != "primary":
        raise LinkError(f"The data cut {opened.name} has no primary {primary_id} that counts. Name one that it has.")
    if primary.joint != revision.joint:
        raise LinkError(
            f"{primary_id} is a {primary.joint} and {revision_id} a {revision.joint}; name another primary."
        )
    if primary.operation_date > revision.operation_date:
        raise LinkError(f"{primary_id} is of {primary.operation_date}, after the revision; name an earlier primary.")
    has = _stands(store, revision_id, revision.primary_id)
    if has == primary_id:
        raise LinkError(f"{revision_id} is joined to {primary_id} already.")
    if has:
        undo_it = f"regdash links undo {revision_id} --why TEXT"
        raise LinkError(f"{revision_id} is joined to {has}. Undo that first, with: {undo_it}")
    return decide(store, revision_id, primary_id, ACCEPTED, why)


def undo(store: Path, revision_id: str, why: str) -> LinkDecision:
    """
    Take a revision from its primary, from the next freeze on, whether a rule or a person had joined them.

    Raises:
        LinkError: the newest cut has no such revision, or it has no primary.
        StoreError: there is no cut, or the office file cannot be written.
    """
    why = _checked_why(why)
    opened = Cut(store)
    try:
        revision = _revision(opened, revision_id)
    finally:
        opened.close()
    has = _stands(store, revision_id, revision.primary_id)
    if has is None:
        raise LinkError(f"{revision_id} is joined to no primary, so there is no link to undo.")
    return decide(store, revision_id, has, UNDONE, why)


def _checked_why(why: str) -> str:
    if not why.strip():
        raise LinkError("A decision on a link needs its reason. Say why, in a few words.")
    return why.strip()


def _record(opened: Cut, operation_id: str) -> _Record | None:
    rows = opened.rows(statement("queries/link_of"), operation_id=operation_id)
    return _Record(*rows[0]) if rows else None


def _revision(opened: Cut, revision_id: str) -> _Record:
    found = _record(opened, revision_id)
    if found is not None and found.kind == "revision":
        return found
    told = f"The data cut {opened.name} has no revision {revision_id} that counts."
    raise LinkError(f"{told} One that is held is for its hospital to correct: see regdash held.")


def _stands(store: Path, revision_id: str, in_cut: str | None) -> str | None:
    """Tell which primary a revision has once the decisions taken since are applied."""
    decided = [one for one in standing(decisions_known(store)) if one.revision_id == revision_id]
    if not decided:
        return in_cut
    if decided[0].decision == ACCEPTED:
        return decided[0].primary_id
    return None if in_cut == decided[0].primary_id else in_cut
