"""The command on mortality: days, years, a second cohort, three forms, and what it refuses."""

import csv
import io
from pathlib import Path

from tests.cli.asking import regdash


def test_a_page_gives_mortality_by_days_with_its_denominators(store: Path) -> None:
    said = regdash("mortality", "--by", "class", store=store)
    assert (said.code, said.stderr) == (0, "")
    assert said.stdout.startswith("Mortality after the primary operation, by class\n")
    for words in (
        "operations",
        "known through 2024-12-31",
        "30 days",
        "90 days",
        "1 year",
        "died, % (95 % limits)",
    ):
        assert words in said.stdout
    assert all(len(line) <= 79 for line in said.stdout.splitlines())


def test_days_and_years_are_put_together_and_json_and_csv_say_the_same(store: Path) -> None:
    asked = ("mortality", "class=total", "--days", "90,0", "--years", "1,10")
    rows = regdash(*asked, "--json", store=store).json["rows"]
    assert [row["days"] for row in rows] == [0, 90, 365, 3652]
    table = list(csv.DictReader(io.StringIO(regdash(*asked, "--csv", store=store).stdout)))
    assert [float(row["estimate"] or 0) for row in table] == [row["estimate"] or 0 for row in rows]
    alone = regdash("mortality", "--years", "5", "--json", store=store).json["rows"]
    assert {row["days"] for row in alone} == {1826}


def test_a_second_cohort_is_the_second_group(store: Path) -> None:
    answer = regdash("mortality", "class=total", "--beside", "class=partial", "--json", store=store).json
    assert (answer["cohort"], answer["beside"]) == ("class=total", "class=partial")
    assert [row["group"] for row in answer["rows"][::3]] == ["class=total", "class=partial"]


def test_each_refusal_is_one_line_with_the_value(store: Path) -> None:
    for words, code, says in (
        (("--days", "30.5"), 2, "30.5 does not say days. Write whole numbers, as in 30,90,365."),
        (("--days", "-1"), 2, "-1 does not say days."),
        (("--years", "0"), 2, "0 does not say years."),
        (("--days", "99999"), 1, "99,999 is not a number of days from 0 to 36,525."),
        (("--endpoint", "aseptic"), 2, "--endpoint"),
        (("ended=revised",), 1, "ended is known only after implantation."),
    ):
        said = regdash("mortality", *words, store=store)
        assert (said.code, said.stdout) == (code, "")
        assert says in said.stderr
        assert len(said.stderr.splitlines()) == 1
