"""
Writing acts down in the audit trail: what was done is told after it was done, and how it ended.

An act of the office (taking in, freezing) is refused beforehand where it could not be written down. Reading is for
everybody: an export by somebody who may not write the office file goes on, and says that it is in no trail.
"""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import click

from regdash.cli.printing import Form, say
from regdash.errors import Cancelled, RegdashError, StoreError

FEW = 4  # subjects that are named one by one


@dataclass
class Act:
    """What is done, filled in while it is."""

    subject: str = ""
    outcome: str = "done"
    details: dict[str, Any] = field(default_factory=dict)


@contextmanager
def audited(store: Path, what: str, subject: str = "", why: str = "") -> Iterator[Act]:
    """
    Write an act of the office down once it has ended, however it ended.

    Where there is no store nothing is written, so that a refusal leaves nothing behind.

    Raises:
        StoreError: the audit trail cannot be written; nothing was done.
    """
    if _is_store(store):
        from regdash.store.office import writing_office

        with writing_office(store):
            pass
    act = Act(subject)
    try:
        yield act
    except BaseException as fault:
        act.outcome = _ended_by(fault)
        raise
    finally:
        if _is_store(store):
            _write_down(store, what, why, act)


def note_export(store: Path, form: Form, of: str, cut: str, rows: int, **more: Any) -> None:
    """
    Write down that rows of single joints or records are about to leave, for a file or another program.

    A page for people is no export. Who may not write the trail is told so, and gets the rows.
    """
    if form != "text":
        details = {"of": of, "rows": rows, "form": form, **more}
        _write_down(store, "export", "", Act(cut, details=details))


def named(ids: Sequence[str]) -> str:
    """
    Name a few things, or the first and last of many.

    >>> named(["H001-0001", "H001-0001", "H002-0001"]), named([f"H{n:03}-0001" for n in range(1, 9)])
    ('H001-0001, H002-0001', 'H001-0001 to H008-0001, 8 in all')
    """
    each = sorted(set(ids))
    return ", ".join(each) if len(each) <= FEW else f"{each[0]} to {each[-1]}, {len(each):,} in all"


def _is_store(store: Path) -> bool:
    from regdash.store.connect import registry_path

    return registry_path(store).is_file()


def _ended_by(fault: BaseException) -> str:
    if isinstance(fault, (KeyboardInterrupt, click.Abort, Cancelled)):
        return "interrupted"
    if isinstance(fault, (RegdashError, click.ClickException)):
        return f"refused: {fault}"
    return f"failed: {type(fault).__name__}"


def _write_down(store: Path, what: str, why: str, act: Act) -> None:
    from regdash.store.audit import append

    try:
        append(store, what, act.subject, why, act.outcome, act.details)
    except StoreError as fault:
        say(f"This {what} is not in the audit trail. {fault}")
