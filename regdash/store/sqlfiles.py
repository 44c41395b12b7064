"""
Every statement of the program, read from `sql/`.

A file begins with a comment: sentences for a person, an empty comment line, then fields
(`grain:`, `reads:`, `columns:`, `needs:`; a rule has `severity:`, `text:` and others) that tests
compare with what the database sees.
The installed wheel carries the folder inside the package; a checkout has it beside.
"""

import functools
import graphlib
import re
from dataclasses import dataclass
from pathlib import Path

_FIELD = re.compile(r"^--\s{0,2}(grain|reads|columns|needs|creates|writes|version|severity|starts|shows|text):\s*(.*)$")


def sql_folder() -> Path:
    """Find `sql/`: inside the installed package, or beside it in a checkout."""
    inside = Path(__file__).parent.parent / "_sql"
    return inside if inside.is_dir() else Path(__file__).parent.parent.parent / "sql"


@dataclass(frozen=True)
class SqlFile:
    """One file: its name, what its header says, and the statement without the header."""

    name: str
    about: str
    fields: dict[str, str]
    query: str

    def listed(self, field: str) -> tuple[str, ...]:
        """Split a field that lists names: "operations, deaths" -> ("operations", "deaths")."""
        return tuple(part.strip() for part in self.fields.get(field, "").split(",") if part.strip())

    @property
    def columns(self) -> tuple[tuple[str, str], ...]:
        """Name and type of each column that the header promises."""
        lines = (line.split() for line in self.fields.get("columns", "").splitlines())
        return tuple((words[0], words[1]) for words in lines if len(words) >= 2)


def _split_header(text: str) -> tuple[list[str], str]:
    lines = text.splitlines()
    count = next((n for n, line in enumerate(lines) if not line.startswith("--")), len(lines))
    return lines[:count], "\n".join(lines[count:]).strip().rstrip(";")


def parse(name: str, text: str) -> SqlFile:
    """Read a file's header and statement."""
    header, query = _split_header(text)
    about, fields, current = [], {}, ""
    for line in header:
        if match := _FIELD.match(line):
            current = match[1]
            fields[current] = match[2].strip()
        elif current:
            fields[current] += "\n" + line[2:].strip()
        else:
            about.append(line[2:].strip())
    return SqlFile(name, " ".join(filter(None, about)), fields, query)


@functools.cache
def sql_file(path: str) -> SqlFile:
    """Read `sql/<path>.sql`, for example `queries/event_counts`."""
    return parse(path.rsplit("/", 1)[-1], (sql_folder() / f"{path}.sql").read_text(encoding="utf-8"))


def statement(path: str, **parts: str) -> str:
    """
    Take the statement of `sql/<path>.sql`, with the parts its header needs put in.

    Parts are SQL fragments that this program builds from its own field list (never a user's
    text, which is always bound); the header's `needs:` lists them, written `{part}` in the file.
    """
    file = sql_file(path)
    missing = set(file.listed("needs")) ^ set(parts)
    if missing:
        raise ValueError(f"sql/{path}.sql and its caller differ on the parts {sorted(missing)}")
    query = file.query
    for part, fragment in parts.items():
        query = query.replace("{" + part + "}", fragment)
    return query


def views_in_order() -> list[SqlFile]:
    """List the views so that each comes after those it reads."""
    files = {path.stem: sql_file(f"views/{path.stem}") for path in sorted((sql_folder() / "views").glob("*.sql"))}
    graph = {name: {table for table in file.listed("reads") if table in files} for name, file in files.items()}
    return [files[name] for name in graphlib.TopologicalSorter(graph).static_order()]
