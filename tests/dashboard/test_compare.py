"""Comparing groups and splitting their difference, by keys alone."""

from tests.dashboard.driving import driven


async def test_every_group_and_window_has_its_ratio_with_limits_and_the_tests_stand_under_them():
    async with driven() as on:
        await on.press("4")
        assert "hazard ratio against total" in on.text
        lines = [line.split() for line in on.lines if line[1:8] == "partial"]
        assert [line[1:3] for line in lines] == [["all", "2.60"], ["0–1", "years"], ["1–5", "years"], ["5", "years"]]
        assert all("●" in line[-1] or "●" in line[-2] for line in lines)
        for said in ("log-rank", "Gray", "likelihood ratio", "proportionality", "Cox's model", "6,412 have no sex"):
            assert said in on.text
        assert "withheld" in next(line for line in on.lines if line.startswith(" Gray"))


async def test_a_point_right_of_the_line_at_1_is_a_higher_hazard():
    async with driven() as on:
        await on.press("4", "g")
        await on.type("age")
        await on.press("enter")
        higher = next(line for line in on.lines if "age 50..59  all" in line)
        lower = next(line for line in on.lines if "age 60..69  all" in line)
        assert higher.index("│") < higher.index("●")
        assert lower.index("●") < lower.index("│")


async def test_what_is_adjusted_for_is_chosen_from_the_list_or_typed_and_can_be_undone():
    async with driven() as on:
        await on.press("4")
        assert on.asked("adjust") == ["age,sex"]
        await on.press("a")
        assert "adjust for, as in age" in on.text
        await on.type("asa,bm")
        await on.press("tab", "enter")
        assert on.asked("adjust")[-1] == "asa,bmi"
        assert "adjusted for asa,bmi" in on.lines[1]
        await on.press("a")
        await on.type("none")
        await on.press("enter")
        assert on.asked("adjust")[-1] == ""
        assert "adjusted for none" in on.lines[1]
        await on.press("u")
        assert "adjusted for asa,bmi" in on.lines[1]
        await on.press("u")
        assert "adjusted for age,sex" in on.lines[1]


async def test_a_wrong_field_to_adjust_for_is_refused_with_the_nearest():
    async with driven() as on:
        await on.press("4", "a")
        await on.type("bim")
        await on.press("enter")
        assert "There is no field bim" in on.text


async def test_a_comparison_without_groups_is_refused_in_one_line():
    async with driven() as on:
        await on.press("g")
        await on.type("all")
        await on.press("enter", "4")
        assert "A comparison needs groups. Group by a field, as in class." in on.lines[-2]


async def test_enter_on_a_ratio_opens_the_reasons_of_its_group():
    async with driven() as on:
        await on.press("4", "down", "enter")
        assert "4 COMPARE › partial" in on.lines[0]
        assert str(on.asked("reasons")[-1]) == "class=partial"
        await on.press("escape")
        assert on.at_cursor().startswith("▸partial  0–1 years")


async def test_ratios_know_no_view_and_no_horizon():
    async with driven() as on:
        await on.press("4", "v", "y")
        assert len(on.asked("compare")) == 1
        assert "  v " not in on.lines[-1]


async def test_explain_tells_the_model_what_is_withheld_and_the_command():
    async with driven() as on:
        await on.press("4", "x")
        assert "Gray: too many groups" in on.text
        assert "Cox's model" in on.text
        await on.press("end")
        assert "regdash compare --by class --adjust age,sex --windows 1,5" in on.text


async def test_the_difference_between_two_groups_adds_up_line_by_line():
    async with driven() as on:
        await on.press("3", "d")
        assert "3 REASONS › difference" in on.lines[0]
        assert "partial less total" in on.text
        lines = on.lines[5 : 5 + len(on.grid.listed)]
        figures = [float(line[15:].split("(")[0].split()[-1]) for line in lines]
        assert abs(sum(figures[:-1]) - figures[-1]) < 0.02
        assert lines[-1].startswith(" all reasons")


async def test_the_difference_follows_the_view_and_the_horizon_and_says_why_shares_are_withheld():
    async with driven() as on:
        await on.press("3", "d", "v")
        assert "death competing" in on.text
        await on.press("y")
        await on.type("1")
        await on.press("enter")
        assert "shares are withheld: the limits of the whole difference include 0" in on.lines[4]
        assert on.lines[6].rstrip().endswith("withheld")


async def test_enter_on_a_part_opens_the_joints_of_both_groups():
    async with driven("sex=male") as on:
        await on.press("3", "d", "down", "enter")
        assert on.asked("joints")[-1][0] == "sex=male ended=revised reason=loosening"
        await on.press("escape", "end", "enter")
        assert on.asked("joints")[-1][0] == "sex=male ended=revised"
        await on.press("escape")
        assert on.at_cursor().startswith("▸all reasons")
        await on.press("escape")
        assert on.app.current_mode == "reasons"


async def test_a_difference_of_more_groups_than_two_is_refused_in_one_line():
    async with driven() as on:
        await on.press("3", "g")
        await on.type("age")
        await on.press("enter", "d")
        assert "A difference is between two groups, and there are 5" in on.lines[-2]
        assert not on.asked("gap")


async def test_a_wide_screen_draws_the_parts_around_a_line_at_0():
    async with driven(size=(140, 30)) as on:
        await on.press("3", "d")
        more = next(line for line in on.lines if "progression" in line)
        less = next(line for line in on.lines if line.startswith(" infection"))
        assert more.index("│") < more.index("●")
        assert less.index("●") < less.index("│")


async def test_the_palette_offers_the_difference_where_there_is_one():
    from regdash.dashboard.commands import Commands

    async with driven() as on:
        offered = [text for _, text in Commands(on.app.screen)._found()]
        assert "Go to compare" in offered
        assert not any("difference between two groups" in text for text in offered)
        await on.press("3")
        offered = [text for _, text in Commands(on.app.screen)._found()]
        assert any("difference between two groups" in text for text in offered)


async def test_why_a_question_was_not_answered_is_read_in_full_on_one_key_however_long_it_is():
    why = (
        "All joints that can be compared are of one group (partial), and a comparison needs two. "
        "Group by another field, or widen the filter."
    )
    async with driven() as on:
        on.desk.uncompared = why
        await on.press("4")
        assert "not answered, x says why" in on.lines[2]
        assert on.lines[-2].strip().endswith("… x: all of it")
        await on.press("x")
        said = " ".join(on.text.split())
        assert f"not answered {' '.join(why.split()[:8])}" in said
        assert "widen the filter." in said
        assert "nothing is painted" in said
        await on.press("escape")
        on.desk.uncompared = ""
        await on.press("g")
        await on.type("age")
        await on.press("enter")
        assert "not answered" not in on.text
        on.desk.uncompared = why
        await on.press("a")
        await on.type("sex")
        await on.press("enter")
        assert "old figures, u goes back" in on.lines[2]
        await on.press("x")
        assert "what is painted answers the question before" in " ".join(on.text.split())
