"""
Answers on the screen beside those of the command line: each function reads what is painted and compares it with the
JSON of the command, number by number. Rounding is done here by itself: percentages to one decimal, risks to two where
all of them are under 2 %, incidences, rates and ratios to two, p and q to four.
"""

import re
from collections.abc import Callable, Iterable, Sequence
from typing import Any

from tests.dashboard.painted import Painted, reads, reads_limits, reads_p

Json = dict[str, Any]
Reader = Callable[[Painted, Json], None]
LIMITS = "95 % limits"


def years_said(years: float) -> str:
    """A time since implantation in words."""
    return f"{years:g} year" + ("s" if years != 1 else "")


def window_said(row: Json) -> str:
    """A window since implantation in words."""
    begins, ends = row["from_years"], row["to_years"]
    if ends is None:
        return f"{begins:g} years on" if begins else "all"
    return f"{begins:g}–{ends:g} years"


def counted(shown: Painted, answer: Json) -> None:
    """The line of counts is about the joints of the answer."""
    counts = f" {answer['joints']:,} joints · {answer['revisions']:,} revised, {answer['held_revisions']:,} held"
    assert shown.lines[2].startswith(counts), (shown.lines[2], counts)


def one(rows: Iterable[Json], **said: Any) -> Json:
    """The one row of the answer of which this is so."""
    (found,) = [row for row in rows if all(row[key] == value for key, value in said.items())]
    return found


def unlettered(cell: str, names: Iterable[str]) -> str:
    """The name in a cell, before which the letter of its curve may stand."""
    (name,) = {name for name in names if cell in (name, f"{cell[:1]} {name}")}
    return name


def percents(row: Json, *keys: str) -> list[float | None]:
    """Proportions in per cent."""
    return [None if row.get(key) is None else 100 * row[key] for key in keys]


def decimals_of(estimates: Sequence[float | None]) -> int:
    """Of risks in per cent that stand under each other."""
    there = [estimate for estimate in estimates if estimate is not None]
    return 2 if there and max(there) < 0.02 else 1


def risk(years: float, at_least: int = 1) -> Reader:
    """Joints at risk, revisions, risk and limits of each group at one time."""

    def compare(shown: Painted, answer: Json) -> None:
        counted(shown, answer)
        at = [row for row in answer["rows"] if row["years"] == years]
        compare_risks(shown, at, f"at {years_said(years)}", at_least)

    return compare


def compare_risks(shown: Painted, at: list[Json], title: str, at_least: int) -> None:
    """Compare a list of risks."""
    decimals = decimals_of([row["estimate"] for row in at])
    for cells in shown.rows:
        row = one(at, group=unlettered(cells[title], (row["group"] for row in at)))
        estimate, lower, upper = percents(row, "estimate", "lower", "upper")
        assert reads(cells["at risk"], row["at_risk"]), cells
        assert reads(cells["revised"], row["revisions"]), cells
        assert reads(cells["risk %"], estimate, decimals), cells
        assert reads_limits(cells[LIMITS], lower, upper, decimals), cells
    assert sum(cells["risk %"] != "–" for cells in shown.rows) >= at_least


def reasons(group: str, years: float, at_least: int = 3) -> Reader:
    """Incidence, limits, revisions and share of each reason in one group."""

    def compare(shown: Painted, answer: Json) -> None:
        counted(shown, answer)
        assert f" {group}: revised for each reason within {years_said(years)}" in shown.text
        of = {row["reason"]: row for row in answer["rows"] if row["group"] == group}
        assert 3 <= len(shown.rows) <= len(of)
        for cells in shown.rows:
            row = of[unlettered(cells["reason"], of)]
            incidence, lower, upper, share = percents(row, "incidence", "lower", "upper", "share")
            assert reads(cells["%"], incidence, 2), cells
            assert reads_limits(cells[LIMITS], lower, upper, 2), cells
            assert reads(cells["ever"], row["revisions"]), cells
            assert reads(cells["share %"], share), cells
        assert sum(cells["%"] not in ("–", "0.00") for cells in shown.rows) >= at_least

    return compare


def ratios(shown: Painted, answer: Json) -> None:
    """Hazard ratio, limits and p of each group in each window."""
    counted(shown, answer)
    assert f"hazard ratio against {answer['reference']} " in shown.text
    of = {(row["group"], window_said(row)): row for row in answer["rows"]}
    assert len(shown.rows) > 2
    for cells in shown.rows:
        row = of[cells["group"], cells["follow-up"]]
        assert reads(cells["ratio"], row["hazard_ratio"], 2), cells
        assert reads_limits(cells[LIMITS], row["lower"], row["upper"], 2), cells
        assert reads_p(cells["p"], row["p"]), cells
    assert any(cells["ratio"] != "–" for cells in shown.rows)


def mortality(days: int, said: str) -> Reader:
    """Operations at risk, deaths, mortality and limits of each group by one day."""

    def compare(shown: Painted, answer: Json) -> None:
        counts = f" {answer['operations']:,} operations · {answer['deaths']:,} followed by a death"
        assert shown.lines[2].startswith(f"{counts} · deaths to {answer['deaths_known_through']}"), shown.lines[2]
        at = [row for row in answer["rows"] if row["days"] == days]
        for cells in shown.rows:
            row = one(at, group=unlettered(cells[f"by {said}"], (row["group"] for row in at)))
            estimate, lower, upper = percents(row, "estimate", "lower", "upper")
            assert reads(cells["at risk"], row["at_risk"]), cells
            assert reads(cells["died"], row["deaths"]), cells
            assert reads(cells["died %"], estimate, 2), cells
            assert reads_limits(cells[LIMITS], lower, upper, 2), cells
        assert sum(cells["died %"] != "–" for cells in shown.rows) > 1

    return compare


def curve(shown: Painted, answer: Json) -> None:
    """Ratios along a field of numbers, and what its tests say."""
    counted(shown, answer)
    assert f"hazard ratio against {answer['over']} {answer['reference']:g}, the median" in shown.text
    for cells in shown.rows:
        if (said := cells[answer["over"]]) == "–":
            assert not cells.get(LIMITS, "").startswith(("0", "1")), cells  # beyond what the curve is shown for
            continue
        row = one(answer["rows"], value=float(said))
        assert reads(cells["joints"], row["joints"]), cells
        assert reads(cells["revised"], row["revisions"]), cells
        assert reads(cells["ratio"], row["hazard_ratio"], 2), cells
        if row["value"] != answer["reference"]:
            assert reads_limits(cells[LIMITS], row["lower"], row["upper"], 2), cells
    assert len(shown.rows) > 5
    for test in answer["tests"]:
        (said,) = re.findall(rf"{test['test']}: (withheld|p \S+)", shown.text)
        if "withheld" in test:
            assert said == "withheld"
            assert f"withheld: {test['withheld']}"[:30] in shown.text
        else:
            assert reads_p(said.removeprefix("p "), test["p"])
