"""The keys that mean the same everywhere, pressed one after the other."""

from textual.events import Key

from regdash.dashboard.app import Dashboard
from regdash.dashboard.place import Place
from regdash.dashboard.screens.joints import JointsScreen
from tests.dashboard.driving import driven


async def test_single_keys_work_from_the_start_because_the_table_has_the_focus():
    async with driven() as on:
        assert on.app.focused.id == "groups"
        await on.press("v")
        assert "patient view" in on.text


async def test_a_typed_filter_is_completed_read_back_and_followed_by_the_answer():
    async with driven() as on:
        before = on.lines[2]
        await on.press("slash")
        await on.type("cl")
        assert "class=" in on.text
        assert "class of the replacement" in on.text
        await on.press("tab")
        assert "8,292 joints" in on.text  # how many each value keeps
        await on.type("partial ag")
        await on.press("tab")
        await on.type("50..59")
        assert "reads as: class=partial age=50..59" in on.text
        await on.press("enter")
        assert "filter  class=partial age=50..59" in on.lines[1]
        assert on.lines[2] != before
        assert str(on.asked("risk")[-1]) == "class=partial age=50..59"


async def test_a_marked_value_is_taken_by_enter_and_the_filter_applied_by_the_next():
    async with driven() as on:
        await on.press("slash")
        await on.type("class=")
        await on.press("down", "down", "enter")
        assert on.app.screen.query_one("PromptInput").value == "class=partial"
        await on.press("enter")
        assert "filter  class=partial" in on.lines[1]


async def test_the_filter_prints_back_in_one_order_whatever_was_typed():
    async with driven() as on:
        await on.press("slash")
        await on.type("sex=male class=total")
        await on.press("enter")
        assert "filter  class=total sex=male" in on.lines[1]


async def test_a_wrong_filter_word_names_the_nearest_and_changes_nothing():
    async with driven("class=total") as on:
        await on.press("slash")
        await on.type("sxe=male")
        await on.press("enter")
        assert "There is no filter word sxe. Nearest: sex" in on.text
        await on.press("escape")
        assert "filter  class=total" in on.lines[1]
        assert len(on.asked("risk")) == 1


async def test_an_outcome_word_is_refused_with_what_to_ask_instead():
    async with driven() as on:
        await on.press("slash")
        await on.type("ended=revised")
        await on.press("enter")
        assert "ended is known only after implantation" in on.text


async def test_grouping_is_chosen_from_the_list_or_typed():
    async with driven() as on:
        await on.press("g")
        assert "class of the replacement" in on.text
        await on.type("age:10,se")
        await on.press("tab", "enter")
        assert "by age:10,sex" in on.lines[1]
        await on.press("g")
        await on.type("regi")
        await on.press("down", "enter")
        assert "by region" in on.lines[1]
        await on.press("g")
        await on.type("all")
        await on.press("enter")
        assert "by all" in on.lines[1]


async def test_the_horizon_ends_the_axis_and_the_table():
    async with driven() as on:
        await on.press("y")
        await on.type("3")
        await on.press("enter")
        assert "at 3 years" in on.text
        assert on.desk.asked[-1][0] == "risk"
        await on.press("y")
        await on.type("99")
        await on.press("enter")
        assert "99 is not a horizon" in on.text


async def test_undo_and_redo_go_through_filters_groupings_horizons_and_views():
    async with driven() as on:
        await on.press("v")
        await on.press("y")
        await on.type("5")
        await on.press("enter", "u")
        assert "15 years · patient view" in on.lines[1]
        await on.press("u")
        assert "15 years · implant view" in on.lines[1]
        await on.press("U", "U")
        assert "5 years · patient view" in on.lines[1]
        await on.press("U")
        assert "There is no later question." in on.text


async def test_every_place_follows_a_filter_that_was_set_in_another():
    async with driven() as on:
        await on.press("5", "slash")
        await on.type("class=total")
        await on.press("enter", "3")
        assert str(on.asked("signals")[-1]) == str(on.asked("reasons")[-1]) == "class=total"
        await on.press("2")
        assert str(on.asked("risk")[-1]) == "class=total"


async def test_a_place_that_was_answered_is_not_asked_again_on_return():
    async with driven() as on:
        await on.press("3", "2", "3", "2")
        assert len(on.asked("risk")) == 1
        assert len(on.asked("reasons")) == 1


async def test_enter_goes_from_a_group_to_its_reasons_to_a_joint_and_escape_back_to_the_same_row():
    async with driven() as on:
        await on.press("down")
        assert on.at_cursor().startswith("▸b partial")
        await on.press("enter")
        assert "› partial" in on.lines[0]
        assert str(on.asked("reasons")[-1]) == "class=partial"
        await on.press("down")
        assert on.at_cursor().startswith("▸b loosening")
        await on.press("enter")
        assert on.asked("joints")[-1][0] == "class=partial ended=revised reason=loosening"
        await on.press("down", "down", "enter")
        assert "partial › loosening › P000000002-KL" in on.lines[0]
        assert "5.0 years later" in on.text
        await on.press("escape")
        assert on.at_cursor().startswith("▸P000000002-KL")
        await on.press("backspace")
        assert on.at_cursor().startswith("▸b loosening")
        await on.press("escape")
        assert on.at_cursor().startswith("▸b partial")
        await on.press("escape")
        assert on.app.current_mode == "risk"


async def test_a_long_list_is_fetched_by_pages_and_kept_where_it_was():
    async with driven() as on:
        await on.press("enter", "enter", "end")
        assert on.at_cursor().startswith("▸P000001233-KL")
        assert [page for _, page, _ in on.asked("joints")] == [0, 1200]
        await on.press("pageup", "pageup", "up")
        where, scrolled = on.at_cursor(), on.grid.scroll_offset.y
        await on.press("enter", "escape")
        assert (on.at_cursor(), on.grid.scroll_offset.y) == (where, scrolled)


async def test_a_list_of_joints_is_ordered_by_the_chosen_column():
    async with driven() as on:
        await on.press("enter", "enter", "down", "o")
        assert on.asked("joints")[-1][2] == "joint_id"
        await on.press("o")
        assert on.asked("joints")[-1][2] == "-joint_id"
        assert on.at_cursor().startswith("▸P000001233-KL")
        assert isinstance(on.app.screen, JointsScreen)


async def test_letters_and_curves_follow_the_order_of_the_table():
    async with driven() as on:
        await on.press("g")
        await on.type("region")
        await on.press("enter", *["right"] * 4, "o", "home")
        worst = on.at_cursor().split()[1:3]
        assert on.at_cursor().startswith("▸a ")
        assert any(f"a {' '.join(worst)} " in line for line in on.lines[4:14])
        await on.press(*["down"] * 8)
        assert on.at_cursor().startswith("▸a ")  # the next page of curves
        now = on.at_cursor().split()[1:3]
        assert now != worst
        assert any(f"a {' '.join(now)} " in line for line in on.lines[4:14])


async def test_implants_are_ordered_by_any_column_and_what_is_withheld_stands_last():
    async with driven() as on:
        await on.press("5", "right", "right", "o")
        revised = [line.split()[2] for line in on.lines if line[1:3] in ("KF", "KT", "UF", "UT")]
        assert revised == ["120", "90", "60", "31", "2"]
        await on.press("right", "o", "o")
        codes = [line.split()[0].strip("▸") for line in on.lines if line[1:3] in ("KF", "KT", "UF", "UT")]
        assert codes == ["UF-004", "KF-017", "KT-017", "KF-017", "UT-004"]
        assert "not tested" in next(line for line in on.lines if "UT-004" in line)


async def test_a_column_without_an_order_is_said_to_have_none():
    async with driven() as on:
        await on.press("1", "right", "right", "o")
        assert "this one has no order" in on.text


async def test_an_implants_page_leads_on_to_revised_joints_by_reason_group_and_user():
    async with driven() as on:
        await on.press("5", "down", "enter")
        assert "› KT-017" in on.lines[0]
        assert "REASONS  windows  excess  revised  groups  hospitals  surgeons  alike  records" in on.text
        await on.press("enter")
        assert on.asked("joints")[-1][0] == "implant=KT-017 ended=revised reason=infection"
        await on.press("escape", *["tab"] * 3, "enter")
        assert on.asked("joints")[-1][0] == "implant=KT-017 ended=revised action=bearing-exchange-only"
        await on.press("escape", "tab", "down", "down", "enter")
        assert on.asked("joints")[-1][0] == "sex=female implant=KT-017 ended=revised"
        await on.press("escape", "tab", "down", "enter")
        assert on.asked("joints")[-1][0] == "hospital=H002 implant=KT-017 ended=revised"
        await on.press("escape")
        assert on.at_cursor().startswith("▸H002")


async def test_an_implants_lists_say_what_was_found_why_figures_are_withheld_and_how_it_was_adjusted():
    async with driven() as on:
        await on.press("5", "down", "enter", *["tab"] * 6)
        await on.pilot.resize_terminal(80, 30)
        assert "Without surgeon S0123 the ratio is 0.78 instead of 1.40." in on.text
        assert "fewer than 5 revisions" in on.at_cursor()
        await on.press("x")
        assert "S0123, size 5: fewer than 5 revisions" in on.text  # those of the list in view first
        await on.press("escape", "tab")
        assert "never apart" in on.at_cursor()
        assert "adjusted for age,sex" in on.lines[1]


async def test_an_implant_that_cannot_be_explained_keeps_its_page_and_says_why():
    async with driven() as on:
        on.desk.unexplained = "No other joint of class=total can be compared with KT-017. Widen the filter."
        await on.press("5", "down", "enter")
        assert "No other joint" not in on.text
        await on.press("tab", "tab")
        assert "No other joint of class=total can be compared with KT-017" in on.text
        assert "old figures" not in on.text


async def test_brackets_move_along_the_curves_and_the_table_gives_the_figures_there():
    async with driven() as on:
        assert "at 15 years" in on.text
        await on.press(*["left_square_bracket"] * 3)
        assert "at 12 years" in on.text
        assert "▲" in on.text
        assert next(line for line in on.lines if line.startswith("▸a total")).split()[5] == "4.4"
        await on.press(*["right_square_bracket"] * 5)
        assert "at 15 years" in on.text
        assert "▲" not in on.text


async def test_explain_says_method_counts_cautions_and_the_command():
    async with driven("sex=female") as on:
        await on.press("x")
        for part in ("Kaplan–Meier", "sex of the patient is female", "held", "withheld", "caution"):
            assert part in on.text
        await on.press("end")
        assert "regdash risk sex=female --by class --years 15" in on.text
        await on.press("escape")
        assert on.app.focused.id == "groups"


async def test_help_names_every_key_of_the_place_and_the_ones_that_always_work():
    async with driven() as on:
        await on.press("question_mark")
        shown = on.lines
        await on.press("end")
        shown += on.lines
        for key in ("/", "[ ]", "ctrl+x", "ctrl+p", "Enter", "1 … 9"):
            assert any(line.strip().startswith(key) for line in shown), key


async def test_help_says_once_what_a_key_does_where_a_place_has_its_own_use_of_it():
    async with driven() as on:
        await on.press("1", "p", "question_mark")
        assert [line.split(maxsplit=1)[1].strip() for line in on.lines if line.startswith(" Tab ")] == ["next group"]


async def test_the_line_of_keys_fits_and_ends_with_the_key_that_lists_them_all():
    async with driven() as on:
        for place in "123456789":
            await on.press(place)
            assert on.lines[-1].rstrip().endswith("? all keys")
            assert "…" not in on.lines[-1]


async def test_quitting_is_asked_once():
    async with driven() as on:
        await on.press("q")
        assert "Quit?" in on.lines[-1]
        await on.press("escape")
        assert on.app.is_running
        assert "Quit?" not in on.text
        await on.press("ctrl+c")  # which many people try first
        assert "Quit?" in on.lines[-1]
        await on.press("n")
        await on.pilot.press("q", "q")
        await on.until(lambda: not on.app.is_running)


async def test_the_command_palette_goes_where_it_is_told():
    async with driven() as on:
        await on.pilot.press("ctrl+p")
        await on.pilot.pause(0.3)
        await on.pilot.press(*"implants")
        await on.pilot.pause(0.3)
        await on.pilot.press("enter")
        await on.settled()
        assert on.app.current_mode == "implants"


async def test_keys_that_terminals_and_multiplexers_own_are_left_alone():
    taken = {f"ctrl+{letter}" for letter in "abqsz"}
    async with driven() as on:
        for place in "123456789":
            await on.press(place)
            assert not taken & set(on.app.screen.active_bindings)
    kinds = [Dashboard, Place, *Place.__subclasses__()]
    assert not taken & {key for kind in kinds for key in kind._merged_bindings.key_to_bindings}


async def test_another_data_cut_is_read_by_every_place():
    async with driven() as on:
        await on.press("8", "down")
        assert on.at_cursor().startswith("▸2023-12-31.1")
        on.app._open_desk = lambda cut: type(on.desk)(cut)
        first = on.desk
        await on.press("enter")
        await on.until(lambda: "2023-12-31.1" in on.lines[2])
        assert first.closed
        await on.press("2")
        assert on.app.desk.asked[-1][0] == "risk"


async def test_keys_that_edit_keep_their_order_where_all_come_in_one_go():
    async with driven("joint=knee sex=female") as on:
        await on.press("slash")
        await on.enter("class=total")  # what stood there is deleted first
        assert "filter  class=total " in on.lines[1]
        await on.press("slash")
        driver = on.app._driver
        for key, character in [("ctrl+w", None), *((sign, sign) for sign in "sex"), ("backspace", None)]:
            driver.send_message(Key(key, character).set_sender(on.app))
        await on.settled()
        assert on.app.screen.text == "class=se"
