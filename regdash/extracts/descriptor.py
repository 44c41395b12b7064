"""The descriptor of an extract: a Data Package with a Table Schema, which is its dictionary too."""

import hashlib
import json
from collections.abc import Mapping
from typing import Any

from regdash.extracts.coarseness import (
    AS_RECORDED,
    BANDS,
    DAY,
    DETAIL,
    GROUP,
    MONTH,
    ONLY,
    OTHER,
    QUARTER,
    YEAR,
    YEARS_OF,
    Coarseness,
)
from regdash.extracts.field_list import FieldList
from regdash.extracts.rows import ROW
from regdash.extracts.sources import COMPONENTS, SOURCES, Source
from regdash.store.cuts import Manifest
from regdash.vocabulary import NOT_RECORDED, REASON_GROUPS

DESCRIPTOR = "datapackage.json"
DATA = "data"
_DATES = {DAY: "date", MONTH: "yearmonth", YEAR: "year", QUARTER: "string", YEARS_OF: "string"}
_DATE_PATTERNS = {QUARTER: "[0-9]{4}Q[1-4]", YEARS_OF: "[0-9]{4}-[0-9]{4}"}
_MEDIA = {"csv": "text/csv", "parquet": "application/vnd.apache.parquet"}
GUARDED = ("catalogue", "size", "lot")  # may begin as a formula does


def descriptor(wanted: FieldList, cut: Manifest, title: str, data: Mapping[str, bytes]) -> bytes:
    """
    Describe the data files.

    Args:
        data: the files by their form.
    """
    package = {
        "name": wanted.name,
        "title": title,
        "description": f"{wanted.purpose}. One row a {what_a_row_is(wanted)}.",
        "version": wanted.version,
        "created": f"{cut.known_as_of}T00:00:00Z",
        "profile": "data-package",
        "resources": [_resource(wanted, form, content) for form, content in data.items()],
    }
    return (json.dumps(package, indent=2, ensure_ascii=False) + "\n").encode()


def what_a_row_is(wanted: FieldList) -> str:
    """Say what a row is."""
    return "component put in at a primary" if wanted.rows == COMPONENTS else "joint, from its primary on"


def _resource(wanted: FieldList, form: str, content: bytes) -> dict[str, Any]:
    is_csv = form == "csv"
    return {
        "name": f"{DATA}-{form}",
        "path": f"{DATA}.{form}",
        "profile": "tabular-data-resource" if is_csv else "data-resource",
        "format": form,
        "mediatype": _MEDIA[form],
        **({"encoding": "utf-8"} if is_csv else {}),
        "bytes": len(content),
        "hash": f"sha256:{hashlib.sha256(content).hexdigest()}",
        **({"dialect": {"delimiter": ",", "lineTerminator": "\r\n", "header": True}} if is_csv else {}),
        "schema": {"fields": schema_fields(wanted), "missingValues": [""], "primaryKey": [ROW]},
    }


def schema_fields(wanted: FieldList) -> list[dict[str, Any]]:
    """Describe each column: its type, what it may hold, what it means and how it was made coarse."""
    first = {
        "name": ROW,
        "type": "integer",
        "description": "number of the row in this extract alone; it says nothing of who it is",
        "constraints": {"required": True, "unique": True, "minimum": 1},
    }
    return [first, *(_field(SOURCES[name], how) for name, how in wanted.told.items())]


def _field(source: Source, how: Coarseness) -> dict[str, Any]:
    limits: dict[str, Any] = {} if _may_be_blank(source, how) else {"required": True}
    if words := _enum(source, how):
        limits["enum"] = list(words)
    if source.kind == "time":
        limits["minimum"] = 0
    if how.way in _DATE_PATTERNS:
        limits["pattern"] = _DATE_PATTERNS[how.way]
    said = {"name": source.name, "type": _type(source, how), "description": meaning(source, how)}
    return {**said, "constraints": limits} if limits else said


def _may_be_blank(source: Source, how: Coarseness) -> bool:
    numbers = source.kind in ("whole", "decimal") and how.way == AS_RECORDED
    return source.if_revised or source.name == "lot" or numbers


def _type(source: Source, how: Coarseness) -> str:
    if source.kind == "date":
        return _DATES[how.way]
    if how.way == AS_RECORDED and source.kind in ("whole", "decimal", "flag"):
        return {"whole": "integer", "decimal": "number", "flag": "boolean"}[source.kind]
    return "integer" if source.kind == "time" else "string"


def _enum(source: Source, how: Coarseness) -> tuple[str, ...]:
    if how.way == BANDS:
        return (*how.bands(source.kind == "whole"), NOT_RECORDED)
    if how.way == ONLY:
        return (*how.only, OTHER, NOT_RECORDED)
    if how.way == GROUP:
        return tuple(dict.fromkeys(group for groups in REASON_GROUPS.values() for group in groups))
    return source.words


def meaning(source: Source, how: Coarseness) -> str:
    """Say what a column means and how it is told."""
    told = {
        AS_RECORDED: "as recorded",
        GROUP: "in groups",
        DETAIL: "in detail, its group where no detail is recorded",
        BANDS: f"in bands; the lower edge belongs to a band, {NOT_RECORDED} where there is none",
        ONLY: f"these words alone, {OTHER} for all others",
        YEARS_OF: f"in {how.years} calendar years together",
    }.get(how.way, f"in whole {how.way} that have passed" if source.kind == "time" else f"the {how.way} alone")
    blank = "; blank unless revised" if source.if_revised else ""
    guard = "; an apostrophe before = + - @ keeps spreadsheets from reckoning with it" if source.name in GUARDED else ""
    return f"{source.about}: {told}{blank}{guard}"
