"""A whole summary: the sections of an edition, asked in order on one cut, with what they gathered at the end."""

from collections.abc import Callable
from datetime import date

from regdash.errors import SummaryError
from regdash.signals.desk import SignalsDesk
from regdash.store.cuts import Manifest
from regdash.summary import plain
from regdash.summary.asker import Asker
from regdash.summary.document import Document, Section
from regdash.summary.edition import Edition
from regdash.summary.pinned import PinnedReviews
from regdash.summary.quarter import Quarter
from regdash.summary.recipient import TO_COMMITTEE, Recipient
from regdash.summary.released import Released
from regdash.summary.sections import (
    activity,
    cautions,
    comparisons,
    deaths,
    decisions,
    front,
    implants,
    intake,
    methods,
    opening,
    own_activity,
    own_implants,
    own_reasons,
    own_records,
    own_risk,
    public_limits,
    public_opening,
    public_operations,
    public_reasons,
    public_risk,
    reasons,
    reproduction,
    requests,
    risk,
    units,
    withheld,
)

Told = Callable[[str, int, int], None]  # what is being done, how much of it is done, and how much there is
_ASKED: dict[str, Callable[[Asker], Section]] = {
    "front": front.section,
    "intake": intake.section,
    "activity": activity.section,
    "risk": risk.section,
    "reasons": reasons.section,
    "comparisons": comparisons.section,
    "implants": implants.section,
    "units": units.section,
    "deaths": deaths.section,
    "decisions": decisions.section,
    "requests": requests.section,
    "opening": opening.section,
    "own-activity": own_activity.section,
    "own-risk": own_risk.section,
    "own-reasons": own_reasons.section,
    "own-records": own_records.section,
    "own-implants": own_implants.section,
    "public-opening": public_opening.section,
    "public-operations": public_operations.section,
    "public-risk": public_risk.section,
    "public-reasons": public_reasons.section,
    "public-limits": public_limits.section,
    "withheld": withheld.section,
}
_GATHERED: dict[str, Callable[[Asker], Section]] = {"methods": methods.section, "cautions": cautions.section}


def build(
    desk: SignalsDesk,
    edition: Edition,
    quarter: Quarter,
    reviews: PinnedReviews,
    earlier: Manifest | None = None,
    told: Told | None = None,
    recipient: Recipient = TO_COMMITTEE,
    before: Released | None = None,
) -> Document:
    """
    Make the document of a quarter.

    Args:
        reviews: decisions on signals that count, whenever the summary is made.
        earlier: the cut that this one is compared with, as `cut_before`.
        told: hears of each section as it is asked.
        before: what everybody was told earlier, which counts for everybody's edition of the same quarter.

    Raises:
        SummaryError: the cut ends before the quarter does, or the edition says what cannot be asked.
    """
    refuse_early(desk.manifest, quarter)
    asker = Asker(desk, edition, quarter, reviews, earlier, recipient, before)
    made: dict[str, Section] = {}
    asked = [key for key in edition.sections if key in _ASKED]
    for done, key in enumerate(asked):
        if told:
            told(f"asking for {key}", done, len(asked))
        made[key] = _ASKED[key](asker)
    made |= {key: _GATHERED[key](asker) for key in edition.sections if key in _GATHERED}
    sections = [made[key] for key in edition.sections if key in made]
    if "reproduction" in edition.sections:
        sections.insert(edition.sections.index("reproduction"), reproduction.section(asker, sections))
    cut = desk.manifest
    subtitle, footer = plain.heading(quarter, cut) if edition.reading_age else _heading(quarter, cut)
    return Document(
        title=f"{edition.title} {recipient.code}".rstrip(),
        subtitle=subtitle,
        date=cut.known_as_of,
        footer=footer,
        sections=tuple(sections),
        kept=tuple(asker.kept),
    )


def _heading(quarter: Quarter, cut: Manifest) -> tuple[str, str]:
    """Write what stands under the title and at the foot of a page."""
    under = f"{quarter}, data cut {cut.cut}: events through {cut.through_date}, as known on {cut.known_as_of}"
    return under, f"{quarter} · data cut {cut.cut} · {front.SHORT}"


def refuse_early(cut: Manifest, quarter: Quarter) -> None:
    """
    Refuse a cut that does not hold the whole quarter.

    Raises:
        SummaryError: it ends before the quarter does.
    """
    if date.fromisoformat(cut.through_date) < quarter.last:
        raise SummaryError(
            f"Data cut {cut.cut} ends on {cut.through_date}, before {quarter} does "
            f"({quarter.last.isoformat()}). Name an "
            "earlier quarter, or a later cut with --cut."
        )


def cut_before(cuts: list[Manifest], own: Manifest, quarter: Quarter) -> Manifest | None:
    """Find the newest cut that ended before the quarter began, is of this layout and was known no later; or None."""
    fit = [
        cut
        for cut in cuts
        if date.fromisoformat(cut.through_date) < quarter.first
        and cut.layout == own.layout
        and cut.known_as_of <= own.known_as_of
    ]
    return fit[-1] if fit else None
