"""Through which date each feed of each sender is complete, and how far its hospital's joints are followed."""

from dataclasses import dataclass
from datetime import date

from regdash.reports import records_wording as wording
from regdash.reports.policy import Policy
from regdash.reports.records import Asked, RecordsHead, head
from regdash.store.cuts import Cut
from regdash.store.sqlfiles import statement

OPERATIONS, DEATHS = "operations", "deaths"


@dataclass(frozen=True)
class CompleteThroughRow:
    """One sender's feed of one kind."""

    feed: str
    sender: str
    submissions: int
    last_received: str | None  # None where nothing was
    complete_through: str | None
    days_behind: int | None  # from there to the through-date of the cut; 0 where it reaches it
    followed_to: str | None  # where follow-up of a hospital's joints stops; None for other feeds, and where none counts


@dataclass(frozen=True)
class CompleteThroughReport:
    """Feeds, the hospitals' first."""

    head: RecordsHead
    rows: tuple[CompleteThroughRow, ...]


def complete_through_report(cut: Cut, policy: Policy, hospital: str | None = None) -> CompleteThroughReport:
    """Answer: up to when has each sender told everything? `hospital` keeps one hospital's feed beside the office's."""
    through = date.fromisoformat(cut.manifest.through_date)
    found = cut.rows(statement("queries/complete_through"))
    deaths = max((complete for feed, *_, complete in found if feed == DEATHS), default=through)
    kept = [row for row in found if hospital is None or row[0] != OPERATIONS or row[1] == hospital]
    rows = tuple(_row(through, min(through, deaths), *row) for row in kept)
    return CompleteThroughReport(head(cut, policy, Asked(), "feeds", wording.FEEDS, ()), rows)


def _row(
    through: date,
    limit: date,
    feed: str,
    sender: str,
    submissions: int,
    last: date | None,
    complete: date | None,
) -> CompleteThroughRow:
    followed = min(limit, complete) if feed == OPERATIONS and complete else None
    return CompleteThroughRow(
        feed=feed,
        sender=sender,
        submissions=submissions,
        last_received=last.isoformat() if last else None,
        complete_through=complete.isoformat() if complete else None,
        days_behind=None if complete is None else max(0, (through - complete).days),
        followed_to=followed.isoformat() if followed else None,
    )
