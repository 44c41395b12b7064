"""Two data cuts of one store, a year apart: each femoral implant is a signal in one of them, in both or in none."""

from datetime import date, timedelta
from pathlib import Path

from tests.cuts import Row, joint, make_cut

EARLIER, LATER = "2023-12-31.1", "2024-12-31.1"
STARTED = date(2015, 1, 5)
# Implant: its joints in the earlier cut and those that come until the later one; of them revised in each.
IMPLANTS = {
    "KF-001": (300, 0, 10, 10),  # the others, never
    "KF-002": (60, 0, 14, 15),  # again
    "KF-003": (60, 0, 4, 16),  # first
    "KF-004": (60, 500, 13, 15),  # not any more: many more joints, and hardly a revision
    "KF-005": (6, 54, 2, 15),  # first: too few before
    "KF-006": (0, 60, 0, 15),  # first: not in use before
    "KF-007": (60, 0, 15, 5),  # not any more: revisions were taken off their joints
    "KF-008": (60, 0, 2, 2),  # never
}


def made(store: Path) -> Path:
    """Make both cuts."""
    make_cut(store, _joints(later=False), name=EARLIER)
    return make_cut(store, _joints(later=True), name=LATER)


def _joints(*, later: bool) -> list[Row]:
    """Those of the earlier cut first, so that a joint has the same record in both."""
    places = [(code, place) for code, (had, *_) in IMPLANTS.items() for place in range(had)]
    if later:
        places += [(code, had + n) for code, (had, came, *_) in IMPLANTS.items() for n in range(came)]
    return [_joint(code, place, IMPLANTS[code], later) for code, place in places]


def _joint(code: str, place: int, counts: tuple[int, int, int, int], later: bool) -> Row:
    _, _, before, now = counts
    through = date(2024 if later else 2023, 12, 31)
    implanted = STARTED + timedelta(days=place % 200)
    more: Row = {"days": (through - implanted).days}
    if place < (now if later else before):
        on = implanted + timedelta(days=400 + 10 * place)
        if place >= before:  # it is new in the later cut
            on = date(2024, 3, 1) + timedelta(days=place)
        more = {"ended": "revised", "reason": "infection", "days": (on - implanted).days}
    return joint(construct=f"{code}/KT-001", implanted_date=implanted, **more)
