"""Newton's method, uphill to the highest likelihood and no step further; what cannot be climbed is said."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from regdash.errors import ModelError, NoTopError
from regdash.stats.partial_likelihood import PartialLikelihood, Point
from regdash.stats.products import product

STEP = 1e-10  # the last step, in log hazard between a covariate's lowest and highest value
_SMALL = 1e-6  # a step that should shrink a hundredfold; where it does not, it is rounding
_MOST = 40  # steps: a likelihood with a top needs less than 15
_LONGEST = 10.0  # a step, as STEP; exp(10) is more than any ratio
_FAR, _LOOSE = 12.0, 50.0  # log hazard between two patterns, and its standard error: both larger, and there is no top
_DEPENDENT = 1e-9  # share of a column's information that the columns before it leave


@dataclass(frozen=True, eq=False)
class Maximum:
    """The highest point, and the information less than a last short step before it."""

    point: Point
    information: np.ndarray  # (K, K)


def maximise(likelihood: PartialLikelihood, start: np.ndarray, names: Sequence[str]) -> Maximum:
    """
    Climb until a Newton step is shorter than 1e-10, or than rounding allows; steps that lead down are halved.

    Columns should be centred and of unit spread. With many joints a rough likelihood leads near the
    top first, and its information is used while steps are long.

    Raises:
        ModelError: collinear columns.
        NoTopError: a likelihood that rises without end.
    """
    point, last, span = _near(likelihood, start, names), np.inf, np.ptp(likelihood.columns.matrix, axis=0)
    for number in range(_MOST):
        information = likelihood.information(point)[0]
        if number == 0:
            refuse_collinear(information, names, likelihood.events)
        covariance = _inverse(information)
        if covariance is None:
            break
        if _is_away(likelihood, point, covariance):
            break
        step = covariance @ likelihood.score(point)
        length = float(np.max(np.abs(step) * span))
        further = uphill(likelihood, point, step * min(1.0, _LONGEST / max(length, _LONGEST)))
        if length < STEP or last / 4 < length < _SMALL:  # what is left of the way is rounding
            return Maximum(further or point, information)
        if further is None:
            break
        point, last = further, length
    raise _no_top(point.coef * span, names)


def _is_away(likelihood: PartialLikelihood, point: Point, covariance: np.ndarray) -> bool:
    """
    Whether the patterns of lowest and highest hazard are further apart than anything can be told of them.

    Coefficients would not say: those of columns that go together, as the bends of a curve, are large and uncertain
    one by one where the hazard is neither.
    """
    matrix, live = likelihood.columns.matrix, likelihood.live
    reach = product(matrix, point.coef)
    low, high = (reach, reach) if live is None else (np.where(live, reach, np.inf), np.where(live, reach, -np.inf))
    apart = matrix[np.argmax(high)] - matrix[np.argmin(low)]
    return bool(apart @ point.coef > _FAR and np.sqrt(apart @ covariance @ apart) > _LOOSE)


def uphill(likelihood: PartialLikelihood, point: Point, step: np.ndarray) -> Point | None:
    """Take the step, or half of it until it does not lead down; None where no part of it does."""
    rounding = 1e-12 * (1 + abs(point.loglik))
    for _ in range(30):
        further = likelihood.at(point.coef + step)
        if further.loglik >= point.loglik - rounding:
            return further
        step = step / 2
    return None


def refuse_collinear(information: np.ndarray, names: Sequence[str], events: float) -> None:
    """
    Name the first column, of unit spread, about which nothing is left to learn beside those before it.

    Raises:
        ModelError: there is such a column.
    """
    diagonal = np.diag(information)
    for column in range(len(diagonal)):
        own = diagonal[column]
        if own <= _DEPENDENT * events:
            raise ModelError(
                f"'{names[column]}' does not vary among the joints that are compared on any day with an event. "
                "Leave it out, or do not stratify by what fixes it."
            )
        before = information[:column, :column]
        share = np.linalg.solve(before, information[:column, column]) if column else np.zeros(0)
        if own - share @ information[:column, column] < _DEPENDENT * own:
            together = [
                names[k] for k in np.flatnonzero(np.abs(share) * np.sqrt(diagonal[:column] / own) > 1e-6).tolist()
            ]
            raise ModelError(
                f"'{names[column]}' says nothing that {_quoted(together)} does not say already: "
                "their columns are collinear. Leave one of them out."
            )


def _near(likelihood: PartialLikelihood, start: np.ndarray, names: Sequence[str]) -> Point:
    """Go near the top with a rough likelihood's information, if there is one."""
    if likelihood.rough is None:
        return likelihood.at(start)
    try:
        rough = maximise(likelihood.rough, start, names)
    except ModelError:  # a level that few days know of; the exact likelihood will say whether it is true
        return likelihood.at(start)
    point, length = _with_one(likelihood, likelihood.at(rough.point.coef), rough.information)
    if length >= STEP:  # the rough information would need many more steps: its own is worth the time
        point, _ = _with_one(likelihood, point, likelihood.information(point)[0])
    return point


def _with_one(likelihood: PartialLikelihood, point: Point, information: np.ndarray) -> tuple[Point, float]:
    """Climb with one information for all steps while each is much shorter than the last; tell how long the next is."""
    last, span, covariance = np.inf, np.ptp(likelihood.columns.matrix, axis=0), _inverse(information)
    if covariance is None:
        return point, last
    while True:
        step = covariance @ likelihood.score(point)
        length = float(np.max(np.abs(step) * span))
        further = uphill(likelihood, point, step) if STEP <= length < min(last / 8, _LONGEST) else None
        if further is None:
            return point, length
        point, last = further, length


def _inverse(information: np.ndarray) -> np.ndarray | None:
    """The covariance, or None where the information is all but gone in some direction."""
    try:
        covariance = np.linalg.inv(information)
    except np.linalg.LinAlgError:
        return None
    return covariance if np.all(np.isfinite(covariance)) and np.all(np.diag(covariance) > 0) else None


def _no_top(reach: np.ndarray, names: Sequence[str]) -> NoTopError:
    far = np.abs(reach) >= max(_FAR / 2, float(np.abs(reach).max()) / 3)
    away = [name for name, is_far in zip(names, far, strict=True) if is_far] or list(names)
    return NoTopError(
        f"The likelihood rises without end as the coefficient of {_quoted(away)} grows: some of the values compared "
        "have no events. Merge levels or windows, choose another reference, or use Firth's penalty."
    )


def _quoted(names: Sequence[str]) -> str:
    shown = " and ".join(f"'{name}'" for name in names[:4])
    return shown if len(names) <= 4 else f"{shown} and {len(names) - 4} others"
