"""What was done, as scripts and people read it."""

from pathlib import Path

import pytest

from tests.cli.asking import one_line, regdash, words_in

HEAD = words_in("measure cohort by cut primaries revisions unlinked_revisions held_revisions policy method cautions")
ACTIVITY = words_in(
    "group period primaries primaries_change revisions revisions_change first later unlinked second_stages burden "
    "lower upper change_withheld withheld"
)
REASONS = words_in(
    "group reason revisions of share lower upper difference first implant_years per_100_implant_years rate_lower "
    "rate_upper rate_withheld withheld"
)
WORK = words_in("group kind what revisions of share lower upper withheld")
LISTED = words_in(
    "operation_id joint_id done_date class sequence years_since reason action stem augment graft hospital_id surgeon_id"
)
TWO_YEARS = ("revisions", "revised=2019,2024", "--by", "year")


@pytest.mark.parametrize(
    ("asked", "columns"),
    [
        (("activity", "--by", "class", "--done", "2020..2024"), ACTIVITY),
        (("activity", "--per", "quarter"), ACTIVITY),
        (TWO_YEARS, REASONS),
        ((*TWO_YEARS, "--part", "work"), WORK),
        (("revisions", "--by", "since,class", "--first", "--detail"), REASONS),
        (("revisions", "reason=infection", "--list"), LISTED),
    ],
)
def test_each_form_has_the_same_rows(asked: tuple[str, ...], columns: list[str], store: Path) -> None:
    answer = regdash(*asked, "--json", store=store).json
    assert [key for key in answer if key in HEAD] == HEAD
    lines = regdash(*asked, "--csv", store=store).csv
    assert list(lines[0]) == columns
    assert len(lines) == len(answer["rows"])
    for line, row in zip(lines, answer["rows"], strict=True):
        assert line["group" if "group" in line else "done_date"] == row["group" if "group" in row else "done_date"]
        assert all(line[name] == ("" if row.get(name) is None else str(row[name])) for name in columns)
    page = regdash(*asked, store=store).stdout
    assert max(map(len, page.splitlines())) <= 79
    assert page.splitlines()[0].startswith(("Operations done", "Revisions"))


def test_json_has_what_was_done_beside_the_reasons(store: Path) -> None:
    whole = regdash(*TWO_YEARS, "--json", store=store).json
    part = regdash(*TWO_YEARS, "--part", "work", "--json", store=store).json
    assert whole["work"] == part["rows"]
    assert {row["kind"] for row in whole["work"]} == {"done", "used"}


def test_a_page_says_changes_with_their_sign_and_rates_in_a_table_of_their_own(store: Path) -> None:
    activity = regdash("activity", "--done", "2015..2020", store=store).stdout
    rows = regdash("activity", "--done", "2015..2020", "--json", store=store).json["rows"]
    assert {row["primaries_change"] < 0 for row in rows} == {True, False}
    for row in rows:
        sign = "+" if row["primaries_change"] > 0 else ""
        assert f"{sign}{100 * row['primaries_change']:z.1f}" in activity
    pages = regdash(*TWO_YEARS, store=store).stdout
    assert "per 100 years (95 % limits)" in pages
    assert "percentage points" in pages
    by_place = regdash("revisions", "--by", "hospital", store=store).stdout
    assert "per 100 years (95 %" not in by_place
    assert "No rate is given" in by_place.replace("\n        ", " ")


def test_a_list_leaves_a_line_in_the_audit_trail(store: Path) -> None:
    regdash("revisions", "reason=infection", "--list", "--csv", store=store)
    said = regdash("audit", "--json", store=store).json
    assert any("revisions" in str(row) and "reason=infection" in str(row) for row in said["rows"])


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (["activity", "revised=2024"], 1, "ask `regdash revisions`"),
        (["activity", "--per", "week"], 2, "'week' is not one of"),
        (["activity", "--done", "2024-02"], 1, "holds no year of these operations whole"),
        (["revisions", "--by", "shoe"], 1, "Revisions are not grouped by shoe"),
        (["revisions", "--list", "--by", "class"], 2, "goes without --by"),
        (["revisions", "--limit", "3"], 2, "go with --list"),
        (["revisions", "--list", "--order", "colour"], 1, "Revisions have no column colour"),
        (["revisions", "--list", "--withhold-counts-under", "5"], 1, "a list of revisions shows joints one by one"),
    ],
)
def test_what_cannot_be_asked_is_refused(words: list[str], code: int, said: str, store: Path) -> None:
    refused = regdash(*words, store=store)
    assert refused.code == code
    assert said in (one_line(refused) if code == 1 else refused.stderr)
