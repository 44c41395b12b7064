"""Who uses it, and its ratio with each hospital or surgeon left out: is it the implant or one of them?"""

from dataclasses import dataclass
from typing import Any

import numpy as np

from regdash.reports.policy import Policy
from regdash.signals import explained_wording as wording
from regdash.signals.explained_model import UNITS, FallRow, UserRow
from regdash.signals.one_implant import OneImplant
from regdash.signals.shown import shown_ratio, without
from regdash.stats.excess_by_cause import OthersHazard
from regdash.stats.gamma_poisson import gamma_poisson
from regdash.stats.largest_fall import DRAWS, SEED, LargestFall, falls, largest_fall
from regdash.stats.left_out import LeftOut, left_out_ratios
from regdash.stats.risk_shares import ScreenedRatio
from regdash.vocabulary import NOT_RECORDED

MOST_USERS = 400  # each is left out in turn; of more, those with the smallest share are not
_WITHOUT = ("ratio_without", "lower", "upper")
_CHANCE = ("chance_lower", "chance_median", "chance_upper", "chance_as_large")
_SPREAD = ("spread_lower", "spread_median", "spread_upper", "spread_as_large")


@dataclass(frozen=True, eq=False)
class _Counts:
    """Joints, revisions and expected revisions by user."""

    joints: np.ndarray
    revised: np.ndarray
    expected: np.ndarray


@dataclass(frozen=True, eq=False)
class _Users:
    """The hospitals or surgeons that use it, by falling number of joints with it."""

    unit: str
    names: tuple[str, ...]
    user: np.ndarray  # (n,) place in `names`; -1: does not use it, is not recorded, or one of many others
    own: _Counts  # (users,)
    others: _Counts  # in the same hands, with other implants
    left: LeftOut

    @classmethod
    def of(cls, implant: OneImplant, hazard: OthersHazard, unit: str, level: float) -> "_Users":
        them, code = implant.them, implant.levels[unit][implant.rows]
        joints = np.bincount(code[them.own] + 1)
        order = np.argsort(-joints, kind="stable")
        order = order[joints[order] > 0] - 1
        labels = {number: implant.label(unit, number) for number in order.tolist()}
        chosen = [number for number in order.tolist() if labels[number] != NOT_RECORDED][:MOST_USERS]
        place = np.full(int(code.max(initial=-1)) + 2, -1)
        place[np.array(chosen, dtype=np.int64) + 1] = np.arange(len(chosen))
        user, names = place[code + 1], tuple(labels[number] for number in chosen)
        own, others = (_counted(them.cause, hazard.by_joint, user, side, len(names)) for side in (them.own, ~them.own))
        return cls(unit, names, user, own, others, left_out_ratios(them, user, names, level))


def _counted(cause: np.ndarray, due: np.ndarray, user: np.ndarray, side: np.ndarray, users: int) -> _Counts:
    rows = np.flatnonzero(side & (user >= 0))
    joints = np.bincount(user[rows], minlength=users)
    revised = np.bincount(user[rows], cause[rows] > 0, users).astype(np.int64)
    return _Counts(joints, revised, np.bincount(user[rows], due[rows], users))


def user_rows(
    policy: Policy, implant: OneImplant, hazard: OthersHazard, whole: ScreenedRatio | None
) -> tuple[tuple[FallRow, ...], tuple[UserRow, ...]]:
    """
    Write how far the ratio falls at most without one hospital, and one surgeon, and a line for each of them.

    Leaving out a user leaves out all joints of theirs, with the implant and without.

    Args:
        hazard: of all others, from which expected revisions come.
        whole: the ratio with nobody left out.
    """
    found: list[FallRow] = []
    rows: list[UserRow] = []
    for unit in UNITS:
        users = _Users.of(implant, hazard, unit, policy.level)
        known = falls(whole, users.left) if whole is not None and users.left.ratios else [None] * len(users.names)
        rows += [_user_row(policy, users, place, known[place]) for place in range(len(users.names))]
        found.append(_fall_row(policy, implant, hazard, whole, users))
    return tuple(found), tuple(rows)


def _user_row(policy: Policy, users: _Users, place: int, fall: float | None) -> UserRow:
    joints, revised, expected = _of(users.own, place)
    other_joints, other_revised, other_expected = _of(users.others, place)
    small = policy.why_small(joints, revised, other_joints, other_revised)
    one = users.left.ratios[place] if users.left.ratios else None
    ratio, why = shown_ratio(policy, one, None, _WITHOUT, (joints, revised, other_joints, other_revised))
    return UserRow(
        unit=users.unit,
        user=users.names[place],
        joints=policy.count(joints),
        revisions=policy.count(revised),
        expected=None if small else expected,
        others_joints=policy.count(other_joints),
        others_revisions=policy.count(other_revised),
        others_expected=None if small else other_expected,
        **ratio,
        fall=None if why else fall,
        withheld=why,
    )


def _of(counts: _Counts, place: int) -> tuple[int, int, float]:
    return int(counts.joints[place]), int(counts.revised[place]), float(counts.expected[place])


def _fall_row(
    policy: Policy, implant: OneImplant, hazard: OthersHazard, whole: ScreenedRatio | None, users: _Users
) -> FallRow:
    why = _why_no_fall(policy, whole, users)
    if why or whole is None or whole.ratio.ratio is None:
        return _no_fall(users, None, None, wording.no_fall(users.unit, why or ""), why)
    left = [one.events for one in users.left.ratios]
    fewest = int(np.argmin(left))
    if left[fewest] < policy.minimum_events:  # nobody can say what the ratio would be
        name, counts = users.names[fewest], _of(users.own, fewest)[:2]
        why = policy.why_small(*counts, left[fewest]) or wording.few_left(policy.minimum_events)
        said = wording.too_few_left(users.unit, name, counts, (whole.joints, whole.events))
        said = wording.no_fall(users.unit, why) if policy.why_small(*counts, left[fewest]) else said
        return _no_fall(users, name, whole.ratio.ratio, said, why)
    expected = np.append(users.own.expected, max(float(hazard.by_joint[implant.them.own & (users.user < 0)].sum()), 0))
    asked = (whole, users.left, users.own.revised, expected)
    shape = _shape(implant, hazard, users.unit)
    chance = largest_fall(*asked, level=policy.level)
    spread = chance if shape is None else largest_fall(*asked, shape, level=policy.level)
    at = users.left.ratios[chance.user].ratio
    name = users.names[chance.user]
    joints, revisions, _ = _of(users.own, chance.user)
    over = (whole.joints - joints, whole.events - revisions)
    small = policy.why_small(joints, revisions, *_of(users.others, chance.user)[:2], *over)
    drawn = {**_drawn(_CHANCE, chance), **_drawn(_SPREAD, spread), "spread": 0.0 if shape is None else shape**-0.5}
    ratios: dict[str, Any] = {"ratio": whole.ratio.ratio, "ratio_without": at.ratio, "fall": chance.fall}
    ratios |= {"lower": at.lower, "upper": at.upper}
    has = {"user": name, "joints": joints, "revisions": revisions, **ratios}
    has |= {"all_joints": whole.joints, "all_revisions": whole.events}
    said = wording.fall(
        users.unit, len(users.names), has, [chance] if shape is None else [chance, spread], policy.level
    )
    figures: dict[str, Any] = {**ratios, **drawn}
    return FallRow(
        unit=users.unit,
        users=len(users.names),
        user=name,
        **(without(figures) if small else figures),
        draws=chance.draws,
        seed=SEED,
        finding=wording.no_fall(users.unit, small) if small else said,
        withheld=small,
    )


def _most(users: _Users, but: int, whole: ScreenedRatio) -> tuple[str, int] | None:
    """The user with half of its joints or more, if that is not the one that is told of anyway."""
    joints = int(users.own.joints[0])
    return (users.names[0], joints) if but and 2 * joints >= whole.joints else None


def _no_fall(users: _Users, name: str | None, ratio: float | None, finding: str, why: str | None) -> FallRow:
    nothing: dict[str, Any] = without(("ratio_without", "lower", "upper", "fall", "spread", *_CHANCE, *_SPREAD))
    told: dict[str, Any] = {"unit": users.unit, "users": len(users.names), "user": name, "ratio": ratio}
    return FallRow(**told, **nothing, draws=DRAWS, seed=SEED, finding=finding, withheld=why)


def _drawn(names: tuple[str, ...], found: LargestFall) -> dict[str, float]:
    return dict(zip(names, (found.lower, found.median, found.upper, found.as_large), strict=True))


def _why_no_fall(policy: Policy, whole: ScreenedRatio | None, users: _Users) -> str | None:
    if not users.names:
        return f"no {users.unit} is recorded"
    if whole is None or whole.ratio.ratio is None:
        return "there is no ratio that could fall"
    if few := policy.why_few_events(whole.events):
        return few
    if np.count_nonzero(users.own.expected > 0) < 2:
        return f"{users.names[0]} alone uses it: what is the implant's and what the {users.unit}'s cannot be told apart"
    if all(fall is None for fall in falls(whole, users.left)):
        return "no ratio is left without any of them"
    return None


def _shape(implant: OneImplant, hazard: OthersHazard, unit: str) -> float | None:
    """How far true ratios differ between users in joints without the implant: the shape of a gamma distribution."""
    them, code = implant.them, implant.levels[unit][implant.rows]
    others = np.flatnonzero(~them.own & (code >= 0))
    size = int(code.max(initial=-1)) + 1
    expected = np.bincount(code[others], hazard.by_joint[others], size)
    revised = np.bincount(code[others], them.cause[others] > 0, size).astype(np.int64)
    named = [number for number in np.flatnonzero(expected > 0).tolist() if implant.label(unit, number) != NOT_RECORDED]
    return gamma_poisson(revised[named], expected[named]).shape if len(named) > 1 else None
