"""Writing out: the command, the list, the figures and the chart, to the clipboard or to a new file."""

import csv
import io
from pathlib import Path

from tests.dashboard.driving import Driver, driven


async def write(on: Driver, text: str) -> str:
    """Choose what is written out, and give what was said of it."""
    await on.press("w")
    await on.type(text)
    await on.press("enter")
    return on.lines[-2].strip()


def rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text)))


async def test_one_key_shows_the_command_and_enter_copies_it():
    async with driven("sex=female") as on:
        await on.press("v", "w")
        assert "regdash risk sex=female --by class --years 15 --view patient" in on.lines[3]
        await on.press("enter")
        assert on.app.clipboard == "regdash risk sex=female --by class --years 15 --view patient"


async def test_one_key_copies_the_command_from_its_explanation():
    async with driven("sex=female") as on:
        await on.press("x")
        assert "w copies the command" in on.text
        await on.press("w")
        assert on.app.clipboard == "regdash risk sex=female --by class --years 15"
        assert on.app.focused.id == "groups"


async def test_figures_are_those_of_the_screen_in_the_form_of_the_command_line():
    async with driven() as on:
        await on.press("left_square_bracket", "left_square_bracket")
        said = await write(on, "csv")
        assert "Sent to the clipboard of the terminal" in said
        found = rows(on.app.clipboard)
        assert [(row["group"], row["years"]) for row in found] == [("total", "13.0"), ("partial", "13.0")]
        assert float(found[0]["estimate"]) == 0.0037 * 13


async def test_rows_that_were_found_are_written_and_no_others():
    async with driven() as on:
        await on.press("5", "f")
        await on.type("ratio>1.6")
        await on.press("enter")
        await write(on, "csv")
        assert [row["code"] for row in rows(on.app.clipboard)] == ["KF-017", "KT-017"]


async def test_a_list_is_copied_with_all_its_columns_and_what_it_rests_on():
    async with driven("class=total") as on:
        await on.press("6")
        await write(on, "table")
        text = on.app.clipboard
        assert "filter class=total" in text
        assert "\ndata cut 2024-12-31.1\n" in text
        assert "regdash units hospitals class=total --years 15" in text
        header = next(line for line in text.splitlines() if line.startswith("hospital "))
        assert header.split()[-2:] == ["first", "last"]
        assert "- Nothing here is advice for one patient." in text


async def test_a_chart_is_copied_as_it_is_drawn():
    async with driven() as on:
        await write(on, "chart")
        assert "joints at risk" in on.app.clipboard
        assert on.app.clipboard.startswith("net revision risk; endpoint: any revision\n")


async def test_a_file_is_written_once_and_never_over_another(tmp_path: Path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    async with driven() as on:
        assert "Written: out.csv" in await write(on, "csv out.csv")
        assert [row["group"] for row in rows(Path("out.csv").read_text())] == ["total", "partial"]
        await on.press("w")
        await on.type("csv out.csv")
        await on.press("enter")
        assert "out.csv is there already, and nothing is written over." in on.text
        await on.press("escape")
        await on.press("w")
        await on.type("pdf")
        await on.press("enter")
        assert "pdf cannot be written out here" in on.text


async def test_a_name_for_the_file_is_offered(tmp_path: Path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    async with driven() as on:
        await on.press("3", "w", *["down"] * 5, "enter")
        assert "Written: reasons-2024-12-31.1.txt" in on.lines[-2]
        assert "infection" in Path("reasons-2024-12-31.1.txt").read_text()


async def test_rows_of_joints_that_leave_are_noted_in_the_audit_trail(tmp_path: Path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    async with driven() as on:
        await on.press("enter", "enter")
        assert "bytes are too many for a terminal's clipboard" in await write(on, "csv")
        assert on.asked("export") == []
        await write(on, "csv joints.csv")
        assert len(rows(Path("joints.csv").read_text())) == 1234  # not only those that came into view
        noted = on.asked("export")
        assert noted[0][:2] == ("joints", 1234)
        assert noted[0][3]["filter"].endswith("ended=revised reason=infection")
        on.desk.noted = "This export is not in the audit trail. It cannot be written."
        await on.press("escape", "escape", "9", "slash")
        await on.type("select 1")
        await on.press("enter")
        assert "not in the audit trail" in await write(on, "csv")
        assert on.asked("export")[-1] == ("sql", 3, "csv copied", {"statement": "select 1"})
        assert [row["joints"] for row in rows(on.app.clipboard)] == ["88120", "8292", "12"]


async def test_what_has_no_figures_of_its_own_is_written_as_its_list():
    async with driven() as on:
        await on.press("8")
        await write(on, "csv")
        found = rows(on.app.clipboard)
        assert [row["data cut"] for row in found] == ["2024-12-31.1", "2023-12-31.1"]
        assert found[0]["joints"] == "96412"


async def test_links_to_review_and_corrections_leave_with_a_note_and_counts_without():
    """Rows of single records are noted, as the command line notes them; those that count records are not."""
    async with driven() as on:
        await on.press("7")
        await write(on, "table")
        assert on.asked("export") == []
        await on.press(*["tab"] * 5)
        assert "REVIEW" in on.text
        await write(on, "table")
        of, rows, form, _ = on.asked("export")[-1]
        assert (of, form) == ("link candidates", "table copied")
        assert rows == len(on.grid.listed) > 0
        await on.press("enter")
        await write(on, "table")
        assert on.asked("export")[-1][0] == "link candidates"
        await on.press("8", "l")
        await write(on, "table")
        assert on.asked("export")[-1][0] == "corrections"
