"""The place of data cuts, by keys alone: facts, manifests, what is held back, and what moved between two cuts."""

from pathlib import Path

import pytest

from regdash import cohort, grouping
from regdash.errors import StoreError
from regdash.reports.changes import PARTS
from regdash.reports.desk import Desk
from tests.cuts import joint, make_cut
from tests.dashboard.driving import Driver, driven


def cells(on: Driver) -> list[list[str]]:
    """The rows of the list that has the focus, cell by cell."""
    return [[str(cell) for cell in row.cells] for row in on.grid.listed]


async def test_each_cut_has_its_facts_in_a_row():
    async with driven() as on:
        await on.press("8")
        rows = {row[0]: row[1:] for row in cells(on)}
        assert list(rows) == ["2024-12-31.1", "2023-12-31.1"]
        for name, row in rows.items():
            own = on.desk.contents(name)
            assert row[3:5] == [f"{100 * own.linked_share:.1f}", str(own.held)]
        assert rows["2024-12-31.1"][5] == "open now"
        assert "linked 114 of 124 revisions, 91.9 %" in " ".join(on.text.split())


async def test_tab_leads_from_the_cuts_to_the_manifest_to_the_rules_and_round():
    async with driven() as on:
        await on.press("8")
        assert "MANIFEST" in on.text
        await on.press("tab")
        assert on.app.focused.id == "manifest-scroll"
        await on.press("tab")
        assert "ROWS HELD BACK, BY RULE" in on.text
        assert cells(on)[1] == ["catalogue-number-unknown", "hold", "240", "2", "components"]
        await on.press("tab", "down")
        assert on.app.focused.id == "cuts"
        assert "230" in on.text  # of the other cut
        await on.press("shift+tab", "shift+tab", "shift+tab", "tab")
        assert "known as of" in on.text


async def test_enter_on_a_rule_opens_its_rows_only_of_the_open_cut():
    async with driven() as on:
        await on.press("8", "tab", "tab", "enter")
        assert on.asked("found_rows")[-1][:3] == ("", "date-unreadable", "operations")
        await on.press("escape")
        assert on.at_cursor().startswith("▸date-unreadable")
        await on.press("tab", "down", "tab", "tab", "enter")
        assert "once this cut is open" in on.lines[-2]
        assert len(on.asked("found_rows")) == 1


async def test_a_cut_that_cannot_be_read_says_why_beside_its_manifest():
    async with driven() as on:
        own = on.desk.contents

        def contents(name):
            if name.startswith("2023"):
                raise StoreError("The data cut 2023-12-31.1 has layout 1.")
            return own(name)

        on.desk.contents = contents
        await on.press("8", "down")
        assert on.at_cursor().split()[4:6] == ["–", "–"]
        assert "The data cut 2023-12-31.1 has layout 1." in on.text


async def test_what_moved_between_two_cuts_is_split_into_parts_that_add_up():
    async with driven("class=total,partial") as on:
        await on.press("8", "down", "d")
        assert on.asked("changes")[-1] == ("2023-12-31.1", "class=total,partial", "class")
        assert "› 2023-12-31.1 to 2024-12-31.1" in on.lines[0]
        assert "before: 2023-12-31.1 · after: 2024-12-31.1" in on.lines[2]
        report = on.desk.changes("2023-12-31.1", cohort.Cohort(), (), (1.0, 5.0, 10.0))
        for n, row in enumerate(report.rows[:3]):
            await on.press("home", *["down"] * n)
            shown = cells(on)[n]
            assert shown[2:5] == [f"{row.before:,}", f"{row.after:,}", f"{row.after - row.before:+,}"]
            assert [int(cell.replace(",", "")) for cell in shown[5:]] == list(row.parts)
            for part, title in zip(row.parts, ("definition changes", "corrections", "links undone", "new links")):
                assert f"{title:<20}{f'{part:+,}' if part else '0':>14}" in on.text
            assert sum(row.parts) == row.after - row.before
        assert len(report.rows[0].parts) == len(PARTS)


async def test_a_risk_moves_in_points_and_one_that_is_withheld_says_why():
    async with driven() as on:
        await on.press("8", "down", "d", "down", "down", "down")
        assert on.at_cursor().split()[1:] == ["net", "risk", "%", "at", "1", "year", "1.00", "1.17", "+0.17"]
        assert f"{'new events':<20}{'+0.11':>14}  {'+' * 24}" in on.text
        await on.press("down", "down")
        assert "fewer than 40 joints at risk" in on.text


async def test_changes_start_from_an_earlier_cut():
    async with driven() as on:
        await on.press("8", "d")
        assert "Choose an earlier cut" in on.lines[-2]
        assert not on.asked("changes")


async def test_changes_are_explained_with_the_command_that_gives_them():
    async with driven("class=total") as on:
        await on.press("8", "x")
        assert "regdash cuts" in on.text
        await on.press("escape", "down", "d", "x", "end")
        said = " ".join(on.text.split())
        assert "regdash changes 2023-12-31.1 2024-12-31.1 class=total --by class" in said
        await on.press("escape", "escape")
        assert on.at_cursor().startswith("▸2023-12-31.1")


async def test_the_manifest_stands_beside_the_rules_where_there_is_room():
    async with driven(size=(200, 50)) as on:
        await on.press("8")
        line = next(line for line in on.lines if "rows held back, by rule" in line)
        assert line.startswith(" manifest")
        assert "catalogue-number-unknown" in on.text


@pytest.fixture
def store(tmp_path: Path) -> Path:
    make_cut(tmp_path, [joint()] * 60, name="2023-12-31.1")
    return make_cut(tmp_path, [joint()] * 90, name="2024-12-31.1")


async def test_real_cuts_show_the_figures_of_the_desk(store: Path):
    desk = Desk(store)
    desk.slow = set()  # type: ignore[attr-defined]  # as the driver looks for on its double
    async with driven(desk=desk) as on:
        await on.press("8")
        assert [row[2] for row in cells(on)] == ["90", "60"]
        assert "knee 90" in on.text
        await on.press("down")
        assert "knee 60" in on.text
        await on.press("d")
        report = desk.changes("2023-12-31.1", cohort.Cohort(), grouping.parse("class"), (1.0, 5.0, 10.0))
        assert cells(on)[0][2:4] == ["60", "90"]
        assert report.rows[0].before == 60
