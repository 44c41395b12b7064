"""
The key: everything that is true of a synthetic register, in a folder apart from what hospitals sent.
"""

import json
from pathlib import Path
from typing import Any

import numpy as np
import polars as pl

from regdash import vocabulary as words
from synthetic_registry.batch import Batch
from synthetic_registry.curves import STEP, TrueCurve
from synthetic_registry.faults import KINDS, MISSING_RULES, OF_PRIMARIES, REVEALED, RULES, TABLES, Faults
from synthetic_registry.lives import REVISED
from synthetic_registry.parameters import DAYS_A_YEAR
from synthetic_registry.planted import construct_codes, planted_truths
from synthetic_registry.records import REVISION, Records
from synthetic_registry.register import Register
from synthetic_registry.written import Lists, coded, listed, looked_up

# Strata of the true curves; within age and era the limit and the mean risk are nearly the same.
GROUPINGS = ((), ("age_band",), ("bearing",), ("era",), ("age_band", "era"))
STRATA = ("class", "age_band", "bearing", "era")
OF_EACH = ("class", "bearing", "fixation", "technology", "couple", "sex", "asa", "diagnosis")

ABOUT = """\
The key to a synthetic register: what is true of it. It is never part of what is taken in.

parameters.json  what the register was made from, for each kind of joint: hazards, effects, structure, delays, faults
planted.json     hospitals, surgeons, implants and lots that are poor on purpose, the implant that only looks poor,
                 the hospital that looks good because it does not send all revisions, and the changes of the form
units.csv        the factor by which each hospital, surgeon and implant multiplies every hazard, by kind of joint
joints.csv       every primary joint: what is true of it, how its follow-up ended by the last day, and when
faults.csv       every fault put in on purpose, one row each; `revealed` says whether what was submitted can show it
                 (yes; no; elsewhere: by another record of the patient), `rule` by which rule intake should find it
                 (of several words, by one of these)
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
    registers = batch.several.registers
    (key / "README.txt").write_text(ABOUT, encoding="utf-8")
    made_from = {register.joint: register.setting.parameters.plain() for register in registers}
    _write_json(key / "parameters.json", {**run, **made_from})
    _write_json(key / "planted.json", planted_truths(batch))
    _write_csv(key / "units.csv", _units(batch))
    _write_csv(
        key / "joints.csv", pl.concat([_joints(batch, number, records, lists) for number in range(len(registers))])
    )
    _write_csv(key / "faults.csv", _faults(batch, found))
    _write_csv(key / "curves.csv", pl.concat([_curves(register) for register in registers]))


def _write_json(path: Path, content: dict[str, Any]) -> None:
    path.write_text(json.dumps(content, indent=1, default=str) + "\n", encoding="utf-8")


def _write_csv(path: Path, frame: pl.DataFrame) -> None:
    frame.write_csv(path, quote_style="never")


def _units(batch: Batch) -> pl.DataFrame:
    rows = []
    for register, catalogue in zip(batch.several.registers, batch.several.catalogues):
        units, implants = register.setting.units, register.setting.implants
        names = [
            catalogue.implant_code(family, 1) or catalogue.implant_code(family, 0) for family in _families(register)
        ]
        for kind, codes, factors in (
            ("hospital", units.hospitals.codes, units.hospitals.factor),
            ("surgeon", units.surgeons.codes, units.surgeons.factor),
            ("implant", names, implants.families.factor),
        ):
            rows += [(register.joint, kind, code, round(float(factor), 4)) for code, factor in zip(codes, factors)]
    return pl.DataFrame(rows, schema=["joint", "kind", "code", "factor"], orient="row")


def _families(register: Register) -> range:
    return range(len(register.setting.implants.families.number))


def _joints(batch: Batch, number: int, records: Records, lists: Lists) -> pl.DataFrame:
    """Write down every registered joint of one kind."""
    several, register = batch.several, batch.several.registers[number]
    joints, count = register.joints, register.joints.primaries.registered
    days, day = several.days, joints.primaries.day[:count].astype(np.int64)
    patient = joints.primaries.patient[:count]
    exits, revised = several.exits, register.ended == REVISED
    primary, revision = _operations_of(batch, number, records)
    groups = words.REASON_GROUPS[register.joint]

    def seen(when: np.ndarray) -> pl.Series:
        return looked_up(lists.date, np.where(when <= days.last, when, -1))

    def word(name: str) -> pl.Series:
        codes, values = joints.covariate(name)
        return looked_up(coded(values), codes[:count])

    return pl.DataFrame(
        {
            "patient_id": looked_up(lists.patient, patient),
            "joint": register.joint,
            "side": looked_up(coded(words.SIDES), joints.side[:count]),
            "operation_id": primary,
            "implanted_date": looked_up(lists.date, day),
            "hospital_id": looked_up(lists.hospital, joints.hospital[:count]),
            "surgeon_id": looked_up(lists.surgeon, joints.surgeon[:count]),
            "construct": looked_up(listed(construct_codes(batch, number)[0]), joints.construct[:count]),
            "size": joints.other_size[:count],
            "head_size": _head_sizes(register),
            **{name: word(name) for name in OF_EACH},
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


def _head_sizes(register: Register) -> pl.Series:
    """Write the head's size of each joint that has one, as the catalogue does."""
    joints, count = register.joints, register.joints.primaries.registered
    kinds = register.setting.parameters.classes
    widest = max(len(kind.head_sizes) for kind in kinds) + 1
    table = [size for kind in kinds for size in (*kind.head_sizes, *[""] * (widest - len(kind.head_sizes)))]
    return looked_up(listed(table), joints.joint_class[:count].astype(np.int64) * widest + joints.head[:count])


def _operations_of(batch: Batch, number: int, records: Records) -> tuple[pl.Series, pl.Series]:
    """Find the ids of each joint's primary and of its first revision, empty where there is none."""
    operations, several = records.operations, batch.several
    count, start = several.registers[number].joints.primaries.registered, several.starts[number]
    own = (operations["joint"] >= start) & (operations["joint"] < start + count)
    found = []
    for kind in words.KINDS:
        rows = np.flatnonzero(own & (operations["kind"] == words.KINDS.index(kind)))
        # The earliest of a joint is written last, and stays.
        rows = rows[np.argsort(-operations["day"][rows], kind="stable")]
        at = np.full(count, -1, np.int64)
        at[operations["joint"][rows] - start] = rows
        hospital = looked_up(listed(several.hospitals), np.where(at >= 0, operations["hospital"][at], -1))
        found.append(hospital + "-" + pl.Series(operations["number"][at]).cast(pl.String).str.zfill(7))
    return found[0], found[1]


def _faults(batch: Batch, found: Faults) -> pl.DataFrame:
    """Write down every fault, by the submission and operation that carry it."""
    operations, schedule = batch.records.operations, batch.schedule
    hospitals = batch.several.hospitals
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
            "revealed": looked_up(listed(REVEALED), found.revealed),
            "rule": looked_up(listed([RULES[kind] for kind in KINDS]), found.kind),
        }
    ).with_columns(
        rule=pl.when(pl.col("kind") == "missing")
        .then(_missing_rules(operations["kind"][found.record]))
        .otherwise(pl.col("rule"))
    )


def _missing_rules(kind: np.ndarray) -> pl.Expr:
    """Name the rules that find empty cells; some are asked of primaries only."""
    rule = pl.col("field").replace_strict(MISSING_RULES, default=None, return_dtype=pl.String)
    revision = pl.lit(pl.Series(kind == REVISION))
    return pl.when(revision & pl.col("field").is_in(OF_PRIMARIES)).then(None).otherwise(rule)


def _curves(register: Register) -> pl.DataFrame:
    """Write the true curves at every eighth week and on every anniversary."""
    return pl.concat([_curve(register.joint, curve) for curve in register.curve_sets(GROUPINGS)])


def _curve(joint: str, curve: TrueCurve) -> pl.DataFrame:
    last = len(curve.limit_risk) - 1
    anniversaries = (np.arange(1, last / DAYS_A_YEAR + 1) * DAYS_A_YEAR).astype(np.int64)
    days = np.unique(np.concatenate([np.arange(0, last + 1, STEP), anniversaries[anniversaries <= last]]))
    return pl.DataFrame(
        {
            "joint": [joint] * len(days),
            **{name: pl.Series([curve.stratum.get(name)] * len(days), dtype=pl.String) for name in STRATA},
            "day": days,
            "joints": [curve.joints] * len(days),
            "expected_at_risk": curve.expected_at_risk[days].round(3),
            "limit_risk": curve.limit_risk[days].round(8),
            "mean_risk": curve.mean_risk[days].round(8),
        }
    )
