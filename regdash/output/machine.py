"""JSON and CSV. Floats are written with the fewest digits that read back to the same number; what is null in JSON is
an empty cell in CSV."""

import csv
import io
import json
import math
from datetime import date, time
from decimal import Decimal
from typing import Any

from regdash.output.record import Record, Row, record_of

LIST_SEPARATOR = "; "  # between the parts of a list in one CSV cell


def as_json(report: Any) -> str:
    """Write an answer as one JSON object (RFC 8259), a row a line."""
    record = record_of(report)
    parts = [_member(key, value) for key, value in record.facts.items()]
    parts += [_member("rows", record.rows)]
    parts += [_member(key, value) for key, value in record.more.items()]
    return "{\n" + ",\n".join(parts) + "\n}\n"


def _member(key: str, value: Any) -> str:
    if isinstance(value, list) and value:
        lines = ",\n    ".join(map(_dumped, value))
        return f"  {_dumped(key)}: [\n    {lines}\n  ]"
    return f"  {_dumped(key)}: {_dumped(value)}"


def _dumped(value: Any) -> str:
    return json.dumps(_plain(value), ensure_ascii=False, allow_nan=False)


def _plain(value: Any) -> Any:
    """Reduce a value to what JSON has. Dates are ISO 8601; what is not a finite number is null."""
    if isinstance(value, dict):
        return {str(key): _plain(part) for key, part in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(part) for part in value]
    if value is None or isinstance(value, (bool, int, str)):
        return value
    if isinstance(value, float):
        return float(value) if math.isfinite(value) else None
    if isinstance(value, Decimal):
        return _decimal(value)
    return value.isoformat() if isinstance(value, (date, time)) else str(value)


def _decimal(value: Decimal) -> int | float | str | None:
    """Keep every digit: a whole number, a float where that is the same number, else text."""
    if not value.is_finite():
        return None
    if value == value.to_integral_value():
        return int(value)
    return float(value) if Decimal(repr(float(value))) == value else str(value)


def as_csv(report: Any) -> str:
    """Write the rows of an answer as CSV (RFC 4180): a header, comma, CRLF, quotes where they are needed."""
    record = record_of(report)
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(record.columns)
    writer.writerows(_cells(record, row) for row in record.rows)
    return text.getvalue()


def _cells(record: Record, row: Row) -> list[str]:
    return [_cell(_plain(row.get(column))) for column in record.columns]


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list):
        return LIST_SEPARATOR.join(map(_cell, value))
    if isinstance(value, dict):
        return json.dumps(value, ensure_ascii=False)
    return repr(value) if isinstance(value, float) else str(value)
