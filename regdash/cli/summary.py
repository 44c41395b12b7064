"""The quarterly summary: writing it, and making it again to compare."""

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from regdash.cli import words
from regdash.cli.audited import audited
from regdash.cli.ending import interruptible
from regdash.cli.options import form_options, reviews_option, store_option
from regdash.cli.place import to_read
from regdash.cli.printing import Form, Steps, say, show

if TYPE_CHECKING:
    from regdash.output.listing import Listing
    from regdash.summary.edition import Edition
    from regdash.summary.quarter import Quarter
    from regdash.summary.released import Released

REQUESTS_UP_TO = "Lines of the register of requests up to this number, so that a past summary can be made again."
ALL_OF = {"all-hospitals": "hospital", "all-surgeons": "surgeon", "all-makers": "maker"}


@click.command()
@click.argument("quarter", metavar="QUARTER")
@click.option("--cut", metavar="DATE[.N]", shell_complete=words.complete_cut, help="Data cut; the newest if left out.")
@click.option(
    "--for",
    "reader",
    default="committee",
    show_default=True,
    metavar="EDITION",
    help="committee, public, hospital:CODE, surgeon:CODE, maker:CODE; all-hospitals, all-surgeons, all-makers.",
)
@click.option("--out", type=click.Path(path_type=Path), required=True, metavar="DIR", help="A new or empty folder.")
@click.option(
    "--previous",
    type=click.Path(path_type=Path),
    metavar="DIR",
    help="Everybody's edition as given out before: no difference from it tells a small count.",
)
@click.option("--first", is_flag=True, help="What was made for everybody before was never given out.")
@click.option(
    "--withheld",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="For the office alone: list in this new CSV file what the edition withholds, with the counts, and why.",
)
@reviews_option
@click.option("--requests-up-to", "request_lines", type=click.IntRange(min=0), metavar="LINE", help=REQUESTS_UP_TO)
@store_option
@form_options
def summary(
    quarter: str,
    cut: str | None,
    reader: str,
    out: Path,
    previous: Path | None,
    first: bool,
    withheld: Path | None,
    reviews_as_of: date | None,
    request_lines: int | None,
    store: Path | None,
    form: Form,
) -> None:
    """
    Write the summary of a quarter: a page, a PDF, a workbook, CSV files with their descriptor, Markdown and text.

    What it holds is said in the edition's file, which a store may have of its own: editions/committee.toml. The same
    data cut, edition and settings give the same files, byte for byte. A hospital or surgeon sees its own figures beside
    all others taken together, of whom no small count is told; everybody's edition is in plain language.

    For all-hospitals, all-surgeons or all-makers there is a folder for each in DIR; ended half way, the same command
    goes on.

    \b
      regdash summary 2024Q4 --cut 2024-12-31 --for committee --out summaries/2024Q4
      regdash summary 2024Q4 --for hospital:H012 --out summaries/2024Q4-H012
      regdash summary 2024Q4 --for all-surgeons --out summaries/2024Q4-surgeons
    """
    from regdash.output.listing import Listing
    from regdash.summary.build import cut_before, refuse_early
    from regdash.summary.edition import WITHHELD, read_edition
    from regdash.summary.make import make
    from regdash.summary.office import refuse_inside, write_kept
    from regdash.summary.output import refuse_filled
    from regdash.summary.pinned import pinned_as_asked
    from regdash.summary.quarter import read_quarter
    from regdash.summary.recipient import PUBLIC, known_recipient, read_recipient, withheld_under

    asked, place, folder = read_quarter(quarter), to_read(store), out.expanduser().absolute()
    if withheld:
        refuse_inside(withheld.expanduser().absolute(), folder)
    _refuse_earlier(reader, previous, first)
    if reader in ALL_OF:
        show(_of_all(ALL_OF[reader], asked, cut, place, folder, withheld, reviews_as_of), form)
        return
    recipient = read_recipient(reader)
    refuse_filled(folder)
    edition = read_edition(place, recipient.kind)
    before: Released | None = None
    from regdash.signals.desk import SignalsDesk

    desk = SignalsDesk(place, cut, withhold_counts_under=withheld_under(recipient, edition))
    try:
        refuse_early(desk.manifest, asked)
        recipient = known_recipient(recipient, desk.known)
        if recipient.kind == PUBLIC or WITHHELD in edition.sections:
            before = _told_before(place, asked, desk.manifest.cut, edition, previous, first)
        earlier = cut_before(desk.cuts(), desk.manifest, asked)
        with audited(place, "export", desk.manifest.cut) as act, interruptible(desk.cancel), Steps() as steps:
            reviews = pinned_as_asked(place, desk.manifest, reviews_as_of, request_lines)
            written = make(desk, edition, asked, reviews, earlier, folder, steps, recipient, before)
            act.details = {"of": f"summary {asked} for {recipient}", "rows": len(written.files), "form": "files"}
            act.details |= {"joints_listed": written.listed} if written.listed else {}
    finally:
        desk.close()
    if withheld:
        write_kept(withheld.expanduser(), written.kept)
    facts = {"quarter": str(asked), "edition": str(recipient), "cut": desk.manifest.cut, "bytes": written.bytes}
    kept = written.files if form != "text" else tuple(name for name in written.files if "/" not in name)
    remarks = (f"{len(written.files)} files in {folder}. To make it again and compare: regdash verify {folder}",)
    show(Listing("summary", ("file",), [(name,) for name in kept], facts, remarks), form)


def _refuse_earlier(reader: str, previous: Path | None, first: bool) -> None:
    """Refuse to be told of earlier editions where they do not count, or in two ways."""
    from regdash.summary.recipient import COMMITTEE, PUBLIC

    if (previous or first) and reader not in (PUBLIC, COMMITTEE):
        which = "--previous" if previous else "--first"
        raise click.UsageError(f"{which} is for what everybody gets: --for public, or the committee's list of it")
    if previous and first:
        raise click.UsageError("--first says that nothing was given out before, and --previous what was: name one")


def _told_before(
    place: Path, quarter: "Quarter", cut: str, edition: "Edition", previous: Path | None, first: bool
) -> "Released | None":
    """Read what everybody was told before; refuse, or tell, where it was told and is not named."""
    from regdash.summary.edition import read_edition, refuse_other_limits
    from regdash.summary.given_before import unnamed
    from regdash.summary.recipient import PUBLIC
    from regdash.summary.released import read_released

    refuse_other_limits(edition, read_edition(place, PUBLIC))
    before = read_released(previous.expanduser(), edition.joints) if previous else None
    unsaid = None if first else unnamed(place, quarter, cut, before)
    if unsaid:
        say(
            f"Everybody was told {unsaid.quarter} on {unsaid.day}, from data cut {unsaid.cut}: name its folder with "
            "--previous DIR, so that numbers of 100 that fell since tell no small count."
        )
    return before


def _of_all(
    kind: str,
    quarter: "Quarter",
    cut: str | None,
    place: Path,
    folder: Path,
    withheld: Path | None,
    reviews_as_of: date | None,
) -> "Listing":
    """Write the own edition of every hospital, surgeon or maker, and list their folders."""
    from regdash.output.listing import Listing
    from regdash.signals.desk import SignalsDesk
    from regdash.summary.batch import Batch, codes_of, make_all
    from regdash.summary.build import cut_before, refuse_early
    from regdash.summary.edition import read_edition
    from regdash.summary.office import write_kept
    from regdash.summary.pinned import pinned_by_cut

    edition, desk = read_edition(place, kind), SignalsDesk(place, cut)
    try:
        refuse_early(desk.manifest, quarter)
        codes, manifest = codes_of(desk, kind), desk.manifest
        earlier = cut_before(desk.cuts(), manifest, quarter)
    finally:
        desk.close()
    day = reviews_as_of or pinned_by_cut(place, manifest).as_of
    before = None if earlier is None else earlier.cut
    batch = Batch(place, manifest.cut, kind, edition.text, quarter, day, before, folder)
    with audited(place, "export", manifest.cut) as act, Steps() as steps:
        act.details = {"of": f"summary {quarter} for every {kind}", "rows": len(codes), "form": "files"}
        act.details |= {"joints_listed": "each its own"} if edition.list_own_joints else {}
        rows, kept = make_all(batch, codes, steps)
    if withheld:
        write_kept(withheld.expanduser(), kept)
    facts = {"quarter": str(quarter), "edition": kind, "cut": manifest.cut}
    return Listing("summaries", (kind, "folder"), rows, facts, (f"{len(rows):,} folders in {folder}.",))


@click.command()
@click.argument("folder", type=click.Path(path_type=Path), metavar="DIR")
@store_option
@form_options
def verify(folder: Path, store: Path | None, form: Form) -> None:
    """
    Make a summary, evidence or an extract again from what its folder says, and compare every file.

    What differs is told, and why. Exit code 1 where anything differs.

    \b
      regdash verify summaries/2024Q4
      regdash verify extracts/R012
    """
    from regdash.extracts.verify import is_extract, verify_extract
    from regdash.output.listing import Listing
    from regdash.summary.verify import verify as made_again

    with Steps() as steps:
        place, where = to_read(store), folder.expanduser()
        found = verify_extract(place, where) if is_extract(where) else made_again(place, where, steps, interruptible)
    rows = [(one.file, one.verdict, one.told or "–") for one in found.found]
    facts = {"same": found.is_same, "compared": found.compared, "why": list(found.why), "notes": list(found.notes)}
    if found.is_same:
        said = [f"Same: {found.compared} files, byte for byte."]
    else:
        said = [f"{len(rows)} of {found.compared} files are not the same."]
        said += [f"Why: {why}." for why in found.why] or [
            "Why: neither the data cut nor anything else that it was made from differs."
        ]
    notes = [f"Note: {note}." for note in found.notes]
    show(
        Listing("verification", ("file", "verdict", "what differs"), rows, facts, (*said, *notes), ("what differs",)),
        form,
    )
    if not found.is_same:
        say(f"{where} is not what it was.")
        raise SystemExit(1)
