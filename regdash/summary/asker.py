"""What sections ask with: one desk on one cut, one edition and quarter; and what is gathered on the way."""

import re
import shlex
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from regdash import cohort as filters
from regdash import grouping
from regdash.cohort import Cohort
from regdash.errors import FilterError, SummaryError
from regdash.grouping import Grouping
from regdash.output.wording import cohort_in_words, count, number
from regdash.reports.changes import ChangesHead
from regdash.reports.done_model import DoneHead
from regdash.reports.model import DescribeReport, Head, RiskReport
from regdash.reports.mortality_model import MortalityHead
from regdash.reports.policy import Policy
from regdash.reports.records import RecordsHead
from regdash.reports.submitted_rows import RowsHead
from regdash.signals.desk import SignalsDesk
from regdash.store.cuts import Manifest
from regdash.summary.document import Provenance
from regdash.summary.edition import REQUESTS, Edition, Question
from regdash.summary.office import Kept
from regdash.summary.pinned import PinnedReviews
from regdash.summary.quarter import Quarter
from regdash.summary.recipient import TO_COMMITTEE, Recipient
from regdash.summary.released import Released

HELD = "held back until"  # how many are is said of every cohort
AnyHead = Head | DoneHead | MortalityHead | RecordsHead | RowsHead | ChangesHead


@dataclass
class Asker:
    """Asks for sections, and remembers how figures were made and how they may mislead."""

    desk: SignalsDesk
    edition: Edition
    quarter: Quarter
    reviews: PinnedReviews  # decisions on signals that count
    earlier: Manifest | None = None  # the cut that this one is compared with
    recipient: Recipient = TO_COMMITTEE
    before: Released | None = None  # what everybody was told earlier
    methods: dict[str, str] = field(default_factory=dict)  # by what was measured
    cautions: dict[str, None] = field(default_factory=dict)  # in the order in which they came up
    kept: list[Kept] = field(default_factory=list)  # what the recipient does not get
    risks_of_others: dict[str, RiskReport] = field(default_factory=dict)  # as asked beside own ones, by cohort
    _wholes: dict[str, DescribeReport] = field(default_factory=dict)

    @property
    def cut(self) -> Manifest:
        """What the cut was made from."""
        return self.desk.manifest

    @property
    def others(self) -> Policy:
        """The policy for figures of joints that are not the recipient's own."""
        return self.desk.policy.at_least(self.edition.withhold_counts_under)

    @property
    def level(self) -> float:
        """The confidence level of all limits."""
        return self.desk.policy.level

    def cohort(self, words: str, where: str) -> Cohort:
        """
        Read filter words of the edition.

        Raises:
            SummaryError: a word that is none, with the question it stands in.
        """
        try:
            return filters.parse(tuple(shlex.split(words)), known=self.desk.known)
        except FilterError as fault:
            raise SummaryError(f"The edition's question {where}: {fault}") from None

    def grouping(self, text: str, where: str) -> tuple[Grouping, ...]:
        """
        Read groups of the edition.

        Raises:
            SummaryError: a field that makes no groups, with the question it stands in.
        """
        try:
            return grouping.parse(text)
        except FilterError as fault:
            raise SummaryError(f"The edition's question {where}: {fault}") from None

    def asked(self, question: Question) -> list[tuple[str, Cohort]]:
        """Say of which joints a question is, and of which cohort for each: its own, or each of the edition's."""
        whole = self.cohort(question.filter, question.title)
        named = [condition for condition in whole.conditions if condition.key == "joint" and not condition.negated]
        if named:
            return [(str(named[0].values[0]), whole)]
        return [(joint, whole.having(f"joint={joint}")) for joint in self.edition.joints]

    def whole(self, cohort: Cohort) -> DescribeReport:
        """Describe all joints of a cohort together."""
        words = str(cohort)
        if words not in self._wholes:
            self._wholes[words] = self.desk.describe(cohort)
        return self._wholes[words]

    def holds(self, cohort: Cohort) -> bool:
        """Whether any joint of the data cut is in a cohort."""
        return bool(self.whole(cohort).rows)

    def noted(self, head: AnyHead) -> tuple[str, ...]:
        """Remember the method and the cautions of an answer; give those that speak of its own counts."""
        self.methods.setdefault(head.measure, head.method)
        own = tuple(caution for caution in head.cautions if speaks_of_counts(caution))
        for caution in head.cautions:
            if caution not in own:
                self.cautions.setdefault(caution)
        return tuple(caution for caution in own if HELD not in caution)

    def period(self, cohort: Cohort) -> str:
        """Say when the primaries of a cohort were done, and to when they are followed."""
        rows = self.whole(cohort).rows
        firsts = [row.first_date for row in rows if row.first_date]
        lasts = [row.last_date for row in rows if row.last_date]
        done = f"primaries {min(firsts)} to {max(lasts)}, " if firsts and lasts else ""
        return f"{done}followed to {self.cut.through_date} at the latest"

    def provenance(self, head: Head, command: Sequence[str]) -> Provenance:
        """Say of which joints figures are, and which command gives them."""
        own = self.noted(head)
        joints = f"{count(head.joints)} joints in {count(head.patients)} patients"
        held = f"{count(head.held_revisions)} revision{'' if head.held_revisions == 1 else 's'} held back"
        revised = f"{count(head.revisions)} revised, {held}"
        median = "" if head.median_follow_up is None else f"; median follow-up {number(head.median_follow_up, 1)} years"
        of = f"{cohort_in_words(head.cohort)}: {joints}, {self.period(head.cohort)}; {revised}{median}."
        return Provenance(f"{head.measure}, {head.endpoint}", str(head.cohort), of, self.command(*command), own)

    def uncounted(self, head: AnyHead, cohort: Cohort, of: str, command: Sequence[str] = ()) -> Provenance:
        """Say where figures come from, without a count that others would follow from."""
        self.noted(head)
        return Provenance(head.measure, str(cohort), of, self.command(*command) if command else ())

    def records_provenance(self, head: RecordsHead, command: Sequence[str]) -> Provenance:
        """Say of which records figures are."""
        own = self.noted(head)
        kinds = f"{head.kind}s" if head.kind else "primaries and revisions"
        of = f"Operations: {kinds}; {cohort_in_words(head.cohort)}; known on {self.cut.known_as_of}."
        return Provenance(head.measure, str(head.cohort), of, self.command(*command) if command else (), own)

    def keep(self, table: str, row: str, column: str, count: int | None, why: str) -> None:
        """Write down for the office what the recipient does not get."""
        self.kept.append(Kept(str(self.recipient), table, row, column, count, why))

    def reviewed(self, *arguments: str) -> tuple[str, ...]:
        """Write the arguments of a command whose answer depends on reviews."""
        return (*arguments, "--reviews-as-of", self.reviews.as_of.isoformat())

    @property
    def screening(self) -> dict[str, Any]:
        """What is said of the settings of screens."""
        return self.recipient.settings_told(self.desk.settings.facts)

    @property
    def made_by(self) -> str:
        """The command that makes the whole document."""
        asked = f"regdash summary {self.quarter} --cut {self.cut.cut} --for {self.recipient}"
        lines = f" --requests-up-to {self.reviews.request_lines}" if REQUESTS in self.edition.sections else ""
        return f"{asked} --reviews-as-of {self.reviews.as_of}{lines} --out FOLDER"

    def command(self, *arguments: str) -> tuple[str, ...]:
        """Write the arguments of a command that gives figures of this cut."""
        return (*arguments, "--cut", self.cut.cut)


def speaks_of_counts(caution: str) -> bool:
    """
    Whether a caution has counts of its answer: figures outside brackets, where sources have theirs.

    >>> speaks_of_counts("4 ratios are given: some may have a small p."), speaks_of_counts("As usual (Cox, 1972).")
    (True, False)
    """
    return bool(re.search(r"\d", re.sub(r"\([^)]*\)", "", caution)))


def years_text(years: Sequence[float]) -> str:
    """
    Write years as the command line reads them.

    >>> years_text((1.0, 2.5))
    '1,2.5'
    """
    return ",".join(f"{year:g}" for year in years)
