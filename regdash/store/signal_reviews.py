"""
What people decided on signals: kept in the office file, only ever added to, by several people at once.

A decision moves the review of a unit on (an implant, construct, size or lot in its role, class and joint): in one
window since implantation, or in every one. What stands for a window is the last decision that speaks of it. Whoever
decides says which decision stood when they looked; where another stands by now, nothing is written.
"""

import hashlib
import json
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass
from datetime import date
from pathlib import Path
from typing import Any

from regdash.errors import ReviewError
from regdash.store.audit import author, without_patients
from regdash.store.office import now, office_rows, writing_office
from regdash.store.personal_numbers import refuse_personal
from regdash.store.sqlfiles import statement
from regdash.vocabulary import coded

TABLE = "signal_reviews"
MOST_CHARACTERS = 2_000  # of a reason
EVERY = "every"  # the window of a decision that speaks of all of them

NEW = "new"  # nobody has decided anything
UNDER_REVIEW, EXPLAINED, CONFIRMED = "under review", "explained", "confirmed"
WATCHING, CLOSED = "watching", "closed"
MEANINGS = {
    NEW: "nobody has decided anything",
    UNDER_REVIEW: "somebody is looking into it",
    EXPLAINED: "something other than the implant accounts for it",
    CONFIRMED: "the implant does worse; it leaves comparison groups",
    WATCHING: "not settled: looked at again at each data cut",
    CLOSED: "nothing more is done",
}
STATES = tuple(MEANINGS)

# From each state, where a review may go. What stands may be said again with another reason, such as what a hospital
# answered. Nothing is confirmed that nobody has looked at; what was closed is taken up again before anything else.
MOVES = {
    NEW: (UNDER_REVIEW, EXPLAINED, WATCHING, CLOSED),
    UNDER_REVIEW: (UNDER_REVIEW, EXPLAINED, CONFIRMED, WATCHING, CLOSED),
    EXPLAINED: (UNDER_REVIEW, EXPLAINED, WATCHING, CLOSED),
    CONFIRMED: (UNDER_REVIEW, CONFIRMED, WATCHING, CLOSED),
    WATCHING: (UNDER_REVIEW, EXPLAINED, CONFIRMED, WATCHING, CLOSED),
    CLOSED: (UNDER_REVIEW, CLOSED),
}


@dataclass(frozen=True)
class Unit:
    """What a review is of."""

    kind: str  # implants, constructs, sizes or lots
    joint: str
    joint_class: str
    role: str
    code: str

    def __str__(self) -> str:
        return f"{self.code} ({self.role}, {self.joint_class} {self.joint})"


@dataclass(frozen=True)
class RestsOn:
    """The screen that a decision rests on. A figure that it withheld, or that is not defined, is None."""

    cut: str
    content_hash: str  # of that data cut
    cohort: str  # filter words, as printed
    settings_version: str
    settings_hash: str
    figures_of: str = ""  # the window that the figures are of; empty where the screen has none of this unit
    signal: str = ""
    joints: int | None = None
    implant_years: float | None = None
    revisions: int | None = None
    expected: float | None = None
    hazard_ratio: float | None = None
    lower: float | None = None
    upper: float | None = None
    q: float | None = None


@dataclass(frozen=True)
class SignalReview:
    """One decision on one unit."""

    number: int  # 1, 2, 3 … without gaps
    unit: Unit
    window: str  # years since implantation, as in 1..5; all; or EVERY
    state: str  # one of STATES, NEW left out
    why: str
    decided_by: str  # REGDASH_USER, else the account
    account: str
    decided_at: str  # UTC, ISO 8601
    rests_on: RestsOn
    supersedes: int | None  # the number of the decision that stood before

    def speaks_of(self, window: str) -> bool:
        """Whether it says something of a window; EVERY asks whether it says anything."""
        return EVERY in (window, self.window) or self.window == window

    @property
    def facts(self) -> dict[str, Any]:
        """All that it says, in one flat row."""
        said = {name: value for name, value in asdict(self).items() if name not in ("unit", "rests_on")}
        return {"number": said.pop("number"), **asdict(self.unit), **said, **asdict(self.rests_on)}


class Reviews:
    """Decisions up to a day, oldest first, and what stands of them."""

    def __init__(self, taken: Iterable[SignalReview] = ()) -> None:
        self.taken = tuple(taken)
        self._of: dict[Unit, list[SignalReview]] = defaultdict(list)
        for one in self.taken:
            self._of[one.unit].append(one)

    def __iter__(self) -> Iterator[SignalReview]:
        return iter(self.taken)

    @property
    def units(self) -> tuple[Unit, ...]:
        """Everything that was decided on, in the order of the first decisions."""
        return tuple(self._of)

    def life(self, unit: Unit) -> tuple[SignalReview, ...]:
        """Every decision on a unit, oldest first."""
        return tuple(self._of.get(unit, ()))

    def standing(self, unit: Unit, window: str = EVERY) -> SignalReview | None:
        """The last decision that speaks of a unit in a window; None where there is none."""
        return next((one for one in reversed(self._of.get(unit, ())) if one.speaks_of(window)), None)

    def state(self, unit: Unit, window: str = EVERY) -> str:
        """How far the review of a unit in a window is."""
        last = self.standing(unit, window)
        return last.state if last else NEW

    def confirmed(self, kind: str) -> tuple[str, ...]:
        """The codes of a kind of which a signal stands confirmed, in one window or more."""
        standing = ((unit, self.standing(unit, one.window)) for unit in self._of for one in self._of[unit])
        return tuple(
            sorted({unit.code for unit, last in standing if last and last.state == CONFIRMED and unit.kind == kind})
        )

    @property
    def facts(self) -> dict[str, Any]:
        """Say for an answer which decisions it was made with: their number, and a hash over all that they say."""
        told = json.dumps([one.facts for one in self.taken], sort_keys=True)
        return {"taken": len(self.taken), "hash": hashlib.sha256(told.encode()).hexdigest()[:12]}


def reviews_known(store: Path, as_of: date | None = None) -> Reviews:
    """
    Read the decisions taken up to the end of a day (UTC); all of them if none is given.

    Raises:
        StoreError: the office file cannot be read.
    """
    values = {"as_of": as_of.isoformat() if as_of else None}
    return Reviews(map(_read, office_rows(store, TABLE, "office/signal_reviews", values)))


def _read(row: Sequence[Any]) -> SignalReview:
    number, kind, joint, joint_class, role, code, *said = row[:12]
    window, state, why, decided_by, account, decided_at = said
    unit, rests_on = Unit(kind, joint, joint_class, role, code), RestsOn(*row[12:-1])
    return SignalReview(number, unit, window, state, why, decided_by, account, decided_at, rests_on, row[-1])


def decide(
    store: Path, unit: Unit, window: str, state: str, why: str, rests_on: RestsOn, after: int | None = None
) -> SignalReview:
    """
    Move the review of a unit on, after the decisions of every other process.

    Args:
        window: that the decision speaks of, or EVERY.
        after: the number of the decision that stood when the figures were looked at, 0 where none did. Where another
            stands by now, somebody decided meanwhile. None asks for no such check.

    Raises:
        ReviewError: no such state or move, no reason, or somebody decided meanwhile; nothing was written.
        StoreError: the office file cannot be written.
    """
    reason = reason_of(state, why)
    by, own_account = author()
    said = {"window": window, "state": state, "why": reason}
    said |= {"decided_by": without_patients(by), "account": own_account}
    with writing_office(store) as office:
        known = Reviews(_read(row) for row in office.execute(statement("office/signal_reviews"), {"as_of": None}))
        last = known.standing(unit, window)
        _refuse_overtaken(unit, last, after)
        check_move(unit, last.state if last else NEW, state)
        row = asdict(unit) | said | {"decided_at": now()} | asdict(rests_on)
        office.execute(statement("office/append_signal_review"), row | {"supersedes": last.number if last else None})
        *_, written = office.execute(statement("office/signal_reviews"), {"as_of": None})
    return _read(written)


def reason_of(state: str, why: str) -> str:
    """
    Read the reason of a decision as one line, without control characters and without patients.

    Raises:
        InputError: it holds what looks like a person's number.
        ReviewError: no such state, no reason, or a very long one.
    """
    if state not in STATES:
        raise ReviewError(f"There is no state {state}. A signal is {_either(STATES)}.")
    why = refuse_personal(why)
    reason = " ".join("".join(one if one.isprintable() else " " for one in without_patients(why)).split())
    if not reason:
        raise ReviewError("A decision needs a reason: what does it rest on?")
    if len(reason) > MOST_CHARACTERS:
        raise ReviewError(f"The reason has {len(reason):,} characters; at most {MOST_CHARACTERS:,} are kept.")
    return reason


def state_named(text: str) -> str:
    """
    Read a state as people type it.

    Raises:
        ReviewError: there is none of that name.

    >>> state_named("under-review")
    'under review'
    """
    for state in STATES:
        if text.strip().lower() in (state, coded(state)):
            return state
    raise ReviewError(f"There is no state {text}. A signal is {_either(STATES)}.")


def _refuse_overtaken(unit: Unit, last: SignalReview | None, after: int | None) -> None:
    if after is None or (last.number if last else 0) == after:
        return
    rests = f"rests on decision {after}" if after else "rests on none"
    if last is None:
        raise ReviewError(f"Nobody has decided anything on {unit.code} so far, and this {rests}.")
    raise ReviewError(
        f"{unit.code} was decided meanwhile: {last.state}, by {last.decided_by} at {last.decided_at} (decision "
        f"{last.number}); this one {rests}. Read that decision, then decide again."
    )


def check_move(unit: Unit, stands: str, state: str) -> None:
    """
    Refuse to let a review go from where it stands to a state that may not follow.

    Raises:
        ReviewError: it names those that may.
    """
    if state not in MOVES[stands]:
        raise ReviewError(
            f"{unit.code} is {stands}, and cannot become {state} from there. It may become {_either(MOVES[stands])}."
        )


def _either(states: Sequence[str]) -> str:
    *rest, last = (coded(state) for state in states)
    return f"{', '.join(rest)} or {last}" if rest else last
