"""The command on the correction log."""

from dataclasses import astuple
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from regdash.cli.audited import note_export
from regdash.cli.options import Day, cut_option, form_options, store_option
from regdash.cli.place import to_read
from regdash.cli.printing import Form, emit, show

if TYPE_CHECKING:
    from regdash.output.listing import Listing

SHOWN = 40  # corrections that a person sees at once, the newest
COUNTS = ("table", "field", "corrections", "records", "counted")
PAGE = ("corrected_on", "record_id", "field", "old_value", "new_value", "submission")
COLUMNS = (
    "corrected_on",
    "hospital",
    "submission",
    "record_id",
    "table",
    "line_no",
    "field",
    "old_value",
    "new_value",
    "reason",
    "is_counted",
)
LATE = ("submission", "hospital", "rule", "severity", "changed", "text")


@click.command()
@click.option("--hospital", metavar="CODE", help="What one hospital corrected.")
@click.option("--since", type=Day(), metavar="DATE", help="What was known from that day on.")
@click.option("--late", is_flag=True, help="List the submissions that changed what the cut before had counted instead.")
@click.option("--limit", type=click.IntRange(min=0), help=f"Newest rows at most; {SHOWN} for people, else all.")
@store_option
@cut_option
@form_options
def corrections(
    hospital: str | None,
    since: date | None,
    late: bool,
    limit: int | None,
    store: Path | None,
    cut: str | None,
    form: Form,
) -> None:
    """
    List what was corrected: in operations by their hospitals, in deaths, losses, the catalogue, units and counts by the
    office. Field, old and new value, when, and why if the envelope says so.

    \b
      regdash corrections --since 2024-07-01
      regdash corrections --hospital H012 --csv
      regdash corrections --late
    """
    if late:
        if since or limit is not None:
            raise click.UsageError("--late lists submissions; --since and --limit are for corrected fields")
        show(_late(to_read(store), cut, hospital), form)
        return
    from regdash.output.listing import Listing
    from regdash.store.corrections import by_field, corrections_in

    place = to_read(store)
    name, found = corrections_in(place, cut, hospital, since)
    if form == "text":
        limit = SHOWN if limit is None else limit
        remarks = ("Counted: records among them that count in this cut.",)
        show(Listing("corrections by field", COUNTS, [astuple(one) for one in by_field(found)], remarks=remarks), form)
        emit("\n")
    shown = found if limit is None else found[len(found) - min(limit, len(found)) :]
    note_export(place, form, "corrections", name, len(shown))
    columns = PAGE if form == "text" else COLUMNS
    rows = [tuple(getattr(one, column) for column in columns) for one in shown]
    facts = {"cut": name, "total": len(found)}
    remarks = (f"{len(shown):,} of {len(found):,} corrected fields, data cut {name}.",)
    show(Listing("corrections", columns, rows, facts, remarks, ("old_value", "new_value")), form)


def _late(place: Path, cut: str | None, hospital: str | None) -> "Listing":
    from regdash.output.listing import Listing
    from regdash.store.late_corrections import late_in_cut

    name, before, found = late_in_cut(place, cut, hospital)
    rows = [(one.submission, one.hospital, one.rule, one.severity, one.value, one.text) for one in found]
    against = f"against {before}, the cut before" if before else "which has no cut before it to compare with"
    return Listing("late corrections", LATE, rows, {"cut": name, "before": before}, (f"Data cut {name}, {against}.",))
