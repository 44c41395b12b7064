"""Mortality in the dashboard: one key from the place on risk, days, a horizon of its own, and what it writes out."""

from tests.dashboard.driving import driven
from tests.dashboard.test_writing_out import rows, write


async def test_m_shows_the_mortality_of_the_same_groups_and_leads_back():
    async with driven("joint=hip") as on:
        await on.press("m")
        assert "› mortality" in on.lines[0]
        assert on.asked("mortality days") == [(30, 90, 180, 270, 365)]
        assert on.lines[1].strip().endswith("by class · to 1 year")
        assert "90,412 operations · 20,117 followed by a death · deaths to 2024-12-20" in on.lines[2]
        assert "mortality after the primary operation, %" in on.lines[3]
        assert "operations at risk" in on.text
        assert "by 1 year" in on.text
        assert "days" in on.text
        await on.press("m")
        assert "mortality" not in on.lines[0]
        assert "net revision risk" in on.text


async def test_brackets_read_the_days_that_are_asked_for():
    async with driven() as on:
        await on.press("m", "left_square_bracket", "left_square_bracket", "left_square_bracket")
        assert "by 90 days" in on.text
        await on.press("left_square_bracket", "left_square_bracket")
        assert "by 30 days" in on.text
        assert "0.04" in on.at_cursor()


async def test_the_horizon_is_its_own_and_that_of_risks_stays():
    async with driven() as on:
        await on.press("m", "y")
        await on.type("10")
        await on.press("enter")
        assert on.asked("mortality days")[-1][-2:] == (3287, 3652)
        assert on.lines[1].strip().endswith("to 10 years")
        assert "by 10 years" in on.text
        await on.press("escape")
        assert on.lines[1].strip().endswith("15 years · implant view")


async def test_groups_and_filter_are_chosen_there_too_and_hold_a_level_up():
    async with driven() as on:
        await on.press("m", "g")
        await on.type("age")
        await on.press("enter")
        assert "fewer than 40" in on.text
        await on.press("escape")
        assert "by age" in on.lines[1]


async def test_two_cohorts_stand_side_by_side():
    async with driven("class=total") as on:
        await on.press("b")
        await on.pilot.press("backspace", *["backspace"] * 20)
        await on.type("class=partial")
        await on.press("enter", "m")
        assert on.app.place.command() == "regdash mortality class=total --beside class=partial --days 30,90,365"


async def test_it_writes_out_what_the_command_line_prints():
    async with driven("class=total") as on:
        await on.press("m", "left_square_bracket", "left_square_bracket")
        assert on.app.place.command() == "regdash mortality class=total --by class --days 30,90,180,365"
        await write(on, "csv")
        found = rows(on.app.clipboard)
        assert [row["days"] for row in found] == ["30", "90", "180", "365"]
        assert list(found[0]) == ["group", "days", "at_risk", "deaths", "estimate", "lower", "upper", "withheld"]


async def test_x_says_how_it_was_made_and_names_the_command():
    async with driven() as on:
        await on.press("m", "x")
        assert "mortality after the primary operation" in on.text
        assert "known through 2024-12-20, where follow-up ends" in on.text
        assert "20,117 followed by a death" in on.text
        await on.press("w")
        assert on.app.clipboard == "regdash mortality --by class --days 30,90,365"


async def test_a_wide_screen_has_the_usual_days_beside_the_one_that_is_read():
    async with driven(size=(120, 30)) as on:
        await on.press("m")
        header = next(line for line in on.lines if "operations  " in line and "died %" in line)
        assert header.split("  ")[0].strip() == "by 1 year"
        assert "30 days %" in header
        assert "90 days %" in header


async def test_there_is_no_view_and_no_endpoint_and_a_unit_has_no_mortality():
    async with driven() as on:
        await on.press("m", "v", "e")
        assert "endpoint: the event" not in on.text
        assert "view" not in on.lines[1]
        await on.press("escape", "6", "enter", "m")
        assert "mortality" not in on.lines[0]
