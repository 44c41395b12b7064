"""The strip of a unit's quarters on a screen, from the report of a replay."""

from rich.text import Text

from regdash.signals.history_model import HistoryReport, HistoryRow
from regdash.signals.history_strip import history_lines, strip

__all__ = ("history_strip", "strip", "unit_strip")


def history_strip(report: HistoryReport, code: str, width: int) -> Text:
    """
    Draw all quarters of a code, in each role and class that it has: characters, and words that say the same.

    A code that no screen has tested has one sentence.
    """
    lines = history_lines(report.of(code), report.quarters, width)
    return Text("\n".join(lines) if lines else f"No screen has tested {code}.")


def unit_strip(report: HistoryReport, row: HistoryRow, width: int) -> Text:
    """Draw all quarters of one unit."""
    return Text("\n".join(history_lines([row], report.quarters, width)))
