"""
The estimators once more, slowly and written differently: joint by joint, in exact fractions, the variance
as the sum of each joint's squared influence (the infinitesimal jackknife).
"""

from fractions import Fraction

Joint = tuple[int, int]  # last day, and how follow-up ended there: 0 censored, else a cause


def event_free(joints: list[Joint], causes: set[int], day: int) -> Fraction:
    """Kaplan & Meier's product: of those still there on each day, the share that has none of the causes."""
    free = Fraction(1)
    for time in sorted({last for last, _ in joints if last <= day}):
        there = [joint for joint in joints if joint[0] >= time]
        hit = [joint for joint in there if joint[0] == time and joint[1] in causes]
        free *= Fraction(len(there) - len(hit), len(there))
    return free


def incidence(joints: list[Joint], cause: int, causes: set[int], day: int) -> Fraction:
    """Aalen & Johansen's sum: free of every cause until just before, then this cause."""
    total = Fraction(0)
    for time in {last for last, how in joints if last <= day and how == cause}:
        there = sum(last >= time for last, _ in joints)
        total += event_free(joints, causes, time - 1) * Fraction(joints.count((time, cause)), there)
    return total


def incidence_variance(joints: list[Joint], cause: int, causes: set[int], day: int) -> Fraction:
    """Sum of squared influences on the incidence; equal joints have equal influence."""
    return sum(
        (joints.count(joint) * _influence(joints, joint, cause, causes, day) ** 2 for joint in set(joints)),
        Fraction(0),
    )


def _influence(joints: list[Joint], one: Joint, cause: int, causes: set[int], day: int) -> Fraction:
    free, on_free, on_incidence = Fraction(1), Fraction(0), Fraction(0)
    for time in sorted({last for last, how in joints if last <= day and how in causes}):
        there = sum(last >= time for last, _ in joints)
        hazard = {k: Fraction(joints.count((time, k)), there) for k in causes}
        shift = {k: ((one == (time, k)) - (one[0] >= time) * hazard[k]) / there for k in causes}
        on_incidence += on_free * hazard[cause] + free * shift[cause]
        on_free = on_free * (1 - sum(hazard.values())) - free * sum(shift.values())
        free *= 1 - sum(hazard.values())
    return on_incidence
