"""The summary's tables as CSV files (RFC 4180) with a descriptor: a Data Package with a Table Schema a table."""

import csv
import hashlib
import io
import json
from collections.abc import Sequence
from typing import Any

from regdash.output.record import WITHHELD
from regdash.summary.document import NOTHING, Document, Table, cell_mark
from regdash.summary.renderers.cells import source_line

DESCRIPTOR = "datapackage.json"
FORMULA = ("=", "+", "-", "@", "\t", "\r")  # how a cell begins that a spreadsheet would take for a formula


def render(document: Document) -> dict[str, bytes]:
    """Write every table, and the descriptor; by name of the file."""
    files = {f"{table.name}.csv": as_csv(table).encode() for table in document.tables}
    resources = [_resource(table, files[f"{table.name}.csv"]) for table in document.tables]
    descriptor = {
        "name": document.stem,
        "title": document.title,
        "description": f"{document.subtitle}. {document.footer}.",
        "created": f"{document.date}T00:00:00Z",
        "profile": "tabular-data-package",
        "resources": resources,
    }
    return {DESCRIPTOR: (json.dumps(descriptor, indent=2, ensure_ascii=False) + "\n").encode(), **files}


def as_csv(table: Table) -> str:
    """Write a table with a header; a figure that is not there is a word and never blank."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(table.record.columns)
    for row in table.record.rows:
        writer.writerow([_text(shown(row, name)) for name in table.record.columns])
    return text.getvalue()


def shown(row: dict[str, Any], name: str) -> Any:
    """Give what a file holds in a cell: the value, `withheld`, or a dash where there is nothing to give."""
    value = row.get(name)
    if value is None:
        return NOTHING if name == WITHHELD else cell_mark(row)
    if isinstance(value, (list, tuple)):
        return "; ".join(map(str, value))
    return json.dumps(value, ensure_ascii=False, sort_keys=True) if isinstance(value, dict) else value


def _text(value: Any) -> str:
    """Write a cell; a float with the fewest digits that read back to it, a text never as a formula."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, float):
        return repr(value)
    text = str(value)
    return f"'{text}" if isinstance(value, str) and text.startswith(FORMULA) else text


def _resource(table: Table, data: bytes) -> dict[str, Any]:
    fields = [{"name": name, "type": kind_of(table.record.rows, name)} for name in table.record.columns]
    return {
        "name": table.name,
        "path": f"{table.name}.csv",
        "title": table.title,
        "description": source_line(table),
        "profile": "tabular-data-resource",
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "bytes": len(data),
        "hash": f"sha256:{hashlib.sha256(data).hexdigest()}",
        "dialect": {"delimiter": ",", "lineTerminator": "\r\n", "header": True},
        "schema": {"fields": fields, "missingValues": [WITHHELD, NOTHING]},
    }


def kind_of(rows: Sequence[dict[str, Any]], name: str) -> str:
    """
    Say the type of a column in the words of Table Schema.

    >>> kind_of([{"n": 1}, {"n": None}, {"n": 0.5}], "n"), kind_of([{"n": 1}], "n"), kind_of([{"n": None}], "n")
    ('number', 'integer', 'string')
    """
    kinds = {type(row[name]) for row in rows if row.get(name) is not None}
    if kinds and kinds <= {int}:
        return "integer"
    if kinds and kinds <= {int, float}:
        return "number"
    return "boolean" if kinds == {bool} else "string"
