"""
Gaps in the numbers of a sender's submissions: what was never received, or was refused and not sent again.

They are warned about and keep nothing out, since nobody knows whether a number was given at all. But the envelopes
after a gap say that the feed is complete, and a risk counts every joint without a revision as in place until then.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass

MOST_NAMED = 5  # numbers, or runs of them, that a warning names


@dataclass(frozen=True)
class Gap:
    """Numbers between the first and the last of a sender's submissions of one kind that are not there."""

    sender: str
    kind: str
    missing: tuple[int, ...]
    last: int  # the highest that is there

    def told(self) -> str:
        """Say it in one line."""
        one = len(self.missing) == 1
        what = f"sequence {self.missing[0]}" if one else f"sequences {in_runs(self.missing)}"
        return (
            f"{self.kind} of {self.sender} go up to sequence {self.last}, and {what} {'is' if one else 'are'} missing. "
            "What is in there is not counted, while follow-up runs on as if it were: ask the sender for it."
        )


def gaps_in(taken: Iterable[tuple[str, str, int]], feeds: Collection[tuple[str, str]]) -> tuple[Gap, ...]:
    """
    Find the gaps in the feeds of some senders and kinds.

    Args:
        taken: sender, kind and sequence of every submission.
        feeds: sender and kind.

    >>> gaps_in([("H001", "operations", n) for n in (2, 3, 6)], {("H001", "operations")})[0].missing
    (4, 5)
    """
    numbers = defaultdict(set)
    for sender, kind, sequence in taken:
        if (sender, kind) in feeds:
            numbers[sender, kind].add(sequence)
    found = []
    for (sender, kind), there in sorted(numbers.items()):
        missing = tuple(n for n in range(min(there), max(there)) if n not in there)
        if missing:
            found.append(Gap(sender, kind, missing, max(there)))
    return tuple(found)


def in_runs(numbers: Iterable[int]) -> str:
    """
    Write rising numbers, those that follow each other as one run, the first few.

    >>> in_runs([3, 5, 6, 7, 9]), in_runs(range(1, 14, 2))
    ('3, 5–7, 9', '1, 3, 5, 7, 9 …')
    """
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    named = [str(run[0]) if len(run) == 1 else f"{run[0]}–{run[-1]}" for run in runs]
    return ", ".join(named[:MOST_NAMED]) + (" …" if len(named) > MOST_NAMED else "")
