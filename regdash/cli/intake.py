"""What an office does with what hospitals send: receive, held, freeze, cuts."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import asdict, astuple, fields
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from regdash.cli import words
from regdash.cli.audited import audited, named, note_export
from regdash.cli.ending import REFUSED
from regdash.cli.options import Day, cut_option, form_options, store_option
from regdash.cli.place import existing, to_read, to_write
from regdash.cli.printing import Form, Steps, emit, say, show
from regdash.reports.wording import so_many

if TYPE_CHECKING:
    from regdash.intake.receive import FileReceipt, Receipt
    from regdash.output.listing import Listing
    from regdash.store.cuts import Manifest
    from regdash.store.held import HeldRow

SHOWN = 40  # held rows that a person sees at once
HELD_COLUMNS = ("submission", "hospital", "row", "rule", "severity", "text")
HELD_BY = ("hospital", "submission", "table", "rule", "severity")
HELD_PAGE = ("submission", "row", "record", "rule", "value")  # each rule's sentence stands above
HASH_SHOWN = 12  # characters of a content hash that a person sees
CUT_COLUMNS = ("cut", "through", "known_as_of", "joints", "revisions", "hash")
COUNTS = ("received", "accepted", "held", "rejected", "known_already")


class HeldBy(click.ParamType):
    """Fields that held rows are counted by, joined by commas."""

    name = "fields"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> tuple[str, ...]:
        """Read hospital,rule."""
        fields = tuple(str(value).split(",")) if isinstance(value, str) else tuple(value)
        unknown = [field for field in fields if field not in HELD_BY]
        if unknown:
            from regdash.suggest import nearest

            self.fail(f"Held rows are not counted by {unknown[0]}. {nearest(unknown[0], HELD_BY, len(HELD_BY))}")
        return fields


@click.command()
@click.argument("paths", nargs=-1, required=True, metavar="PATH...", type=click.Path(path_type=Path))
@click.option(
    "--key",
    type=click.Path(path_type=Path),
    envvar="REGDASH_KEY",
    metavar="FILE",
    help="What turns patients' own numbers into pseudonyms; see new-key.",
)
@store_option
@form_options
def receive(paths: tuple[Path, ...], key: Path | None, store: Path | None, form: Form) -> None:
    """
    Take in submissions: folders with an envelope.json and its files, or folders of such folders.

    A submission with a fault is refused whole, and those of its sender that come after it wait; the others are
    taken in. The exit code is 1 where any was left out. Taking the same in twice changes nothing.

    \b
      regdash receive inbox/2025Q1
    """
    from regdash.intake.pseudonyms import read_key
    from regdash.intake.receive import receive as take_in

    pseudonyms = read_key(key.expanduser()) if key else None
    place = to_write(store)
    with audited(place, "receive") as act, Steps() as steps:
        receipt = take_in(place, list(paths), steps, pseudonyms)
        act.subject = named([file.submission for file in receipt.files])
        act.details = _counts(receipt) | {"late_corrections": len(receipt.late)}
    known = receipt.submissions - receipt.new_submissions
    say(f"{so_many(receipt.new_submissions, 'submission')} taken in, {known:,} known already.")
    show(_by_table(receipt) if form == "text" else _by_file(receipt), form)
    for late in receipt.pending:
        if late.rows:
            say(f"{late.told()} Let it: regdash rules --apply")
    for found in receipt.late:
        say(f"Warning: {found.told()}")
    for gap in receipt.gaps:
        say(f"Warning: {gap.told()}")
    for one in receipt.refused:
        say(f"Refused: {' '.join(one.told.split())}")
    if receipt.refused:
        raise SystemExit(REFUSED)


def _counts(receipt: "Receipt") -> dict[str, int]:
    """Count what became of submissions and rows."""
    sent = {"submissions": receipt.submissions, "new": receipt.new_submissions, "refused": len(receipt.refused)}
    return sent | {count: receipt.total(count) for count in COUNTS}


def _by_file(receipt: "Receipt") -> "Listing":
    from regdash.intake.receive import FileReceipt
    from regdash.output.listing import Listing

    columns = tuple(field.name for field in fields(FileReceipt))
    facts = {
        "submissions": receipt.submissions,
        "new_submissions": receipt.new_submissions,
        "refused": [{"folder": one.folder, "text": one.told} for one in receipt.refused],
        "new_rules": [{"rule": one.rule, "version": one.version, "rows": one.rows} for one in receipt.pending],
        "late_corrections": [asdict(one) for one in receipt.late],
        "missing_sequences": [asdict(one) for one in receipt.gaps],
    }
    return Listing("receipt", columns, [astuple(file) for file in receipt.files], facts)


def _by_table(receipt: "Receipt") -> "Listing":
    from regdash.output.listing import Listing

    tables: dict[str, list[FileReceipt]] = {}
    for file in receipt.files:
        tables.setdefault(file.table, []).append(file)
    rows = [
        (name, len(files), *(sum(getattr(file, count) for file in files) for count in COUNTS))
        for name, files in tables.items()
    ]
    columns = ("table", "files", *(count.replace("_", " ") for count in COUNTS))
    return Listing("receipt", columns, rows, remarks=("What was held and why: regdash held --live",))


@click.command()
@click.option("--hospital", metavar="CODE", help="Rows of one sender.")
@click.option("--rule", metavar="RULE", shell_complete=words.complete_rule, help="Rows held by one rule.")
@click.option("--by", type=HeldBy(), metavar="FIELD,...", help="Count the rows instead, by hospital, rule, table…")
@click.option("--live", is_flag=True, help="Read the store as it is now, not a data cut.")
@click.option("--limit", type=click.IntRange(min=0), help=f"Rows at most; {SHOWN} for people, else all.")
@store_option
@cut_option
@form_options
def held(
    hospital: str | None,
    rule: str | None,
    by: tuple[str, ...],
    live: bool,
    limit: int | None,
    store: Path | None,
    cut: str | None,
    form: Form,
) -> None:
    """
    List rows that were held back or rejected, with the rule and what the hospital is told.

    \b
      regdash held --hospital H012 --csv
      regdash held --rule side-missing --live
      regdash held --by hospital,rule
    """
    from regdash.store.held import held_in_cut, held_now

    if live and cut:
        raise click.UsageError("--live reads the store itself, and --cut names a data cut; choose one of them")
    if live:
        place = to_write(store)
        name, rows = None, held_now(place, hospital, rule)
    else:
        place = to_read(store)
        name, rows = held_in_cut(place, cut, hospital, rule)
    if by:
        show(_held_counts(rows, by, name), form)
        return
    if form == "text":
        limit = SHOWN if limit is None else limit
        show(_held_by_rule(rows), form)
        emit("\n")
    note_export(place, form, "held rows", name or "live", len(rows[:limit]))
    show(_held_list(rows[:limit], HELD_PAGE if form == "text" else HELD_COLUMNS, name, len(rows)), form)


def _held_counts(rows: Sequence["HeldRow"], by: tuple[str, ...], cut: str | None) -> "Listing":
    """Count rows by fields; a row that several rules hold counts once for each."""
    from regdash.output.listing import Listing

    counts = Counter(tuple(getattr(row, field) for field in by) for row in rows)
    table = [(*group, count) for group, count in sorted(counts.items())]
    source = f"data cut {cut}" if cut else "the store as it is now"
    remarks = (f"{so_many(len(rows), 'row')}, {source}; a row that several rules hold counts once for each.",)
    return Listing("held rows", (*by, "rows"), table, {"cut": cut, "total": len(rows)}, remarks)


def _held_by_rule(rows: Sequence["HeldRow"]) -> "Listing":
    """List the rules that hold anything, the most frequent first."""
    from regdash.output.listing import Listing

    counts = Counter((row.rule, row.severity, row.told) for row in rows)
    table = [(rule, severity, count, told) for (rule, severity, told), count in counts.most_common()]
    return Listing("held rows by rule", ("rule", "severity", "rows", "text"), table, wraps=("text",))


def _held_list(rows: Sequence["HeldRow"], columns: tuple[str, ...], cut: str | None, total: int) -> "Listing":
    from regdash.output.listing import Listing

    values = [tuple(getattr(row, column) for column in columns) for row in rows]
    source = f"data cut {cut}" if cut else "the store as it is now"
    remarks = (f"{len(rows):,} of {so_many(total, 'row')}, {source}.",)
    return Listing("held rows", columns, values, {"cut": cut, "total": total}, remarks)


@click.command()
@click.option("--through", type=Day(), required=True, metavar="DATE", help="Last day that the cut covers.")
@click.option(
    "--known-as-of",
    "--known",
    "known_as_of",
    type=Day(),
    metavar="DATE",
    help="Leave out what came in later; nothing if left out.",
)
@click.option(
    "--because",
    default="",
    metavar="TEXT",
    help="Why it is right although links or counted records of the cut before are lost.",
)
@store_option
@form_options
def freeze(through: date, known_as_of: date | None, because: str, store: Path | None, form: Form) -> None:
    """
    Make a data cut: what was known about the time up to a date, never to be changed again.

    It is refused where the linked share of revisions fell by more than 3 points against the cut before, or an
    operation that counted there is gone with no correction, unless --because says why.

    \b
      regdash freeze --through 2024-12-31
      regdash freeze --through 2023-12-31 --known 2024-02-01
    """
    from regdash.store.freeze import freeze as make_cut
    from regdash.store.rule_book import not_entered

    place = to_write(store)
    with audited(place, "freeze", f"through {through}", because) as act, Steps() as steps:
        manifest = make_cut(place, through, known_as_of, steps, because)
        act.subject = manifest.cut
        act.details = {"content_hash": manifest.content_hash, "known_as_of": manifest.known_as_of}
        act.details |= {"compared": manifest.compared} if manifest.compared else {}
    if newer := not_entered(place):
        are, them = ("is", "it") if newer == 1 else ("are", "them")
        unused = f"{so_many(newer, 'rule')} of this release {are} newer than the store and not used"
        say(f"{unused}; receive counts {them} next.")
    show(_cut_list([manifest], form), form)


@click.command()
@store_option
@form_options
def cuts(store: Path | None, form: Form) -> None:
    """List the data cuts of the store, newest last."""
    from regdash.store.cuts import list_cuts

    show(_cut_list(list_cuts(existing(store)), form), form)


def _cut_list(manifests: Sequence["Manifest"], form: Form) -> "Listing":
    from regdash.output.listing import Listing

    shown = HASH_SHOWN if form == "text" else None
    rows = [(m.cut, m.through_date, m.known_as_of, m.joints, m.revisions, m.content_hash[:shown]) for m in manifests]
    return Listing("data cuts", CUT_COLUMNS, rows)
