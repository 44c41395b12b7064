"""What stands in a folder as its recipient has it: tables of the Data Package, their commands, and sentences."""

import csv
import io
import json
import re
import shlex
import tomllib
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

NUMBERS = ("integer", "number")
TIME = "years"  # a number that says when, and counts nothing
WHY = "withheld"
NOT_SAID = ("withheld", "–", "")


@dataclass(frozen=True)
class Line:
    """One line of a table: the words that say of what it is, and its numbers."""

    words: dict[str, str]
    years: float | None
    numbers: dict[str, float | None]  # None where it is withheld
    why: str | None


@dataclass(frozen=True)
class Table:
    """One table as given out."""

    name: str
    title: str
    filter: tuple[str, ...]  # words that choose its joints, where its command or its question says so
    counts: tuple[str, ...]  # columns of whole numbers
    lines: tuple[Line, ...]


@dataclass(frozen=True)
class Folder:
    """Everything that one recipient has of one quarter."""

    path: Path

    @cached_property
    def record(self) -> dict:
        return json.loads((self.path / "reproduction.json").read_text(encoding="utf-8"))

    @cached_property
    def edition(self) -> dict:
        return tomllib.loads((self.path / "edition.toml").read_text(encoding="utf-8"))

    @property
    def kind(self) -> str:
        return str(self.record["recipient"]).partition(":")[0]

    @property
    def code(self) -> str:
        return str(self.record["recipient"]).partition(":")[2]

    @property
    def quarter(self) -> str:
        return str(self.record["quarter"])

    @cached_property
    def tables(self) -> tuple[Table, ...]:
        package = json.loads((self.path / "tables" / "datapackage.json").read_text(encoding="utf-8"))
        return tuple(self._table(one) for one in package["resources"] if one["name"] != "commands")

    @cached_property
    def bullets(self) -> dict[str, tuple[str, ...]]:
        """Lists of a bullet with a title, as in "- Knees: an infection; worn parts."."""
        text = re.sub(r"\n  +(?=\S)", " ", (self.path / "summary.txt").read_text(encoding="utf-8"))
        found = re.findall(r"^- ([^:\n]+): ([^\n]+?)\.?$", text, re.M)
        return {title: tuple(said.split("; ")) for title, said in found}

    @cached_property
    def _commands(self) -> dict[str, str]:
        path = self.path / "tables" / "commands.csv"
        if not path.exists():
            return {}
        with path.open(encoding="utf-8", newline="") as file:
            return {row["table"]: row["command"] for row in csv.DictReader(file)}

    def _table(self, resource: dict) -> Table:
        kinds = {one["name"]: one["type"] for one in resource["schema"]["fields"]}
        text = (self.path / "tables" / resource["path"]).read_text(encoding="utf-8")
        rows = list(csv.DictReader(io.StringIO(text, newline="")))
        gone = [name for name in kinds if name != WHY and rows and all(row[name] in NOT_SAID for row in rows)]
        kinds |= dict.fromkeys(gone, "integer")
        return Table(
            resource["name"],
            resource["title"],
            self._filter(resource["name"], resource["title"]),
            tuple(name for name, kind in kinds.items() if kind == "integer" and name != TIME),
            tuple(_line(row, kinds) for row in rows),
        )

    def _filter(self, name: str, title: str) -> tuple[str, ...]:
        command = self._commands.get(name, "")
        if command.startswith("regdash "):
            words = shlex.split(command)
            filters = [one for word in words for one in word.split() if re.match(r"[a-z]+!?=", one)]
            return tuple(filters) + _coded(words)
        questions = [one for of in ("risk", "reasons") for one in self.edition.get(of, [])]
        named = [one["filter"] for one in questions if title.split(":")[0] == one["title"] and "filter" in one]
        return tuple(shlex.split(named[0])) if named else _by_name(name)


def _coded(words: list[str]) -> tuple[str, ...]:
    return (f"--code={words[words.index('--code') + 1]}",) if "--code" in words else ()


def _by_name(name: str) -> tuple[str, ...]:
    joints = [joint for joint in ("knee", "hip", "shoulder") if joint in name.split("-")]
    return (f"joint={joints[0]}",) if joints else ()


def _line(row: dict[str, str], kinds: dict[str, str]) -> Line:
    numbers = {
        name: None if row[name] in NOT_SAID else float(row[name])
        for name, kind in kinds.items()
        if kind in NUMBERS and name != TIME
    }
    words = {name: row[name] for name, kind in kinds.items() if kind not in NUMBERS and name not in (WHY, TIME)}
    years = float(row[TIME]) if TIME in row else None
    why = row.get(WHY)
    return Line(words, years, numbers, None if why in (None, "–", "") else why)
