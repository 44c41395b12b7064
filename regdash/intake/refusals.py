"""
What is left out of a receive: the submissions that cannot be taken in, and those that must wait for them.

Order of arrival never matters to what is taken in. But each envelope says through which date its feed is complete:
one taken in while an earlier one of its sender is known to be missing would let follow-up run over the gap.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import NamedTuple


class Place(NamedTuple):
    """Where a submission stands among all."""

    sender: str
    kind: str
    sequence: int


@dataclass(frozen=True)
class Refused:
    """A submission that was left out, and why; its place where its envelope could be read."""

    folder: str
    told: str  # one line
    place: Place | None


def first_gaps(refused: Iterable[Refused]) -> dict[tuple[str, str], int]:
    """Give the lowest sequence left out, by sender and kind."""
    gaps: dict[tuple[str, str], int] = {}
    for one in refused:
        if one.place:
            sender, kind, sequence = one.place
            gaps[sender, kind] = min(sequence, gaps.get((sender, kind), sequence))
    return gaps


def in_one_line(refused: list[Refused]) -> str:
    """Say the first reason, and how many more submissions there are."""
    more = len(refused) - 1
    others = f" {more:,} more {'submission has' if more == 1 else 'submissions have'} faults." if more else ""
    return f"{refused[0].told}{others} Nothing was taken in."
