"""Rates by time since implantation and by calendar, as scripts and people read them."""

from pathlib import Path

import pytest

from tests.cli.asking import one_line, regdash, words_in

FIELDS = words_in(
    "group from_years to_years from_date to_date joints implant_years revisions per_100_implant_years lower upper "
    "withheld"
)


def test_rates_come_in_windows_of_both_clocks(store: Path) -> None:
    asked = ["rates", "--by", "class", "--windows", "1,5", "--calendar", "2015"]
    rows = regdash(*asked, "--json", store=store).json["rows"]
    assert len(rows) == 2 * 3 * 2
    assert (rows[0]["from_years"], rows[0]["to_years"], rows[0]["to_date"]) == (0, 1, "2014-12-31")
    assert list(regdash(*asked, "--csv", store=store).csv[0]) == FIELDS
    page = regdash(*asked, store=store).stdout
    assert "to 2014-12-31" in page
    assert "5 years and" in page
    assert max(map(len, page.splitlines())) <= 79


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (["--calendar", "15"], 2, "15 does not say years of the calendar"),
        (["--calendar", "1900"], 1, "Cut the calendar at years that begin between"),
        (["--windows", "5,1"], 1, "do not follow each other"),
    ],
)
def test_windows_that_cannot_be_are_refused(words: list[str], code: int, said: str, store: Path) -> None:
    refused = regdash("rates", *words, store=store)
    assert refused.code == code
    assert said in (one_line(refused) if code == 1 else refused.stderr)
