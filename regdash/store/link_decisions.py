"""
What people decided on links: kept in the office file, only ever added to, and applied when a cut is made.
"""

import hashlib
import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import date
from pathlib import Path
from typing import Any

from regdash.store.audit import author, without_patients
from regdash.store.office import now, office_rows, writing_office
from regdash.store.personal_numbers import refuse_personal
from regdash.store.sqlfiles import statement

ACCEPTED, UNDONE = "accepted", "undone"
TABLE = "link_decisions"


@dataclass(frozen=True)
class LinkDecision:
    """One decision on one revision."""

    number: int  # 1, 2, 3 … without gaps
    revision_id: str
    primary_id: str  # that it was joined to, or taken from
    decision: str  # ACCEPTED or UNDONE
    why: str
    decided_by: str  # REGDASH_USER, else the account
    decided_at: str  # UTC, ISO 8601
    superseded_by: int | None = None  # the number of the next decision on this revision

    @property
    def decided_on(self) -> date:
        """Day of the decision, in UTC."""
        return date.fromisoformat(self.decided_at[:10])


def decide(store: Path, revision_id: str, primary_id: str, decision: str, why: str) -> LinkDecision:
    """
    Add a decision, after those of every other process; it supersedes the last one on the same revision.

    Raises:
        InputError: the reason holds what looks like a person's number.
        StoreError: the office file cannot be written.
    """
    why = refuse_personal(why)
    by, own_account = author()
    said = {
        "revision_id": revision_id,
        "primary_id": primary_id,
        "decision": decision,
        "why": without_patients(why),
        "decided_by": without_patients(by),
        "account": own_account,
    }
    with writing_office(store) as office:
        office.execute(statement("office/append_link_decision"), said | {"decided_at": now()})
        *_, last = office.execute(statement("office/link_decisions"), {"as_of": None})
    return LinkDecision(*last)


def decisions_known(store: Path, as_of: date | None = None) -> list[LinkDecision]:
    """
    List the decisions taken up to the end of a day (UTC), oldest first; all of them if none is given.

    Raises:
        StoreError: the office file cannot be read.
    """
    values = {"as_of": as_of.isoformat() if as_of else None}
    return [LinkDecision(*row) for row in office_rows(store, TABLE, "office/link_decisions", values)]


def standing(decisions: Sequence[LinkDecision]) -> list[LinkDecision]:
    """Leave out the decisions that later ones supersede."""
    return [one for one in decisions if one.superseded_by is None]


def summary(decisions: Sequence[LinkDecision]) -> dict[str, Any]:
    """Say for a manifest how many decisions a cut was made with, and a hash over all that they say."""
    told = json.dumps([asdict(one) for one in decisions], sort_keys=True)
    count = len(standing(decisions))
    return {"taken": len(decisions), "standing": count, "hash": hashlib.sha256(told.encode()).hexdigest()}
