"""
The key: everything that is true of a synthetic register, in a folder apart from what hospitals sent.
"""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import polars as pl

from regdash import vocabulary as words
from synthetic_registry.batch import Batch
from synthetic_registry.curves import STEP, TrueCurve
from synthetic_registry.dirty_links import worst_linking_hospital
from synthetic_registry.faults import KINDS, TABLES, Faults
from synthetic_registry.implants import MIDDLE_SIZE
from synthetic_registry.lives import REVISED
from synthetic_registry.parameters import DAYS_A_YEAR
from synthetic_registry.records import Records
from synthetic_registry.register import Register
from synthetic_registry.written import Lists, coded, listed, looked_up

# Strata of the true curves; within age and era the limit and the mean risk are nearly the same.
GROUPINGS = ((), ("age_band",), ("bearing",), ("era",), ("age_band", "era"))
STRATA = ("class", "age_band", "bearing", "era")

ABOUT = """\
The key to a synthetic register: what is true of it. It is never part of what is taken in.

parameters.json  what the register was made from: hazards, effects, structure, delays, rates of faults
planted.json     hospitals, surgeons and implants that are poor on purpose, and the one that only looks poor
units.csv        the factor by which each hospital, surgeon and implant multiplies every hazard
joints.csv       every primary joint: what is true of it, how its follow-up ended by the last day, and when
faults.csv       every fault put in on purpose, one row each; `revealed` says whether what was submitted can show it
curves.csv       two true curves for each class and stratum, by the end of a day since implantation:
                 limit_risk, what 1 - Kaplan-Meier on these joints tends to (expected revisions over expected at risk,
                 day by day, under the actual ages, dates, deaths and losses), and mean_risk, the mean of the joints'
                 own net risks; an empty cell of a stratum means all
"""


def write_key(key: Path, batch: Batch, records: Records, found: Faults, lists: Lists, run: dict[str, Any]) -> None:
    """
    Write the key folder.

    Args:
        batch: the records as sent.
        records: the true ones.
        found: the faults put in.
        run: what the register was asked for (joints, seed and so on), for parameters.json.
    """
    register = batch.register
    (key / "README.txt").write_text(ABOUT, encoding="utf-8")
    _write_json(key / "parameters.json", {**run, **register.setting.parameters.plain()})
    _write_json(key / "planted.json", _planted(batch))
    _write_csv(key / "units.csv", _units(batch))
    _write_csv(key / "joints.csv", _joints(batch, records, lists))
    _write_csv(key / "faults.csv", _faults(batch, found))
    _write_csv(key / "curves.csv", _curves(register))


def _write_json(path: Path, content: dict[str, Any]) -> None:
    path.write_text(json.dumps(content, indent=1, default=str) + "\n", encoding="utf-8")


def _write_csv(path: Path, frame: pl.DataFrame) -> None:
    frame.write_csv(path, quote_style="never")


def _codes(batch: Batch) -> tuple[list[str], list[str], list[str]]:
    """Name each construct, and its two main components."""
    constructs, letters = batch.register.setting.implants.constructs, batch.catalogue.main_roles
    first = [batch.catalogue.implant_code(int(family), letters[0][1]) for family in constructs.femoral]
    other = [batch.catalogue.implant_code(int(family), letters[1][1]) for family in constructs.tibial]
    return [f"{a}/{b}" for a, b in zip(first, other)], first, other


def _planted(batch: Batch) -> dict[str, Any]:
    """Say what was planted, and how much it is used."""
    register = batch.register
    units, frailty = register.setting.units, register.setting.parameters.frailty
    count = register.joints.primaries.registered

    def use(mask: np.ndarray) -> dict[str, int]:
        revised = mask & (register.ended == REVISED)
        return {"joints": int(mask.sum()), "revisions": int(revised.sum())}

    def unit(code: str, factor: float, mask: np.ndarray) -> dict[str, Any]:
        return {"code": code, "factor": factor, **use(mask)}

    hospital, surgeon = register.joints.hospital[:count], register.joints.surgeon[:count]
    hospitals, surgeons = units.hospitals, units.surgeons
    return {
        "hospitals": [unit(hospitals.codes[h], frailty.poor_hospitals[1], hospital == h) for h in hospitals.poor],
        "surgeons": [unit(surgeons.codes[s], frailty.poor_surgeons[1], surgeon == s) for s in surgeons.poor],
        "implants": [_planted_implant(batch, number, use) for number in range(len(frailty.poor_implants))],
        "hospital_that_misses_links": hospitals.codes[worst_linking_hospital(register)],
    }


def _planted_implant(batch: Batch, number: int, use: Callable[[np.ndarray], dict[str, int]]) -> dict[str, Any]:
    register = batch.register
    planted = register.setting.parameters.frailty.poor_implants[number]
    construct = register.setting.implants.planted(number)
    names, first, other = _codes(batch)
    count = register.joints.primaries.registered
    mask = register.joints.construct[:count] == construct
    if planted.one_size_only:
        mask = mask & (register.joints.tibial_size[:count] == MIDDLE_SIZE)
    top = np.bincount(register.joints.surgeon[:count][mask], minlength=1)
    return {
        "kind": planted.kind,
        "implant": other[construct],
        "with": first[construct],
        "construct": names[construct],
        "size": str(MIDDLE_SIZE) if planted.one_size_only else "all",
        "factor": planted.factor,
        "from_day": planted.from_day,
        **use(mask),
        "main_surgeon": register.setting.units.surgeons.codes[int(top.argmax())],
        "main_surgeons_share": round(float(top.max() / max(top.sum(), 1)), 3),
    }


def _units(batch: Batch) -> pl.DataFrame:
    setting = batch.register.setting
    hospitals, surgeons, implants = setting.units.hospitals, setting.units.surgeons, setting.implants
    letter = batch.catalogue.main_roles[1][1]
    names = [batch.catalogue.implant_code(family, letter) for family in range(len(implants.families.number))]
    kinds = [("hospital", hospitals.codes, hospitals.factor), ("surgeon", surgeons.codes, surgeons.factor)]
    kinds.append(("implant", names, implants.families.factor))
    rows = [
        (kind, code, round(float(factor), 4)) for kind, codes, values in kinds for code, factor in zip(codes, values)
    ]
    return pl.DataFrame(rows, schema=["kind", "code", "factor"], orient="row")


def _joints(batch: Batch, records: Records, lists: Lists) -> pl.DataFrame:
    """Write down every registered joint."""
    register = batch.register
    joints, count = register.joints, register.joints.primaries.registered
    days, day = register.setting.days, joints.primaries.day[:count].astype(np.int64)
    patient = joints.primaries.patient[:count]
    exits, revised = register.lives.exits, register.ended == REVISED
    primary, revision = _operations_of(batch, records)
    groups = words.REASON_GROUPS[register.setting.parameters.joint]

    def seen(when: np.ndarray) -> pl.Series:
        return looked_up(lists.date, np.where(when <= days.last, when, -1))

    def word(name: str) -> pl.Series:
        codes, values = joints.covariate(name)
        return looked_up(coded(values), codes[:count])

    return pl.DataFrame(
        {
            "patient_id": looked_up(lists.patient, patient),
            "joint": register.setting.parameters.joint,
            "side": looked_up(coded(words.SIDES), joints.side[:count]),
            "operation_id": primary,
            "implanted_date": looked_up(lists.date, day),
            "hospital_id": looked_up(lists.hospital, joints.hospital[:count]),
            "surgeon_id": looked_up(lists.surgeon, joints.surgeon[:count]),
            "construct": looked_up(listed(_codes(batch)[0]), joints.construct[:count]),
            "size": joints.tibial_size[:count],
            **{name: word(name) for name in ("class", "bearing", "fixation", "technology", "sex", "asa", "diagnosis")},
            "age": joints.age[:count],
            "bmi": looked_up(lists.bmi, joints.bmi[:count]),
            "surgeon_volume": pl.Series(joints.surgeon_volume[:count]).cast(pl.Float64).round(1),
            "days": register.days,
            "ended": looked_up(coded(words.ENDINGS), register.ended),
            "reason_group": looked_up(coded(groups[:-1]), register.reason_group),
            "revision_operation_id": revision,
            "revision_date": seen(np.where(revised, day + register.days, days.last + 1)),
            "death_date": seen(exits.death_day[patient]),
            "loss_date": seen(exits.loss_day[patient]),
        }
    )


def _operations_of(batch: Batch, records: Records) -> tuple[pl.Series, pl.Series]:
    """Find the ids of each joint's primary and of its first revision, empty where there is none."""
    operations, count = records.operations, batch.register.joints.primaries.registered
    ids = listed(
        [
            f"{batch.register.setting.units.hospitals.codes[hospital]}-{number:07d}"
            for hospital, number in zip(operations["hospital"].tolist(), operations["number"].tolist())
        ]
    )
    found = []
    for kind in words.KINDS:
        rows = np.flatnonzero((operations["kind"] == words.KINDS.index(kind)) & (operations["joint"] < count))
        # The earliest of a joint is written last, and stays.
        rows = rows[np.argsort(-operations["day"][rows], kind="stable")]
        at = np.full(count, -1, np.int64)
        at[operations["joint"][rows]] = rows
        found.append(looked_up(ids, at))
    return found[0], found[1]


def _faults(batch: Batch, found: Faults) -> pl.DataFrame:
    """Write down every fault, by the submission and operation that carry it."""
    operations, schedule = batch.records.operations, batch.schedule
    hospitals = batch.register.setting.units.hospitals.codes
    names = listed([f"{hospitals[h]}-{n:04d}" for h, n in zip(schedule.hospital.tolist(), schedule.sequence.tolist())])
    hospital = looked_up(listed(hospitals), operations["hospital"][found.record])
    number = pl.Series(operations["number"][found.record]).cast(pl.String).str.zfill(7)
    return pl.DataFrame(
        {
            "submission": looked_up(names, batch.submission[found.record]),
            "table": looked_up(listed(TABLES), found.table),
            "operation_id": hospital + "-" + number,
            "line_no": found.line_no,
            "kind": looked_up(listed(KINDS), found.kind),
            "field": found.field.tolist(),
            "revealed": looked_up(listed(("no", "yes")), found.revealed.astype(np.uint8)),
        }
    )


def _curves(register: Register) -> pl.DataFrame:
    """Write the true curves at every eighth week and on every anniversary."""
    return pl.concat([_curve(curve) for curve in register.curve_sets(GROUPINGS)])


def _curve(curve: TrueCurve) -> pl.DataFrame:
    last = len(curve.limit_risk) - 1
    anniversaries = (np.arange(1, last / DAYS_A_YEAR + 1) * DAYS_A_YEAR).astype(np.int64)
    days = np.unique(np.concatenate([np.arange(0, last + 1, STEP), anniversaries[anniversaries <= last]]))
    return pl.DataFrame(
        {
            **{name: pl.Series([curve.stratum.get(name)] * len(days), dtype=pl.String) for name in STRATA},
            "day": days,
            "joints": [curve.joints] * len(days),
            "expected_at_risk": curve.expected_at_risk[days].round(3),
            "limit_risk": curve.limit_risk[days].round(8),
            "mean_risk": curve.mean_risk[days].round(8),
        }
    )
