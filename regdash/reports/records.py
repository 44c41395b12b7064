"""
What questions about records share: the words that choose them, what they are grouped by, and the head of an answer.
Records are operations of both kinds, so few filter words apply; `implanted` is here the date of the operation.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from regdash import vocabulary
from regdash.cohort import Cohort
from regdash.errors import FilterError
from regdash.grouping import MOST_GROUPS
from regdash.reports import records_wording as wording
from regdash.reports.policy import Policy
from regdash.store.cuts import Cut
from regdash.store.sqlfiles import statement
from regdash.suggest import nearest

WORDS = ("joint", "implanted", "hospital", "region")  # filter words that speak of any operation
# What records are grouped by, in SQL that gives a text: made of columns that every relation here has.
UNITS = {
    "joint": "joint::varchar",
    "kind": "kind::varchar",
    "hospital": "hospital_id::varchar",
    "region": f"coalesce(region::varchar, '{vocabulary.NOT_RECORDED}')",
    "year": "strftime(implanted_date, '%Y')",
    "month": "strftime(implanted_date, '%Y-%m')",
}
_ORDER = {"joint": vocabulary.JOINTS, "kind": vocabulary.KINDS}
ALL = "all"


@dataclass(frozen=True)
class Asked:
    """Which records a question is about, and how they are grouped."""

    cohort: Cohort = field(default_factory=Cohort)
    by: tuple[str, ...] = ()  # keys of UNITS
    kind: str | None = None  # one of vocabulary.KINDS
    most: int | None = MOST_GROUPS  # groups that may be; None where a file is written, that nobody reads as a page

    @property
    def grouping(self) -> str:
        """The columns of the groups in SQL, for the beginning of a select list."""
        return "".join(f"{UNITS[key]} as g{place}, " for place, key in enumerate(self.by))

    def place(self, group: Sequence[str]) -> tuple[tuple[int, str], ...]:
        """Sort key of a group: lists in their own order, everything else by name."""
        orders = [_ORDER.get(key, ()) for key in self.by]
        return tuple((o.index(word) if word in o else 0, word) for o, word in zip(orders, group, strict=True))


@dataclass(frozen=True)
class RecordsHead:
    """What an answer about records carries: what was asked, of which cut, how it was made, and how it may mislead."""

    measure: str
    cohort: Cohort
    kind: str | None
    by: tuple[str, ...]
    cut: str
    method: str
    cautions: tuple[str, ...]
    settings: dict[str, Any] = field(default_factory=dict)


def units_of(text: str) -> tuple[str, ...]:
    """
    Read what records are grouped by: names joined by commas.

    Raises:
        FilterError: an unknown name, or one named twice.

    >>> units_of("hospital,year")
    ('hospital', 'year')
    """
    keys = tuple(part.strip().lower() for part in text.split(",") if part.strip())
    for key in keys:
        if key not in UNITS:
            raise FilterError(f"Records are not grouped by {key}. {nearest(key, UNITS, most=len(UNITS))}")
        if keys.count(key) > 1:
            raise FilterError(f"{key} is named twice in the grouping {text}")
    return keys


def checked(cohort: Cohort) -> Cohort:
    """
    Refuse words that speak of a joint and not of any operation.

    Raises:
        FilterError: such a word, with those that may stand.
    """
    for condition in cohort.conditions:
        if condition.key not in WORDS:
            raise FilterError(
                f"{condition.key} does not choose records of both kinds. Words that do: {', '.join(WORDS)}."
            )
    return cohort


def head(cut: Cut, policy: Policy, asked: Asked, measure: str, method: str, cautions: Sequence[str]) -> RecordsHead:
    """Write the head of an answer, with what every one of them must say."""
    ((held,),) = cut.rows(statement("queries/held_operations"))
    said = [*cautions, *([wording.held_operations(policy.said(held), held)] if held else [])]
    said += [wording.counts_withheld(policy.withhold_counts_under)] if policy.withholds_counts else []
    cohort, kind, by = asked.cohort, asked.kind, asked.by
    return RecordsHead(measure, cohort, kind, by, cut.name, method, tuple(said), policy.settings)


def labelled(group: Sequence[str]) -> str:
    """Name a group; "all" where nothing groups."""
    return ", ".join(group) or ALL


def refuse_many(groups: int, asked: Asked) -> None:
    """
    Refuse more groups than anybody reads.

    Raises:
        FilterError: with their number.
    """
    if asked.most is not None and groups > asked.most:
        raise FilterError(
            f"Grouping by {','.join(asked.by)} gives {groups:,} groups, more than the {asked.most:,} that can be "
            "shown. Filter first, group by less, or write all of them to a file with --csv or --json."
        )
