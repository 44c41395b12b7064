"""
Links for people to look at: the primaries that revisions without one could belong to, what was decided on them, and two
records side by side.
"""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from regdash.cohort import Cohort
from regdash.errors import FilterError
from regdash.reports.policy import Policy
from regdash.reports.reviewed_links import OPEN, PairLine, PairReport, ReviewReport, ReviewRow
from regdash.reports.submitted_rows import RowsHead
from regdash.store.acts import written_down
from regdash.store.cuts import Cut
from regdash.store.link_decisions import LinkDecision, decisions_known, standing
from regdash.store.links import Candidate, accept, candidates_in, undecided, undo
from regdash.store.sqlfiles import sql_file, statement

WORDS = ("joint", "hospital")  # filter words that choose among revisions here
METHOD = (
    "A rule joins a revision to the primary of its patient, joint and side. Where there is none, or a held one "
    "contests it, primaries are looked for by serial number, by a pseudonym that differs in one sign or in two "
    "neighbours that changed places, and on the other side. Likely and possible say what else the two have in common."
)
COUNTS_NOWHERE = "A revision without a primary counts in no risk: each makes risks look lower."
NEXT_FREEZE = "A decision counts from the next freeze on; until then figures are as they were."
HELD_IS_FOR_ITS_HOSPITAL = "Where a record is held, its hospital must correct it, and nobody can accept the link."
IS_HELD = "no: held until its hospital corrects it"
NO_CARE = "Two records that agree may still be of two patients. Nothing here is advice for one patient."
# What two records of one joint say alike; other fields may differ.
ALIKE = ("patient", "sex", "birth_year", "height", "joint", "side")
SAID = {"birth_year": "year of birth", "height": "height, cm"}


def review_report(cut: Cut, policy: Policy, cohort: Cohort) -> ReviewReport:
    """
    Answer: which revisions wait for somebody to say which primary is theirs, and what was said so far?

    Raises:
        PolicyError: small counts are withheld, and this is a list of records.
    """
    policy.refuse_single("a list of links")
    found, decisions = candidates_in(cut), standing(decisions_known(cut.store))
    rows = [_open(one) for one in undecided(found, decisions)]
    rows += [_decided(cut, one, found) for one in reversed(decisions)]
    about = [c for c in cohort.conditions if c.key in WORDS]
    kept = [row for row in rows if all((getattr(row, c.key) in map(str, c.values)) != c.negated for c in about)]
    words = tuple(map(str, about))
    left_out = tuple(word for word in cohort.words if word not in words)
    cautions = (COUNTS_NOWHERE, NEXT_FREEZE, HELD_IS_FOR_ITS_HOSPITAL, NO_CARE)
    return ReviewReport(RowsHead("links to review", words, left_out, cut.name, METHOD, cautions), tuple(kept))


def _open(one: Candidate) -> ReviewRow:
    revised = one.revision_date.isoformat()
    names = (one.revision_id, one.primary_id, one.joint, one.hospital, revised)
    return ReviewRow(*names, one.method, one.confidence, one.agrees, one.is_held, OPEN)


def _decided(cut: Cut, one: LinkDecision, found: Sequence[Candidate]) -> ReviewRow:
    """Say a decision, with what spoke for the link where a rule had found it."""
    told = f"{one.decided_by}, {one.decided_at[:10]}: {one.why}"
    candidate = next((c for c in found if (c.revision_id, c.primary_id) == (one.revision_id, one.primary_id)), None)
    if candidate is not None:
        opened = _open(candidate)
        facts = (opened.joint, opened.hospital, opened.revised, opened.method, opened.confidence, opened.agrees)
    else:
        records = _records(cut, one.revision_id, one.primary_id)
        revision = records.get(one.revision_id, {})
        joint, hospital, revised = (revision.get(key) or "" for key in ("joint", "hospital", "date"))
        method = "same patient, joint and side" if _alike(records, one) else "by decision"
        facts = (joint, hospital, revised, method, "", "")
    return ReviewRow(one.revision_id, one.primary_id, *facts, False, one.decision, told)


def _alike(records: dict[str, dict[str, str | None]], one: LinkDecision) -> bool:
    both = [records.get(name, {}) for name in (one.revision_id, one.primary_id)]
    return all(both) and len({tuple(record[key] for key in ("patient", "joint", "side")) for record in both}) == 1


def pair_report(cut: Cut, policy: Policy, revision_id: str, primary_id: str) -> PairReport:
    """
    Answer: what do a revision and a primary say, side by side?

    Raises:
        PolicyError: small counts are withheld, and these are single records.
        FilterError: nobody asks about such a link.
    """
    report = review_report(cut, policy, Cohort())
    row = next((row for row in report.rows if (row.revision, row.primary) == (revision_id, primary_id)), None)
    if row is None:
        raise FilterError(f"{revision_id} and {primary_id} are no link to review in data cut {cut.name}.")
    records = _records(cut, revision_id, primary_id)
    lines = [*_fields(records, row), *_components(cut, row)]
    return PairReport(report.head, row, tuple(lines))


def _records(cut: Cut, *operation_ids: str) -> dict[str, dict[str, str | None]]:
    names = list(sql_file("queries/link_records").columns)
    rows = cut.rows(statement("queries/link_records"), operation_ids=list(operation_ids))
    return {row[0]: dict(zip((name for name, _ in names), row, strict=True)) for row in rows}


def _fields(records: dict[str, dict[str, str | None]], row: ReviewRow) -> list[PairLine]:
    """Write the fields that either record has."""
    left, right = (records.get(name) for name in (row.revision, row.primary))
    lines = [PairLine("record", row.revision, row.primary, None)]
    if left is None or right is None:
        counted, of_primary = ("yes" if one else IS_HELD for one in (left, right))
        lines.append(PairLine("counted", counted, of_primary, None))
    for key in left or right or {}:
        values = ((left or {}).get(key), (right or {}).get(key))
        if key != "operation_id" and any(values):
            same = values[0] == values[1] if key in ALIKE and all(values) else None
            lines.append(PairLine(SAID.get(key, key), *values, same))
    return lines


def _components(cut: Cut, row: ReviewRow) -> list[PairLine]:
    """Set what came out beside what had gone in, role by role; then what the revision put in."""
    found = cut.rows(statement("queries/link_components"), operation_ids=[row.revision, row.primary])
    out, put, went_in = (
        [part for part in found if (part[0], part[2]) == which]
        for which in ((row.revision, "removed"), (row.revision, "implanted"), (row.primary, "implanted"))
    )
    lines = []
    for role in dict.fromkeys(part[3] for part in (*out, *went_in)):
        came, had = ([part for part in parts if part[3] == role] for parts in (out, went_in))
        for n in range(max(len(came), len(had))):
            one, other = (came[n] if n < len(came) else None, had[n] if n < len(had) else None)
            # A number that one of them does not give cannot differ.
            same = all(a == b or not (a and b) for a, b in zip(one[4:], other[4:])) if one and other else None
            lines.append(PairLine(f"{role}: out, in", _part(one), _part(other), same))
    return lines + [PairLine(f"{part[3]}: put in", _part(part), None, None) for part in put]


def _part(part: tuple[Any, ...] | None) -> str | None:
    if part is None:
        return None
    *_, catalogue_no, lot, serial = part
    return catalogue_no + (f" lot {lot}" if lot else "") + (f" serial {serial}" if serial else "")


def accept_link(store: Path, revision_id: str, primary_id: str, why: str) -> LinkDecision:
    """Join a revision to a primary from the next freeze on, and write that down; raises as `links.accept`."""
    with written_down(store, "link-accepted", revision_id, why) as act:
        decision = accept(store, revision_id, primary_id, why)
        act.details = {"decision": decision.number, "primary": primary_id}
    return decision


def undo_link(store: Path, revision_id: str, why: str) -> LinkDecision:
    """Take a revision from its primary from the next freeze on, and write that down; raises as `links.undo`."""
    with written_down(store, "link-undone", revision_id, why) as act:
        decision = undo(store, revision_id, why)
        act.details = {"decision": decision.number, "primary": decision.primary_id}
    return decision
