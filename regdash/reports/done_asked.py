"""
What questions on what was done share: which revisions a filter can judge, what it says of them, and the head.

A word on the operation itself (joint, sex, hospital, region, surgeon, and of a revision its date, reason, action and
extras) can be judged of any. Every other word speaks of the primary, so a revision without one here meets none.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from regdash.cohort import Cohort, Predicate
from regdash.grouping import Grouping
from regdash.reports import done_wording, wording
from regdash.reports.done_groups import OF_OPERATION, OF_REVISION, PLACES, Names, expression
from regdash.reports.done_model import DoneHead
from regdash.reports.policy import Policy
from regdash.store.cuts import Cut
from regdash.store.event_counts import count_held_revisions
from regdash.store.revisions_done import revisions_done
from regdash.store.sqlfiles import statement


@dataclass(frozen=True)
class DoneAsked:
    """Which revisions are asked about on one cut, and how they are grouped."""

    cut: Cut
    cohort: Cohort
    by: tuple[Grouping, ...] = ()
    more: tuple[str, ...] = field(default=())  # conditions in SQL beside the filter's

    @cached_property
    def names(self) -> Names:
        """How its groups are called."""
        return Names.on(self.cut, self.by)

    @property
    def grouping(self) -> str:
        """The columns of the groups in SQL, for the beginning of a select list."""
        return "".join(f"{expression(by)} as g{n}, " for n, by in enumerate(self.by))

    @property
    def of_primaries(self) -> tuple[str, ...]:
        """The words of the filter that speak of the primary."""
        own = (*OF_OPERATION, *OF_REVISION)
        return tuple(str(c) for c in self.cohort.conditions if c.key not in own)

    @property
    def judged(self) -> str:
        """The revisions that the filter can judge, in SQL."""
        return "is_linked" if self.of_primaries else "true"

    @property
    def predicate(self) -> Predicate:
        """The filter, with the parameters that the query of revisions binds."""
        said = self.cohort.predicate(revisions_done()[1])
        return Predicate(" and ".join((said.sql, *self.more)), said.parameters)

    @property
    def is_by_place(self) -> bool:
        """Whether a word or a group speaks of the place of the operation."""
        named = {*(c.key for c in self.cohort.conditions), *(by.field.key for by in self.by)}
        return bool(named & set(PLACES))

    def left_out(self) -> int:
        """Count the revisions without a primary here that the other words would keep."""
        if not self.of_primaries:
            return 0
        own = Cohort(tuple(c for c in self.cohort.conditions if c.key in (*OF_OPERATION, *OF_REVISION)))
        revisions, bound = revisions_done()
        said = own.predicate(bound)
        where = " and ".join((said.sql, "not is_linked", *self.more))
        parts = {"grouping": "", "reason": "reason_group", "predicate": where, "revisions": revisions}
        found = self.cut.rows(statement("queries/revision_counts", **parts), **said.parameters)
        return sum(int(revisions) for *_, revisions in found)

    def cautions(self, policy: Policy, instead: str) -> list[str]:
        """What its words ask to be said."""
        left_out = self.left_out()
        dated = any(c.key == "implanted" for c in self.cohort.conditions)
        return [
            *([done_wording.PLACES] if self.is_by_place else []),
            *([done_wording.IMPLANTED.format(instead=instead)] if dated else []),
            *([done_wording.unlinked_left_out(left_out, " ".join(self.of_primaries), policy.said)] if left_out else []),
        ]

    def head(
        self,
        policy: Policy,
        measure: str,
        method: str,
        cautions: Sequence[str],
        counts: tuple[int | None, int, int],  # primaries, revisions, those of them without a primary here
    ) -> DoneHead:
        """Write the head of an answer."""
        held = self._held()
        said = [*cautions]
        of = "of these joints" if self.cohort.conditions else "in all"
        said += [done_wording.held(held, of, policy.said)] if held else []
        said += [wording.counts_withheld(policy.withhold_counts_under)] if policy.withholds_counts else []
        said += [wording.NOT_FOR_ONE_PATIENT]
        primaries, revisions, unlinked = (None if number is None else policy.count(number) for number in counts)
        settings: dict[str, Any] = policy.settings
        return DoneHead(
            measure=measure,
            cohort=self.cohort,
            by=self.by,
            cut=self.cut.name,
            primaries=primaries,
            revisions=revisions,
            unlinked=unlinked,
            held_revisions=policy.count(held),
            method=method,
            cautions=tuple(said),
            settings=settings,
        )

    def _held(self) -> int:
        """Held revisions of the joints; words on a revision itself cannot be judged of them, and are left aside."""
        joints = Cohort(tuple(c for c in self.cohort.conditions if c.key not in OF_REVISION))
        return count_held_revisions(self.cut, joints.predicate(), not self.cohort.conditions)
