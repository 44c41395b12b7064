"""
A submitted Parquet file as the CSV that it stands for: the same columns, as text or typed, with the same cells.

All that is checked of CSV is then checked of it, its hash is that of its rows as CSV, and the same rows are the same
content in either form.
"""

import glob
import io
from typing import TYPE_CHECKING

import duckdb

from regdash.dictionary.descriptors import SCHEMAS
from regdash.errors import InputError

if TYPE_CHECKING:
    from regdash.dictionary.descriptors import Field

ENDING = "parquet"
MAGIC = b"PAR1"  # at the beginning and at the end of every file
# What cells may be, by the beginning of the database's name of the type, and how they are written as text.
_WRITTEN = {
    "VARCHAR": "{column}",
    "ENUM": "{column}::varchar",
    "BOOLEAN": "case when {column} then 'yes' when not {column} then 'no' end",
    "DATE": "strftime({column}, '{form}')",
    "TIMESTAMP": "case when {column}::time = time '00:00' then strftime({column}, '{form}') else {column}::varchar end",
    **dict.fromkeys(
        ("DOUBLE", "FLOAT"), "case when not isnan({column}) then regexp_replace({column}::varchar, '[.]0$', '') end"
    ),
    "DECIMAL": "{column}::varchar",
    **dict.fromkeys(
        ("TINYINT", "SMALLINT", "INTEGER", "BIGINT", "UTINYINT", "USMALLINT", "UINTEGER", "UBIGINT"),
        "{column}::varchar",
    ),
}


def as_csv(content: bytes, path: str, table: str) -> bytes:
    """
    Write a Parquet file as CSV: UTF-8, a header line, LF, quotes where they are needed.

    Args:
        content: the file's bytes, read before: whether it is Parquet at all is told by them.

    Raises:
        InputError: it is not Parquet, is damaged, or has other columns or types than a submission has.
    """
    if not (content.startswith(MAGIC) and content.endswith(MAGIC)):
        raise InputError(f"The file {path} is not Parquet, or was cut short. Send it whole.")
    with duckdb.connect() as connection:
        try:
            rows = connection.read_parquet(glob.escape(path))
            _check_columns(rows.columns, table, path)
            kinds = zip(SCHEMAS[table].fields, rows.types, strict=True)
            return _text(rows.project(", ".join(_cell(field, str(kind), path) for field, kind in kinds)))
        except duckdb.Error:
            # What the database says of a damaged file may show cells of it.
            raise InputError(f"The file {path} is damaged: it cannot be read as Parquet. Write it again.") from None


def _check_columns(found: list[str], table: str, path: str) -> None:
    wanted = SCHEMAS[table].columns
    if tuple(found) == wanted:
        return
    missing = [name for name in wanted if name not in found]
    what = f"missing {', '.join(missing)}" if missing else "in another order, or too many"
    raise InputError(
        f"The file {path} has columns that are not as agreed: {what}. Write {', '.join(wanted[:3])},… there."
    )


def _cell(field: "Field", kind: str, path: str) -> str:
    """Write the expression for a column's cells as text; an empty text is an empty cell."""
    found = next(
        (text for begins, text in _WRITTEN.items() if kind.startswith(begins) and not kind.endswith("]")), None
    )
    if found is None:
        raise InputError(
            f"The file {path} has the column {field.name} as {kind.lower()[:40]}. "
            "Write it as text, date, number or boolean."
        )
    form = "%Y-%m" if field.kind == "yearmonth" else "%Y-%m-%d"
    column = f'"{field.name}"'
    return f"nullif({found.format(column=column, form=form)}, '') as {column}"


def _text(rows: duckdb.DuckDBPyRelation) -> bytes:
    import polars

    buffer = io.BytesIO()
    polars.DataFrame(rows).write_csv(buffer)
    return buffer.getvalue()
