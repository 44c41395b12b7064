"""What was done, in the dashboard: by year from the register, why and what in a year, the revisions, their joints."""

from tests.dashboard.driving import driven
from tests.dashboard.fake_done import REVISIONS
from tests.dashboard.test_writing_out import rows, write


async def test_the_register_has_revisions_beside_primaries():
    async with driven() as on:
        await on.press("1")
        assert on.asked("activity") == [("", "", "year")]
        (line,) = [line for line in on.lines if "primaries by year" in line]
        assert "revisions done by year" in line


async def test_p_lists_what_was_done_by_year_the_latest_first_and_by_quarter():
    async with driven("joint=hip") as on:
        await on.press("1", "p")
        assert "› done by year" in on.lines[0]
        assert "by year of the operation" in on.lines[1]
        assert "96,412 primaries · 4,921 revisions, 386 without a primary here · 12 held" in on.lines[2]
        assert on.at_cursor().split()[1:6] == ["6,320", "+6.2", "351", "-3.1", "5.3"]
        assert "(4.7 to 5.8)" in on.at_cursor()
        await on.press("p")
        assert on.asked("activity")[-2:] == [("joint=hip", "", "quarter"), ("joint=hip", "class", "quarter")]
        assert "2024Q2" in on.at_cursor()
        assert on.app.place.command() == "regdash activity joint=hip --per quarter"


async def test_tab_goes_through_the_groups_and_revisions_without_a_primary_open_nothing():
    async with driven() as on:
        await on.press("1", "p", "tab")
        assert "total: operations by year" in on.lines[3]
        assert "group 2 of 4" in on.lines[3]
        assert on.app.place.command() == "regdash activity --by class"
        await on.press("tab", "tab")
        assert "no primary here" in on.lines[3]
        assert on.at_cursor().split()[1:6] == ["0", "+6.2", "50", "-3.1", "–"]
        await on.press("enter")
        assert "No filter words choose revisions without a primary here" in on.text
        await on.press("tab")
        assert "all: operations by year" in on.lines[3]


async def test_enter_leads_to_the_revisions_of_the_year_then_to_a_list_then_to_a_joint():
    async with driven("joint=knee") as on:
        await on.press("1", "p", "tab", "enter")
        assert on.asked("revisions") == [("joint=knee class=total revised=2019,2024", "year")]
        assert "done in 2024 and 2019" in on.lines[1]
        assert on.at_cursor().split()[:6] == ["▸infection", "43", "33.1", "(26.5–41.3)", "61", "46.9"]
        assert "-13.8" in on.at_cursor()
        await on.press("enter")
        assert on.asked("revision_list") == [("joint=knee class=total reason=infection revised=2024", 0, "done_date")]
        assert f"{REVISIONS} revisions, 386 without a primary here" in on.lines[2]
        await on.press("enter")
        assert on.asked("joint") == ["P000000000-KL"]
        await on.press("escape", "down", "enter")
        assert "This revision has no primary here" in on.text
        await on.press("escape", "escape", "escape", "escape")
        assert "REGISTER 2 risk" in on.lines[0]


async def test_place_3_turns_to_what_was_done_in_the_last_whole_year():
    async with driven("joint=knee") as on:
        await on.press("3", "tab", "p")
        assert on.asked("revisions") == [("joint=knee class=partial revised=2019,2024", "year")]
        assert "partial › done in a year" in on.lines[0]
        await on.press("left_square_bracket")
        assert on.asked("revisions")[-1] == ("joint=knee class=partial revised=2018,2023", "year")
        assert "done in 2023 and 2018" in on.lines[1]
        assert on.app.place.command() == ("regdash revisions joint=knee class=partial revised=2018,2023 --by year")


async def test_tab_shows_what_was_done_and_enter_lists_it():
    async with driven() as on:
        await on.press("3", "p", "tab")
        assert "what was done and used in 2024 and 2019" in on.text
        assert "used: a stem" in on.text
        await on.press("down", "enter")
        assert on.asked("revision_list")[-1][0].split()[-2:] == ["action=partial-to-total", "revised=2024"]
        await on.press("escape", "down", "enter")
        assert on.asked("revision_list")[-1][0].split()[-1] == "stem=yes"
        await on.press("escape", "down", "enter")
        assert "No one word chooses these" in on.text


async def test_p_puts_all_years_together_and_the_filter_takes_what_was_done():
    async with driven("joint=knee") as on:
        await on.press("3", "p", "p")
        assert on.asked("revisions")[-1] == ("joint=knee class=total", "")
        assert "done in all years" in on.lines[1]
        assert "why revisions were done in all years" in on.text
        await on.press("slash")
        await on.type(" action=partial-to-total")
        await on.press("enter", "tab")
        assert on.asked("revisions")[-1] == ("joint=knee class=total action=partial-to-total", "")
        assert on.app.place.command() == (
            "regdash revisions joint=knee class=total action=partial-to-total --part work"
        )
        await on.press("shift+tab", "enter")
        assert on.asked("revision_list")[-1][0] == ("joint=knee class=total reason=infection action=partial-to-total")
        await on.press("escape", "right_square_bracket")
        assert on.asked("revisions")[-1][1] == "year"


async def test_a_list_of_joints_can_be_chosen_by_what_happened_later():
    async with driven("joint=knee") as on:
        await on.press("3", "enter", "slash")
        await on.type(" stem=yes")
        await on.press("enter")
        assert on.asked("joints")[-1][0] == "joint=knee class=total ended=revised reason=infection stem=yes"
        assert "joints" in on.lines[0]
        assert on.app.history.now.cohort.words == ("joint=knee",)  # other places keep their question
        await on.press("escape")
        assert on.lines[1].split()[1] == "joint=knee"


async def test_a_word_known_at_implantation_holds_everywhere_also_from_a_list_of_joints():
    async with driven("joint=knee") as on:
        await on.press("3", "enter", "slash")
        await on.type(" sex=male")
        await on.press("enter")
        assert on.asked("joints")[-1][0] == "joint=knee class=total sex=male ended=revised reason=infection"
        await on.press("escape")
        assert "joint=knee sex=male" in on.lines[1]


async def test_figures_of_what_was_done_are_explained_and_written_out(tmp_path):
    async with driven("joint=hip") as on:
        await on.press("3", "p", "x")
        said = " ".join(on.text.split())
        assert "what it is revisions done; data cut 2024-12-31.1" in said
        assert "date of the revision is 2019-01-01 to 2019-12-31 or 2024-01-01" in said
        await on.press("escape")
        await write(on, f"csv {tmp_path / 'why.csv'}")
        written = rows((tmp_path / "why.csv").read_text())
        assert [line["reason"] for line in written][:2] == ["infection", "loosening"]
        await on.press("tab")
        await write(on, f"csv {tmp_path / 'work.csv'}")
        assert rows((tmp_path / "work.csv").read_text())[0]["what"] == "one component exchanged"
        await on.press("1", "p")
        await write(on, f"csv {tmp_path / 'activity.csv'}")
        assert len(rows((tmp_path / "activity.csv").read_text())) == 20
