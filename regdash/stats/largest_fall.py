"""
Is it the implant or one user? How far its ratio falls at most when one user is left out, beside how far it would by
chance if users were exchangeable.
"""

from dataclasses import dataclass

import numpy as np

from regdash.errors import ModelError
from regdash.stats.left_out import LeftOut
from regdash.stats.products import product
from regdash.stats.risk_shares import ScreenedRatio

DRAWS, SEED = 2_000, 1
_GRID = np.linspace(-5, 2, 113)  # logarithms of a ratio over the one with nobody left out


@dataclass(frozen=True)
class LargestFall:
    """How far a ratio falls at most, in what is seen and in draws; a fall of 0.4 is from 2 to 1.2."""

    user: int  # whose absence makes it fall most
    fall: float
    lower: float  # of the largest fall in draws
    median: float
    upper: float
    as_large: float  # how often a draw's largest fall is as large as the one seen, which is counted as a draw
    draws: int


def falls(whole: ScreenedRatio, left: LeftOut) -> list[float | None]:
    """
    How far the ratio falls without each user, as a part of itself; below 0 where it rises, None where it is not known.

    Without any event left it falls to 0.
    """
    ratio = whole.ratio.ratio
    if ratio is None:
        return [None] * len(left.ratios)
    return [
        1.0 if not one.events and one.due else None if one.ratio.ratio is None else 1 - one.ratio.ratio / ratio
        for one in left.ratios
    ]


def largest_fall(
    whole: ScreenedRatio,
    left: LeftOut,
    seen: np.ndarray,
    expected: np.ndarray,
    spread: float | None = None,
    level: float = 0.95,
    draws: int = DRAWS,
    seed: int = SEED,
) -> LargestFall:
    """
    Compare the largest fall with what chance makes of users that are exchangeable.

    In every draw the implant has as many events as were seen, and each falls on a user with the events expected of
    the user's own joints over those of all: no user does better or worse than another for their patients' ages,
    sexes and follow-up. The ratio without a user then solves, as Cox's score does, events left = sum of
    r x / (1 + (r - 1) x) over shares x of risk sets; shares are those seen, every so many of them.

    Args:
        whole: with nobody left out.
        left: as `left_out_ratios`.
        seen: (users,) events of each user's joints with the implant.
        expected: (users + 1,) events expected of them; the last are joints of none of the users.
        spread: the shape of a gamma distribution with mean 1 from which each draw takes a factor for every user, so
            that exchangeable users differ as much as that says; None: not at all.
        level: of the range of largest falls.
        draws, seed: of numpy's PCG64; one seed always gives the same answer.

    Raises:
        ModelError: no ratio, or fewer than two users with expected events.

    Source:
        Conditional on their sum, independent Poisson counts are multinomial: Przyborowski & Wilenski (1940),
        Biometrika 31:313-323. Counting what is seen as a draw: Davison & Hinkley (1997), section 4.2.
    """
    known = falls(whole, left)
    if whole.ratio.ratio is None or all(fall is None for fall in known):
        raise ModelError("There is no ratio that could fall.")
    if np.count_nonzero(expected[: len(seen)] > 0) < 2:
        raise ModelError("Fewer than two users can be told apart.")
    user = max((n for n, fall in enumerate(known) if fall is not None), key=lambda n: known[n] or 0.0)
    observed = known[user] or 0.0
    drawn = _drawn(whole.events, expected, spread, draws, seed)[:, :-1]
    table = _falls_by_events(whole, left, seen, int(drawn.max()))
    most = table[np.arange(len(seen)), drawn].max(axis=1)
    tail = (1 - level) / 2
    lower, median, upper = np.quantile(most, [tail, 0.5, 1 - tail]).tolist()
    as_large = (1 + int(np.count_nonzero(most >= observed - 1e-9))) / (draws + 1)
    return LargestFall(user, observed, lower, median, upper, as_large, draws)


def _drawn(events: int, expected: np.ndarray, spread: float | None, draws: int, seed: int) -> np.ndarray:
    """(draws, users + 1) how many events fall on each."""
    random = np.random.Generator(np.random.PCG64(seed))
    if spread is None:
        return random.multinomial(events, expected / expected.sum(), draws)
    weight = (random.gamma(spread, 1 / spread, (draws, len(expected))) + 1e-12) * expected  # never 0 for all
    return random.multinomial(events, weight / weight.sum(axis=1, keepdims=True))


def _falls_by_events(whole: ScreenedRatio, left: LeftOut, seen: np.ndarray, most: int) -> np.ndarray:
    """(users, most + 1) how far the ratio falls without each user, had so many of the events been theirs."""
    ratio = whole.ratio.ratio
    assert ratio is not None
    score = _scores(left.sampled, ratio)
    rows = np.arange(most + 1)
    found = np.empty((len(seen), most + 1))
    for user, (one, own) in enumerate(zip(left.ratios, seen.tolist(), strict=True)):
        at = np.log(score[user])
        remaining = np.log(np.maximum(whole.events - rows, 0.5))
        # Of all denominators, as many go with a user as the user has events.
        terms = max(float(left.denominators[user]), 1.0)
        remaining = remaining - np.log(np.maximum(terms + own - rows, 1.0) / terms)
        if one.ratio.ratio is not None:  # what is seen comes out as it was found
            remaining += np.interp(np.log(one.ratio.ratio / ratio), _GRID, at) - np.log(one.events)
        else:
            remaining += np.log(left.sampled.shape[1] / terms)
        found[user] = 1 - np.exp(np.interp(remaining, at, _GRID))
    found[:, rows >= whole.events] = 1.0
    return found


def _scores(shares: np.ndarray, ratio: float) -> np.ndarray:
    """(users, ratios) sum of r x / (1 + (r - 1) x) over each user's shares, for every ratio of the grid."""
    users, size = shares.shape
    found = np.empty((users, len(_GRID)))
    for column, at in enumerate((ratio * np.exp(_GRID)).tolist()):
        chance = shares * (at - 1)
        chance += 1
        np.divide(shares, chance, out=chance)
        found[:, column] = at * product(chance, np.ones(size))
    return np.maximum(found, 1e-300)
