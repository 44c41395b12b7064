"""What was done at first revisions, what was used, and which of the primary's components came out."""

import numpy as np

from regdash.reports.policy import Policy
from regdash.signals.explained_model import FirstRevisionRow
from regdash.signals.one_implant import OneImplant
from regdash.stats.binomial import binomial_limits
from regdash.store.sqlfiles import statement
from regdash.vocabulary import EXTRAS, MATERIAL_ROLES, coded

DONE, WAS, USED, TAKEN_OUT = "done", "was", "used", "taken out"
_WAS = {
    "to_total": "conversion to a total",
    "to_reverse": "conversion to a reverse shoulder",
    "bearing_only": "bearing parts alone exchanged",
    "bone_fixed": "a part fixed to bone came out",
    "emptied": "all came out, none went in",
    "two_stages": "the first of two stages",
}
_USED = {"stem": "a stem", "augment": "an augment", "graft": "bone graft"}
_SHARES = ("share", "lower", "upper", "others_share", "others_lower", "others_upper")


def first_revision_rows(policy: Policy, implant: OneImplant) -> tuple[FirstRevisionRow, ...]:
    """
    Write a line for each action, kind of revision, extra and role, beside all others that it is compared with.

    Shares are of first revisions; of a role, of first revisions of joints whose primary put one in.
    """
    found, own = _found(implant)
    everyone = np.ones(len(own), dtype=bool)
    actions = implant.cut.words["action_words"]
    seen = np.flatnonzero(np.bincount(found["action"][own], minlength=len(actions))).tolist()
    done = [(DONE, actions[n], f"action={coded(actions[n])}", found["action"] == n, everyone) for n in seen]
    was = [(WAS, said, "", found[name] > 0, everyone) for name, said in _WAS.items() if found[name].any()]
    used = [(USED, _USED[name], f"{name}=yes", found[name] > 0, everyone) for name in EXTRAS]
    taken = []
    for place, role in enumerate(implant.cut.words["role_words"]):
        held = (found["primary_roles"] >> place & 1) > 0
        if role not in MATERIAL_ROLES and held[own].any():
            taken.append((TAKEN_OUT, role, "", held & ((found["taken_out"] >> place & 1) > 0), held))
    groups = [done, was, used, taken]
    return tuple(
        _row(policy, (kind, what, words), own, hit, there)
        for group in groups
        for kind, what, words, hit, there in sorted(group, key=lambda one: -int(np.count_nonzero(one[3] & own)))
    )


def _found(implant: OneImplant) -> tuple[dict[str, np.ndarray], np.ndarray]:
    """The first revisions of joints that are compared, and (r,) bool: which are its own."""
    predicate = implant.use.within.predicate()
    found = implant.cut.columns(statement("queries/first_revisions", predicate=predicate.sql), **predicate.parameters)
    size = max(int(found["joint_no"].max(initial=-1)), int(implant.joint_no.max(initial=-1))) + 1
    side = np.full(size, -1)
    side[implant.joint_no] = implant.own
    at = side[found["joint_no"]]
    there = np.flatnonzero(at >= 0)
    return {name: column[there].astype(np.int64) for name, column in found.items()}, at[there] > 0


def _row(
    policy: Policy, what: tuple[str, str, str], own: np.ndarray, hit: np.ndarray, there: np.ndarray
) -> FirstRevisionRow:
    counts = [(int(np.count_nonzero(hit & side)), int(np.count_nonzero(there & side))) for side in (own, ~own)]
    events, of = (np.array(column, dtype=np.int64) for column in zip(*counts, strict=True))
    lower, upper = (limit.tolist() for limit in binomial_limits(events, of, policy.level))
    small = policy.why_small(*(number for each in counts for number in (*each, each[1] - each[0])))
    hides = [policy.why_small(each[1] - each[0]) is not None for each in counts]  # what is left would follow
    few = f"fewer than {policy.minimum_events} first revisions" if of[0] < policy.minimum_events else None
    share = [seen / every if every else None for seen, every in counts]
    shown: dict[str, float | None] = dict(
        zip(_SHARES, (share[0], lower[0], upper[0], share[1], lower[1], upper[1]), strict=True)
    )
    if not counts[1][1]:
        shown |= {"others_lower": None, "others_upper": None}
    return FirstRevisionRow(
        *what,
        revisions=None if hides[0] else policy.count(counts[0][0]),
        of=policy.count(counts[0][1]),
        others_revisions=None if hides[1] else policy.count(counts[1][0]),
        others_of=policy.count(counts[1][1]),
        **(dict.fromkeys(_SHARES) if small or few else shown),
        withheld=small or few,
    )
