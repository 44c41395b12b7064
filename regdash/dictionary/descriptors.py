"""
The Data Package beside this file, read: a Table Schema for each submitted table.

The standard is Table Schema 1 and Data Package 1 of the Open Knowledge Foundation (specs.frictionlessdata.io). Two
properties of our own stand beside it: `codeList` names the list of the vocabulary that an enum is, `submission` the
kind of submission that a table belongs to.
"""

import json
import re
import shutil
from dataclasses import dataclass
from functools import cache, cached_property
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).parent
PACKAGE_NAME = "datapackage.json"


@dataclass(frozen=True)
class Field:
    """One column: what it is called, what it means, and what a cell may hold."""

    name: str
    title: str
    description: str
    kind: str  # a type of Table Schema
    constraints: dict[str, Any]
    code_list: str | None = None  # name of the vocabulary's list that its enum is


@dataclass(frozen=True)
class Schema:
    """One table as its descriptor has it."""

    descriptor: dict[str, Any]

    @property
    def name(self) -> str:
        """Name of the file, without its ending."""
        return str(self.descriptor["name"])

    @property
    def title(self) -> str:
        """Heading for people."""
        return str(self.descriptor["title"])

    @property
    def description(self) -> str:
        """What a row is."""
        return str(self.descriptor["description"])

    @cached_property
    def fields(self) -> tuple[Field, ...]:
        """Columns in the order of the file."""
        return tuple(
            Field(f["name"], f["title"], f["description"], f["type"], f.get("constraints", {}), f.get("codeList"))
            for f in self.descriptor["fields"]
        )

    @cached_property
    def columns(self) -> tuple[str, ...]:
        """Names of the columns in the order of the file."""
        return tuple(field.name for field in self.fields)

    @property
    def primary_key(self) -> tuple[str, ...]:
        """Columns that tell two rows apart."""
        return tuple(self.descriptor["primaryKey"])

    def field(self, name: str) -> Field:
        """Find a column by its name."""
        return self.fields[self.columns.index(name)]


def _read(path: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads((FOLDER / path).read_text(encoding="utf-8"))
    return found


PACKAGE = _read(PACKAGE_NAME)
SCHEMAS = {resource["name"]: Schema(_read(resource["schema"])) for resource in PACKAGE["resources"]}

_LIMIT = re.compile(r"\{(\w+)\.(\w+)\.(minimum|maximum)\}")


@cache
def with_limits(text: str) -> str:
    """
    Put limits of the dictionary in the places that a text has for them.

    >>> with_limits("outside {operations.bmi.minimum} to {operations.bmi.maximum}")
    'outside 14 to 70'
    """
    return _LIMIT.sub(lambda place: str(SCHEMAS[place[1]].field(place[2]).constraints[place[3]]), text)


def export_to(folder: Path) -> list[Path]:
    """Write the package and its schemas into a folder, and list the files."""
    names = [PACKAGE_NAME, *(resource["schema"] for resource in PACKAGE["resources"])]
    for name in names:
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(FOLDER / name, folder / name)
    return [folder / name for name in names]
