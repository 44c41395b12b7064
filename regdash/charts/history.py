"""The strip of a unit's quarters on a screen, from the report of a replay."""

from rich.text import Text

from regdash.signals.history_model import HistoryReport, HistoryRow
from regdash.signals.history_strip import history_lines, in_words, strip


def history_strip(report: HistoryReport, code: str, width: int) -> Text:
    """
    Draw all quarters of a code, in each role and class that it has: characters, and words that say the same.

    A code that no screen has tested has one sentence.
    """
    lines = history_lines(report.of(code), report.quarters, width)
    return Text("\n".join(lines) if lines else f"No screen has tested {code}.")


def newest_quarters(row: HistoryRow | None, width: int) -> str:
    """Give the newest quarters of one unit for a cell of a list, a character each; empty where it was never tested."""
    return "" if row is None else strip(row.states, width)


def told_in_words(report: HistoryReport, row: HistoryRow) -> str:
    """Say what the strip of one unit shows, for a line under a list."""
    return in_words(row, report.quarters)
