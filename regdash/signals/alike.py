"""Its ratio where one more thing is held alike: is it the implant, its companion, the surgeon or the hospital?"""

import numpy as np

from regdash.reports.policy import Policy
from regdash.reports.use import CONSTRUCT
from regdash.signals import explained_wording as wording
from regdash.signals.explained_model import UNITS, AlikeRow, CompanionRow
from regdash.signals.one_implant import OneImplant
from regdash.signals.shown import shown_ratio, without
from regdash.stats.own_and_others import OwnAndOthers
from regdash.vocabulary import NOT_RECORDED

MOST_COMPANIONS = 40  # of a role, those with most joints
FEWEST = 0.5  # a role counts as a companion where more of its joints than this have one
_RATIO = ("hazard_ratio", "lower", "upper")
_ELSEWHERE = ("elsewhere_ratio", "elsewhere_lower", "elsewhere_upper")


def companion_roles(implant: OneImplant) -> list[str]:
    """Roles that most of its joints fill beside its own; of a construct, those of its implants."""
    lines, own = implant.lines, implant.own
    mine = own[lines.place]
    if implant.use.kind == CONSTRUCT:
        parts = [place for place, code in enumerate(lines.codes) if code in implant.use.parts]
        there = np.bincount(lines.role[mine & np.isin(lines.implant, parts)], minlength=len(lines.roles))
    else:
        there = np.bincount(lines.role[mine], minlength=len(lines.roles))
    enough = FEWEST * np.count_nonzero(own)
    named = zip(lines.roles, there.tolist(), strict=True)
    return [role for role, many in named if many > enough and role != implant.use.main.role]


def alike_rows(policy: Policy, implant: OneImplant) -> tuple[AlikeRow, ...]:
    """Write a line for each companion's role, surgeon and hospital, held alike beside what is adjusted for."""
    size = len(implant)
    named = [(role, implant.lines.of_role(role, size)) for role in companion_roles(implant)]
    named += [(unit, _recorded(implant, unit)) for unit in reversed(UNITS)]
    return tuple(_alike_row(policy, implant, name, level[implant.rows]) for name, level in named)


def _recorded(implant: OneImplant, unit: str) -> np.ndarray:
    """(n,) the number of each joint's unit, -1 where none is recorded."""
    level = implant.levels[unit]
    lacking = [n for n in np.unique(level).tolist() if implant.label(unit, n) == NOT_RECORDED]
    return np.where(np.isin(level, lacking), -1, level)


def _alike_row(policy: Policy, implant: OneImplant, name: str, level: np.ndarray) -> AlikeRow:
    rows = np.flatnonzero(level >= 0)
    them = implant.them.only(rows).within(level[rows])
    shared = them.only(them.shared)
    told = int(np.count_nonzero(shared.own))
    others = int(np.count_nonzero(shared.cause[~shared.own]))
    counts = (told, shared.events)
    figures, why = shown_ratio(policy, shared.ratio(policy.level) if told else None, others, _RATIO, counts)
    own = level[rows][them.own]
    return AlikeRow(
        alike=name,
        levels=policy.count(len(np.unique(own))),
        joints=policy.count(len(own)),
        compared_joints=policy.count(told),
        compared_revisions=policy.count(shared.events),
        **figures,
        withheld=wording.never_apart(implant.use.code, name) if not told and len(own) else why,
    )


def companion_rows(policy: Policy, implant: OneImplant) -> tuple[CompanionRow, ...]:
    """
    Write a line for each companion: the implant beside others with the same companion, and the companion elsewhere.

    The latter is the ratio of joints with the companion and another implant to all others without the implant.
    A construct has none: its companions are its own parts, which `alike_rows` holds alike.
    """
    if implant.use.kind == CONSTRUCT:
        return ()
    return tuple(row for role in companion_roles(implant) for row in _of_role(policy, implant, role))


def _of_role(policy: Policy, implant: OneImplant, role: str) -> list[CompanionRow]:
    them, level = implant.them, implant.lines.of_role(role, len(implant))[implant.rows]
    joints = np.bincount(level[them.own] + 1)[1:]
    chosen = [code for code in np.argsort(-joints, kind="stable").tolist() if joints[code]][:MOST_COMPANIONS]
    part = np.full(int(level.max(initial=-1)) + 2, -1)
    part[np.array(chosen, dtype=np.int64) + 1] = np.arange(len(chosen))
    part = part[level + 1]
    names = [implant.lines.codes[code] for code in chosen]
    elsewhere = _without_it(them, part)
    beside = them.ratios_by(part, names, policy.level)
    apart = elsewhere.ratios_by(part[~them.own], names, policy.level, alike=False)
    rows = []
    for place, (name, one, other) in enumerate(zip(names, beside, apart, strict=True)):
        here = part == place
        own, others = here & them.own, here & ~them.own
        counts = [_counts(them, side) for side in (own, others)]
        ratio, why = shown_ratio(policy, one, counts[1][1], _RATIO, (*counts[0], *counts[1]))
        figures, no_other = shown_ratio(policy, other, None, _ELSEWHERE, (*counts[0], *counts[1]))
        if not counts[1][0]:
            why, figures = wording.only_with(name, implant.use.code), without(_ELSEWHERE)
        rows.append(
            CompanionRow(
                role,
                name,
                policy.count(counts[0][0]),
                policy.count(counts[0][1]),
                **ratio,
                elsewhere_joints=policy.count(counts[1][0]),
                elsewhere_revisions=policy.count(counts[1][1]),
                **figures,
                withheld=why or no_other,
            )
        )
    return rows


def _without_it(them: OwnAndOthers, part: np.ndarray) -> OwnAndOthers:
    """Joints without the implant: those with one of its companions as the one side, the rest as the other."""
    others = np.flatnonzero(~them.own)
    return OwnAndOthers(part[others] >= 0, them.stratum[others], them.day[others], them.cause[others])


def _counts(them: OwnAndOthers, side: np.ndarray) -> tuple[int, int]:
    return int(np.count_nonzero(side)), int(np.count_nonzero(them.cause[side]))
