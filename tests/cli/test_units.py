"""Hospitals and surgeons at the command line: the same figures as those of the risk, in every form."""

from pathlib import Path

from tests.cli.asking import one_line, regdash


def test_units_are_listed_with_the_risk_that_the_same_filter_gives(store: Path) -> None:
    said = regdash("units", "hospitals", "joint=knee", "--years", "5", "--json", store=store).json
    row = next(row for row in said["rows"] if row["group"] == "H001")
    (risk,) = regdash("risk", "joint=knee", "hospital=H001", "--years", "5", "--json", store=store).json["rows"]
    assert (said["units"], row["years"]) == ("hospitals", 5)
    assert (row["estimate"], row["lower"], row["at_risk"]) == (risk["estimate"], risk["lower"], risk["at_risk"])


def test_a_page_of_units_fits_and_says_that_it_is_no_finding(store: Path) -> None:
    lines = regdash("units", "surgeons", "joint=knee", store=store).stdout.splitlines()
    assert max(map(len, lines)) <= 79
    assert any("This is no finding about a hospital or a person" in line for line in lines)
    header = next(line for line in lines if line.startswith("unit"))
    assert "risk, % (95 % limits)" in header
    assert "last 365 days" in header


def test_one_unit_stands_beside_all_others(store: Path) -> None:
    words = ["units", "hospitals", "joint=knee", "--code", "H001", "--years", "1,5", "--json"]
    rows = regdash(*words, store=store).json["rows"]
    assert [(row["group"], row["years"]) for row in rows] == [
        *(("H001", 1), ("H001", 5)),
        *(("all others", 1), ("all others", 5)),
    ]


def test_wrong_use_is_one_line(store: Path) -> None:
    assert regdash("units", "wards", store=store).code == 2
    assert regdash("units", "hospitals", "--years", "1,5", store=store).code == 2
    assert "There is no code H99" in one_line(regdash("units", "hospitals", "--code", "H99", store=store))
