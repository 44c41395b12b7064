"""Its joints in windows of follow-up and in subgroups, each beside all others of the class that are alike."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from regdash.fields import FIELDS
from regdash.reports.policy import Policy
from regdash.signals.explained_model import PartRow
from regdash.signals.one_implant import OneImplant
from regdash.signals.pool import Window, windows_of
from regdash.signals.shown import shown_ratio
from regdash.stats.own_and_others import OwnAndOthers
from regdash.stats.poisson import revision_rate
from regdash.stats.risk_shares import ScreenedRatio
from regdash.stats.years import years_in
from regdash.store.sqlfiles import statement
from regdash.values import written
from regdash.vocabulary import NOT_RECORDED

SINCE = "years since implantation"
SIZE, LOT = PIECES = ("size", "lot")
MOST_PIECES = 60  # sizes, and lots, with most joints
_RATE = ("per_100_implant_years", "lower", "upper")
_RATIO = ("hazard_ratio", "ratio_lower", "ratio_upper")
_FACTORS = ("sex", "age", "implanted")


def window_rows(policy: Policy, implant: OneImplant, years: Sequence[float]) -> tuple[PartRow, ...]:
    """Write a line for all of follow-up, and one for each window that ends at these years."""
    return tuple(_window_row(policy, implant, window) for window in windows_of(years))


def _window_row(policy: Policy, implant: OneImplant, window: Window) -> PartRow:
    them, everything = implant.them, implant.everything
    cause = np.where(window.hit(them.day, them.cause > 0), them.cause, 0)
    day = them.day if window.stop is None else np.minimum(them.day, window.stop + 1)
    inside = np.flatnonzero(window.reached(them.day))
    ratio = OwnAndOthers(them.own[inside], them.stratum[inside], day[inside], cause[inside]).ratio(policy.level)
    hit = window.hit(everything.day, everything.cause > 0)
    reached, spent = window.reached(everything.day), window.spent(everything.day)
    return _row(policy, (SINCE, window.label, ""), _Sides(everything.own, reached, hit, spent), ratio, all_others=True)


class _Sides:
    """Joints, revisions and days of the implant's own, and of others."""

    def __init__(self, own: np.ndarray, there: np.ndarray, hit: np.ndarray, days: np.ndarray) -> None:
        others = ~own
        self.joints = int(np.count_nonzero(there & own))
        self.revised = int(np.count_nonzero(hit & own))
        self.years = float(years_in(float(days[own & there].sum())))
        self.others_revised = int(np.count_nonzero(hit & others))
        self.others_years = float(years_in(float(days[others & there].sum())))


def _row(
    policy: Policy, what: tuple[str, str, str], sides: _Sides, one: ScreenedRatio | None, all_others: bool = False
) -> PartRow:
    small = policy.why_small(sides.joints, sides.revised)
    rate = revision_rate(sides.revised, sides.years, policy.level)
    no_rate = small or policy.why_no_rate(sides.joints) or rate.note
    others = None if all_others else sides.others_revised
    ratio, no_ratio = shown_ratio(policy, one, others, _RATIO, (sides.joints, sides.revised))
    rates: dict[str, Any] = dict(zip(_RATE, (rate.per_100_years, rate.lower, rate.upper), strict=True))
    hide_others = policy.why_small(sides.others_revised) or not sides.others_years
    field, group, words = what
    return PartRow(
        field=field,
        group=group,
        words=words,
        joints=policy.count(sides.joints),
        implant_years=None if policy.why_small(sides.joints) else sides.years,
        revisions=policy.count(sides.revised),
        **(dict.fromkeys(_RATE) if no_rate else rates),
        others_per_100_implant_years=None if hide_others else 100 * sides.others_revised / sides.others_years,
        **ratio,
        withheld=no_rate or no_ratio,
    )


def subgroup_rows(policy: Policy, implant: OneImplant) -> tuple[PartRow, ...]:
    """Write a line for each sex, age band, time of implantation, size and lot of its joints."""
    rows: list[PartRow] = []
    for key in _FACTORS:
        rows += _factor_rows(policy, implant, key)
    for piece in PIECES:
        for code in implant.use.parts:
            rows += _piece_rows(policy, implant, piece, code)
    return tuple(rows)


def _factor_rows(policy: Policy, implant: OneImplant, key: str) -> list[PartRow]:
    """Each level beside the others of the same level."""
    level = implant.levels[key]
    numbers = [
        number
        for number in (np.flatnonzero(np.bincount(level[implant.own] + 1)) - 1).tolist()
        if implant.label(key, number) != NOT_RECORDED
    ]
    part = _places(level, numbers)
    ratios = implant.them.ratios_by(part[implant.rows], [str(number) for number in numbers], policy.level)
    rows = []
    for place, (number, ratio) in enumerate(zip(numbers, ratios, strict=True)):
        what = (key, implant.label(key, number), implant.word(key, number))
        rows.append(_row(policy, what, _sides(implant, implant.own, part == place), ratio))
    return rows


def _places(level: np.ndarray, numbers: Sequence[int]) -> np.ndarray:
    """(n,) the place of each level among some; -1 for all others."""
    place = np.full(max([*numbers, int(level.max(initial=-1))]) + 2, -1)
    place[np.array(numbers, dtype=np.int64) + 1] = np.arange(len(numbers))
    return place[level + 1]


def _sides(implant: OneImplant, own: np.ndarray, there: np.ndarray) -> _Sides:
    everything = implant.everything
    return _Sides(own, there, there & (everything.cause > 0), everything.day)


def _piece_rows(policy: Policy, implant: OneImplant, piece: str, code: str) -> list[PartRow]:
    """
    Each size or lot beside all other joints of the class: nobody else has its lots, and sizes are the maker's own.

    A joint that holds two of them is counted with one.
    """
    names, part = _pieces(implant, piece, code)
    joints = np.bincount(part[part >= 0], minlength=len(names))
    most = np.argsort(-joints, kind="stable")[:MOST_PIECES]
    most = most[joints[most] > 0]
    chosen = (np.sort(most) if piece == SIZE else most).tolist()
    part = _places(part, chosen)
    labels = [names[number] or NOT_RECORDED for number in chosen]
    ratios = implant.them.ratios_by(part[implant.rows], labels, policy.level, alike=False)
    rows = []
    for place, (label, ratio) in enumerate(zip(labels, ratios, strict=True)):
        words = f"{piece}={written(label, FIELDS[piece])}"
        several = len(implant.use.parts) > 1
        what = (piece, *((f"{code} {label}", f"implant={code} {words}") if several else (label, words)))
        rows.append(_row(policy, what, _sides(implant, implant.own, ~implant.own | (part == place)), ratio))
    return rows


def _pieces(implant: OneImplant, piece: str, code: str) -> tuple[list[str], np.ndarray]:
    """The names of the sizes or lots of one implant, and (n,) which each of its joints has; -1 where it has none."""
    asked = {"implant": code}
    names = [name for (name,) in implant.cut.rows(statement("queries/implant_piece_names", part=piece), **asked)]
    found = implant.cut.columns(statement("queries/implant_pieces", part=piece), **asked)
    place_of = np.full(max(int(found["joint_no"].max(initial=-1)), int(implant.joint_no.max(initial=-1))) + 1, -1)
    place_of[implant.joint_no[implant.own]] = np.flatnonzero(implant.own)
    at = place_of[found["joint_no"]]
    part = np.full(len(implant), -1)
    part[at[at >= 0]] = found["piece"][at >= 0]
    return names, part
