"""
A validator of Table Schema's constraints, small and slow: how anybody reads a file who has the package alone.
"""

import re
from collections.abc import Iterator
from datetime import date

from regdash.dictionary.descriptors import Field, Schema


def faults_of(schema: Schema, rows: list[dict[str, str]]) -> Iterator[tuple[str, str]]:
    """List the columns of cells that are not as the schema says, each with the constraint that it breaks."""
    for row in rows:
        for field in schema.fields:
            cell = row[field.name]
            if cell in schema.descriptor["missingValues"]:
                if field.constraints.get("required"):
                    yield field.name, "required"
            elif fault := fault_of(field, cell):
                yield field.name, fault


def fault_of(field: Field, cell: str) -> str | None:
    """Name the constraint that a cell breaks."""
    limits = field.constraints
    if "enum" in limits and cell not in limits["enum"]:
        return "enum"
    if "pattern" in limits and not re.fullmatch(limits["pattern"], cell):
        return "pattern"
    try:
        value = {"integer": int, "number": float, "date": date.fromisoformat}.get(field.kind, str)(cell)
    except ValueError:
        return "type"
    if field.kind == "boolean" and cell not in ("yes", "no"):
        return "type"
    if field.kind == "yearmonth" and not re.fullmatch("[0-9]{4}-[0-9]{2}", cell):
        return "type"
    if ("minimum" in limits and value < limits["minimum"]) or ("maximum" in limits and value > limits["maximum"]):
        return "limits"
    return None
