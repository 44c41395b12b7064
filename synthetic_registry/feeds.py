"""
The office's feeds: catalogue, units, deaths, losses and hospitals' administrative counts.
"""

from collections.abc import Callable
from datetime import date
from pathlib import Path

import numpy as np
import polars as pl

from regdash import dictionary
from regdash import vocabulary as words
from synthetic_registry import all_words
from synthetic_registry.batch import Batch
from synthetic_registry.catalogue_feed import catalogue_rows
from synthetic_registry.csv_files import csv_slices, envelope, write_submission
from synthetic_registry.forms import hospital_systems
from synthetic_registry.records import Records
from synthetic_registry.sending import quarter_ends
from synthetic_registry.written import Lists, coded, listed, looked_up

Dated = tuple[np.ndarray, pl.DataFrame]  # days from the register's first, and a row for each


def write_feeds(out: Path, batch: Batch, records: Records, lists: Lists) -> int:
    """
    Write all feeds below `out/feeds`.

    Args:
        records: the true ones, which the administrative counts know.

    Returns:
        How many rows were written.
    """
    feeds = _Feeds(out / "feeds", batch, lists)
    present = np.unique(records.operations["patient"])
    systems = _first_uses(batch, records)
    return (
        feeds.yearly("catalogue", catalogue_rows(batch.several))
        + feeds.yearly("units", lambda year: _unit_rows(batch, systems, year))
        + feeds.quarterly("deaths", _deaths(batch, lists, present))
        + feeds.quarterly("losses", _losses(batch, lists, present))
        + feeds.quarterly("admin_counts", _admin_counts(batch, records))
    )


class _Feeds:
    """Writes feeds one after the other, each with its own numbering."""

    def __init__(self, folder: Path, batch: Batch, lists: Lists) -> None:
        self.folder, self.batch, self.lists = folder, batch, lists
        self.days = batch.several.days
        self.rng = batch.several.stream("feeds")

    def yearly(self, kind: str, rows: Callable[[int], list[list[tuple]]]) -> int:
        """Write what is new or changed in each January: one list of rows for each of the kind's tables."""
        written = 0
        for number in range(self.days.years):
            year = self.days.start.year + number
            frames = [
                pl.DataFrame(found, schema=dict.fromkeys(dictionary.TABLES[table], pl.String), orient="row")
                for table, found in zip(dictionary.KINDS[kind].tables, rows(number), strict=True)
            ]
            tables = [csv_slices(frame, np.array([0, len(frame)]))[0] for frame in frames]
            through = min(date(year, 12, 31), self.days.through)
            self._write(kind, number + 1, date(year, 1, 10), through, tables, [len(frame) for frame in frames])
            written += sum(len(frame) for frame in frames)
        return written

    def quarterly(self, kind: str, dated: Dated) -> int:
        """Write rows by the quarter of their day; each feed comes one or two months after the quarter."""
        days, frame = dated
        ends = quarter_ends(self.days.start, self.days.through)
        numbers = np.array([self.days.number(end) for end in ends])
        order = np.argsort(days, kind="stable")
        bounds = np.append(0, np.searchsorted(days[order], numbers, side="right"))
        tables = csv_slices(frame[order], bounds)
        lag = self.rng.integers(*self.batch.several.reporting.feed_lag, len(ends), endpoint=True)
        for number, (end, table) in enumerate(zip(ends, tables)):
            received = self.days.date_of(numbers[number] + lag[number])
            self._write(kind, number + 1, received, end, [table], [int(bounds[number + 1] - bounds[number])])
        return len(frame)

    def _write(
        self, kind: str, sequence: int, received: date, through: date, tables: list[bytes], rows: list[int]
    ) -> None:
        names = dictionary.KINDS[kind].tables
        name = f"{kind}-{sequence:04d}"
        files = {f"{table}.csv": count for table, count in zip(names, rows)}
        said = envelope(kind, dictionary.OFFICE, name, sequence, received.isoformat(), through.isoformat(), files)
        write_submission(self.folder / kind / name, said, dict(zip(names, tables)))


def _first_uses(batch: Batch, records: Records) -> list[tuple[int, str, str]]:
    """Find in which year each hospital first uses which system; (year from the register's first, hospital, system)."""
    several, operations = batch.several, records.operations
    year = several.days.year_numbers(operations["day"])
    found = []
    for technology, systems in hospital_systems(several).items():
        uses = operations["technology"] == technology
        first = np.full(len(several.hospitals), several.days.years, np.int64)
        np.minimum.at(first, operations["hospital"][uses], year[uses])
        for hospital in np.flatnonzero(first < several.days.years):
            system = all_words.SYSTEMS[systems[hospital]]
            found.append((int(first[hospital]), several.hospitals[hospital], system))
    return found


def _unit_rows(batch: Batch, systems: list[tuple[int, str, str]], year: int) -> list[list[tuple]]:
    """List hospitals, surgeons and systems that are new in a year, and surgeons who ended with the year before."""
    units = batch.several.registers[0].setting.units
    start, hospitals, surgeons = batch.several.days.start.year, units.hospitals, units.surgeons
    new = [
        (code, region, f"{start + year}-01-01", "")
        for code, region, first in zip(hospitals.codes, hospitals.regions, hospitals.first_year)
        if first == year
    ]
    people = [
        (code, f"{start + first}-01-01", f"{start + last}-12-31" if last == year - 1 else "")
        for code, first, last in zip(surgeons.codes, surgeons.first_year, surgeons.last_year)
        if first == year or last == year - 1
    ]
    used = [(hospital, system, f"{start + first}-01-01", "") for first, hospital, system in systems if first == year]
    return [new, people, used]


def _deaths(batch: Batch, lists: Lists, patients: np.ndarray) -> Dated:
    """List the deaths of patients who are not lost before."""
    exits, last = batch.several.exits, batch.several.days.last
    died = patients[(exits.death_day[patients] <= last) & (exits.death_day[patients] <= exits.loss_day[patients])]
    again, later = batch.second_deaths
    told = np.isin(again, died)
    days = np.concatenate([exits.death_day[died], later[told]])
    died = np.concatenate([died, again[told]])
    columns = {"patient_id": looked_up(lists.patient, died), "death_date": looked_up(lists.date, days)}
    return days, pl.DataFrame(columns)


def _losses(batch: Batch, lists: Lists, patients: np.ndarray) -> Dated:
    """List the losses of patients who have not died before."""
    exits, last = batch.several.exits, batch.several.days.last
    lost = patients[(exits.loss_day[patients] <= last) & (exits.loss_day[patients] < exits.death_day[patients])]
    days = exits.loss_day[lost]
    kinds = coded(words.LOSSES)
    columns = {
        "patient_id": looked_up(lists.patient, lost),
        "loss_date": looked_up(lists.date, days),
        "loss": looked_up(kinds, exits.loss[lost]),
    }
    return days, pl.DataFrame(columns)


def _admin_counts(batch: Batch, records: Records) -> Dated:
    """Count what each hospital's administration knows: every operation, by month."""
    several, operations = batch.several, records.operations
    dates = np.datetime64(several.days.start, "D") + operations["day"].astype("timedelta64[D]")
    first = np.datetime64(several.days.start, "M").astype(np.int64)
    month = dates.astype("datetime64[M]").astype(np.int64) - first
    shape = (int(month.max(initial=0)) + 1, len(several.hospitals), len(words.JOINTS), len(words.KINDS))
    columns = (month, operations["hospital"], operations["limb"], operations["kind"])
    counts = np.bincount(np.ravel_multi_index(columns, shape), minlength=int(np.prod(shape)))
    at = np.flatnonzero(counts)
    month, hospital, limb, kind = np.unravel_index(at, shape)
    starts = (month + first).astype("datetime64[M]")
    frame = pl.DataFrame(
        {
            "hospital_id": looked_up(listed(several.hospitals), hospital),
            "joint": looked_up(coded(words.JOINTS), limb),
            "kind": looked_up(coded(words.KINDS), kind),
            "month": starts.astype(str).tolist(),
            "operations": counts[at],
        }
    )
    return (starts.astype("datetime64[D]") - np.datetime64(several.days.start, "D")).astype(np.int64), frame
