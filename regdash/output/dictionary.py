"""The data dictionary as pages of text, and as a list of fields."""

import textwrap
from collections.abc import Mapping

from regdash import vocabulary
from regdash.dictionary import KINDS
from regdash.dictionary.descriptors import SCHEMAS, Field, Schema
from regdash.output.listing import Listing
from regdash.output.table import Column, lay_out

INDENT = "    "
FIELD_COLUMNS = (
    "table",
    "field",
    "type",
    "required",
    "unique",
    "minimum",
    "maximum",
    "pattern",
    "values",
    "title",
    "description",
)
# Code lists of which each joint has a part.
_OF_JOINT: dict[str, Mapping[str, tuple[str, ...]]] = {
    **vocabulary.OF_JOINT,
    "class": vocabulary.CLASSES,
    "role": vocabulary.ROLES,
    "reason": {joint: tuple(r.detail for r in reasons) for joint, reasons in vocabulary.REASONS.items()},
}
_KINDS = {"string": "text", "integer": "whole number", "boolean": "yes or no", "yearmonth": "month"}


def overview(width: int) -> list[str]:
    """List the tables by the kind of submission that they come in."""
    rows = [(kind.name, SCHEMAS[name]) for kind in KINDS.values() for name in kind.tables]
    columns = [
        Column("submission", [kind for kind, _ in rows], left=True),
        Column("table", [schema.name for _, schema in rows], left=True),
        Column("fields", [f"{len(schema.fields)}" for _, schema in rows]),
        Column("rows", [schema.description for _, schema in rows], left=True, least=30),
    ]
    said = "One table: regdash dictionary TABLE. All as a Data Package: regdash dictionary --export DIR."
    return [*lay_out(columns, width).lines, "", *textwrap.wrap(said, width)]


def table_page(schema: Schema, width: int) -> list[str]:
    """Tell of one table what each of its fields is and may hold."""
    lines = [f"{schema.name}: {schema.title}", *textwrap.wrap(schema.description, width)]
    lines += textwrap.wrap(f"Rows are told apart by {', '.join(schema.primary_key)}.", width)
    for key in schema.descriptor.get("foreignKeys", []):
        lines.append(f"{', '.join(key['fields'])} stands in {key['reference']['resource']}.")
    missing = " or ".join(value or "an empty cell" for value in schema.descriptor["missingValues"])
    lines += textwrap.wrap(f"Not recorded is {missing}.", width)
    for field in schema.fields:
        lines += ["", f"{field.name}  {_form(field)}"]
        lines += textwrap.wrap(field.description, width, initial_indent=INDENT, subsequent_indent=INDENT)
        for text in _codes(field):
            lines += textwrap.wrap(
                text, width, initial_indent=INDENT, subsequent_indent=INDENT + "  ", break_on_hyphens=False
            )
    return lines


def _codes(field: Field) -> list[str]:
    """List the codes of a field; joint by joint where each has its own."""
    of_joint = _OF_JOINT.get(field.code_list or "")
    if of_joint:
        return [f"{joint}: {', '.join(_submitted(words))}" for joint, words in of_joint.items()]
    return [", ".join(field.constraints["enum"])] if field.code_list else []


def _submitted(words: tuple[str, ...]) -> list[str]:
    return [vocabulary.coded(word) for word in words if word != vocabulary.NOT_RECORDED]


def _form(field: Field) -> str:
    """
    Say in a few words what a cell may hold.

    >>> _form(SCHEMAS["operations"].field("bmi"))
    '(number, 14 to 70)'
    """
    limits = field.constraints
    parts = ["code" if field.code_list else _KINDS.get(field.kind, field.kind)]
    if "minimum" in limits:
        parts.append(f"{limits['minimum']} to {limits['maximum']}")
    if "pattern" in limits:
        parts.append(f"form {limits['pattern']}")
    parts += [said for said, name in (("required", "required"), ("unique", "unique")) if limits.get(name)]
    return f"({', '.join(parts)})"


def field_list(schemas: list[Schema]) -> Listing:
    """List fields, a row each."""
    rows = [_row(schema, field) for schema in schemas for field in schema.fields]
    return Listing("data dictionary", FIELD_COLUMNS, rows)


def _row(schema: Schema, field: Field) -> tuple[object, ...]:
    limits = field.constraints
    flags = (limits.get("required", False), limits.get("unique", False))
    return (
        schema.name,
        field.name,
        field.kind,
        *flags,
        limits.get("minimum"),
        limits.get("maximum"),
        limits.get("pattern"),
        " ".join(limits.get("enum", [])) or None,
        field.title,
        field.description,
    )
