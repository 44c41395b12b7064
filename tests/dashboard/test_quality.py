"""The place on data quality, by keys alone: its figures are those of the desk, and every way down leads back."""

from pathlib import Path

import duckdb
import pytest

from regdash import cohort
from regdash.reports.desk import Desk
from regdash.store.cuts import cut_path
from tests.cuts import NAME, joint, make_cut
from tests.dashboard.driving import Driver, driven
from tests.dashboard.fake_records import CAUSES
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
        assert "SENT" in on.lines[3]
        assert cells(on)[0][:6] == ["H001", "5,000", "4,900", "60", "20", "20"]
        await on.press("shift+tab", "shift+tab")
        assert "RULES" in on.lines[3]
        await on.press("shift+tab")
        assert "UNITS" in on.lines[3]


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
        assert "this row" in on.text  # what is told of the row under the cursor, whole
        await on.press("end")
        assert "regdash held --hospital H001 --rule date-unreadable" in on.text


async def test_the_command_for_rows_that_count_reads_the_table_of_notes():
    async with driven() as on:
        await on.press("7", "end", "x", "end")
        said = " ".join(on.text.split())  # it is longer than a line
        assert "regdash sql \"select * from noted_rows where rule = 'lot-missing'\" --csv" in said


async def test_the_command_on_links_keeps_apart_what_it_cannot_filter_by():
    async with driven("hospital=H001,H002 implanted=2023..") as on:
        await on.press("7", *["tab"] * 4, "x", "end")
        assert "regdash links --by joint,hospital,year" in on.text
        await on.press("escape", "g", "x", "end")
        assert "regdash links --by joint,year,hospital" in on.text
        assert "--hospital" not in on.text


async def test_a_list_that_is_refused_says_why_and_keeps_none_of_the_others():
    from regdash.errors import PolicyError

    async with driven() as on:
        on.desk.received = _refusing(PolicyError("This is withheld here."))
        await on.press("7")
        assert "date-unreadable" in on.text
        await on.press("tab", "tab")
        assert "This is withheld here." in on.lines[-2]
        assert "This is withheld here." in on.lines[4] + on.lines[5]


async def test_feeds_say_up_to_when_they_are_complete_and_how_far_hospitals_are_followed():
    async with driven() as on:
        await on.press("7", "tab", "tab", "tab")
        assert "4 feeds · 1 behind the day of the data cut" in on.lines[2]
        assert cells(on)[1][:5] == ["H002", "operations", "2024-11-30", "31", "2024-11-30"]
        assert cells(on)[3][:5] == ["office", "deaths", "2024-12-31", "0", "–"]
        await on.press("down", "enter")
        assert [row[0] for row in cells(on)] == ["H002", "office"]
        assert on.asked("complete_through")[-1] == "H002"


async def test_the_linked_share_is_the_reports_by_hospital_by_year_and_by_both():
    async with driven("joint=knee") as on:
        await on.press("7", "tab", "tab", "tab", "tab")
        assert [column.title for column in on.grid.columns[:4]] == ["hospital", "revisions", "linked", "linked %"]
        assert [column.title for column in on.grid.columns[4:]] == [*CAUSES, "by decision"]
        report = on.desk.linked(cohort.parse("joint=knee"), ("hospital",))
        for shown, row in zip(cells(on), report.rows, strict=True):
            causes = [str(row.unlinked[cause]) for cause in CAUSES]
            share = f"{100 * row.share:.1f}"
            assert shown == [row.group, str(row.revisions), str(row.linked), share, *causes, str(row.by_decision)]
        assert "by hospital" in on.lines[1]
        await on.press("g")
        assert on.asked("linked")[-1] == ("joint=knee", ("year",))
        assert [row[0] for row in cells(on)] == ["2022", "2023", "2024"]
        await on.press("g")
        assert [row[:2] for row in cells(on)][1] == ["H001", "2023"]


async def test_enter_on_a_hospital_leads_to_its_years_and_back():
    async with driven() as on:
        await on.press("7", *["tab"] * 6, "down", "down")
        where = on.at_cursor()
        assert where.split()[:3] == ["▸H002", "primary", "971"]
        await on.press("enter")
        assert on.asked("completeness")[-1] == ("hospital=H002", ("year",))
        assert "› H002" in on.lines[0]
        await on.press("escape")
        assert on.at_cursor() == where


async def test_a_completeness_over_all_is_said_to_be_a_fault():
    async with driven() as on:
        await on.press("7", *["tab"] * 6, "down")
        assert on.at_cursor().split()[-3:] == ["over", "0", "0"]
        assert "over 100 %: sent twice" in on.lines[-2]


async def test_delays_that_are_withheld_are_a_word_and_the_line_under_them_says_why():
    async with driven() as on:
        await on.press("7", *["tab"] * 7)
        assert cells(on)[0] == ["H001", "900", "31", "88", "48.0", "80.0", "91.0", "12"]
        await on.press("end")
        assert cells(on)[2][4] == "withheld"
        assert "counts of 1 to 9 are withheld" in on.lines[-2]


async def test_missing_fields_are_a_grid_of_fields_and_hospitals_with_the_counts_of_each_cell():
    async with driven() as on:
        await on.press("7", "shift+tab", "shift+tab")
        assert [column.title for column in on.grid.columns] == ["field", "all", *SENDERS]
        assert cells(on)[1] == ["bmi", "2.5", "2.5", "2.8", "3.0"]
        assert cells(on)[2][3] == "–"
        await on.press("down", "right", "right", "right")
        assert "bmi of operations, H002: missing in 11 of 400 records" in on.lines[-2]
        await on.press("down")
        assert "lot of components, H002: applies to no record" in on.lines[-2]
        await on.press("enter")  # a field leads nowhere
        assert on.lines[0].startswith(" 1 register")


async def test_unusual_figures_of_units_are_questions_and_lead_to_the_hospital():
    async with driven() as on:
        await on.press("7", "shift+tab")
        assert "3 unusual figures of 3 units" in on.lines[2]
        assert cells(on)[0] == ["H001", "field-often-empty", "2024", "bmi", "0.31", "0.08", "warn"]
        assert "A field is empty more than usual. Is there a reason?" in on.lines[-2]
        await on.press("down")
        assert cells(on)[1][3:6] == ["–", "12.00", "–"]
        await on.press("down", "enter")  # a surgeon is no hospital
        assert on.at_cursor().startswith("▸S0123")
        await on.press("home", "enter")
        assert "› H001" in on.lines[0]


@pytest.mark.slow  # each list anew
async def test_every_list_names_the_command_that_gives_the_same():
    said = ["held --rule date-unreadable", "held --hospital H001", "submission_files"]
    said += ["quality feeds", "links --by joint,hospital", "links --review"]
    said += ["quality completeness joint=knee --by hospital"]
    said += ["quality delays joint=knee --by hospital", "quality triangle joint=knee --period quarter"]
    said += ["quality missing joint=knee --by hospital", "rules --units"]
    async with driven("joint=knee") as on:
        await on.press("7")
        for command in said:
            await on.press("x", "end")
            for word in command.split():
                assert word in on.text, command
            await on.press("escape", "tab")


def _refusing(refusal):
    def refuse(cohort):
        raise refusal

    return refuse


async def test_all_lists_stand_side_by_side_where_there_is_room():
    async with driven(size=(200, 50)) as on:
        await on.press("7")
        for title in ("RULES: what rules found", "hospitals: rows that rules found", "sent: rows received"):
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
