"""
The document model: what a summary says, in no form yet. Every table has its figures twice from one report: as people
read them, and as programs do; and says where they come from.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from regdash.figures.drawing import Picture
from regdash.output.record import WITHHELD, Record
from regdash.output.table import Column
from regdash.output.wording import NONE
from regdash.summary.office import Kept


@dataclass(frozen=True)
class Provenance:
    """Where figures come from."""

    report: str  # what was asked: "net revision risk"
    cohort: str  # filter words, canonical; empty for every joint
    of: str  # in words, with counts and period: the denominator
    command: tuple[str, ...] = ()  # arguments of regdash that give the same figures; none where no command does
    cautions: tuple[str, ...] = ()  # with counts of this answer; those that hold of others too stand in their section


@dataclass(frozen=True)
class Paragraph:
    """A sentence or a few."""

    text: str


@dataclass(frozen=True)
class Warned:
    """A caution that must not be overlooked."""

    text: str


@dataclass(frozen=True)
class Bullets:
    """A list."""

    items: tuple[str, ...]


@dataclass(frozen=True)
class Facts:
    """Labels and what stands beside them."""

    pairs: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Table:
    """
    A table. `name` is that of its file and its sheet, and unique in a document.

    `columns` are cells as text for people, of `shown` rows; `record` has every row for programs.
    """

    name: str
    title: str
    columns: tuple[Column, ...]
    record: Record
    provenance: Provenance
    notes: tuple[tuple[str, str], ...] = ()  # a mark in a cell, and its sentence
    remarks: tuple[str, ...] = ()

    @property
    def said(self) -> tuple[str, ...]:
        """What stands under it beside its notes: remarks, then cautions with counts of this answer."""
        return (*self.remarks, *self.provenance.cautions)

    @property
    def height(self) -> int:
        """Rows that people see."""
        return len(self.columns[0].cells) if self.columns else 0


@dataclass(frozen=True)
class Figure:
    """A picture of what a table says."""

    name: str
    title: str
    alt: str  # what it shows, for who does not see it
    picture: Picture
    table: str  # name of the table with its figures
    remarks: tuple[str, ...] = ()


Block = Paragraph | Warned | Bullets | Facts | Table | Figure


@dataclass(frozen=True)
class Section:
    """A heading, what stands under it, and smaller sections."""

    key: str  # unique in the document
    title: str
    blocks: tuple[Block, ...] = ()
    sections: tuple["Section", ...] = ()


@dataclass(frozen=True)
class Document:
    """A whole summary."""

    title: str
    subtitle: str
    date: str  # ISO 8601: the day on which everything in it was known; never the day of writing
    footer: str  # a line for the foot of every page
    sections: tuple[Section, ...]
    kept: tuple[Kept, ...] = ()  # for the office alone; in no form of the document
    stem: str = "summary"  # of the names of its files
    language: str = "en-GB"
    keywords: tuple[str, ...] = field(default=("joint replacement", "registry"))

    @property
    def tables(self) -> tuple[Table, ...]:
        """Every table, in order."""
        return tuple(block for block in blocks(self.sections) if isinstance(block, Table))

    @property
    def figures(self) -> tuple[Figure, ...]:
        """Every figure, in order."""
        return tuple(block for block in blocks(self.sections) if isinstance(block, Figure))


def blocks(sections: Sequence[Section]) -> Iterator[Block]:
    """Go through all blocks in the order in which they are read."""
    for section in sections:
        yield from section.blocks
        yield from blocks(section.sections)


NOTHING = NONE  # where there is no figure to give; no word of any code list is written so


def cell_mark(row: dict[str, object]) -> str:
    """
    Say what stands in a file where a row has no figure: never a blank, and never 0.

    >>> cell_mark({"estimate": None, "withheld": "no joints"}), cell_mark({"p": None})
    ('withheld', '–')
    """
    return WITHHELD if row.get(WITHHELD) else NOTHING


def fitting(columns: Sequence[Column], characters: int) -> tuple[tuple[Column, ...], tuple[str, ...]]:
    """Keep the columns that a page has room for, the least important left out first; and name those left out."""
    kept = list(columns)
    left_out: list[str] = []
    while sum(min(column.width, 34) + 2 for column in kept) > characters:
        rank, place = max((column.rank, place) for place, column in enumerate(kept))
        if not rank:
            break
        left_out.insert(0, kept.pop(place).heading)
    return tuple(kept), tuple(left_out)
