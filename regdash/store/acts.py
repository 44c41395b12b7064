"""
Writing acts down in the audit trail: what was done is told after it was done, and how it ended. An act that could not
be written down is refused beforehand.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from regdash.errors import Cancelled, RegdashError
from regdash.store.audit import append
from regdash.store.connect import registry_path
from regdash.store.office import writing_office


@dataclass
class Act:
    """What is done, filled in while it is."""

    subject: str = ""
    outcome: str = "done"
    details: dict[str, Any] = field(default_factory=dict)


# What DuckDB says in a RuntimeError where Ctrl-C comes while it works on a statement.
_STATEMENT_INTERRUPTED = "Query interrupted"


def ended_by(fault: BaseException) -> str:
    """
    Say how an act ended that raised.

    >>> ended_by(KeyboardInterrupt()), ended_by(RuntimeError("Query interrupted")), ended_by(RuntimeError("no room"))
    ('interrupted', 'interrupted', 'failed: RuntimeError')
    """
    if isinstance(fault, (KeyboardInterrupt, Cancelled)) or str(fault) == _STATEMENT_INTERRUPTED:
        return "interrupted"
    return f"refused: {fault}" if isinstance(fault, RegdashError) else f"failed: {type(fault).__name__}"


def write_down(store: Path, what: str, why: str, act: Act) -> None:
    """
    Add the line of an act.

    Raises:
        StoreError: the audit trail cannot be written.
    """
    append(store, what, act.subject, why, act.outcome, act.details)


@contextmanager
def written_down(
    store: Path,
    what: str,
    subject: str = "",
    why: str = "",
    ended: Callable[[BaseException], str] = ended_by,
    write: Callable[[Path, str, str, Act], None] = write_down,
) -> Iterator[Act]:
    """
    Write an act of the office down once it has ended, however it ended.

    Where there is no store nothing is written, so that a refusal leaves nothing behind.

    Args:
        ended: says how an act ended that raised.
        write: writes the line.

    Raises:
        StoreError: the audit trail cannot be written; nothing was done.
    """
    if registry_path(store).is_file():
        with writing_office(store):
            pass
    act = Act(subject)
    try:
        yield act
    except BaseException as fault:
        act.outcome = ended(fault)
        raise
    finally:
        if registry_path(store).is_file():
            write(store, what, why, act)
