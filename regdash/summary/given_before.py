"""What everybody was told before, as the audit trail has it: two editions must not be set off against each other."""

import json
import re
from dataclasses import dataclass
from pathlib import Path

from regdash.errors import SummaryError
from regdash.store.audit import audit_lines
from regdash.summary.quarter import Quarter
from regdash.summary.recipient import PUBLIC
from regdash.summary.released import Released

EXPORT, DONE = "export", "done"
_OF = re.compile(rf"summary (\d{{4}}Q\d) for {PUBLIC}")


@dataclass(frozen=True)
class GivenBefore:
    """One edition for everybody that was made earlier."""

    quarter: str
    cut: str
    day: str


def given_before(store: Path) -> list[GivenBefore]:
    """List the editions for everybody that the audit trail has, in the order in which they were made."""
    found = []
    for line in audit_lines(store, what=EXPORT):
        of = _OF.fullmatch(str(json.loads(line.details or "{}").get("of", "")))
        if of and line.outcome == DONE:
            found.append(GivenBefore(of[1], line.subject, line.at[:10]))
    return found


def unnamed(store: Path, quarter: Quarter, cut: str, named: Released | None) -> GivenBefore | None:
    """
    Find the last edition for everybody from another data cut that --previous does not name; None where all is named.

    Raises:
        SummaryError: it is of the same quarter, so that single joints could be told by the difference.
    """
    others = [one for one in given_before(store) if one.cut != cut]
    same = [one for one in others if one.quarter == str(quarter)]
    if same and (named is None or named.quarter != str(quarter)):
        raise SummaryError(
            f"Everybody was told {quarter} on {same[-1].day}, from data cut {same[-1].cut}. Name that folder with "
            "--previous DIR, or write --first where it was never given out."
        )
    return others[-1] if others and named is None else None
