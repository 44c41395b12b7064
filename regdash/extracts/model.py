"""What is asked of an extract, and what became of it."""

from dataclasses import dataclass

from regdash.cohort import Cohort
from regdash.extracts.classes import Alike, Endings, Left
from regdash.extracts.field_list import FieldList

CSV, PARQUET = "csv", "parquet"
FORMS = (CSV, PARQUET)
NOTHING_LEFT = Left(0, 0, 0)


@dataclass(frozen=True)
class Wanted:
    """One extract, as it is asked for."""

    fields: FieldList
    cohort: Cohort
    k: int
    suppress: bool = False
    forms: tuple[str, ...] = FORMS
    request: str = ""  # R012; empty where none was made


@dataclass(frozen=True)
class Counted:
    """How many rows there are, and how alike."""

    before: Alike  # before rows of small classes are left out
    after: Alike  # as they go out
    few_users: Left = NOTHING_LEFT
    under_k: Left = NOTHING_LEFT
    revised: int = 0  # among the rows that go out
    endings: Endings | None = None  # of the rows that go out
    found_by_time: tuple[int, int] = (0, 0)  # of the rows that go out, as `classes.found_by_time`
    lots_hidden: int = 0


@dataclass(frozen=True)
class Extract:
    """The files of an extract, and what the office is told of it."""

    files: dict[str, bytes]
    counted: Counted
