"""
Writing acts down in the audit trail: what was done is told after it was done, and how it ended.

An act of the office (taking in, freezing) is refused beforehand where it could not be written down. Reading is for
everybody: an export by somebody who may not write the office file goes on, and says that it is in no trail.
"""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from regdash.cli.place import tell_lost_office
from regdash.cli.printing import Form, say
from regdash.errors import StoreError

if TYPE_CHECKING:
    from regdash.store.acts import Act

FEW = 4  # subjects that are named one by one


@contextmanager
def audited(store: Path, what: str, subject: str = "", why: str = "") -> "Iterator[Act]":
    """
    Write an act of the office down once it has ended, however it ended, as `written_down`.

    Raises:
        StoreError: the audit trail cannot be written; nothing was done.
    """
    from regdash.store.acts import written_down

    tell_lost_office(store)
    with written_down(store, what, subject, why, _ended_by, _write_down) as act:
        yield act


def note_export(store: Path, form: Form, of: str, cut: str, rows: int, **more: Any) -> None:
    """
    Write down that rows of single joints or records are about to leave, for a file or another program.

    A page for people is no export. Who may not write the trail is told so, and gets the rows.
    """
    if form != "text":
        from regdash.store.acts import Act

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


def _ended_by(fault: BaseException) -> str:
    from regdash.store.acts import ended_by

    if isinstance(fault, click.Abort):
        return "interrupted"
    return f"refused: {fault}" if isinstance(fault, click.ClickException) else ended_by(fault)


def _write_down(store: Path, what: str, why: str, act: "Act") -> None:
    """Write a line; an act that is done stays done where that fails, and who did it is told."""
    from regdash.store.acts import write_down

    try:
        write_down(store, what, why, act)
    except StoreError as fault:
        say(f"This {what} is not in the audit trail. {fault}")
