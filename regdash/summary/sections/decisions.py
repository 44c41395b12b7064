"""What the committee decided on signals in the quarter: which review moved from where to where. Nobody is blamed."""

from collections import Counter

from regdash.errors import SummaryError
from regdash.output.listing import Listing
from regdash.output.moves import listed_moves
from regdash.output.record import record_of
from regdash.output.sheets import LABEL
from regdash.output.table import Column
from regdash.signals.decided import MEASURE, METHOD, UNITS, Move, moves
from regdash.signals.wording import SIGNAL_STARTS_A_REVIEW
from regdash.store.signal_reviews import MEANINGS
from regdash.summary.asker import Asker
from regdash.summary.document import Bullets, Paragraph, Provenance, Section, Table
from regdash.summary.recipient import COMMITTEE

FOR_THE_COMMITTEE = "The section {section} is for the committee alone; take it out of the edition {edition}."
WITHOUT_CODES = "This edition does not tell which units they were."
NAME = "decisions-of-the-quarter"
TITLE = "Committee decisions"


def section(asker: Asker) -> Section:
    """List the decisions of the quarter."""
    refuse_others(asker, "decisions")
    with_codes, quarter = asker.edition.name_units, asker.quarter
    found = moves(asker.desk.reviews(asker.reviews.as_of), quarter.first, quarter.last, with_codes)
    asker.methods.setdefault(MEASURE, METHOD)
    said = f"{UNITS} {SIGNAL_STARTS_A_REVIEW}" + ("" if with_codes else f" {WITHOUT_CODES}")
    if not found:
        return Section("decisions", TITLE, (Paragraph(f"No decision on a signal was taken in {quarter}."),))
    blocks = (Paragraph(said), Bullets(_counted(found)), _table(asker, found, with_codes))
    return Section("decisions", TITLE, blocks)


def refuse_others(asker: Asker, section: str) -> None:
    """
    Refuse a section of the office's own work where somebody else reads it.

    Raises:
        SummaryError: the edition is not the committee's.
    """
    if asker.recipient.kind != COMMITTEE:
        raise SummaryError(FOR_THE_COMMITTEE.format(section=section, edition=asker.edition.name))


def _counted(found: tuple[Move, ...]) -> tuple[str, ...]:
    """Say how many reviews moved to each state, and what it means."""
    into = Counter(move.after for move in found)
    return tuple(f"{into[state]:,} to {state} ({meaning})" for state, meaning in MEANINGS.items() if into[state])


def _table(asker: Asker, found: tuple[Move, ...], with_codes: bool) -> Table:
    words = ("signals", "decided", str(asker.quarter), *(() if with_codes else ("--without-codes",)))
    listing = listed_moves(found, with_codes)
    of = f"Decisions taken from {asker.quarter.first} to {asker.quarter.last}, as known on {asker.reviews.as_of}."
    come_from = Provenance(MEASURE, "", of, asker.reviewed(*words))
    return Table(NAME, "Decisions of the quarter", _columns(listing), record_of(listing), come_from)


def _columns(listing: Listing) -> tuple[Column, ...]:
    ranks = {"kind": 2, "window": 1}
    return tuple(
        Column(name, [str(row[place]) for row in listing.rows], left=True, rank=ranks.get(name, 0), least=LABEL)
        for place, name in enumerate(listing.columns)
    )
