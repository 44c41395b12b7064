"""The joints behind what was given out: to know which counts are small, and what each figure was made from."""

from dataclasses import dataclass
from pathlib import Path

import duckdb
import numpy as np

from regdash.stats.years import days_in
from regdash.store.cuts import cut_path

COLUMNS = (
    *("joint_no", "joint::varchar", "class::varchar", "age", "hospital_id::varchar", "surgeon_id::varchar"),
    *("implanted_date::varchar", "days", "ended::varchar", "reason_group::varchar"),
)


@dataclass(frozen=True)
class Register:
    """All joints of a data cut, one an entry, and the implants of each."""

    joint: np.ndarray
    kind: np.ndarray  # class
    age: np.ndarray
    hospital: np.ndarray
    surgeon: np.ndarray
    implanted: np.ndarray  # ISO dates
    days: np.ndarray
    revised: np.ndarray  # bool
    died: np.ndarray  # bool
    reason: np.ndarray
    implants: list[frozenset[tuple[str, str, str]]]  # role, code, maker

    def owned(self, kind: str, code: str) -> np.ndarray:
        if kind == "maker":
            return np.array([any(maker == code for _, _, maker in used) for used in self.implants])
        return {"hospital": self.hospital, "surgeon": self.surgeon}[kind] == code

    def quarter(self, quarter: str) -> np.ndarray:
        year, number = quarter.split("Q")
        months = [f"{year}-{month:02d}" for month in range(3 * int(number) - 2, 3 * int(number) + 1)]
        return np.isin([day[:7] for day in self.implanted], months)

    def by(self, years: float) -> np.ndarray:
        return self.revised & (self.days <= days_in(years))


def register(store: Path, cut: str) -> Register:
    with duckdb.connect(str(cut_path(store, cut)), read_only=True) as base:
        rows = base.execute(f"select {', '.join(COLUMNS)} from follow_up order by joint_no").fetchall()
        used = base.execute(
            "select joint_no, role::varchar, implant::varchar, maker::varchar from component_life where in_day = 0"
        ).fetchall()
    place = {row[0]: n for n, row in enumerate(rows)}
    implants: list[set[tuple[str, str, str]]] = [set() for _ in rows]
    for number, *what in used:
        if number in place and what[1] != "not recorded":
            implants[place[number]].add(tuple(what))
    columns = [np.array([row[n] for row in rows], dtype=object) for n in range(1, len(COLUMNS))]
    joint, kind, age, hospital, surgeon, implanted, days, ended, reason = columns
    days, age, revised, died = days.astype(int), age.astype(int), ended == "revised", ended == "died"
    used_by = [frozenset(of) for of in implants]
    return Register(joint, kind, age, hospital, surgeon, implanted, days, revised, died, reason, used_by)
