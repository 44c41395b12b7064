"""
What people wrote down, pinned: a summary that is made again later must not see what was decided or answered since.

Decisions on signals are pinned to a day. The register of requests is pinned to a line, since the request that a summary
answers is mostly answered on the day on which the summary was made.
"""

from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Any

from regdash.store.cuts import Manifest
from regdash.store.requests import requests_known
from regdash.store.signal_reviews import reviews_known


@dataclass(frozen=True)
class PinnedReviews:
    """Up to the end of which day decisions count, and which these are: their number, and a hash over what they say."""

    as_of: date
    taken: int
    hash: str
    request_lines: int = 0  # of the register of requests; what comes after them does not count

    @property
    def facts(self) -> dict[str, Any]:
        """As recorded beside a summary."""
        return {"as_of": self.as_of.isoformat(), "taken": self.taken, "hash": self.hash}


def pinned(store: Path, as_of: date, request_lines: int = 0) -> PinnedReviews:
    """Pin the decisions of a store to a day (UTC), and its register of requests to a line."""
    return PinnedReviews(as_of, **reviews_known(store, as_of).facts, request_lines=request_lines)


def pinned_by_cut(store: Path, cut: Manifest) -> PinnedReviews:
    """
    Pin the decisions of a store where nobody says the day, and its register of requests as it is.

    It is that of the last decision, or that on which the cut was known where it is later: what is in the store decides,
    and not the day on which a summary is made.
    """
    days = [date.fromisoformat(one.decided_at[:10]) for one in reviews_known(store)]
    return pinned(store, max([date.fromisoformat(cut.known_as_of), *days]), lines_now(store))


def pinned_as_asked(store: Path, cut: Manifest, as_of: date | None, request_lines: int | None) -> PinnedReviews:
    """Pin what people wrote down to a day and a line that somebody says, else as `pinned_by_cut`."""
    found = pinned(store, as_of, lines_now(store)) if as_of else pinned_by_cut(store, cut)
    return found if request_lines is None else replace(found, request_lines=min(request_lines, found.request_lines))


def lines_now(store: Path) -> int:
    """How many lines the register of requests has."""
    return len(requests_known(store).lines)
