"""
The hospitals' submissions: one folder for each hospital and quarter.
"""

from collections.abc import Callable
from functools import partial
from pathlib import Path

import numpy as np
import polars as pl

from regdash import dictionary
from synthetic_registry.batch import Batch
from synthetic_registry.csv_files import csv_slices, envelope, write_submission
from synthetic_registry.labels import all_gtins, dates, labels, lots, serials
from synthetic_registry.records import Records
from synthetic_registry.several import Several
from synthetic_registry.written import Lists, looked_up

TABLES = dictionary.KINDS["operations"].tables


def write_submissions(out: Path, batch: Batch, lists: Lists, progress: Callable[[float], None]) -> int:
    """
    Write all submissions below `out/submissions`.

    Args:
        progress: told after each hospital which part of the work is done, 0 to 1.

    Returns:
        How many rows were written.
    """
    operations = batch.records.operations
    sent = np.flatnonzero(batch.sent)
    sent = sent[np.lexsort((operations["number"][sent], batch.submission[sent]))]
    records, submission = batch.records.take(sent), batch.submission[sent]
    hospitals, gtins = batch.several.hospitals, all_gtins(batch.several)
    for number, code in enumerate(hospitals):
        low, high = batch.schedule.first_of(number)
        bounds = np.searchsorted(submission, np.arange(low, high + 1))
        _write_hospital(out / "submissions" / code, code, batch, (lists, gtins), records, low, bounds)
        progress((number + 1) / len(hospitals))
    return len(records) + len(records.components["entry"]) + len(records.reasons["reason"])


def _write_hospital(
    folder: Path,
    code: str,
    batch: Batch,
    lists: tuple[Lists, pl.Series],
    records: Records,
    first: int,
    bounds: np.ndarray,
) -> None:
    """Write one hospital's submissions; `bounds` are the operations at which they begin and end."""
    frames, cuts = _frames(code, batch.several, lists, records, bounds)
    slices = [csv_slices(frames[table], cuts[table]) for table in TABLES]
    days, schedule = batch.several.days, batch.schedule
    for place, tables in enumerate(zip(*slices)):
        rows = {f"{table}.csv": int(cuts[table][place + 1] - cuts[table][place]) for table in TABLES}
        sequence = int(schedule.sequence[first + place])
        name = f"{code}-{sequence:04d}"
        received = days.date_of(schedule.received[first + place]).isoformat()
        through = days.date_of(schedule.complete_through[first + place]).isoformat()
        said = envelope("operations", code, name, sequence, received, through, rows)
        write_submission(f"{folder}/{name}", said, dict(zip(TABLES, tables)))


def _frames(
    code: str, several: Several, listing: tuple[Lists, pl.Series], records: Records, bounds: np.ndarray
) -> tuple[dict[str, pl.DataFrame], dict[str, np.ndarray]]:
    """Write one hospital's three tables; the frames, and the rows at which its submissions begin and end."""
    lists, gtins = listing
    ours = slice(bounds[0], bounds[-1])
    operations = {name: values[ours] for name, values in records.operations.items()}
    numbers = operations["number"]
    frames = {"operations": _operations(code, lists, operations)}
    cuts = {"operations": bounds - bounds[0]}
    for table, counts, write in (
        ("components", records.component_counts, partial(_components, several, gtins)),
        ("reasons", records.reason_counts, _reasons),
    ):
        ends = np.append(0, np.cumsum(counts))
        rows = {name: values[ends[bounds[0]] : ends[bounds[-1]]] for name, values in getattr(records, table).items()}
        ids = operation_ids(code, np.repeat(numbers, counts[ours]))
        frames[table] = write(ids, lists, rows)
        cuts[table] = ends[bounds] - ends[bounds[0]]
    return frames, cuts


def operation_ids(hospital: str, numbers: np.ndarray) -> pl.Series:
    """Write operation ids, as H012-0001234."""
    return f"{hospital}-" + pl.Series(numbers).cast(pl.String).str.zfill(7)


def _operations(code: str, lists: Lists, rows: dict[str, np.ndarray]) -> pl.DataFrame:
    names = {name: name for name in lists.words} | {"class": "joint_class", "joint": "limb"}
    columns = {
        "operation_id": operation_ids(code, rows["number"]),
        "patient_id": looked_up(lists.patient, rows["patient"]),
        "birth_year": _numbers(rows["birth_year"]),
        "operation_date": looked_up(lists.date, rows["date"]),
        "hospital_id": code,
        "surgeon_id": looked_up(lists.surgeon, rows["surgeon"]),
        "bmi": looked_up(lists.bmi, rows["bmi"]),
        "height_cm": looked_up(lists.height, rows["height"]),
        "weight_kg": looked_up(lists.weight, rows["weight"]),
        "icd10": looked_up(lists.icd10, rows["icd10"]),
        "admission_date": looked_up(lists.date, rows["admission"]),
        "discharge_date": looked_up(lists.date, rows["discharge"]),
        "technology_system": looked_up(lists.system, rows["system"]),
        **{f"{extra}_used": looked_up(lists.yes_no, rows[extra]) for extra in ("stem", "augment", "graft")},
        **{
            name: looked_up(lists.words[name], rows[column])
            for name, column in names.items()
            if name in dictionary.TABLES["operations"]
        },
    }
    return pl.DataFrame(columns).select(dictionary.TABLES["operations"])


def _numbers(values: np.ndarray) -> pl.Series:
    """Write whole numbers; negative ones are empty cells."""
    numbers = pl.Series(values)
    return numbers.set(numbers < 0, None)


def _components(
    several: Several, gtins: pl.Series, ids: pl.Series, lists: Lists, rows: dict[str, np.ndarray]
) -> pl.DataFrame:
    columns = {
        "operation_id": ids,
        "line_no": rows["line_no"],
        "role": looked_up(lists.words["role"], rows["role"]),
        "action": looked_up(lists.words["component_action"], rows["action"]),
        "catalogue_no": looked_up(lists.catalogue_no, rows["entry"]),
        "lot": lots(rows["lot"]),
        "serial": serials(rows["serial"]),
        "expiry_date": dates(several, rows["expiry"]),
        "udi": labels(several, gtins, rows),
    }
    return pl.DataFrame(columns).select(dictionary.TABLES["components"])


def _reasons(ids: pl.Series, lists: Lists, rows: dict[str, np.ndarray]) -> pl.DataFrame:
    columns = {
        "operation_id": ids,
        "line_no": rows["line_no"],
        "reason": looked_up(lists.words["reason"], rows["reason"]),
        "leads": looked_up(lists.yes_no, rows["leads"]),
        "note": looked_up(lists.note, rows["note"]),
    }
    return pl.DataFrame(columns).select(dictionary.TABLES["reasons"])
