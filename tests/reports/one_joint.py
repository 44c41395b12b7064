"""One joint and its revisions, and when it leaves follow-up for an endpoint."""

from pathlib import Path
from tempfile import mkdtemp
from typing import Any

from regdash import endpoints
from regdash.reports.counted import count
from regdash.reports.model import IMPLANT_VIEW
from regdash.store.cuts import Cut
from tests.cuts import Row, joint, make_cut
from tests.reports.desks import EVERYTHING

LAST = 5475  # days from the primary of these joints, 2010-01-04, to the end of the cut

SEPTIC = {"day": 400, "reason": "infection", "action": "bearing exchange only"}
INSERT = {"day": 400, "reason": "instability", "action": "bearing exchange only"}
PATELLA = {
    "day": 400,
    "reason": "patellofemoral, erosion",
    "action": "component added",
    "patella_added_only": True,
}
TIBIA = {"day": 900, "reason": "loosening, tibial", "action": "one component exchanged"}
CONVERTED = {"day": 900, "reason": "progression of disease", "action": "partial to total"}
SPACER = {"day": 400, "reason": "infection", "action": "removal with spacer", "stage": "first of two"}
AGAIN = {"day": 1000, "reason": "instability", "action": "bearing exchange only", "stage": "single"}


def revised(*episodes: Row, **more: Any) -> Row:
    """A joint with these revisions; the first says when follow-up to any revision ends."""
    first = {"reason": "loosening, tibial", "action": "one component exchanged"} | episodes[0]
    given = {"days": first["day"], "reason": first["reason"], "action": first["action"]} | more
    return joint(ended="revised", episodes=[first, *episodes[1:]], **given)


def left(folder: Path, row: Row, endpoint: str, view: str = IMPLANT_VIEW) -> tuple[int, str] | None:
    """When one joint leaves follow-up for an endpoint, and how; None where it is not followed."""
    cut = Cut(make_cut(Path(mkdtemp(dir=folder)), [row]))
    table = count(cut, EVERYTHING, endpoint=endpoints.named(endpoint), view=view).table
    if not len(table.joints):
        return None
    ((day, outcome),) = zip(table.day.tolist(), table.outcome.tolist(), strict=True)
    return day, table.outcomes[outcome]


def half(*episodes: Row, **more: Any) -> Row:
    return revised(*episodes, class_="partial", construct="UF-001/UT-001", **more)
