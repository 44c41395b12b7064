"""Answers about signals and one implant on the screen beside those of the command line."""

import re
from collections.abc import Sequence

from tests.dashboard.answers import LIMITS, Json, Reader, counted, one, percents
from tests.dashboard.painted import Cells, Painted, reads, reads_limits, reads_p


def screened(kind: str) -> Reader:
    """What a screen tested, how many signals there are, and each row's ratio and q."""

    def compare(shown: Painted, answer: Json) -> None:
        counted(shown, answer)
        assert answer["screened"] == f"{kind}s"
        assert f" {answer['tested']} tests, {answer['signals'] or 'no'} signal" in shown.text or not answer["tested"]
        if answer["signals"]:
            assert f"at most {answer['expected_false_signals']:.1f} of them expected to be false" in shown.text
        compare_screened(shown.rows, answer["rows"], kind)

    return compare


def compare_screened(shown: Sequence[Cells], rows: list[Json], kind: str) -> None:
    """Compare a list of what was screened."""
    assert shown
    for cells in shown:
        row = one(rows, code=cells[kind], window=cells["years"])
        assert reads(cells["revised"], row["revisions"]), cells
        assert reads(cells["ratio"], row["hazard_ratio"], 2), cells
        assert reads_limits(cells[LIMITS], row["lower"], row["upper"], 2), cells
        assert reads_p(cells["q"], row["q"]), cells


def new_and_gone(shown: Painted, answer: Json) -> None:
    """Signals that are first seen, and those that are not seen any more; there are some of both."""
    moved = [row for row in answer["rows"] if row["seen"] in ("first seen", "not seen")]
    said = f"{answer['first_seen']} first seen, {answer['seen_again']} again, {answer['not_seen']} not"
    assert said in shown.text
    assert {row["seen"] for row in moved} == {"first seen", "not seen"}
    listed = [(cells["implant"], cells["years"], cells["seen"]) for cells in shown.rows]
    assert sorted(listed) == sorted((row["code"], row["window"], row["seen"]) for row in moved)
    compare_screened(shown.rows, moved, "implant")
    under = next(row for row in moved if row["code"] == shown.rows[0]["implant"])
    assert f"{under['seen']}: {under['cause']}. {under['moved']}"[:70] in shown.lines[-2]


def quarters(shown: Painted, answer: Json) -> None:
    """When each implant was first a signal, and whether it is one now."""
    once = [row for row in answer["rows"] if row["first_seen"]]
    assert f"{len(once)} of {len(answer['rows'])} implants were a signal" in shown.text
    assert len(shown.rows) > 3
    for cells in shown.rows:
        row = one(once, code=cells["implant"])
        assert cells["first seen"] == row["first_seen"]
        assert reads(cells["years"], row["years_to_first_seen"], 1), cells
        assert cells["now"] == row["now"]


FIGURES = {"joints": "joints", "revised": "revisions", "implant-years": "implant_years"}
CAUSES = ("definition changes", "corrections", "links undone", "new links", "late events", "new events")


def moved(shown: Painted, answer: Json) -> None:
    """Every figure before and after, and the causes of the one under the cursor, which add up."""
    assert len(shown.rows) > 5
    for cells in shown.rows:
        risk_at = re.fullmatch(r"net risk % at (\d+) years?", cells["figure"])
        figure, scale, decimals = ("risk", 100, 2) if risk_at else (FIGURES[cells["figure"]], 1, 0)
        years = float(risk_at[1]) if risk_at else None
        row = one(answer["rows"], group=cells["group"], figure=figure, years=years)
        assert reads(cells["before"], scale * row["before"], decimals), cells
        assert reads(cells["after"], scale * row["after"], decimals), cells
        assert reads(cells["moved"].replace("+", ""), scale * (row["after"] - row["before"]), decimals), cells
    first = answer["rows"][0]
    assert first["before"] + sum(first[cause.replace(" ", "_")] for cause in CAUSES) == first["after"]
    for cause in CAUSES:
        (line,) = [line for line in shown.lines if line.strip().startswith(cause)]
        assert reads(line.split()[len(cause.split())].replace("+", ""), first[cause.replace(" ", "_")]), line


def own_reasons(code: str, years: float) -> Reader:
    """The page of one implant: its counts, and its reasons beside those of all others."""

    def compare(shown: Painted, answer: Json) -> None:
        (row,) = answer["rows"]
        assert f"{row['joints']:,} joints, {row['hospitals']} hospitals, {row['surgeons']} surgeons" in shown.text
        assert f"crude ratio {row['rate_ratio']:.2f}" in shown.text
        (all_of_it,) = [r for r in answer["explained_windows"] if r["group"] == "all"]
        low, high = all_of_it["ratio_lower"], all_of_it["ratio_upper"]
        assert f"ratio {all_of_it['hazard_ratio']:.2f} ({low:.2f}–{high:.2f})" in shown.text
        for cells in shown.rows:
            for title, limits, group in ((f"{code} %", LIMITS, code), ("others %", f"{LIMITS} 2", "all others")):
                if limits not in cells:
                    continue  # to the right of what is in view
                of = one(answer["reasons"], group=group, reason=cells["reason"], years=years)
                incidence, lower, upper = percents(of, "incidence", "lower", "upper")
                assert reads(cells[title], incidence, 2), cells
                assert reads_limits(cells[limits], lower, upper, 2), cells

    return compare


def own_windows(code: str) -> Reader:
    """Rates by years since implantation, beside those of all others."""

    def compare(shown: Painted, answer: Json) -> None:
        assert len(shown.rows) == len(answer["windows"]) / 2
        for cells in shown.rows:
            for group, title, limits in ((code, "per 100", LIMITS), ("all others", "others", f"{LIMITS} 2")):
                (row,) = [
                    row
                    for row in answer["windows"]
                    if row["group"].replace(" years", "") == f"{group}, {cells['years since']}"
                ]
                assert reads(cells[title], row["per_100_implant_years"], 2), cells
                assert reads_limits(cells[limits], row["lower"], row["upper"], 2), cells
                assert title == "others" or reads(cells["revised"], row["revisions"]), cells

    return compare


def excess(shown: Painted, answer: Json) -> None:
    """Revised, expected and excess by reason, which add up to all reasons."""
    assert len(shown.rows) == len(answer["explained_excess"])
    for cells in shown.rows:
        row = one(answer["explained_excess"], reason=cells["reason"])
        assert reads(cells["revised"], row["revisions"]), cells
        assert reads(cells["expected"], row["expected"], 1), cells
        assert reads(cells["excess"], row["excess"], 1), cells
        assert reads_limits(cells[LIMITS], row["lower"], row["upper"], 1), cells
    *parts, whole = [float(cells["excess"]) for cells in shown.rows]
    assert abs(sum(parts) - whole) < 0.05 * len(shown.rows)  # each is rounded


def first_revisions(shown: Painted, answer: Json) -> None:
    """What was done, used and taken out, of how many, beside the share among all others."""
    assert len(shown.rows) > 5
    places = iter(answer["explained_first_revisions"])
    for cells, row in zip(shown.rows, places, strict=False):
        share, lower, upper, others = percents(row, "share", "lower", "upper", "others_share")
        assert reads(cells["revised"], row["revisions"]), cells
        assert reads(cells["of"], row["of"]), cells
        assert share is None or cells["share % (95 %)"] == f"{share:.0f} ({lower:.0f} to {upper:.0f})", cells
        assert reads(cells["others %"], others), cells


def subgroups(shown: Painted, answer: Json) -> None:
    """Windows and subgroups, each beside all others in it."""
    of = {f"years {row['group']}": row for row in answer["explained_windows"]}
    of |= {f"{row['field']} {row['group']}": row for row in answer["explained_subgroups"]}
    assert len(shown.rows) > 8
    for cells in shown.rows:
        row = of[cells["group"]]
        assert reads(cells["joints"], row["joints"]), cells
        assert reads(cells["revised"], row["revisions"]), cells
        ratio, lower, upper = row["hazard_ratio"], row["ratio_lower"], row["ratio_upper"]
        assert ratio is None or cells["ratio (95 %)"] == f"{ratio:.2f} ({lower:.2f} to {upper:.2f})", cells
        assert ratio is not None or not cells["ratio (95 %)"][0].isdigit(), cells
    assert any(row["hazard_ratio"] for row in of.values())


def without_each(unit: str) -> Reader:
    """The ratio without each hospital or surgeon, and the sentence on whose leaving lowers it most."""

    def compare(shown: Painted, answer: Json) -> None:
        for cells in shown.rows:
            row = one(answer["rows"], user=cells[unit])
            assert row["unit"] == unit
            assert reads(cells["joints"], row["joints"]), cells
            assert reads(cells["revised"], row["revisions"]), cells
            assert reads(cells["expected"], row["expected"], 1), cells
            ratio, lower, upper = row["ratio_without"], row["lower"], row["upper"]
            assert ratio is None or cells["without (95 %)"] == f"{ratio:.2f} ({lower:.2f} to {upper:.2f})", cells
            assert reads(cells["fall %"], *percents(row, "fall")), cells
        largest = max(answer["rows"], key=lambda row: row["fall"] or 0)
        assert f"Without {unit} {largest['user']} the ratio is {largest['ratio_without']:.2f} " in shown.text

    return compare
