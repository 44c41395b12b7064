"""A unit's screens, quarter by quarter, as a strip of characters with words beside it. Nothing depends on colour."""

import textwrap
from collections.abc import Sequence

from regdash.reports.wording import so_many
from regdash.signals.history_model import NO_SIGNAL, NOT_TESTED, SIGNAL, HistoryRow
from regdash.signals.model import NOT_SEEN

LEGEND = f"{SIGNAL} signal   {NO_SIGNAL} no signal   {NOT_TESTED} too few to test   blank: not used yet"
_QUARTERS = 4
_BEFORE = 6  # characters of a line before its first year, as in "2002  "


def strip(states: str, width: int) -> str:
    """
    Give the newest quarters that fit, one character each.

    >>> strip("  --..##", 5)
    '-..##'
    """
    return states[-width:] if width > 0 else ""


def strip_lines(quarters: Sequence[str], states: str, width: int) -> list[str]:
    """
    Give all quarters: lines of whole years, each headed by its first, with a gap between years.

    Args:
        quarters: as in 2024Q3, one after the other.
        states: one character a quarter.

    >>> strip_lines(["2001Q3", "2001Q4", "2002Q1", "2002Q2", "2002Q3", "2002Q4", "2003Q1"], "--..##.", 16)
    ['2001    -- ..##', '2003  .']
    """
    if not quarters:
        return []
    first, skipped = int(quarters[0][:4]), int(quarters[0][-1]) - 1
    padded = " " * skipped + states
    years = [padded[at : at + _QUARTERS] for at in range(0, len(padded), _QUARTERS)]
    per_line = max(1, (width - _BEFORE + 1) // (_QUARTERS + 1))
    return [
        f"{first + at:<{_BEFORE}}{' '.join(years[at : at + per_line])}".rstrip()
        for at in range(0, len(years), per_line)
    ]


def in_words(row: HistoryRow, quarters: Sequence[str]) -> str:
    """
    Say what a strip shows.

    >>> row = HistoryRow("KF-001", "femoral", "total", None, "-.#.##", "2023Q3", "1..5", 4.5, 210, 9)
    >>> in_words(row, ["2023Q1", "2023Q2", "2023Q3", "2023Q4", "2024Q1", "2024Q2"])
    'first seen in 2023Q3, 4.5 years after its first use here; seen again in 2 of 3 quarters since'
    """
    if row.first_seen is None or row.years_to_first_seen is None:
        tested = sum(state == NO_SIGNAL for state in row.states)
        return f"never a signal; tested in {tested:,} of {so_many(len(row.states), 'quarter')}"
    said = f"first seen in {row.first_seen}, {row.years_to_first_seen:.1f} years after its first use here"
    again = row.quarters_seen - 1
    if row.quarters_since:
        said += f"; seen again in {again:,} of {so_many(row.quarters_since, 'quarter')} since"
    if row.now == NOT_SEEN:
        last = quarters[row.states.rindex(SIGNAL)]
        said += f"; not seen now, last in {last}"
    return said


def history_lines(rows: Sequence[HistoryRow], quarters: Sequence[str], width: int) -> list[str]:
    """Draw some units one after the other: what each is, its strip and the words; the legend comes last."""
    lines: list[str] = []
    for row in rows:
        lines += [f"{row.code}, {row.role}, {row.joint_class}"]
        lines += [f"  {line}" for line in strip_lines(quarters, row.states, width - 2)]
        lines += [f"  {line}" for line in textwrap.wrap(in_words(row, quarters), max(width - 2, 20))]
        lines.append("")
    return [*lines, *textwrap.wrap(LEGEND, max(width, 20))] if rows else []
