"""
What comes back from questions about submitted rows. They are about rows, not joints, so
of a filter only the words that rows can meet are followed.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from regdash.cohort import Cohort


@dataclass(frozen=True)
class RowsHead:
    """What such an answer carries: what it is, which words it follows and which it cannot, on which cut, how."""

    measure: str
    followed: tuple[str, ...]  # filter words
    not_followed: tuple[str, ...]
    cut: str
    method: str
    cautions: tuple[str, ...]


@dataclass(frozen=True)
class FindingRow:
    """What one rule found in one file of one sender."""

    hospital: str  # sender
    file: str
    rule: str
    severity: str  # reject, hold, known already, warn or note
    told: str  # what the hospital is told of every such row
    rows: int | None


@dataclass(frozen=True)
class RuleTotal:
    """What one rule found in one file, of all senders together."""

    file: str
    rule: str
    severity: str
    told: str
    rows: int | None
    hospitals: int  # senders with such a row


@dataclass(frozen=True)
class SenderTotal:
    """What all rules found in one sender's rows, by severity; `by` has each of them."""

    hospital: str  # sender
    rules: int  # that found anything
    by: dict[str, int | None]


@dataclass(frozen=True)
class FindingsReport:
    """What rules found, by sender, file and rule; and the sums over senders and over rules."""

    head: RowsHead
    rows: tuple[FindingRow, ...]
    rules: tuple[RuleTotal, ...]  # gravest first, then the most frequent
    hospitals: tuple[SenderTotal, ...]
    by: dict[str, int | None]  # by severity, all together


@dataclass(frozen=True)
class FoundRow:
    """One submitted row and one rule that found it. No patient's number is in it."""

    submission: str
    file: str
    row: int  # 1 for the first under the header
    rule: str
    severity: str
    hospital: str  # sender
    record: str | None  # number of the operation, the catalogue entry or the unit
    value: str | None  # what the row said
    told: str

    @property
    def text(self) -> str:
        """What the hospital is told of this row."""
        record = f"Record {self.record}" if self.record else f"Row {self.row}"
        return f"{self.told} {record}{f', which said {self.value}' if self.value else ''}."


@dataclass(frozen=True)
class FoundRowsReport:
    """A page of found rows."""

    head: RowsHead
    rows: tuple[FoundRow, ...]
    total: int
    offset: int


@dataclass(frozen=True)
class ReceivedRow:
    """What became of the rows of one sender's submissions of one kind."""

    kind: str
    sender: str
    submissions: int
    last_received: str
    received: int
    accepted: int
    held: int
    rejected: int
    known_already: int


@dataclass(frozen=True)
class ReceivedReport:
    """What every sender has sent."""

    head: RowsHead
    rows: tuple[ReceivedRow, ...]


@dataclass(frozen=True)
class UnitRow:
    """One figure of a hospital or surgeon that breaks a rule about units."""

    unit_kind: str  # hospital or surgeon
    unit: str
    rule: str
    severity: str  # warn or note
    period: str  # year, month or day
    detail: str | None  # field, reason, digit or class that it is about
    figure: float | None
    usual: float | None  # None where the rule has a limit of its own, or the policy withholds it
    told: str  # what the unit is asked
    withheld: str | None = None


@dataclass(frozen=True)
class UnitsReport:
    """Questions to hospitals and surgeons, the latest first."""

    head: RowsHead
    rows: tuple[UnitRow, ...]


@dataclass(frozen=True)
class Senders:
    """Which senders a filter asks for, and the words that say nothing about rows."""

    only: list[str] | None
    others: list[str]
    followed: tuple[str, ...]
    not_followed: tuple[str, ...]

    @property
    def bound(self) -> dict[str, list[str] | None]:
        """What a query about senders binds."""
        return {"senders": self.only, "others": self.others}


def senders(cohort: Cohort) -> Senders:
    """
    Say which senders a filter asks for.

    >>> from regdash import cohort
    >>> asked = senders(cohort.parse("joint=knee hospital=H001,H002 hospital!=H002"))
    >>> asked.only, asked.others, asked.not_followed
    (['H001', 'H002'], ['H002'], ('joint=knee',))
    """
    about = [c for c in cohort.conditions if c.key == "hospital"]
    only: list[str] | None = None
    for condition in about:
        if not condition.negated:
            named = list(map(str, condition.values))
            only = named if only is None else [name for name in only if name in named]
    others = [str(value) for condition in about if condition.negated for value in condition.values]
    words: Sequence[str] = tuple(map(str, about))
    return Senders(only, others, tuple(words), tuple(w for w in cohort.words if w not in words))
