"""
Joints are never mixed: where a cohort holds more than one, groups are made by joint first, and the answer says so.

One class name stands for different operations on different joints, and so does one reason; a figure over all of them
would be of nothing that anybody puts in.
"""

from collections.abc import Sequence
from dataclasses import replace
from typing import Protocol, TypeVar

from regdash import fields
from regdash.cohort import Cohort
from regdash.errors import FilterError
from regdash.grouping import Grouping
from regdash.reports import wording
from regdash.reports.field_values import value_counts
from regdash.reports.policy import Policy
from regdash.store.cuts import Cut
from regdash.store.sqlfiles import statement

JOINT = fields.FIELDS["joint"]


class NotedHead(Protocol):
    """What is read of an answer's head here."""

    @property
    def by(self) -> tuple[Grouping, ...]: ...
    @property
    def cautions(self) -> tuple[str, ...]: ...


class Answer(Protocol):
    """Any report: it has a head."""

    @property
    def head(self) -> NotedHead: ...


AnyAnswer = TypeVar("AnyAnswer", bound=Answer)


def joints_held(cut: Cut, cohort: Cohort) -> tuple[int, ...]:
    """Which joints a cohort holds, as their numbers in the cut's list; one that a filter names needs no look."""
    if any(c.key == JOINT.key and not c.negated and len(c.values) == 1 for c in cohort.conditions):
        return (0,)
    everywhere = _joints_of(cut, Cohort())
    return everywhere if len(everywhere) < 2 or not cohort.conditions else _joints_of(cut, cohort)


def _joints_of(cut: Cut, cohort: Cohort) -> tuple[int, ...]:
    predicate = cohort.predicate()
    query = statement("queries/joints_held", predicate=predicate.sql)
    return cut.remembered.get(
        (query, repr(predicate.parameters)),
        lambda: tuple(number for (number,) in cut.rows(query, **predicate.parameters)),
        len,
    )


def first_joint(cut: Cut) -> str | None:
    """Say which joint to look at first where a cut holds several: knees where it has them, else its largest."""
    if len(joints_held(cut, Cohort())) < 2:
        return None
    counts = value_counts(cut, Policy(), JOINT.key, Cohort())
    return "knee" if "knee" in counts else next(iter(counts))


def by_joint(cut: Cut, cohort: Cohort, by: Sequence[Grouping]) -> tuple[Grouping, ...]:
    """Put the joint before the fields that group a cohort, where it holds several and nothing tells them apart."""
    by = tuple(by)
    if any(grouping.field == JOINT for grouping in by) or len(joints_held(cut, cohort)) < 2:
        return by
    return (Grouping(JOINT), *by)


def require_one_joint(cut: Cut, cohort: Cohort, by: Sequence[Grouping]) -> None:
    """
    Make sure that a comparison is of joints of one kind, unless its groups are the joints themselves.

    Raises:
        FilterError: the cohort holds several joints.
    """
    held = joints_held(cut, cohort)
    if len(held) > 1 and not any(grouping.field == JOINT for grouping in by):
        names = [f"{cut.words['joint_words'][number]}s" for number in held]
        raise FilterError(
            f"{', '.join(names[:-1])} and {names[-1]} are not compared with one another: name one, "
            f"as joint={names[0][:-1]}.".capitalize()
        )


def noted(answer: AnyAnswer, asked_by: Sequence[Grouping]) -> AnyAnswer:
    """Say in an answer that its joints were kept apart, where that was not asked for."""
    if answer.head.by == tuple(asked_by):
        return answer
    head = replace(answer.head, cautions=(wording.JOINTS_APART, *answer.head.cautions))  # type: ignore[type-var]
    return replace(answer, head=head)  # type: ignore[type-var]
