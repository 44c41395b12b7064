"""
Whether a signal is first seen, seen again or not seen since an earlier data cut, and what moved it.

A signal is an excess of revisions over those expected. What moved it are revisions, by cause, and what was expected,
split into the unit's own follow-up and the rate of all others. All are counts of revisions, and the largest that pushes
the way it went is named: excess rises where revisions come, or where fewer are expected. Of what is seen again the
revisions alone are told.
"""

from regdash.reports.policy import Policy
from regdash.signals.model import FIRST_SEEN, LOOK_CLOSER, NOT_SEEN, SEEN_AGAIN, Moved, ScreenRow
from regdash.signals.pool import Window
from regdash.signals.unit_moves import UnitMoves

FOLLOW_UP, OTHERS, WITHDRAWN = "own follow-up", "rate of the others", "others withdrawn or confirmed"
NOT_IN_USE, WAS_TOO_SMALL = "not in the earlier cut", "too few before"
GONE, IS_TOO_SMALL = "no joints left", "too few now"
HARDLY, NOTHING = "chance of the test", "no revision moved"
_LEAST = 0.5  # revisions that an expected number moves by before it is called a cause
_SAID = {
    "definition_changes": "definitions",
    "corrections": "corrections",
    "links_undone": "links undone",
    "new_links": "new links",
    "late_events": "late events",
    "new_events": "new events",
}


def seen(now: ScreenRow | None, before: ScreenRow | None) -> str | None:
    """Compare two screens of one unit in one window; None where it is a signal in neither."""
    is_signal, was_signal = (row is not None and row.signal == LOOK_CLOSER for row in (now, before))
    if is_signal:
        return SEEN_AGAIN if was_signal else FIRST_SEEN
    return NOT_SEEN if was_signal else None


def moved(
    policy: Policy,
    what: str,
    window: Window,
    rows: tuple[ScreenRow | None, ScreenRow | None],
    moves: UnitMoves,
    others_left_out: bool,
) -> Moved:
    """
    Say what moved a unit in a window from an earlier screen to a later one.

    Args:
        what: how it is seen, one of SEEN.
        rows: before and now; None where the screen does not tell of it.
        moves: of the unit.
        others_left_out: whether other units are in nobody's comparison group than in the earlier screen.
    """
    before, now = rows
    parts = moves.revisions(window)
    counts = (sum(moves.joints), moves.joints[0], moves.revised_before(window))
    small = policy.why_small(*map(abs, parts.values()), *counts)
    causes = {_SAID[name]: float(count) for name, count in parts.items()}
    if not _tested(before):
        cause = WAS_TOO_SMALL if moves.joints[0] else NOT_IN_USE
    elif not _tested(now):
        cause = IS_TOO_SMALL if sum(moves.joints) else GONE
    else:
        assert before is not None
        assert now is not None
        causes |= {} if what == SEEN_AGAIN else _expected(before, now, others_left_out)
        cause = _largest(what, causes)
    sentence = "" if small else _sentence(before, now, moves.revised_before(window), parts)
    return Moved(cause, sentence, None if small else parts)


def _tested(row: ScreenRow | None) -> bool:
    return row is not None and row.q is not None


def _expected(before: ScreenRow, now: ScreenRow, others_left_out: bool) -> dict[str, float]:
    """What the excess moves by because more, or fewer, revisions were expected: more of them lower it."""
    figures = (before.expected, before.implant_years, now.expected, now.implant_years)
    if None in figures or not before.implant_years or not now.implant_years:
        return {}
    assert before.expected is not None
    assert now.expected is not None
    rate = before.expected / before.implant_years
    own = (now.implant_years - before.implant_years) * rate
    others = now.expected - before.expected - own
    named = {FOLLOW_UP: -own, WITHDRAWN if others_left_out else OTHERS: -others}
    return {name: value for name, value in named.items() if abs(value) >= _LEAST}


def _largest(what: str, causes: dict[str, float]) -> str:
    """Name the largest cause of those that push the way it went; all that are as large."""
    sign = {FIRST_SEEN: 1, NOT_SEEN: -1}.get(what)
    pushing = {name: abs(value) if sign is None else sign * value for name, value in causes.items()}
    most = max(pushing.values(), default=0.0)
    if most <= 0:
        return NOTHING if what == SEEN_AGAIN else HARDLY
    return " and ".join(name for name, value in pushing.items() if value == most)


def _sentence(before: ScreenRow | None, now: ScreenRow | None, revised: int, parts: dict[str, int]) -> str:
    """Say the figures of both, and every part of what moved: "44 to 47 revised (+2 new events, +1 late event)"."""
    said = [f"{count:+} {_so_many(_SAID[name], count)}" for name, count in parts.items()]
    split = f" ({', '.join(said)})" if said else ""
    counts = f"{revised:,} to {revised + sum(parts.values()):,} revised{split}"
    return "; ".join([counts, _both("expected", 1, before, now), _both("q", 4, before, now)])


def _so_many(noun: str, count: int) -> str:
    """
    Say one of several in the singular.

    >>> _so_many("late events", 1), _so_many("links undone", -1), _so_many("corrections", 2)
    ('late event', 'link undone', 'corrections')
    """
    if abs(count) != 1:
        return noun
    return noun.replace("links", "link") if noun.startswith("links") else noun.removesuffix("s")


def _both(name: str, digits: int, before: ScreenRow | None, now: ScreenRow | None) -> str:
    return f"{name} {_written(before, name, digits)} to {_written(now, name, digits)}"


def _written(row: ScreenRow | None, name: str, digits: int) -> str:
    value: float | None = None if row is None else getattr(row, name)
    if value is None:
        return "–"
    return f"<{10**-digits:.{digits}f}" if 0 < value < 10**-digits else f"{value:,.{digits}f}"
