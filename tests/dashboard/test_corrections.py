"""The log of corrections, by keys alone: who, when, why, from what to what, and the way to the figures that moved."""

from regdash.dashboard.place import PLACES
from tests.dashboard.driving import driven

CUTS = str(PLACES.index("cuts") + 1)


async def test_the_log_of_a_cut_is_listed_newest_first_and_each_correction_is_whole_under_enter():
    async with driven("joint=knee hospital=H001") as on:
        await on.press(CUTS, "l")
        assert on.asked("corrections")[-1] == ("2024-12-31.1", "hospital=H001")
        assert "joint=knee not followed here" in on.lines[1]
        assert "3 fields of 2 records, 1 counted · most: prophylaxis 1, bmi 1" in on.lines[2]
        rows = [[str(cell) for cell in row.cells[:6]] for row in on.grid.listed]
        assert rows == [
            ["2024-05-06", "H001-0000123", "prophylaxis", "low-molecular-weight-heparin", "aspirin", "yes"],
            ["2024-02-03", "H001-0000123", "bmi", "–", "31.5", "yes"],
            ["2024-02-03", "P000000007", "death_date", "–", "31.5", "no"],
        ]
        assert "H001, H001-0042: typed wrongly" in on.lines[-2]
        await on.press("enter")
        assert "low-molecular-weight-heparin" in on.text
        await on.press("escape", "down")
        assert "the envelope says no reason" in on.lines[-2]
        await on.press("x", "end")
        assert "regdash corrections --cut 2024-12-31.1 --hospital H001" in " ".join(on.text.split())


async def test_from_the_log_the_figures_that_moved_are_one_key_away_where_there_is_an_earlier_cut():
    async with driven("joint=knee") as on:
        await on.press(CUTS, "l", "d")
        assert on.asked("changes")[-1][0] == "2023-12-31.1"
        await on.press("escape", "escape", "down", "l")
        assert on.asked("corrections")[-1][0] == "2023-12-31.1"
        await on.press("d")
        assert "once this cut is open" in on.lines[-2]
