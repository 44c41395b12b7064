"""The command on the audit trail: who did what, when and why, and whether the trail is whole."""

import json
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click
from click.shell_completion import CompletionItem

from regdash.cli.options import Day, form_options, store_option
from regdash.cli.place import to_read
from regdash.cli.printing import Form, show

if TYPE_CHECKING:
    from regdash.output.listing import Listing
    from regdash.store.audit import AuditLine, Verdict

SHOWN = 40  # lines that a person sees at once, the newest
PAGE = ("line", "at", "who", "what", "subject", "why")  # the subject says how an act ended that was not done
COLUMNS = ("line", "at", "who", "what", "subject", "outcome", "why", "account", "details", "previous_hash", "hash")
DONE = "done"
NOTHING = "Nothing is written. If anything was, the trail and the hashes beside it are both gone."
HASH_SHOWN = 16  # characters that a person sees, and may note down


class ActName(click.ParamType):
    """An act of the audit trail."""

    name = "act"

    def convert(self, value: str, param: click.Parameter | None, ctx: click.Context | None) -> str:
        """Read freeze, or name the nearest."""
        from regdash.store.audit import ACTS
        from regdash.suggest import nearest

        if value not in ACTS:
            self.fail(f"{value} is no act. {nearest(value, ACTS, len(ACTS))}", param, ctx)
        return value

    def shell_complete(self, ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
        """List the acts, with what they mean."""
        from regdash.store.audit import ACTS

        return [CompletionItem(act, help=about) for act, about in ACTS.items() if act.startswith(incomplete)]


@click.command()
@click.option("--since", type=Day(), metavar="DATE", help="Lines from that day on, in UTC.")
@click.option("--what", type=ActName(), metavar="ACT", help="Lines of one act: receive, freeze, export…")
@click.option("--limit", type=click.IntRange(min=0), help=f"Newest lines at most; {SHOWN} for people, else all.")
@click.option("--verify", "verifying", is_flag=True, help="Walk the chain of hashes and name the first fault.")
@click.option("--head", metavar="HASH", help="With --verify: a hash noted down earlier; its line must be there.")
@store_option
@form_options
def audit(
    since: date | None,
    what: str | None,
    limit: int | None,
    verifying: bool,
    head: str | None,
    store: Path | None,
    form: Form,
) -> None:
    """
    List who did what, when and why: loads, freezes, exports. Lines are only ever added.

    \b
      regdash audit --since 2025-01-01 --what freeze
      regdash audit --verify
    """
    if head and not verifying:
        raise click.UsageError("--head is a hash that must be in the trail, so it goes with --verify")
    if verifying and (since or what or limit is not None):
        raise click.UsageError("--verify walks the whole trail, so it goes without --since, --what and --limit")
    place = _of_a_store(to_read(store))
    show(_verdict(place, head, form) if verifying else _trail(place, since, what, limit, form), form)


def _of_a_store(store: Path) -> Path:
    """
    Give the folder back, if it is a store.

    Raises:
        StoreError: it is none.
    """
    from regdash.errors import StoreError
    from regdash.store.connect import registry_path
    from regdash.store.cuts import CUTS_FOLDER

    if not registry_path(store).is_file() and not (store / CUTS_FOLDER).is_dir():
        raise StoreError(f"There is no store in {store}. Name another with --store DIR.")
    return store


def _trail(store: Path, since: date | None, what: str | None, limit: int | None, form: Form) -> "Listing":
    from regdash.output.listing import Listing
    from regdash.store.audit import audit_lines

    lines = audit_lines(store, since.isoformat() if since else None, what)
    most = SHOWN if limit is None and form == "text" else limit
    shown = lines if most is None else lines[len(lines) - min(most, len(lines)) :]
    columns = PAGE if form == "text" else COLUMNS
    told = [_with_its_end(line) for line in shown] if form == "text" else shown
    rows = [_cells(line, columns, form) for line in told]
    remarks = (f"{len(shown):,} of {len(lines):,} lines, the newest last.",)
    return Listing("audit trail", columns, rows, {"total": len(lines)}, remarks, wraps=("subject", "why"))


def _with_its_end(line: "AuditLine") -> "AuditLine":
    """Say beside what an act was about how it ended, unless it was done: a page may have no room for a column."""
    ended = (part for part in (line.subject, line.outcome) if part)
    return line if line.outcome == DONE else replace(line, subject=": ".join(ended))


def _cells(line: "AuditLine", columns: tuple[str, ...], form: Form) -> tuple[object, ...]:
    # In JSON the details are an object, in CSV its text.
    return tuple(
        json.loads(line.details) if name == "details" and form == "json" else getattr(line, name) for name in columns
    )


def _verdict(store: Path, head: str | None, form: Form) -> "Listing":
    """
    Verify the trail.

    Raises:
        StoreError: a line was changed, is missing or was put in.
    """
    from regdash.errors import StoreError
    from regdash.output.listing import Listing
    from regdash.store.audit import verify

    verdict: Verdict = verify(store, head)
    if verdict.fault:
        raise StoreError(f"The audit trail of {store} is not whole. {verdict.fault}")
    shown = verdict.head[:HASH_SHOWN] if form == "text" else verdict.head
    remark = "Whole: every line follows from the one before. Note the hash down elsewhere, and ask for it again with "
    remarks = (f"{remark}regdash audit --verify --head {shown}",) if verdict.lines else (NOTHING,)
    return Listing("audit trail", ("lines", "hash"), [(verdict.lines, shown)], {}, remarks)
