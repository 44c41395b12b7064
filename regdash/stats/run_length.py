"""How long a CUSUM runs until it signals, and the limit that gives a stated run while nothing is wrong."""

from decimal import Decimal, localcontext
from math import ceil, log

import numpy as np

from regdash.stats.roots import roots

_MOST_JUMPS = 300


def mean_run(limit: float, rho: float = 2.0, rate: float = 1.0, start: float = 0.0) -> float:
    """
    Find the mean number of events expected at the standard rate until a CUSUM in continuous time signals.

    Args:
        limit: above 0, at which it signals.
        rho: above 1, the rate over the standard one that it is set to detect.
        rate: the true rate over the standard one; 1 while nothing is wrong.
        start: where it begins, 0 to below the limit.

    Raises:
        ValueError: an argument out of its range, or a limit of more than 300 jumps.

    Source:
        The first passage of a drift with exponential gaps has a closed form: Vardeman & Ray (1985),
        Technometrics 27:145-150. Its terms alternate and cancel, hence decimals with digits to spare.

    >>> round(mean_run(4.5), 4), round(mean_run(4.5, rate=2), 4)
    (350.6731, 9.7143)
    """
    _refuse_rho(rho)
    if not 0 < limit <= _MOST_JUMPS * log(rho) or not 0 <= start < limit:
        raise ValueError(
            f"A limit is above 0 and not more than {_MOST_JUMPS:,} events in a row, and the start lies below it; "
            f"{limit} and {start} are not so."
        )
    if not 0 < rate < float("inf"):
        raise ValueError(f"A true rate is above 0; {rate} is not.")
    if limit <= log(rho):  # any event signals
        return 1 / rate
    with localcontext() as context:
        context.prec = 40 + ceil(limit * rate / (rho - 1))
        jump, slope = Decimal(rho).ln(), Decimal(rate) / (Decimal(rho) - 1)
        grown, grown_before, _ = _sums(Decimal(limit), jump, slope)
        from_start, _, areas = _sums(Decimal(limit) - Decimal(start), jump, slope)
        return float((grown / (grown - grown_before) * from_start - areas) / Decimal(rate))


def cusum_limit(run: float, rho: float = 2.0) -> float:
    """
    Find the limit at which the mean run is this while nothing is wrong.

    A fixed limit would give a small unit decades between false alarms, and a large one months: state the years
    between false alarms of a unit, and multiply by the events expected of it in a year. With many units, false
    alarms add up over all of them.

    Args:
        run: mean events expected until a false alarm; above 1, since the first event may signal. No limit gives
            a run between 1 and that of the lowest limit which a single event does not reach (3 where rho is 2);
            for these it is that limit, and the run is longer.
        rho: as `mean_run`.

    Raises:
        ValueError: an argument out of its range.

    >>> round(cusum_limit(350.67307), 6)
    4.5
    """
    _refuse_rho(rho)
    if not 1 < run < float("inf"):
        raise ValueError(f"A mean run until a false alarm is above 1 expected event; {run} is not.")

    def excess(limit: np.ndarray) -> np.ndarray:
        return np.array([log(mean_run(one, rho)) for one in limit.tolist()]) - log(run)

    low, high = log(rho) * (1 + 1e-9), 2 * log(rho)
    if excess(np.array([low]))[0] >= 0:
        return low
    while excess(np.array([high]))[0] < 0:
        low, high = high, 1.5 * high
    return float(roots(excess, np.array([low]), np.array([high]))[0])


def _sums(height: Decimal, jump: Decimal, slope: Decimal) -> tuple[Decimal, Decimal, Decimal]:
    """
    With m up to height / jump, y = height - m jump and x = slope y, find

        G(height) = Σ e^x (-x)^m / m!,  G(height - jump),  and  Σ (e^x Σ_{j ≤ m} (-x)^j / j!  -  1),

    G being the solution of G'(u) = slope (G(u) - G(u - jump)) from G(0) = 1, and the last slope times its integral.
    """
    grown = before = areas = Decimal(0)
    for number in range(int(height / jump) + 1):
        x = slope * (height - number * jump)
        growth, term, last, total = x.exp(), Decimal(1), Decimal(0), Decimal(1)
        for power in range(1, number + 1):
            last, term = term, term * -x / power
            total += term
        grown += growth * term
        before += growth * last
        areas += growth * total - 1
    return grown, before, areas


def _refuse_rho(rho: float) -> None:
    if not 1 < rho < float("inf"):
        raise ValueError(f"The rate ratio to detect is above 1; {rho} is not.")
