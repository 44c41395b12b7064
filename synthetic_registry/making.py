"""
Making a register's files: simulate, write down, soil, send, and keep the truth apart.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import numpy as np

from regdash import vocabulary as words
from regdash.errors import InputError
from synthetic_registry.batch import Batch
from synthetic_registry.dirt import soil
from synthetic_registry.faults import Faults, all_faults
from synthetic_registry.feeds import write_feeds
from synthetic_registry.key import write_key
from synthetic_registry.parameters import Parameters
from synthetic_registry.records import Records
from synthetic_registry.revisions import draw_revisions
from synthetic_registry.sending import lags, make_schedule, submissions_of
from synthetic_registry.several import Several
from synthetic_registry.simulation import THROUGH, parameters_of, simulate_several
from synthetic_registry.submissions import write_submissions
from synthetic_registry.true_records import make_records
from synthetic_registry.written import Lists, patient_ids

# Told what is being done, and which part of all the work is behind it, 0 to 1.
Progress = Callable[[str, float], None]


@dataclass(frozen=True)
class Made:
    """What was made, and where."""

    out: Path
    key: Path
    joints: int
    patients: int
    operations: int  # as sent, copies included
    submissions: int
    rows: int  # in all files together
    faults: int
    through: date


def make(
    out: Path,
    joints: int = 20_000,
    seed: int = 1,
    clean: bool = False,
    key: Path | None = None,
    through: date = THROUGH,
    progress: Progress | None = None,
    delay: bool | None = None,
    parameters: Parameters | Sequence[Parameters] | None = None,
    only: Sequence[str] = words.JOINTS,
) -> Made:
    """
    Make a synthetic register: the submissions of its hospitals, the office's feeds, and the key to its truth.

    Args:
        out: a folder for `submissions/` and `feeds/`, new or empty.
        joints: how many primaries the register holds, 500 or more.
        seed: the same seed, size and through-date give the same bytes.
        clean: no faults; and every record comes with its own quarter's submission, unless `delay` is asked for.
        key: a folder for the truth, not inside `out`; beside it as `<out>-key` if left out.
        through: the last day of the register's time.
        progress: told what is being done.
        delay: whether records come late as they do in life; if left out, they do unless `clean`.
        parameters: what the register is made from, of one kind of joint or of several; if left out, those of `only`.
        only: kinds of joints, of knee, hip and shoulder.

    Raises:
        InputError: a folder that is not empty, a key inside the data, an unknown kind of joint, too few joints, or too
            short a time.
    """
    tell = progress or (lambda text, done: None)
    chosen = _chosen(parameters, only)
    out, key = _folders(out, key)
    tell("drawing patients and lives", 0.0)
    try:
        registers = simulate_several(joints, seed, through=through, parameters=chosen, prior=True)
    except ValueError as error:
        raise InputError(str(error)) from None
    tell("drawing revisions and records", 0.25)
    several = Several(registers)
    revisions = [draw_revisions(own, catalogue) for own, catalogue in zip(registers, several.catalogues)]
    records = make_records(several, revisions)
    batch, found = _sent(several, records, clean, not clean if delay is None else delay)
    lists = Lists(batch, patient_ids(seed, several.patients + batch.strangers))
    tell("writing submissions", 0.45)
    rows = write_submissions(out, batch, lists, lambda part: tell("writing submissions", 0.45 + 0.35 * part))
    tell("writing feeds", 0.8)
    rows += write_feeds(out, batch, records, lists)
    tell("writing the key", 0.85)
    run = {"joints": joints, "seed": seed, "through": through, "clean": clean, "delay": delay}
    write_key(key, batch, records, found, lists, {"run": run})
    tell("done", 1.0)
    present = np.unique(records.operations["patient"])
    return Made(
        out=out,
        key=key,
        joints=joints,
        patients=len(present),
        operations=int(batch.sent.sum()),
        submissions=len(batch.schedule.hospital),
        rows=rows,
        faults=len(found),
        through=through,
    )


def _chosen(parameters: Parameters | Sequence[Parameters] | None, only: Sequence[str]) -> tuple[Parameters, ...]:
    """Find the parameters asked for."""
    if isinstance(parameters, Parameters):
        return (parameters,)
    if parameters is not None:
        return tuple(parameters)
    unknown = next((name for name in only if name not in words.JOINTS), None)
    if unknown is not None or not only:
        named = ", ".join(words.JOINTS)
        raise InputError(f"There is no kind of joint called {unknown}; name one or more of {named}.")
    return parameters_of(only)


def _folders(out: Path, key: Path | None) -> tuple[Path, Path]:
    """Prepare both folders, or say why not."""
    out = out.resolve()
    key = (key or out.with_name(f"{out.name}-key")).resolve()
    if key == out or out in key.parents:
        raise InputError(f"The key must not lie among the data it is the key to: {key}. Choose a folder outside {out}.")
    for folder in (out, key):
        try:
            folder.mkdir(parents=True, exist_ok=True)
            taken = next(folder.iterdir(), None)
        except OSError as error:
            raise InputError(f"The folder {folder} cannot be used: {error.strerror}.") from None
        if taken:
            raise InputError(
                f"The folder {folder} is not empty: it holds {taken.name}. Name a new folder, or empty it."
            )
    return out, key


def _sent(several: Several, records: Records, clean: bool, delay: bool) -> tuple[Batch, Faults]:
    """Find which submission brings each record, and soil them unless the register is clean."""
    schedule = make_schedule(several)
    operations = records.operations
    late = lags(several, records) if delay else 0
    submission = submissions_of(schedule, operations["hospital"], operations["day"], late)
    batch = Batch(several, schedule, records, submission, np.zeros(len(records), bool))
    return (batch, all_faults([])) if clean else soil(batch)
