"""
Joints that were revised again and again, drawn at random, and a plain reading of when each leaves follow-up for an
endpoint: joint by joint, written differently from the database's.
"""

import random
from collections.abc import Sequence

from regdash import vocabulary
from regdash.endpoints import ENDPOINTS
from tests.cuts import Row, component, random_joints

DAYS_OF_A_YEAR = 365
FLAGS = ("bone_fixed_removed", "bearing_only", "patella_added_only", "to_total", "to_reverse", "emptied")


def random_chains(count: int, seed: int, ties: bool = True, joints: Sequence[str] = ("knee",)) -> list[Row]:
    """
    Draw joints of which half are revised up to four times, with open first stages and components taken out.

    Args:
        ties: let a joint be revised twice on a day, which the rules of intake hold.
        joints: which there are, in turn.
    """
    draw = random.Random(seed)
    return [_chained(draw, row, ties) for row in random_joints(count, seed, joints)]


def _chained(draw: random.Random, row: Row, ties: bool) -> Row:
    if row["ended"] != "revised" and draw.random() < 0.5 and row["days"] > 0:
        row |= {"followed_days": row["days"], "followed_end": row["ended"], "ended": "revised"}
        row["days"] = draw.choice([*(draw.randrange(row["days"] + 1) for _ in range(9)), row["days"]])
        row["reason"] = draw.choice(vocabulary.REASONS[row["joint"]]).detail
    if row["ended"] != "revised":
        return row
    last = row["followed_days"]
    # Few distinct days, the last one among them: several revisions on one day, and on the day of a death.
    some = [row["days"], last, draw.randint(row["days"], last)]
    later = sorted(draw.choice([*some, draw.randint(row["days"], last)]) for _ in range(draw.randrange(4)))
    days = [row["days"], *later]
    row["episodes"] = [_episode(draw, row, day) for day in (days if ties else sorted(set(days)))]
    row["reason"] = row["episodes"][0]["reason"]
    row["components"] = [_component(draw, row) for _ in range(draw.randrange(6))]
    return row


def _episode(draw: random.Random, row: Row, day: int) -> Row:
    reason = draw.choice(vocabulary.REASONS[row["joint"]])
    last = row["followed_days"]
    staged = draw.random() < 0.4
    reimplanted = draw.randint(day, min(last, day + DAYS_OF_A_YEAR)) if staged and draw.random() < 0.5 else None
    restart = reimplanted if reimplanted is not None else day + DAYS_OF_A_YEAR * staged
    return {
        "day": day,
        "reason": reason.detail,
        "reason_group": reason.group,
        "action": draw.choice(vocabulary.ACTIONS),
        "septic": reason.group == "infection",
        "stage": "first of two" if staged else "single",
        "reimplanted_day": reimplanted,
        "restart_day": restart,
        "stage_open": staged and restart > last and row["followed_end"] != "died",
        **{flag: draw.random() < 0.4 for flag in FLAGS},
    }


def _component(draw: random.Random, row: Row) -> Row:
    role = draw.choice(vocabulary.ROLES[row["joint"]])
    out = draw.choice([None, *(e["day"] for e in row["episodes"]), *(e["reimplanted_day"] for e in row["episodes"])])
    own = draw.random() < 0.7
    line = component(role, f"X-{role[0]}", out_day=out)
    if own:
        return line
    # Put in by a revision, perhaps on the day of the primary.
    went_in = draw.choice([0, row["days"]])
    came_out = None if out is None else max(out, went_in)
    return line | {"in_day": went_in, "operation_id": "H001-8000000", "out_day": came_out}


# The classes of primaries that are converted, and the flag that says so.
CONVERSIONS = {
    "partial-to-total": (("partial", "patellofemoral"), "to_total"),
    "hemi-to-total": (("hemi",), "to_total"),
    "anatomic-to-reverse": (("anatomic",), "to_reverse"),
}

Left = tuple[int, str]  # the day, and the group of the reason, "died" or "censored"


def leaves(row: Row, key: str, patient_view: bool) -> Left | None:
    """Say when a joint leaves follow-up for an endpoint and how; None where the endpoint does not follow it."""
    revised = row["ended"] == "revised"
    last, end = (row["followed_days"], row["followed_end"]) if revised else (row["days"], row["ended"])
    if key in CONVERSIONS and row["class"] not in CONVERSIONS[key][0]:
        return None
    if key == "re-revision" and not revised:
        return None
    if key.startswith("removed:"):
        return _removed(row, ENDPOINTS[key].role, last, end)
    episodes = list(row["episodes"] or [])
    start = episodes.pop(0)["restart_day"] if key == "re-revision" else 0
    day, how = _left(episodes, key, last, end)
    if how == "competes":
        how = "died" if patient_view else "censored"
    return max(day - start, 0), how


def _left(episodes: list[Row], key: str, last: int, end: str) -> Left:
    """Find the first thing that ends follow-up; on one day events come first, then what competes, then a death."""
    order = ("event", "competes", "died", "censors")
    told = [(e["day"], order.index(what), e["reason_group"]) for e in episodes if (what := _what(e, key))]
    told.append((last, order.index("died" if end == "died" else "censors"), ""))
    day, rank, reason = min(told, key=lambda thing: thing[:2])
    return day, (reason, "competes", "died", "censored")[rank]


def _what(episode: Row, key: str) -> str:
    """What a revision is to an endpoint; nothing where it is ignored."""
    if key == "aseptic":
        return "competes" if episode["reason_group"] == "infection" else "event"
    if key == "major":
        return "event" if episode["bone_fixed_removed"] else ""
    if key in CONVERSIONS:
        if episode[CONVERSIONS[key][1]]:
            return "event"
        return "censors" if episode["stage_open"] else "competes" if episode["emptied"] else ""
    if key == "without-bearing-exchange" and episode["bearing_only"]:
        return ""
    return "" if key == "without-later-patella" and episode["patella_added_only"] else "event"


def _removed(row: Row, role: str, last: int, end: str) -> Left | None:
    lines = row["components"] if row["components"] is not None else []
    own = [line for line in lines if line["role"] == role and line["operation_id"] is None]
    if not own:
        return None
    out = [line["out_day"] for line in own if line["out_day"] is not None]
    if not out:
        return last, "died" if end == "died" else "censored"
    begun = [episode for episode in row["episodes"] if episode["day"] <= min(out)]
    return min(out), begun[-1]["reason_group"]
