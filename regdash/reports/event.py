"""The event whose risk is asked: a named endpoint, for whatever reason or for one."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from regdash import endpoints
from regdash.endpoints import ANY_REVISION, Endpoint
from regdash.errors import FilterError
from regdash.reports.model import IMPLANT_VIEW, Group
from regdash.stats.aalen_johansen import CumulativeIncidence, aalen_johansen
from regdash.stats.clustered import clustered_incidence, clustered_net_risk
from regdash.stats.clusters import JointPairs
from regdash.stats.events import DIED, FIRST_REASON, GroupCounts
from regdash.stats.influence import Influence, incidence_influence, net_influence
from regdash.stats.kaplan_meier import kaplan_meier
from regdash.stats.step_curve import StepCurve
from regdash.store.cuts import Cut
from regdash.store.event_counts import REASON_DETAIL, REASON_GROUP
from regdash.suggest import nearest
from regdash.vocabulary import REASON_GROUPS, REASONS, coded


@dataclass(frozen=True)
class Event:
    """An endpoint, and the reason that is asked for alone, by its group or in detail."""

    endpoint: Endpoint = ANY_REVISION
    reason: str | None = None
    column: str = REASON_GROUP

    @property
    def name(self) -> str:
        """What the head of an answer calls it."""
        if self.reason is None:
            return self.endpoint.name
        return (
            f"revision for {self.reason}"
            if self.endpoint == ANY_REVISION
            else f"{self.endpoint.name}, for {self.reason}"
        )

    def why_never(self, group: Group) -> str | None:
        """Say why a group has no risk of it: its joints are of a kind that no form gives this reason for; or None."""
        if self.reason is None:
            return None
        own = [word.partition("=")[2] for word in group.words if word.startswith("joint=")]
        joints = [joint for joint in own if joint in REASONS]
        if not joints or any(self.reason in _reasons_of(joint) for joint in joints):
            return None
        return f"{self.reason} is no reason for a revision of a {joints[0]}"

    def curve(self, counts: GroupCounts, outcomes: Sequence[str], view: str) -> StepCurve:
        """Estimate its risk in one group of a table that was counted for the same endpoint and view."""
        if view == IMPLANT_VIEW:
            return kaplan_meier(counts.days, counts.revised, counts.left, counts.entered).steps
        return self._competing(counts, outcomes).of(0)

    def clustered_curve(self, counts: GroupCounts, outcomes: Sequence[str], view: str, pairs: JointPairs) -> StepCurve:
        """Estimate the same, with standard errors that hold where joints of one patient resemble each other."""
        if view == IMPLANT_VIEW:
            net = kaplan_meier(counts.days, counts.revised, counts.left, counts.entered)
            return clustered_net_risk(net, pairs)
        return clustered_incidence(self._competing(counts, outcomes), 0, pairs)

    def influence(self, counts: GroupCounts, outcomes: Sequence[str], view: str) -> Influence:
        """Tell how far one joint moves the risk."""
        if view == IMPLANT_VIEW:
            return net_influence(kaplan_meier(counts.days, counts.revised, counts.left, counts.entered))
        return incidence_influence(self._competing(counts, outcomes), 0)

    def cause(self, outcome: np.ndarray, outcomes: Sequence[str], view: str) -> np.ndarray:
        """What each outcome is to the risk: 0 no event, 1 the event, 2 what competes with it."""
        is_event = outcome >= FIRST_REASON if self.reason is None else outcome == outcomes.index(self.reason)
        return np.where(is_event, 1, 0 if view == IMPLANT_VIEW else 2 * (outcome >= DIED))

    def _competing(self, counts: GroupCounts, outcomes: Sequence[str]) -> CumulativeIncidence:
        """The event, then everything that competes with it."""
        causes = counts.competing  # died first, then each reason
        wanted = causes[:, 1:].sum(axis=1) if self.reason is None else counts.by_outcome[:, outcomes.index(self.reason)]
        by_cause = np.column_stack([wanted, causes.sum(axis=1) - wanted])
        return aalen_johansen(counts.days, by_cause, counts.left, counts.entered)


def _reasons_of(joint: str) -> set[str]:
    """What a form of a joint may give as a reason, in detail and by group."""
    return {*REASON_GROUPS[joint], *(reason.detail for reason in REASONS[joint])}


def event_of(cut: Cut, endpoint: str = ANY_REVISION.key, reason: str | None = None) -> Event:
    """
    Find the event that is asked for; a reason is written as filters do or in words.

    Raises:
        FilterError: there is no such endpoint or reason.
    """
    named = endpoints.named(endpoint)
    if reason is None:
        return Event(named)
    asked = coded(reason.strip().lower())
    for column in (REASON_GROUP, REASON_DETAIL):
        for word in cut.words[f"{column}_words"]:
            if coded(word) == asked:
                return Event(named, word, column)
    choices = [coded(word) for word in (*cut.words["reason_group_words"], *cut.words["reason_words"])]
    raise FilterError(f"There is no reason {reason}. {nearest(asked, dict.fromkeys(choices), most=30)}")
