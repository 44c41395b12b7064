"""Mortality in the dashboard: one key from the place on risk, days, a horizon of its own, and what it writes out."""

import re
from pathlib import Path

import pytest

from regdash.cohort import parse
from regdash.dashboard.app import Dashboard, opener
from regdash.dashboard.asked import Asked
from regdash.errors import ModelError
from tests.cli.asking import regdash
from tests.cuts import make_cut, random_joints
from tests.dashboard.driving import Driver, driven
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


@pytest.mark.parametrize(("steps", "day"), [(0, 365), (3, 90), (4, 30)])
async def test_a_real_desk_paints_what_the_command_line_says(tmp_path: Path, steps: int, day: int):
    """Every number of the table at 80×24 is that of the command's JSON, rounded here by itself."""
    store = make_cut(tmp_path, random_joints(900, seed=3))
    app = Dashboard(opener(store), None, Asked(parse(())))
    async with app.run_test(size=(80, 24)) as pilot:
        on = Driver(app, pilot, desk=None)  # type: ignore[arg-type]
        await on.until(lambda: app.desk is not None)
        await on.settled()
        await on.press("m", *["left_square_bracket"] * steps)
        lines, command = on.lines, app.place.command()
    answer = regdash(*command.removeprefix("regdash ").split(), "--json", store=store).json
    assert f" {answer['operations']:,} operations · {answer['deaths']:,} followed by a death" in lines[2]
    rows = [row for row in answer["rows"] if row["days"] == day]
    assert {row["group"] for row in rows} == {"total", "partial"}
    table = lines[next(n for n, line in enumerate(lines) if "died %" in line) + 1 :]
    for row in rows:
        figures = [100 * row[part] for part in ("estimate", "lower", "upper")]
        wanted = f"{row['at_risk']:,} {row['deaths']:,} " + "{:.2f} {:.2f} to {:.2f}".format(*figures)
        (line,) = [line for line in table if re.search(rf"[ab] {row['group']} ", line)]
        assert " ".join(line.split()).endswith(wanted)


async def test_why_a_place_with_an_explanation_of_its_own_was_not_answered_is_read_in_full():
    why = "Deaths are complete to no day these operations are followed to, so nothing can be said. Ask again later."

    def refused(*about: object, **more: object) -> None:
        raise ModelError(why)

    async with driven("class=total") as on:
        on.desk.mortality = refused
        await on.press("m")
        assert "not answered, x says why" in on.lines[2]
        assert on.lines[-2].strip().endswith("x: all of it")
        await on.press("x")
        assert "Ask again later." in on.text
