"""
How the store's values are written in a submitted file. A row that was sent otherwise, or that the store does not hold
because it was rejected, is kept as it was sent (`sent_rows`); so each row can go back to its hospital cell by cell.
"""

from regdash.dictionary import TABLES
from regdash.store.tables import Feed

# The tables whose rows go back to hospitals, and where the store has them.
KEPT_IN = {"operations": "operations", "components": "components", "reasons": "revision_reasons"}

# The store's name of a column, where it is another.
_NAMES = {"constraint": "constraint_design"}
_PLAIN = (
    "operation_id",
    "patient_id",
    "birth_year",
    "operation_date",
    "hospital_id",
    "bmi",
    "icd10",
    "admission_date",
    "discharge_date",
    "technology_system",
    "line_no",
    "catalogue_no",
    "lot",
    "serial",
    "expiry_date",
    "udi",
    "note",
)
# The store has the very text of the cell.
_AS_SENT = ("operation_id", "hospital_id", "catalogue_no", "lot", "serial", "udi", "note")
_YES_NO = ("stem_used", "augment_used", "graft_used", "leads")
_WRITTEN = {
    "height_cm": "rtrim(rtrim({value}::varchar, '0'), '.')",
    "weight_kg": "regexp_replace({value}::varchar, '0$', '')",
    **dict.fromkeys(_PLAIN, "{value}::varchar"),
    **dict.fromkeys(_YES_NO, "case when {value} then 'yes' when not {value} then 'no' end"),
}
# As vocabulary.coded writes a word; what is not recorded is an empty cell.
_WORD = "replace(replace(nullif({value}::varchar, 'not recorded'), ',', ''), ' ', '-')"


def written(table: str, alias: str) -> dict[str, str]:
    """Give the expression that writes each column of a file from the store's values, by the column's name."""
    return {
        column: f"coalesce({_WRITTEN.get(column, _WORD).format(value=f'{alias}.{_NAMES.get(column, column)}')}, '')"
        for column in TABLES[table]
    }


def told_parts() -> dict[str, str]:
    """Give what `freeze/corrections` needs: each table's cells as a list of column and text; notes are not shown."""
    return {f"{table}_cells": _told(table) for table in KEPT_IN}


# When what a feed's record tells of happened, and whether it is of anything in a cut; a record of a unit always counts.
_HAPPENED = {"deaths": "t.death_date", "losses": "t.loss_date", "admin_counts": "t.month"}
_OF_PATIENT = "t.patient_id in (select patient_id from cut.patients)"
_COUNTS = {
    "deaths": _OF_PATIENT,
    "losses": _OF_PATIENT,
    "catalogue": "t.catalogue_no in (select catalogue_no from cut.components)",
}
# Columns of feeds that are words of a code list.
_CODED = ("role", "joint", "class", "bearing", "constraint_design", "fixation", "material", "side", "kind", "loss")
_MONTH = "strftime({value}, '%Y-%m')"


def told_parts_of(feed: Feed) -> dict[str, str]:
    """Give what `freeze/corrections_of_feed` needs for a feed."""
    names = {name: column for column, name in _NAMES.items()}
    cells = [f"{{'field': '{names.get(column, column)}', 'said': {_cell(column)}}}" for column in feed.content]
    return {
        "table": feed.table,
        "file": feed.name,
        "record": "concat_ws(' ', " + ", ".join(_cell(column) for column in feed.key) + ")",
        "cells": ", ".join(cells),
        "happened": _HAPPENED.get(feed.name, "null::date"),
        "counts": _COUNTS.get(feed.name, "true"),
    }


def _cell(column: str) -> str:
    """Write a column of a feed as its file does."""
    cell = _MONTH if column == "month" else _WORD if column in _CODED else "nullif({value}::varchar, 'not recorded')"
    return f"coalesce({cell.format(value=f't.{column}')}, '')"


def _told(table: str) -> str:
    cells = written(table, "v")
    del cells["operation_id"]
    cells.pop("line_no", None)
    if "note" in cells:
        cells["note"] = "case when v.note <> '' then 'not shown, ' || md5(v.note)[:6] else '' end"
    return ", ".join(f"{{'field': '{column}', 'said': {cell}}}" for column, cell in cells.items())


def texts(table: str, alias: str) -> str:
    """Give the cells of a staged row as one list."""
    return ", ".join(f"{alias}.{column}_text" for column in TABLES[table])


def differs(table: str, alias: str) -> str:
    """
    Give the predicate that a staged row was sent otherwise than its values would be written.

    It is asked of every row, so what can be told without writing the value is.
    """
    told = []
    for column, cell in written(table, alias).items():
        text, value = f"{alias}.{column}_text", f"{alias}.{_NAMES.get(column, column)}"
        if column in _AS_SENT:
            continue
        if column.endswith("_date") or column in _YES_NO:  # of one spelling, or not read at all
            told.append(f"({value} is null and {text} <> '')")
        elif column in _WRITTEN:
            told.append(f"{text} <> {cell}")
        else:
            told.append(f"(coalesce({text} <> {value}, true) and {text} <> {cell})")
    return " or ".join(told)
