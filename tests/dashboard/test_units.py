"""The place on hospitals and surgeons."""

from tests.dashboard.driving import driven


async def test_hospitals_stand_in_the_order_of_codes_with_risk_and_volume():
    async with driven("joint=knee") as on:
        await on.press("6")
        assert on.asked("units")[-1] == ("hospitals", "joint=knee", 15.0, "implant", "any-revision")
        assert "HOSPITALS  surgeons" in on.text
        assert on.at_cursor().split()[:4] == ["▸H001", "4,120", "310", "160"]
        assert "4.4 to 6.1" in on.at_cursor()
        few = next(line for line in on.lines if line.strip().startswith("H012"))
        assert "withheld" in few
        await on.press("x")
        assert "H012 at 15 years: fewer than 40 joints at risk" in on.text


async def test_tab_goes_to_surgeons_and_back_to_where_the_cursor_was():
    async with driven() as on:
        await on.press("6", "down", "tab")
        assert "hospitals  SURGEONS" in on.text
        assert on.at_cursor().startswith("▸S0001")
        await on.press("down", "down", "tab")
        assert on.at_cursor().startswith("▸H002")
        await on.press("tab")
        assert on.at_cursor().startswith("▸not recorded")


async def test_enter_opens_a_unit_beside_all_others_then_its_reasons_and_escape_returns():
    async with driven("class=total") as on:
        await on.press("6", "down", "enter")
        assert "6 UNITS › H002" in on.lines[0]
        assert on.asked("unit")[-1] == ("hospitals", "H002", "class=total")
        assert any("all others" in line for line in on.lines[-8:])
        await on.press("x", "end")
        assert "regdash units hospitals class=total --code H002 --years 15" in on.text
        await on.press("escape", "enter")
        assert "6 UNITS › H002  " in on.lines[0]  # once
        await on.press("escape", "down", "enter")
        assert str(on.asked("reasons")[-1]) == "class=total hospital!=H002"
        assert "6 UNITS › H002 › all others" in on.lines[0]
        await on.press("escape", "escape")
        assert on.at_cursor().startswith("▸H002")


async def test_a_unit_is_gone_to_by_its_code():
    async with driven() as on:
        await on.press("6", "j")
        await on.type("12")
        await on.press("enter")
        assert on.at_cursor().startswith("▸H012")
        await on.press("tab", "S")
        await on.type("0123")
        await on.press("enter")
        assert on.at_cursor().startswith("▸S0123")


async def test_the_list_follows_view_years_endpoint_and_undo():
    async with driven() as on:
        await on.press("6", "v", "y")
        await on.type("5")
        await on.press("enter")
        assert on.asked("units")[-1][2:4] == (5.0, "patient")
        await on.press("u", "u")
        assert on.asked("units")[-1][2:4] == (15.0, "implant")
        await on.press("x", "end")
        assert "regdash units hospitals --years 15" in on.text


async def test_a_list_is_ordered_by_what_is_chosen_and_withheld_stands_last():
    async with driven() as on:
        await on.press("6", *["right"] * 4, "o")
        codes = [line.split()[0].strip("▸") for line in on.lines if line[1:3] == "H0"]
        assert codes == ["H002", "H001", "H012"]


async def test_the_open_cut_is_named_below_where_the_first_line_has_no_room():
    async with driven() as on:
        assert "2024-12-31.1" not in on.lines[0]
        assert "2024-12-31.1" in on.lines[2]
        await on.press("enter")
        assert "2024-12-31.1" in on.lines[0]
        assert "2024-12-31.1" not in on.lines[2]
