"""A summary from a desk to its folder, in one step."""

from dataclasses import replace
from pathlib import Path

from regdash.signals.desk import SignalsDesk
from regdash.store.cuts import Manifest
from regdash.summary.build import Told, build
from regdash.summary.edition import Edition
from regdash.summary.output import Written, files_of, reproduction, write
from regdash.summary.pinned import PinnedReviews
from regdash.summary.quarter import Quarter
from regdash.summary.recipient import TO_COMMITTEE, Recipient
from regdash.summary.released import Released
from regdash.summary.sections.own_activity import OWN_JOINTS


def make(
    desk: SignalsDesk,
    edition: Edition,
    quarter: Quarter,
    reviews: PinnedReviews,
    earlier: Manifest | None,
    folder: Path,
    told: Told | None = None,
    recipient: Recipient = TO_COMMITTEE,
    before: Released | None = None,
) -> Written:
    """
    Ask, write every form, and put it all into a new or empty folder.

    Raises:
        SummaryError: as `build` and `write`.
    """
    document = build(desk, edition, quarter, reviews, earlier, told, recipient, before)
    files = files_of(document, edition, told)
    told_before = None if before is None else before.facts
    record = reproduction(desk, edition, quarter, reviews, earlier, files, recipient, told_before)
    listed = sum(len(table.record.rows) for table in document.tables if table.name.startswith(OWN_JOINTS))
    return replace(write(folder, files, record), kept=document.kept, listed=listed)
