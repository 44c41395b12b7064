"""Two cohorts side by side, as two groups. A joint may be in both; it is then counted in each, and that is said."""

from dataclasses import dataclass

import numpy as np

from regdash.cohort import Cohort, Predicate, either
from regdash.endpoints import ANY_REVISION, Endpoint
from regdash.errors import FilterError
from regdash.reports import wording
from regdash.reports.apart import require_one_joint
from regdash.reports.counted import Counted, refuse_outcomes
from regdash.reports.model import IMPLANT_VIEW, PATIENT_VIEW, Group
from regdash.reports.policy import Policy
from regdash.store.cuts import Cut
from regdash.store.endpoint_counts import followed
from regdash.store.event_counts import REASON_GROUP, EventCounts, GroupExpressions, count_events

EVERY_JOINT = "every joint"


@dataclass(frozen=True, eq=False, kw_only=True)
class CountedBeside(Counted):
    """Two cohorts counted on one cut: each as a group of its own, and the joints of either once."""

    other: Cohort
    once: EventCounts

    @property
    def beside(self) -> Cohort:
        """The second cohort."""
        return self.other

    @property
    def together(self) -> EventCounts:
        """The counts of the joints of either cohort, each joint once."""
        return self.once

    @property
    def everything(self) -> bool:
        """Nobody asked about the whole cut."""
        return False

    @property
    def predicate(self) -> Predicate:
        """The joints of either cohort that the endpoint follows."""
        return followed(self.endpoint, either(self.cohort, self.other))

    def notes(self, policy: Policy) -> list[str]:
        """How many joints are in both cohorts."""
        return [*super().notes(policy), wording.in_both(self.in_both, policy.said)]

    @property
    def in_both(self) -> int:
        """Joints that are in both cohorts, and counted in both groups."""
        return self.counts.all_joints - self.once.all_joints


def count_beside(
    cut: Cut,
    cohort: Cohort,
    beside: Cohort,
    reason: str = REASON_GROUP,
    *,
    endpoint: Endpoint = ANY_REVISION,
    view: str = IMPLANT_VIEW,
) -> CountedBeside:
    """
    Count two cohorts as two groups, as `counted.count` does the groups of one.

    Raises:
        FilterError: an outcome word, a cohort of several joints, or twice the same cohort.
    """
    groups = two_groups(cut, cohort, beside)
    found = [
        count_events(cut, followed(endpoint, predicate), GroupExpressions(), reason, endpoint, view == PATIENT_VIEW)
        for predicate in (cohort.predicate(), beside.predicate(), either(cohort, beside))
    ]
    counts = as_groups(*found[:2])
    return CountedBeside(cut, cohort, (), groups, counts, endpoint, other=beside, once=found[2])


def two_groups(cut: Cut, cohort: Cohort, beside: Cohort) -> tuple[Group, Group]:
    """
    Name two cohorts as two groups.

    Raises:
        FilterError: an outcome word, a cohort of several joints, or twice the same cohort.
    """
    if cohort == beside:
        raise FilterError("Both cohorts are the same. Name other joints to put beside these.")
    for one in (cohort, beside):
        refuse_outcomes(one)
        require_one_joint(cut, one, ())
    return Group(_label(cohort, beside), cohort.words), Group(_label(beside, cohort), beside.words)


def as_groups(first: EventCounts, second: EventCounts) -> EventCounts:
    """Put two counts without groups together as two groups."""
    both = (first, second)
    return EventCounts(
        values=np.arange(2)[:, None],
        group=np.repeat(np.arange(2), [len(one.joints) for one in both]),
        day=np.concatenate([one.day for one in both]),
        outcome=np.concatenate([one.outcome for one in both]),
        joints=np.concatenate([one.joints for one in both]),
        outcomes=first.outcomes,
    )


def _label(own: Cohort, other: Cohort) -> str:
    """Call a cohort by the words that the other lacks; by all of its own where it has no others."""
    apart = [word for word in own.words if word not in other.words]
    if apart and other.words and set(other.words) < set(own.words):
        return f"with {' '.join(apart)}"  # a part of the other, which its own words alone would not say
    return " ".join(apart or own.words) or EVERY_JOINT
