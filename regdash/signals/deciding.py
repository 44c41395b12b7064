"""Deciding on a signal: which unit is meant, which figures the decision rests on, and the line in the audit trail."""

from dataclasses import fields
from pathlib import Path
from typing import Any

from regdash.errors import FilterError, ReviewError
from regdash.reports.policy import Policy
from regdash.reports.wording import fields as listed
from regdash.signals.model import ALL, ScreenRow, SignalsReport
from regdash.signals.wording import NOT_IN_SCREEN
from regdash.store.acts import written_down
from regdash.store.cuts import Manifest
from regdash.store.signal_reviews import (
    EVERY,
    MEANINGS,
    MOST_CHARACTERS,
    MOVES,
    RestsOn,
    Reviews,
    SignalReview,
    Unit,
    check_move,
    decide,
    state_named,
)
from regdash.store.signal_reviews import reason_of as reason_of
from regdash.suggest import nearest
from regdash.vocabulary import coded

ACT = "signal-decided"
_FIGURES = {field.name for field in fields(RestsOn)} & {field.name for field in fields(ScreenRow)}


def unit_called(report: SignalsReport, code: str, role: str | None = None) -> Unit:
    """
    Find the unit that a code stands for.

    Raises:
        FilterError: there is none in the screen and among what was decided, or there are several.
    """
    units = dict.fromkeys(row.unit for row in report.rows)
    found = [unit for unit in units if unit.code.casefold() == code.casefold() and role in (None, unit.role)]
    if not found:
        known = list(dict.fromkeys(unit.code for unit in units))
        raise FilterError(f"The screen of {report.kind} tells of no {code}. {nearest(code, known)}")
    if len(found) > 1:
        raise FilterError(
            f"{code} stands for several: {'; '.join(map(str, found))}. Name one with joint=, class= or --role."
        )
    return found[0]


def rests_on(report: SignalsReport, unit: Unit, window: str, manifest: Manifest) -> RestsOn:
    """
    Take the figures of a unit in a window; for every window, of the one with the smallest q.

    Raises:
        FilterError: the screen has no such window, or the unit is not in it.
    """
    rows = {row.screened.window: row.screened for row in report.rows if row.unit == unit}
    if window not in (EVERY, *rows):
        raise FilterError(f"The screen tells of {unit.code} in {listed(list(rows))} alone, not in {window}.")
    tested = [row for row in rows.values() if row.q is not None]
    row = rows.get(window) or min(tested, key=lambda one: one.q or 0, default=rows.get(ALL))
    settings = report.screen.settings
    said = (manifest.cut, manifest.content_hash, str(report.head.cohort), settings.version, settings.hash)
    if row is None or row.withheld == NOT_IN_SCREEN:
        return RestsOn(*said)
    return RestsOn(*said, figures_of=row.window, **{name: getattr(row, name) for name in _FIGURES})


def next_states(reviews: Reviews, unit: Unit, window: str = "") -> list[tuple[str, str]]:
    """List where a review may go from here, as it is typed, and what that means; of every window, if none is named."""
    return [(coded(state), MEANINGS[state]) for state in MOVES[reviews.state(unit, window or EVERY)]]


def next_state(reviews: Reviews, unit: Unit, window: str, typed: str) -> str:
    """
    Read a state that a review may go to.

    Raises:
        ReviewError: there is no such state, or it may not go there from here.
    """
    if not typed:
        raise ReviewError("Name a state first, then the reason.")
    state = state_named(typed)
    check_move(unit, reviews.state(unit, window or EVERY), state)
    return state


def last_read(reviews: Reviews, unit: Unit, window: str = "") -> tuple[str, int]:
    """Say of which window a decision would be, and the number of the one that stands; 0 where none does."""
    standing = reviews.standing(unit, window or EVERY)
    return window or EVERY, standing.number if standing else 0


def decide_and_tell(
    store: Path, unit: Unit, window: str, state: str, why: str, rests: RestsOn, after: int | None
) -> SignalReview:
    """
    Take a decision, as `signal_reviews.decide`, and write it down in the audit trail; a refusal too.

    Raises:
        ReviewError, StoreError: as `decide`.
    """
    with written_down(store, ACT, f"{unit.kind} {unit.code}", why[:MOST_CHARACTERS]) as act:
        review = decide(store, unit, window, state, why, rests, after)
        act.details = {"decision": review.number, "state": state, "window": window, "cut": rests.cut}
        act.details |= {"supersedes": review.supersedes}
    return review


def shown(policy: Policy, review: SignalReview) -> dict[str, Any]:
    """Everything that a decision says, as far as the policy shows counts today."""
    said = review.facts
    counts = [count for count in (said["joints"], said["revisions"]) if count is not None]
    return said | dict.fromkeys(_FIGURES - {"signal"}) if policy.why_small(*counts) else said
