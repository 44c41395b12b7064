"""
Files that go back to hospitals: what each must correct, and what it may look at, in the form in which it was sent.
"""

import csv
import json
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import duckdb

from regdash.dictionary import ENVELOPE_NAME, SCHEMA_VERSION, TABLES
from regdash.errors import FilterError, InputError
from regdash.intake.returned import COLUMN, FORMULA_SIGNS, guarded
from regdash.store.connect import reading
from regdash.store.run import run
from regdash.store.sent import KEPT_IN, written
from regdash.suggest import nearest

KIND = "operations"
TO_CORRECT, TO_CHECK = "to-correct", "to-check"
README = "README.txt"
ABOUT = """\
Rows that come back to {hospital}, as known on {as_of}.

{correct}: not counted until you correct them: {to_correct:,} rows with a reason.
{check}: counted, but something looks odd: {to_check:,} rows with a reason. Nothing need be done where they are right.

The files are those you sent, cell by cell, with one column more: {column} says what is wrong with a row.
Where it is empty the row comes along because it is of the same operation: an operation is replaced whole, with all its
components and reasons, so leave those rows in.

To send them again: correct the cells, write the day into received_date of {envelope}, and the numbers of rows into its
files if you added or removed any. You may say why in it, as "reason_for_correction". The column {column}
may stay; it is not read. Patients are named as the register names them; leave their pseudonyms as they are.

A cell that begins with one of {signs}, a tab or a carriage return has an apostrophe (') in front, so that a spreadsheet
takes it for no formula. The apostrophe is taken away when the file is read again, as long as the column
{column} is there; if you remove that column, remove the apostrophes too.
"""


@dataclass(frozen=True)
class Returned:
    """What one hospital gets back."""

    hospital: str
    folder: Path
    to_correct: int  # rows with a reason why they are not counted
    to_check: int  # rows with a warning


@dataclass
class _File:
    table: str
    rows: list[tuple[list[str], str]]

    @property
    def told(self) -> int:
        """Rows with a reason."""
        return sum(1 for _, reasons in self.rows if reasons)


def write_return_files(store: Path, out: Path, hospital: str | None = None) -> list[Returned]:
    """
    Write the files of each hospital, or of one, into a folder of its own below `out`; those without rows get none.

    Raises:
        StoreError: there is no store, or a writer holds it.
        FilterError: nothing was ever sent by that hospital.
        InputError: `out` is not empty.
    """
    if out.exists() and (not out.is_dir() or any(out.iterdir())):
        raise InputError(f"{out} is not an empty folder. Name a new one, so that nothing old goes back to a hospital.")
    with reading(store) as connection:
        known = [sender for (sender,) in run(connection, "queries/held_senders")]
        if hospital is not None and hospital not in known:
            raise FilterError(f"There is no sender {hospital}. {nearest(hospital, known)}")
        hospitals = [code for (code,) in run(connection, "returns/hospitals")]
        as_of = max(day for (day,) in connection.execute("select max(received_date) from submissions").fetchall())
        wanted = [code for code in hospitals if hospital in (None, code)]
        return [_write_one(connection, out / code, code, as_of) for code in wanted]


def _write_one(connection: duckdb.DuckDBPyConnection, folder: Path, hospital: str, as_of: date) -> Returned:
    run(connection, "returns/returned_records", {"hospital": hospital})
    run(connection, "returns/kept_rows")
    [(sequence, complete)] = run(connection, "returns/envelope", {"hospital": hospital})
    counts = {}
    for name, must in ((TO_CORRECT, True), (TO_CHECK, False)):
        files = [_file(connection, table, must) for table in KEPT_IN]
        counts[name] = sum(file.told for file in files)
        if any(file.rows for file in files):
            _write_submission(folder / name, files, hospital, sequence, complete)
            sequence += 1
    about = ABOUT.format(
        hospital=hospital,
        as_of=as_of,
        correct=TO_CORRECT,
        check=TO_CHECK,
        to_correct=counts[TO_CORRECT],
        to_check=counts[TO_CHECK],
        column=COLUMN,
        envelope=ENVELOPE_NAME,
        signs=" ".join(FORMULA_SIGNS.strip()),
    )
    (folder / README).write_text(about, encoding="utf-8")
    return Returned(hospital, folder, counts[TO_CORRECT], counts[TO_CHECK])


def _file(connection: duckdb.DuckDBPyConnection, table: str, must: bool) -> _File:
    cells = ", ".join(written(table, "k").values())
    found = run(connection, "returns/returned_file", {"must": must}, table=table, cells=cells)
    return _File(table, [(list(cells), reasons) for cells, reasons in found])


def _write_submission(folder: Path, files: list[_File], hospital: str, sequence: int, complete: date) -> None:
    folder.mkdir(parents=True)
    for file in files:
        with (folder / f"{file.table}.csv").open("w", encoding="utf-8", newline="") as text:
            rows = csv.writer(text, lineterminator="\r\n")
            rows.writerow([*TABLES[file.table], COLUMN])
            rows.writerows([*map(guarded, cells), guarded(reasons)] for cells, reasons in file.rows)
    envelope = {
        "schema": SCHEMA_VERSION,
        "kind": KIND,
        "sender": hospital,
        "id": f"{hospital}-{sequence:04d}",
        "sequence": sequence,
        "received_date": "",  # the day it is sent again
        "complete_through": complete.isoformat(),
        "files": {f"{file.table}.csv": len(file.rows) for file in files},
    }
    (folder / ENVELOPE_NAME).write_text(json.dumps(envelope, indent=2) + "\n", encoding="utf-8")
