"""What a line of a table counts, told by its words and columns alone: a new table is read, or refused."""

from collections.abc import Iterator
from dataclasses import dataclass

from tests.summary.attack.folder import Folder, Line, Table

OWN, OTHERS, EVERYBODY, ALL = "own", "all others", "everybody", "all"
NO_COUNTS = {"at_risk", "hospitals", "surgeons", "implant_years", "first_used", "last_used"}
EVER = None
# Which count a column tells: of this line's joints or of all others of the class; by the line's years or ever.
TOLD = {
    "joints": ("joints", "self", False),
    "estimate": ("revised", "self", True),
    "incidence": ("revised", "self", True),
    "share": ("revised", "self", False),
    "lower": ("revised", "self", None),  # as the figure it is the limit of
    "upper": ("revised", "self", None),
    "per_100_implant_years": ("revised", "self", False),
    "expected": ("revised", "rest", False),
    "rate_ratio": ("revised", "rest", False),
    "ratio_lower": ("revised", "rest", False),
    "ratio_upper": ("revised", "rest", False),
    "p": ("revised", "rest", False),
    "in_100": ("revised in 100", "self", True),
}


class NotUnderstood(Exception):
    """A table with others' figures that this reader cannot read: teach it, since a better reader could."""


@dataclass(frozen=True)
class Meaning:
    """One number of a table: what is counted, of which joints, and whether it is shown."""

    table: str
    quantity: str  # joints, revised, revised in 100
    who: str  # OWN, OTHERS, EVERYBODY, or an implant's code
    but: bool  # all others of the class than that implant
    joint: str
    classes: tuple[str, ...]  # none: every class
    role: str
    reason: str
    age: str
    years: float | None  # None: ever
    value: float | None  # None where it is withheld
    is_exact: bool  # a count, and no figure
    why: str | None


def meanings(folder: Folder) -> Iterator[Meaning]:
    """Say what every number of a folder is that is not the recipient's own."""
    for table in folder.tables:
        if _is_own(folder, table):
            continue
        for line in table.lines:
            yield from _of_line(folder, table, line)


def _is_own(folder: Folder, table: Table) -> bool:
    """Whether all of a table is of the recipient's own joints: its words choose them, or its name says so."""
    if any(_whose(line) for line in table.lines):
        return False
    chosen = f"{folder.kind}={folder.code}"
    return folder.kind in ("hospital", "surgeon") and (chosen in table.filter or table.name.startswith("own-"))


def _whose(line: Line) -> str:
    group = line.words.get("group", "")
    return group if group in (OWN, OTHERS) else ""


def _of_line(folder: Folder, table: Table, line: Line) -> Iterator[Meaning]:
    who, but = _who(table, line)
    if who == OWN and folder.kind != "maker":
        return
    unread = set(line.words) - {"group", "code", "role", "class", "joint", "reason", "age", "first_used", "last_used"}
    if unread:
        raise NotUnderstood(f"{table.name}: {', '.join(sorted(unread))}")
    words = dict(word.split("=", 1) for word in table.filter if "=" in word and "!=" not in word)
    joint = line.words.get("joint", words.get("joint", ""))
    chosen = line.words.get("class", words.get("class", ALL))
    common = {
        "table": table.name,
        "joint": joint,
        "classes": () if chosen == ALL else tuple(chosen.split(",")),
        "role": line.words.get("role", ""),
        "reason": line.words.get("reason", ""),
        "age": line.words.get("age", ""),
        "why": line.why,
    }
    for column, value in line.numbers.items():
        if column in NO_COUNTS:
            continue
        quantity, of, at_years = _told(table, line, column)
        rest = of == "rest"
        yield Meaning(
            who=who,
            but=but != rest,
            quantity=quantity,
            years=line.years if at_years else EVER,
            value=value,
            is_exact=column in table.counts and quantity != "revised in 100",
            **common,
        )


def _who(table: Table, line: Line) -> tuple[str, bool]:
    """Say of whose joints a line is, and whether of all but those."""
    if "code" in line.words:
        return line.words["code"], False
    group = line.words.get("group")
    if group is None:
        return EVERYBODY, False
    codes = {one.words["group"] for one in table.lines} - {OWN, OTHERS}
    if group == OTHERS and len(codes) == 1:
        return codes.pop(), True
    return group, False


def _told(table: Table, line: Line, column: str) -> tuple[str, str, bool]:
    """Say which count a column tells; revisions are by the years of a risk, and ever beside a reason."""
    if column == "revisions":
        return "revised", "self", "estimate" in line.numbers
    if column not in TOLD:
        raise NotUnderstood(f"{table.name}: {column}")
    quantity, of, at_years = TOLD[column]
    return quantity, of, ("expected" not in line.numbers) if at_years is None else at_years
