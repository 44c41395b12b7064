"""
Maximised sequential probability ratio test: is a rate higher than expected, by however much? Looked at after every
event, with one error probability over the whole watch, whose length is planned.
"""

from dataclasses import dataclass
from functools import lru_cache
from itertools import count

import numpy as np

from regdash.errors import ModelError
from regdash.stats.dated_events import DatedEvents
from regdash.stats.roots import roots


@dataclass(frozen=True, eq=False)
class MaximisedTest:
    """The log likelihood ratio along the calendar, while the watch lasts."""

    dates: np.ndarray  # (m,) int64, rising, up to the end of the watch or the signal
    events: np.ndarray  # (m,) int64, so far
    expected: np.ndarray  # (m,) so far
    log_ratio: np.ma.MaskedArray  # (m,) at the end of each date; masked with events though nothing was expected yet
    limit: float
    signal_date: int | None
    over: bool  # all that was planned was expected, or there was a signal: the test is not to be gone on with


def poisson_log_ratio(observed: np.ndarray, expected: np.ndarray) -> np.ndarray:
    """
    Find the log likelihood ratio of the rate that fits best, if above the expected one, against that one.

    Args:
        observed, expected: (m,) events. With events though none are expected, the ratio is without end.

    >>> poisson_log_ratio(np.array([3, 1]), np.array([1.0, 2.0])).round(4).tolist()
    [1.2958, 0.0]
    """
    from scipy.special import xlogy

    above = np.asarray(observed) > expected
    quotient = np.divide(observed, expected, out=np.ones(np.shape(above)), where=above & (np.asarray(expected) > 0))
    found = np.where(above, expected - observed + xlogy(observed, quotient), 0.0)
    return np.where(above & (np.asarray(expected) == 0), np.inf, found)


@lru_cache(maxsize=64)
def max_sprt_limit(most_expected: float, fewest_events: int = 1, alpha: float = 0.05) -> float:
    """
    Find the limit that the log likelihood ratio comes up to with probability alpha, were the rate as expected.

    Args:
        most_expected: events expected over the whole planned watch.
        fewest_events: without which no signal is given.
        alpha: probability of a false signal over the whole watch.

    Raises:
        ValueError: an argument out of its range.
        ModelError: so little expected that the fewest events alone are rarer than alpha.

    Source:
        Kulldorff et al. (2011), Sequential Analysis 30:58-78; by exact recursion over the events at which a
        signal may be given, as Kulldorff & Silva (2017), REVSTAT 15:373-394.

    >>> round(max_sprt_limit(10), 9)
    3.46795158
    """
    if not 0 < most_expected < float("inf") or fewest_events < 1 or not 0 < alpha < 1:
        raise ValueError(
            "A planned watch expects more than 0 events, waits for 1 or more, and has an error probability between 0 "
            f"and 1; {most_expected}, {fewest_events} and {alpha} are not so."
        )

    def excess(limit: np.ndarray) -> np.ndarray:
        return np.array([alpha - _false_signal(one, most_expected, fewest_events) for one in limit.tolist()])

    if excess(np.zeros(1))[0] > 0:
        raise ModelError(
            f"Of {most_expected:g} expected events, {fewest_events} or more at a rate above the expected are so rare "
            f"that a probability of {alpha:g} cannot be reached. Plan a longer watch, or wait for fewer events."
        )
    high = 1.0
    while excess(np.array([high]))[0] < 0:
        high *= 2
    return float(roots(excess, np.zeros(1), np.array([high]))[0])


def maximised_test(
    watched: DatedEvents, most_expected: float, fewest_events: int = 1, alpha: float = 0.05
) -> MaximisedTest:
    """
    Watch until the log likelihood ratio comes up to its limit, or until all that was planned was expected.

    Args:
        watched: what was seen and expected, by date; expected first, then the events one by one.
        most_expected, fewest_events, alpha: as `max_sprt_limit`; fixed before the watch begins.

    Raises:
        ValueError, ModelError: as `max_sprt_limit`.

    >>> test = maximised_test(DatedEvents([1, 2, 3], [0.5, 0.5, 20], [1, 5, 9]), most_expected=10)
    >>> test.log_ratio.round(2).tolist(), test.signal_date, test.over
    ([0.19, 5.75], 2, True)
    """
    limit = max_sprt_limit(most_expected, fewest_events, alpha)
    expected, events = np.cumsum(watched.expected), np.cumsum(watched.events)
    log_ratio = poisson_log_ratio(events, expected)
    planned = expected <= most_expected
    # With what is expected coming first, the last event of a date has the date's highest ratio.
    hit = np.flatnonzero(planned & (watched.events > 0) & (events >= fewest_events) & (log_ratio >= limit))
    end = int(hit[0]) + 1 if len(hit) else int(planned.sum())
    signal_date = int(watched.dates[hit[0]]) if len(hit) else None
    over = bool(len(hit)) or end < len(expected) or bool(end and expected[-1] >= most_expected)
    shown = np.ma.masked_invalid(log_ratio[:end])
    return MaximisedTest(watched.dates[:end], events[:end], expected[:end], shown, limit, signal_date, over)


def _false_signal(limit: float, most_expected: float, fewest_events: int) -> float:
    """Probability of a signal while the rate is as expected: 1 - that of never having so many events so early."""
    silent, passed = np.ones(1), 0.0  # probabilities of 0, 1, ... events, without a signal, when so much was expected
    for events in count(fewest_events):
        latest = _latest(events, limit)
        until = min(latest, most_expected)
        silent = np.convolve(silent, _poisson(until - passed, events))[:events]
        passed = until
        if latest >= most_expected:
            return max(0.0, 1 - float(silent.sum()))
    raise AssertionError("unreachable")


def _latest(events: int, limit: float) -> float:
    """The most that may be expected for so many events to signal: where their log likelihood ratio is the limit."""
    from scipy.special import lambertw

    each = limit / events
    if each < 1e-8:  # the share u solves u - 1 - log u = each; next to 1 by its series, where the other breaks down
        return events * (1 - np.sqrt(2 * each) + 2 * each / 3)
    return float(-events * lambertw(-np.exp(-1 - each)).real)


def _poisson(mean: float, size: int) -> np.ndarray:
    """Probabilities of 0, 1, ... events, at most size of them, as far as they matter."""
    from scipy.special import gammaln, xlogy

    number = np.arange(min(size, int(mean + 12 * np.sqrt(mean) + 40)))
    return np.exp(xlogy(number, mean) - mean - gammaln(number + 1.0))
