"""The place on data quality, by keys alone: its figures are those of the desk, and every way down leads back."""

from pathlib import Path

import duckdb
import pytest

from regdash.reports.desk import Desk
from regdash.store.cuts import cut_path
from tests.cuts import NAME, joint, make_cut
from tests.dashboard.driving import Driver, driven
from tests.dashboard.fake_rows import RULES, SENDERS, rows_of


def cells(on: Driver) -> list[list[str]]:
    """The rows of the list on the screen, cell by cell."""
    return [[str(cell) for cell in row.cells] for row in on.grid.listed]


async def test_rules_are_listed_with_their_rows_and_what_hospitals_are_told():
    async with driven() as on:
        await on.press("7")
        found = {row[0]: row[1:] for row in cells(on)}
        for k, (file, rule, severity, _) in enumerate(RULES):
            own = [rows_of(k, n) for n in range(3) if rows_of(k, n)]
            assert found[rule][:4] == [severity, f"{sum(own):,}", str(len(own)), file]
        assert RULES[0][3] in on.lines[-2]
        await on.press("down")
        assert RULES[1][3] in on.lines[-2]


async def test_enter_goes_to_the_rows_of_a_rule_and_escape_back_to_the_same_rule():
    async with driven() as on:
        await on.press("7", "down", "down")
        where = on.at_cursor()
        await on.press("enter")
        assert on.lines[0].startswith(" 7 QUALITY › side-missing")
        assert on.asked("found_rows")[-1] == ("", "side-missing", "operations", 0, "submission")
        assert "450 rows" in on.lines[2]
        assert "The side is missing. Send the operation again with it. Record H001-0000001." in on.text
        await on.press("down")
        assert "Record H001-0000002." in on.text
        await on.press("escape")
        assert on.at_cursor() == where


async def test_a_long_list_of_rows_is_fetched_by_pages_and_ordered_by_a_column():
    async with driven() as on:
        await on.press("7", "enter", "end")
        assert on.at_cursor().startswith("▸H001-0450")
        assert [offset for *_, offset, _ in on.asked("found_rows")] == [0, 400]
        await on.press("home", "right", "o")
        assert on.asked("found_rows")[-1][-1] == "-row"
        assert on.at_cursor().startswith("▸H001-0450")


async def test_tab_goes_through_the_lists_and_what_came_adds_up():
    async with driven() as on:
        await on.press("7", "tab")
        assert "HOSPITALS" in on.lines[3]
        for n, row in enumerate(cells(on)):
            assert row[:3] == [SENDERS[n], str(rows_of(0, n)), str(rows_of(1, n) + rows_of(2, n))]
        await on.press("tab")
        assert "RECEIVED" in on.lines[3]
        assert cells(on)[0][:6] == ["H001", "5,000", "4,900", "60", "20", "20"]
        await on.press("shift+tab", "shift+tab")
        assert "RULES" in on.lines[3]


async def test_enter_on_a_hospital_shows_every_list_of_it_alone():
    async with driven() as on:
        await on.press("7", "tab", "down")
        where = on.at_cursor()
        await on.press("enter")
        assert "› H002" in on.lines[0]
        assert [row[0] for row in cells(on)] == ["H002"]
        await on.press("shift+tab")
        assert {row[0]: row[2] for row in cells(on)}["side-missing"] == str(rows_of(2, 1))
        await on.press("down", "enter")
        assert on.asked("found_rows")[-1][:2] == ("hospital=H002", "catalogue-number-unknown")
        await on.press("escape", "escape")
        assert on.at_cursor() == where


async def test_words_that_no_row_can_follow_are_said_and_not_asked():
    async with driven("class=partial hospital=H001") as on:
        await on.press("7")
        assert "class=partial not followed here" in on.lines[1]
        assert {str(cohort) for cohort in on.asked("findings")} == {"hospital=H001"}
        await on.press("x")
        assert "class=partial: not known of every row" in on.text
        await on.press("end")
        assert "regdash held --hospital H001 --rule date-unreadable" in on.text


async def test_the_command_for_rows_that_count_reads_the_table_of_notes():
    async with driven() as on:
        await on.press("7", "end", "x", "end")
        said = " ".join(on.text.split())  # it is longer than a line
        assert "regdash sql \"select * from noted_rows where rule = 'lot-missing'\" --csv" in said


async def test_a_list_that_is_refused_says_why_and_keeps_none_of_the_others():
    from regdash.errors import PolicyError

    async with driven() as on:
        on.desk.received = _refusing(PolicyError("This is withheld here."))
        await on.press("7")
        assert "date-unreadable" in on.text
        await on.press("tab", "tab")
        assert "This is withheld here." in on.lines[-2]
        assert "This is withheld here." in on.lines[4] + on.lines[5]


def _refusing(refusal):
    def refuse(cohort):
        raise refusal

    return refuse


async def test_all_lists_stand_side_by_side_where_there_is_room():
    async with driven(size=(200, 50)) as on:
        await on.press("7")
        for title in ("RULES: what rules found", "hospitals: rows that rules found", "received: rows received"):
            assert title in on.text
        await on.press("tab")
        assert "HOSPITALS: rows that rules found" in on.text
        assert "▸H001" in on.text


@pytest.fixture
def store(tmp_path: Path) -> Path:
    store = make_cut(tmp_path, [joint(), joint(hospital_id="H002")])
    held = [
        ("H001-0001", "H001", "operations", 3, "H001-0000003", "side-missing", 1, "hold", "", "The side is missing."),
        ("H001-0001", "H001", "operations", 4, "H001-0000004", "patient-form", 1, "reject", "P12", "No such number."),
        ("deaths-0001", "office", "deaths", 2, "P000000077", "date-unreadable", 1, "reject", "2019-13-01", "No date."),
    ]
    with duckdb.connect(str(cut_path(store, NAME))) as connection:
        connection.executemany(f"insert into held_rows values ({', '.join('?' * 10)})", held)
    return store


async def test_the_screen_of_a_real_cut_has_the_desks_figures_and_no_patients_number(store: Path):
    desk = Desk(store)
    report = desk.findings(desk_cohort())
    async with driven(desk=_with_asked(desk)) as on:
        await on.press("7")
        assert [(row[0], row[2]) for row in cells(on)] == [(r.rule, f"{r.rows:,}") for r in report.rules]
        seen = on.text
        for n in range(len(report.rules)):
            await on.press("home", *["down"] * n, "enter")
            seen += on.text
            await on.press("escape")
        assert "2019-13-01" in seen
        assert not [number for number in ("P12", "P000000077") if number in seen]


def desk_cohort():
    from regdash.cohort import Cohort

    return Cohort()


def _with_asked(desk: Desk) -> Desk:
    desk.slow = set()  # type: ignore[attr-defined]  # as the driver looks for on its double
    return desk
