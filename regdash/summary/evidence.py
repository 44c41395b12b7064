"""The evidence on one unit of a screen: its sections, asked in order, for the committee or for a maker."""

from collections.abc import Callable
from dataclasses import asdict
from pathlib import Path
from typing import Any

from regdash import cohort as filters
from regdash.cohort import Cohort
from regdash.errors import FilterError, SummaryError
from regdash.signals.desk import SignalsDesk
from regdash.signals.model import Unit
from regdash.store.cuts import Manifest
from regdash.summary.asker import Asker
from regdash.summary.build import Told, cut_before
from regdash.summary.document import Document, Section
from regdash.summary.edition import EVIDENCE, EVIDENCE_OUTSIDE, Edition
from regdash.summary.output import Written, files_of, reproduction, write
from regdash.summary.pinned import PinnedReviews
from regdash.summary.quarter import Quarter, read_quarter
from regdash.summary.recipient import COMMITTEE, MAKER, TO_COMMITTEE, Recipient
from regdash.summary.sections import (
    cautions,
    front,
    methods,
    outside,
    outside_explanation,
    outside_figures,
    outside_reviews,
    unit_curves,
    unit_explanation,
    unit_history,
    unit_joints,
    unit_opening,
    unit_reviews,
    unit_screening,
    unit_withheld,
)
from regdash.summary.sections import (
    reproduction as reproduced,
)
from regdash.summary.unit_asker import UnitAsker, kind_of

EDITIONS = {COMMITTEE: EVIDENCE, MAKER: EVIDENCE_OUTSIDE}  # by who gets it
STEM = "evidence"
_BOTH: dict[str, Callable[[UnitAsker], Section]] = {
    "opening": unit_opening.section,
    "history": unit_history.section,
    "withheld": unit_withheld.section,
}
_ASKED: dict[str, dict[str, Callable[[UnitAsker], Section]]] = {
    EVIDENCE: {
        **_BOTH,
        "screening": unit_screening.section,
        "curves": unit_curves.section,
        "explanation": unit_explanation.section,
        "reviews": unit_reviews.section,
        "joints": unit_joints.section,
    },
    EVIDENCE_OUTSIDE: {
        **_BOTH,
        "screening": outside_figures.screening,
        "curves": outside_figures.curves,
        "explanation": outside_explanation.section,
        "reviews": outside_reviews.section,
    },
}
_GATHERED: dict[str, Callable[[Asker], Section]] = {"methods": methods.section, "cautions": cautions.section}


def find_unit(
    desk: SignalsDesk, cohort: Cohort, code: str, role: str | None = None, kind: str | None = None
) -> tuple[Unit, Cohort]:
    """
    Find the unit that a code stands for, and the joints of the screen that it is told by: those of its joint at least.

    Raises:
        FilterError: there is none in the screen and among what was decided, or there are several.
    """
    unit = desk.called(kind or kind_of(code), cohort, code, role)
    return unit, cohort.narrowed(f"joint={unit.joint}")


def quarter_of(cut: Manifest) -> Quarter:
    """The quarter in which a cut ends."""
    year, month = int(cut.through_date[:4]), int(cut.through_date[5:7])
    return read_quarter(f"{year}Q{(month + 2) // 3}")


def earlier_of(desk: SignalsDesk) -> Manifest | None:
    """The cut that a pack compares with: the newest that ended before the quarter did in which this one ends."""
    return cut_before(desk.cuts(), desk.manifest, quarter_of(desk.manifest))


def build_evidence(
    desk: SignalsDesk,
    edition: Edition,
    unit: Unit,
    cohort: Cohort,
    reviews: PinnedReviews,
    earlier: Manifest | None,
    told: Told | None = None,
    recipient: Recipient = TO_COMMITTEE,
) -> Document:
    """
    Make the document on a unit.

    Args:
        cohort: the joints of the screen that it is told by.
        reviews: decisions that count, whenever the pack is made.
        earlier: the cut that this one is compared with, as `earlier_of`.

    Raises:
        SummaryError: what would be told to who is not of the office would be that of single hospitals.
    """
    cut = desk.manifest
    asker = UnitAsker(
        desk, edition, quarter_of(cut), reviews, earlier, recipient, unit=unit, cohort_screened=cohort, told=told
    )
    if not asker.is_inside:
        outside.refuse(asker)
    functions = _ASKED[edition.name]
    asked = [key for key in edition.sections if key in functions]
    made: dict[str, Section] = {}
    for done, key in enumerate(asked):
        if told:
            told(f"asking for {key}", done, len(asked))
        made[key] = functions[key](asker)
    made |= {key: _GATHERED[key](asker) for key in edition.sections if key in _GATHERED}
    sections = [made[key] for key in edition.sections if key in made]
    if "reproduction" in edition.sections:
        sections.insert(edition.sections.index("reproduction"), reproduced.section(asker, sections))
    return Document(
        title=f"{edition.title}: {unit.code}",
        subtitle=f"{unit.role}, {unit.joint_class} {unit.joint}; data cut {cut.cut}: events through "
        f"{cut.through_date}, as known on {cut.known_as_of}",
        date=cut.known_as_of,
        footer=f"{unit.code} · data cut {cut.cut} · {front.SHORT}",
        sections=tuple(sections),
        kept=tuple(asker.kept),
        stem=STEM,
    )


def make_evidence(
    desk: SignalsDesk,
    edition: Edition,
    unit: Unit,
    cohort: Cohort,
    reviews: PinnedReviews,
    folder: Path,
    told: Told | None = None,
    recipient: Recipient = TO_COMMITTEE,
) -> tuple[Written, Document]:
    """
    Ask, write every form, and put it all into a new or empty folder.

    Raises:
        SummaryError: as `build_evidence` and `write`.
    """
    earlier = earlier_of(desk)
    document = build_evidence(desk, edition, unit, cohort, reviews, earlier, told, recipient)
    files = files_of(document, edition, told)
    record = reproduction(desk, edition, quarter_of(desk.manifest), reviews, earlier, files, recipient)
    return write(folder, files, record | _recorded(unit, cohort)), document


def _recorded(unit: Unit, cohort: Cohort) -> dict[str, Any]:
    """Say what is recorded of a pack beside what is of every document."""
    return {EVIDENCE: {"unit": asdict(unit), "cohort": list(cohort.words)}}


def unit_of(recorded: Any) -> tuple[Unit, Cohort]:
    """
    Read what `make_evidence` recorded of a pack.

    Raises:
        SummaryError: it is no unit, or no filter words.
    """
    try:
        return Unit(**recorded["unit"]), filters.parse(tuple(recorded["cohort"]))
    except (TypeError, KeyError, FilterError) as fault:
        raise SummaryError(f"The recorded unit cannot be used: {fault}") from None
