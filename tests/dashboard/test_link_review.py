"""The lists of links to review and of how records came in, by keys alone: two records, a decision, its reason."""

from regdash.dashboard.place import PLACES
from tests.dashboard.driving import Driver, driven
from tests.dashboard.fake_links import DONE, HELD, LIKELY

QUALITY = str(PLACES.index("quality") + 1)
TO_REVIEW = (QUALITY, *["tab"] * 5)
TO_TRIANGLE = (QUALITY, *["tab"] * 8)


def shown(on: Driver) -> list[str]:
    return [" ".join(line.split()) for line in on.lines]


async def test_open_links_held_ones_and_decisions_are_listed_with_how_sure_they_are():
    async with driven("joint=knee") as on:
        await on.press(*TO_REVIEW)
        assert on.asked("link_review")[-1] == "joint=knee"
        assert "1 open · 1 for hospitals to answer · 1 accepted · 0 undone" in on.text
        rows = [[str(cell) for cell in row.cells] for row in on.grid.listed]
        assert [row[:5] for row in rows] == [
            [LIKELY.revision, LIKELY.primary, "near pseudonym", "likely", "open"],
            [HELD.revision, HELD.primary, "primary on the other side", "likely", "held"],
            [DONE.revision, DONE.primary, "near pseudonym", "likely", "accepted"],
        ]
        assert "the same: side, sex" in on.lines[-2]
        await on.press("end")
        assert "accepted by analyst 1, 2024-02-03: seen on the label" in on.lines[-2]


async def test_two_records_stand_side_by_side_and_a_link_is_accepted_with_a_reason_alone():
    async with driven("joint=knee") as on:
        await on.press(*TO_REVIEW, "enter")
        assert "patient P222222223 P222222222 differs" in shown(on)
        assert "open: nobody has decided" in on.lines[2]
        await on.press("end")
        assert "KF001-3A lot L0000001 serial SN7700112345" in on.lines[-2]  # whole, where its column cuts it
        await on.press("plus", "enter")
        assert "needs its reason" in on.text
        assert on.desk.decisions == ()
        await on.type("one digit mistyped")
        await on.press("enter")
        assert on.desk.decisions == (("accepted", LIKELY.revision, LIKELY.primary, "one digit mistyped"),)
        assert "accepted by analyst 2, 2024-05-06: one digit mistyped" in on.lines[2]
        assert "counts from the next freeze on" in on.lines[-2]
        await on.press("escape")
        assert "0 open · 1 for hospitals to answer · 2 accepted" in on.text


async def test_a_decision_is_undone_and_a_refusal_is_said_and_keeps_all_as_it_was():
    async with driven("joint=knee") as on:
        on.desk.refusal = "The office file cannot be written."
        await on.press(*TO_REVIEW, "end", "enter", "minus")
        await on.type("another patient")
        await on.press("enter")
        assert "The office file cannot be written." in on.lines[-2]
        assert "accepted by analyst 1" in on.lines[2]
        on.desk.refusal = None
        await on.press("minus")
        await on.type("another patient")
        await on.press("enter")
        assert on.desk.decisions == (("undone", DONE.revision, "another patient"),)
        assert "undone by analyst 2" in on.lines[2]
        await on.press("minus")
        assert "nothing to undo" in on.lines[-2]


async def test_a_held_record_is_for_its_hospital_and_is_not_accepted():
    async with driven("joint=knee") as on:
        await on.press(*TO_REVIEW, "down", "enter", "plus")
        assert "its hospital must correct it" in on.lines[-2]
        assert on.desk.decisions == ()


async def test_the_triangle_fits_a_small_screen_by_quarter_and_g_goes_to_shares_and_months():
    async with driven("joint=knee") as on:
        await on.press(*TO_TRIANGLE)
        assert on.asked("triangle")[-1] == ("joint=knee", "quarter")
        assert "median 31 days, 90th centile 88; in 30, 60, 90 days: 48.0, 80.0, 91.0 %" in on.text
        rows = [[str(cell) for cell in row.cells] for row in on.grid.listed]
        assert rows == [
            ["2024-Q3", "102", "102", "", ""],
            ["2024-Q2", "162", "101", "61", ""],
            ["2024-Q1", "200", "100", "60", "40"],
        ]
        await on.press("end", *["right"] * 3)
        assert "done 2024-Q1, came 1 quarter later: 60; by then 80.0 % of those so far" in on.lines[-2]
        await on.press("x", "end")
        assert "quality triangle joint=knee --period quarter" in on.text
        await on.press("escape", "g")
        assert [str(cell) for cell in on.grid.listed[-1].cells] == ["2024-Q1", "200", "50.0", "80.0", "100.0"]
        await on.press("g")
        assert on.asked("triangle")[-1] == ("joint=knee", "month")
        await on.press("shift+tab")  # what groups the others stays as it was
        assert "by hospital" in on.lines[1]


async def test_any_link_of_a_joint_is_undone_from_its_life_with_a_reason():
    async with driven("joint=knee") as on:
        await on.press("enter", "enter", "enter", "minus")
        assert "undo which revision's link?" in on.text
        await on.type("H9")
        await on.press("enter")
        assert "H9 is no revision of this joint" in on.text
        await on.press("backspace", "backspace", "down", "down", "enter")
        assert "undo H002-0000078: on what does it rest?" in on.text
        await on.type("another patient")
        await on.press("enter")
        assert on.desk.decisions == (("undone", "H002-0000078", "another patient"),)
        assert "counts from the next freeze on" in on.lines[-2]
        on.desk.linked_revisions = ()
        await on.press("r", "minus")
        assert "no link to undo" in on.lines[-2]
