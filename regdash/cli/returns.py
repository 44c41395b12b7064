"""The command that writes what goes back to hospitals."""

from pathlib import Path

import click

from regdash.cli.audited import audited, named
from regdash.cli.options import form_options, store_option
from regdash.cli.place import to_write
from regdash.cli.printing import Form, show

COLUMNS = ("hospital", "to_correct", "to_check", "folder")


@click.command()
@click.option("--out", type=click.Path(path_type=Path), required=True, metavar="DIR", help="A new or empty folder.")
@click.option("--hospital", metavar="CODE", help="Files of one hospital; all if left out.")
@store_option
@form_options
def return_files(out: Path, hospital: str | None, store: Path | None, form: Form) -> None:
    """
    Write, for each hospital, the rows that it must correct, as it sent them, with the reason beside each.

    A folder a hospital: to-correct holds what is held or rejected, to-check what is counted with a warning. Corrected,
    either can be sent again as a submission. The store itself is read, not a data cut.

    \b
      regdash return-files --out returns/2025-02
      regdash return-files --out returns/H012 --hospital H012
    """
    from regdash.intake.return_files import write_return_files
    from regdash.output.listing import Listing

    place = to_write(store)
    with audited(place, "export") as act:
        written = write_return_files(place, out.expanduser(), hospital)
        act.subject = named([one.hospital for one in written]) if written else ""
        rows = sum(one.to_correct + one.to_check for one in written)
        act.details = {"of": "files that go back to hospitals", "rows": rows, "form": "csv"}
    listed = [(one.hospital, one.to_correct, one.to_check, str(one.folder)) for one in written]
    remarks = () if listed else ("No hospital has anything to correct.",)
    show(Listing("returned files", COLUMNS, listed, remarks=remarks), form)
