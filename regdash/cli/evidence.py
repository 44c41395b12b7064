"""The evidence on one signal, in a folder: for the committee, or for a maker or an authority."""

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from regdash.cli import words as completing
from regdash.cli.audited import audited
from regdash.cli.ending import interruptible
from regdash.cli.options import (
    CohortCommand,
    cohort_of,
    cut_option,
    filter_argument,
    form_options,
    reviews_option,
    store_option,
)
from regdash.cli.place import to_read
from regdash.cli.printing import Form, Steps, show
from regdash.cli.query import Words
from regdash.cli.screen import KINDS

if TYPE_CHECKING:
    from regdash.summary.document import Document

READERS = ("committee", "maker")


@click.command(cls=CohortCommand)
@click.argument("code", shell_complete=completing.complete_implant)
@filter_argument
@click.option("--for", "reader", type=click.Choice(READERS), default=READERS[0], show_default=True, help="Who gets it.")
@click.option("--out", type=click.Path(path_type=Path), required=True, metavar="DIR", help="A new or empty folder.")
@click.option("--role", metavar="ROLE", help="The role, where the code stands for several.")
@click.option("--kind", type=click.Choice(KINDS), help="What is screened; by how the code is written, if left out.")
@click.option(
    "--withheld",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="For the office alone: list in this new CSV file what the maker's form withholds, and why.",
)
@reviews_option
@cut_option
@store_option
@form_options
def evidence(
    code: str,
    words: Words,
    reader: str,
    out: Path,
    role: str | None,
    kind: str | None,
    withheld: Path | None,
    reviews_as_of: date | None,
    cut: str | None,
    store: Path | None,
    form: Form,
) -> None:
    """
    Write the evidence on one implant, construct, size or lot that a screen calls out: a page, a PDF, a workbook, CSV
    files with their descriptor, Markdown and text.

    What it holds is said in an edition's file, which a store may have of its own: editions/evidence.toml. The form for
    a maker, or an authority, names no hospital, surgeon or patient and tells no small count. A unit that is no signal
    is packed all the same, and its front says so. Nothing of it shows a cause.

    \b
      regdash evidence KT-010 --out evidence/KT-010
      regdash evidence KT-010 --for maker --out evidence/KT-010-maker
      regdash evidence "KT-062 size 4" joint=knee --cut 2024-12-31 --out evidence/KT-062-4
    """
    from regdash.output.listing import Listing
    from regdash.signals.desk import SignalsDesk
    from regdash.summary.edition import read_edition
    from regdash.summary.evidence import EDITIONS, find_unit, make_evidence
    from regdash.summary.office import refuse_inside, write_kept
    from regdash.summary.output import refuse_filled
    from regdash.summary.pinned import pinned, pinned_by_cut
    from regdash.summary.recipient import Recipient, withheld_under

    place, folder, recipient = to_read(store), out.expanduser().absolute(), Recipient(reader)
    refuse_filled(folder)
    if withheld:
        refuse_inside(withheld.expanduser().absolute(), folder)
    edition = read_edition(place, EDITIONS[reader])
    desk = SignalsDesk(place, cut, withhold_counts_under=withheld_under(recipient, edition))
    try:
        with interruptible(desk.cancel), Steps() as steps:
            unit, cohort = find_unit(desk, cohort_of(desk, words), code, role, kind)
            reviews = pinned(place, reviews_as_of) if reviews_as_of else pinned_by_cut(place, desk.manifest)
            with audited(place, "export", desk.manifest.cut) as act:
                act.details = {"of": f"evidence on {unit.code} for {reader}", "rows": 0, "form": "files"}
                written, document = make_evidence(desk, edition, unit, cohort, reviews, folder, steps, recipient)
                act.details["rows"] = _joints(document)
    finally:
        desk.close()
    if withheld:
        write_kept(withheld.expanduser(), document.kept)
    facts = {"unit": unit.code, "edition": edition.name, "cut": desk.manifest.cut, "bytes": written.bytes}
    kept = written.files if form != "text" else tuple(name for name in written.files if "/" not in name)
    remarks = (f"{len(written.files)} files in {folder}. To make it again and compare: regdash verify {folder}",)
    show(Listing("evidence", ("file",), [(name,) for name in kept], facts, remarks), form)


def _joints(document: "Document") -> int:
    """How many single joints leave with it."""
    return sum(len(table.record.rows) for table in document.tables if table.name == "revised-joints")
