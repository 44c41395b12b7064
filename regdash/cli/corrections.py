"""The command on the correction log."""

from dataclasses import astuple
from datetime import date
from pathlib import Path

import click

from regdash.cli.audited import note_export
from regdash.cli.options import Day, cut_option, form_options, store_option
from regdash.cli.place import to_read
from regdash.cli.printing import Form, emit, show

SHOWN = 40  # corrections that a person sees at once, the newest
COUNTS = ("table", "field", "corrections", "operations", "counted")
PAGE = ("corrected_on", "submission", "operation_id", "field", "old_value", "new_value")
COLUMNS = (
    "corrected_on",
    "hospital",
    "submission",
    "operation_id",
    "table",
    "line_no",
    "field",
    "old_value",
    "new_value",
    "reason",
    "is_counted",
)


@click.command()
@click.option("--hospital", metavar="CODE", help="What one hospital corrected.")
@click.option("--since", type=Day(), metavar="DATE", help="What was known from that day on.")
@click.option("--limit", type=click.IntRange(min=0), help=f"Newest rows at most; {SHOWN} for people, else all.")
@store_option
@cut_option
@form_options
def corrections(
    hospital: str | None, since: date | None, limit: int | None, store: Path | None, cut: str | None, form: Form
) -> None:
    """
    List what hospitals corrected in operations they had sent: field, old and new value, when, and why if they say so.

    \b
      regdash corrections --since 2024-07-01
      regdash corrections --hospital H012 --csv
    """
    from regdash.output.listing import Listing
    from regdash.store.corrections import by_field, corrections_in

    place = to_read(store)
    name, found = corrections_in(place, cut, hospital, since)
    if form == "text":
        limit = SHOWN if limit is None else limit
        remarks = ("Counted: operations among them that count in this cut.",)
        show(Listing("corrections by field", COUNTS, [astuple(one) for one in by_field(found)], remarks=remarks), form)
        emit("\n")
    shown = found if limit is None else found[len(found) - min(limit, len(found)) :]
    note_export(place, form, "corrections", name, len(shown))
    columns = PAGE if form == "text" else COLUMNS
    rows = [tuple(getattr(one, column) for column in columns) for one in shown]
    facts = {"cut": name, "total": len(found)}
    remarks = (f"{len(shown):,} of {len(found):,} corrected fields, data cut {name}.",)
    show(Listing("corrections", columns, rows, facts, remarks), form)
