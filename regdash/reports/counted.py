"""
The common first step of every answer: refuse what may not choose a cohort, count its joints by group,
and write the head that the answer carries.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np

from regdash import grouping
from regdash.cohort import Cohort, Predicate, refusal
from regdash.endpoints import ANY_REVISION, Endpoint
from regdash.errors import FilterError
from regdash.grouping import Grouping
from regdash.reports import wording
from regdash.reports.model import IMPLANT_VIEW, PATIENT_VIEW, Group, Head
from regdash.reports.policy import Policy
from regdash.stats.events import EventTable
from regdash.stats.years import years_in
from regdash.store.cuts import Cut
from regdash.store.endpoint_counts import followed
from regdash.store.event_counts import (
    REASON_GROUP,
    EventCounts,
    GroupExpressions,
    count_events,
    count_held_revisions,
    count_patients,
)


@dataclass(frozen=True, eq=False)
class Counted:
    """A cohort counted by group on one cut."""

    cut: Cut
    cohort: Cohort
    by: tuple[Grouping, ...]
    groups: tuple[Group, ...]
    counts: EventCounts  # by these groups
    endpoint: Endpoint = ANY_REVISION

    @property
    def numbers(self) -> tuple[tuple[int, ...], ...]:
        """What stands for each group, one number a field."""
        return self.counts.numbers

    @cached_property
    def table(self) -> EventTable:
        """The event table by these groups; a model that has counted them by pattern does without."""
        return self.counts.table([group.label for group in self.groups])

    @property
    def everything(self) -> bool:
        """Whether the whole cut was asked about, and not joints that happen to be all of it."""
        return not self.cohort.conditions and self.endpoint.follows_all_joints

    @property
    def predicate(self) -> Predicate:
        """The joints that are counted: those of the cohort that the endpoint follows."""
        return followed(self.endpoint, self.cohort.predicate())

    @property
    def together(self) -> EventCounts:
        """The counts of all groups together, each joint once."""
        return self.counts

    @property
    def joints(self) -> int:
        """Joints of all groups together."""
        return self.together.all_joints

    @property
    def revisions(self) -> int:
        """Events of the endpoint, in all groups together."""
        return self.together.events

    def notes(self, policy: Policy) -> list[str]:
        """What its joints ask to be said first."""
        return [] if self.joints else [wording.NO_JOINTS]

    @property
    def beside(self) -> Cohort | None:
        """The cohort that stands beside this one; None where one was asked about."""
        return None

    @cached_property
    def patients(self) -> int:
        """Patients of all groups together, each counted once."""
        if self.joints == self.cut.manifest.joints:
            return self.cut.manifest.patients
        return count_patients(self.cut, self.predicate)

    @cached_property
    def held_revisions(self) -> int:
        """Held revisions of these joints; of the whole cut, those whose joint cannot be told too."""
        return count_held_revisions(self.cut, self.predicate, self.everything)


def refuse_outcomes(cohort: Cohort) -> None:
    """
    Refuse a cohort that was chosen by what happened later.

    Raises:
        FilterError: with the word, and what to ask instead.
    """
    if cohort.outcome_keys:
        raise FilterError(refusal(cohort.outcome_keys[0]))


def count(
    cut: Cut,
    cohort: Cohort,
    by: Sequence[Grouping] = (),
    reason: str = REASON_GROUP,
    listing: bool = False,
    *,
    endpoint: Endpoint = ANY_REVISION,
    view: str = IMPLANT_VIEW,
    most: int = grouping.MOST_GROUPS,
) -> Counted:
    """
    Count a cohort's joints by group.

    Args:
        reason: the column whose words are the outcomes, as `count_events`.
        listing: nothing will be estimated, so the cohort may be chosen by what happened later.
        endpoint: the event; only joints that it follows are counted.
        view: in the patient view revisions that compete with the event are counted with deaths, else as censored.
        most: groups that can be shown.

    Raises:
        FilterError: an outcome word where it may not stand, or more groups than anybody can read.
    """
    found = count_unnamed(cut, cohort, by, reason, listing, endpoint=endpoint, view=view)
    return labelled(cut, cohort, tuple(by), found, endpoint, most)


def count_unnamed(
    cut: Cut,
    cohort: Cohort,
    by: Sequence[Grouping],
    reason: str = REASON_GROUP,
    listing: bool = False,
    *,
    endpoint: Endpoint = ANY_REVISION,
    view: str = IMPLANT_VIEW,
) -> EventCounts:
    """Count as `count` does, and name no group: naming a thousand takes longer than counting them."""
    if not listing:
        refuse_outcomes(cohort)
    expressions = GroupExpressions(tuple(g.sql() for g in by))
    return count_events(
        cut, followed(endpoint, cohort.predicate()), expressions, reason, endpoint, compete=view == PATIENT_VIEW
    )


def labelled(
    cut: Cut,
    cohort: Cohort,
    by: tuple[Grouping, ...],
    found: EventCounts,
    endpoint: Endpoint = ANY_REVISION,
    most: int = grouping.MOST_GROUPS,
) -> Counted:
    """
    Name the groups of counts of an endpoint and put them in the order of their fields' values.

    Raises:
        FilterError: more groups than anybody can read.
    """
    if len(found.numbers) > most:
        raise FilterError(
            f"Grouping by {','.join(map(str, by))} gives {len(found.numbers):,} groups, more than the "
            f"{most:,} that can be shown. Filter first, or group by less."
        )
    order = sorted(
        range(len(found.numbers)), key=lambda n: [g.place(v, cut.known) for g, v in zip(by, found.numbers[n])]
    )
    found = found.ordered(order)
    groups = tuple(_group(cut, cohort, by, numbers) for numbers in found.numbers)
    return Counted(cut, cohort, by, groups, found, endpoint)


def count_parts(
    cut: Cut, cohort: Cohort, expression: str, parameters: dict[str, Any], groups: tuple[Group, ...]
) -> Counted:
    """
    Count a cohort's joints in parts that no field of the filter language makes.

    Args:
        expression: SQL on `follow_up` that gives each joint the place of its part in `groups`.
        parameters: what it binds.
        groups: all parts; one without a joint is kept, so that two parts can always be compared.
    """
    refuse_outcomes(cohort)
    found = count_events(cut, cohort.predicate(), GroupExpressions((expression,), parameters))
    places = found.values[:, 0]
    whole = replace(found, values=np.arange(len(groups))[:, None], group=places[found.group])
    return Counted(cut, cohort, (), groups, whole)


def _group(cut: Cut, cohort: Cohort, by: tuple[Grouping, ...], numbers: tuple[int, ...]) -> Group:
    words = [g.word(number, cut.known) for g, number in zip(by, numbers)]
    return Group(grouping.labelled(by, numbers, cut.known), cohort.narrowed(*words).words)


def head(
    counted: Counted,
    policy: Policy,
    measure: str,
    method: str,
    cautions: Sequence[str],
    *,
    view: str = "",
    endpoint: str | None = None,
    not_by_chance: str = wording.NOT_CHOSEN_BY_CHANCE,
) -> Head:
    """Write the head of an answer: its question, its denominators and its cautions; `endpoint` if it has a name."""
    held = counted.held_revisions
    small = policy.why_small(counted.joints)
    said = counted.notes(policy)
    said += [] if counted.endpoint == ANY_REVISION else [counted.endpoint.about]
    said += [not_by_chance] if len(counted.groups) > 1 else []
    said += [*cautions, wording.RECENT_INCOMPLETE]
    said += [wording.held(held, counted.everything, policy.said)] if held else []
    said += [wording.counts_withheld(policy.withhold_counts_under)] if policy.withholds_counts else []
    said += [wording.NOT_FOR_ONE_PATIENT]
    return Head(
        measure=measure,
        view=view,
        endpoint=endpoint or counted.endpoint.name,
        cohort=counted.cohort,
        by=counted.by,
        cut=counted.cut.name,
        joints=policy.count(counted.joints),
        patients=None if small else policy.count(counted.patients),
        revisions=policy.count(counted.revisions),
        held_revisions=policy.count(held),
        median_follow_up=None if small else median_years(counted.together),
        method=method,
        cautions=tuple(said),
        settings=policy.settings,
        beside=counted.beside,
    )


def median_years(counts: EventCounts) -> float | None:
    """Find the median of follow-up over all joints, in years; the mean of the middle two where their number is even."""
    upto = np.cumsum(np.bincount(counts.day, counts.joints).astype(np.int64))
    if not len(upto):
        return None
    days = np.searchsorted(upto, [(upto[-1] - 1) // 2, upto[-1] // 2], side="right")
    return float(years_in(float(days.mean())))
