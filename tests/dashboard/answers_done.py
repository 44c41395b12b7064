"""What was done, on the screen beside the command line: counts, shares with limits, rates."""

import re
from collections.abc import Sequence

from tests.dashboard.answers import Json, Reader, one
from tests.dashboard.painted import SCROLLBAR, Painted, reads

NOW, THEN = "2024", "2019"


def signed(cell: str, value: float | None) -> bool:
    """A change in per cent, with its sign."""
    if value is None:
        return cell == "–"
    return cell == ("+" if value > 0 and f"{100 * value:.1f}" != "0.0" else "") + f"{100 * value:z.1f}"


def with_limits(cell: str, row: Json, to: str) -> bool:
    """A proportion in per cent with its limits; a dash where there is none."""
    if row["share" if to == "–" else "burden"] is None:
        return cell == "–"
    share, lower, upper = (f"{100 * row[key]:.1f}" for key in ("share" if to == "–" else "burden", "lower", "upper"))
    return cell == f"{share} ({lower}{to}{upper})"


def operations(group: str) -> Reader:
    """Primaries, revisions, changes and burden of each year of a group, the latest first."""

    def compare(shown: Painted, answer: Json) -> None:
        assert f" {group}: operations by year" in shown.text
        latest = sorted((row for row in answer["rows"] if row["group"] == group), key=lambda row: row["period"])[::-1]
        assert len(shown.rows) > 10
        for cells, row in zip(shown.rows, latest, strict=False):
            assert cells["year"] == row["period"]
            assert reads(cells["primaries"], row["primaries"])
            assert signed(cells["change %"], row["primaries_change"])
            assert reads(cells["revisions"], row["revisions"])
            assert signed(cells["change % 2"], row["revisions_change"])
            assert with_limits(cells["burden % (95 % limits)"], row, " to ")

    return compare


def why_in_two_years(shown: Painted, answer: Json) -> None:
    """Revisions and share of each reason in the last year and five years before, and how far they are apart."""
    assert f"why revisions were done in {NOW} and {THEN}" in shown.text
    for reason, *figures, points in lines_of(shown, 6):
        now, then = (one(answer["rows"], group=year, reason=reason) for year in (NOW, THEN))
        assert_both(figures, now, then)
        assert signed(points, None if now["share"] is None else now["share"] - then["share"])
    assert len(shown.rows) == len(answer["rows"]) / 2 > 4


def work_in_two_years(shown: Painted, answer: Json) -> None:
    """What was done and used in the last year and five years before."""
    assert f"what was done and used in {NOW} and {THEN}" in shown.text
    for what, *figures in lines_of(shown, 5):
        assert_both(
            figures, *(one(answer["rows"], group=year, what=what.removeprefix("used: ")) for year in (NOW, THEN))
        )
    assert len(shown.rows) == len(answer["rows"]) / 2 > 4


def lines_of(shown: Painted, cells: int) -> list[list[str]]:
    """The cells of a list whose titles are years, which are no titles to the reader of other lists."""
    at = next(n for n, line in enumerate(shown.lines) if f" {NOW}  share % (limits)" in line)
    rows = [re.split(r"\s{2,}", line[1:].strip(SCROLLBAR)) for line in shown.lines[at + 1 : at + 1 + len(shown.rows)]]
    return [row[:cells] for row in rows]


def assert_both(figures: Sequence[str], now: Json, then: Json) -> None:
    """Count and share of both years."""
    for place, row in ((0, now), (2, then)):
        assert reads(figures[place], row["revisions"]), figures
        assert with_limits(figures[place + 1], row, "–"), figures


def in_all_years(column: str) -> Reader:
    """Revisions and share of each reason, or of what was done and used, over all years."""

    def compare(shown: Painted, answer: Json) -> None:
        named = {"at the revision": "what"}.get(column, column)
        for cells in shown.rows:
            row = one(answer["rows"], **{named: cells[column].removeprefix("used: ")})
            assert reads(cells["all years"], row["revisions"]), cells
            assert with_limits(cells["share % (limits)"], row, "–"), cells
        assert len(shown.rows) == len(answer["rows"]) > 3

    return compare
