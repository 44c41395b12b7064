"""The hazard along a surgeon's volume, age or body mass index, by keys alone."""

import pytest

from tests.dashboard.driving import driven


async def test_a_key_of_the_comparison_opens_the_curve_along_volume_with_its_counts_and_tests():
    async with driven("class=partial") as on:
        await on.press("4", "c")
        assert "4 COMPARE › curve" in on.lines[0]
        assert "along volume · adjusted for age,sex" in on.lines[1]
        assert "hazard ratio against volume 10, the median  (deaths censored; log axis)" in on.lines[3]
        assert on.asked("smooth") == [("class=partial", "volume", "age,sex", None)]
        rows = [line.split() for line in on.lines if " to " in line and "–" in line]
        assert next(row[:4] for row in rows) == ["2", "2–4", "1,000", "40"]
        assert "the reference" in on.at_cursor()
        assert "association: p < 0.0001 · non-linearity: p 0.5488 · proportionality: withheld" in on.text


async def test_a_line_stands_where_the_cursor_is_and_two_keys_move_it_along_the_curve():
    async with driven() as on:
        await on.press("4", "c")
        before = next(line for line in on.lines if "▲" in line).index("▲")
        await on.press("right_square_bracket")
        assert on.at_cursor().startswith("▸    20")
        assert next(line for line in on.lines if "▲" in line).index("▲") > before
        await on.press("right_square_bracket")
        assert "withheld: over 20" in on.at_cursor()
        assert "▲" not in on.text  # nothing is drawn there
        await on.press("left_square_bracket", "left_square_bracket")
        assert next(line for line in on.lines if "▲" in line).index("▲") == before


async def test_the_curve_falls_through_1_at_its_reference():
    async with driven(size=(120, 40)) as on:
        await on.press("4", "c")
        lines = on.lines
        one = next(n for n, line in enumerate(lines) if "ratio 1" in line)
        drawn = [[n for n, sign in enumerate(line) if "\u2800" < sign <= "\u28ff"] for line in lines[4 : 4 + 20]]
        first = min(n for n, columns in enumerate(drawn) if columns)
        last = max(n for n, columns in enumerate(drawn) if columns)
        assert first + 4 < one < last + 4
        assert max(drawn[first]) < min(drawn[last])
        mark = next(line for line in lines if "▲" in line).index("▲")
        assert min(abs(column - mark) for column in drawn[one - 4]) <= 1


async def test_enter_makes_a_value_the_reference_until_other_joints_are_asked_about():
    async with driven() as on:
        await on.press("4", "c", "up", "enter")
        assert on.asked("smooth")[-1][3] == 5.0
        assert "hazard ratio against volume 5  (" in on.lines[3]
        await on.press("x", "end")
        assert "regdash smooth --over volume --adjust age,sex --reference 5" in " ".join(on.text.split())
        await on.press("escape", "slash")
        await on.type("sex=male")
        await on.press("enter")
        assert on.asked("smooth")[-1] == ("sex=male", "volume", "age,sex", None)


async def test_what_lies_beyond_the_curve_is_no_reference_and_says_why():
    async with driven() as on:
        await on.press("4", "c", "end", "enter")
        assert "No reference: over 20, the 95th percentile" in on.lines[-2]
        assert len(on.asked("smooth")) == 1


async def test_a_key_goes_through_the_fields_and_another_chooses_what_is_held_alike():
    async with driven() as on:
        await on.press("4", "c", "up", "enter", "c")
        assert on.asked("smooth")[-1][1:] == ("age", "age,sex", None)
        assert "against age 10, the median" in on.lines[3]
        await on.press("c", "a")
        await on.type("asa")
        await on.press("enter")
        assert on.asked("smooth")[-1][1:3] == ("bmi", "asa")
        await on.press("c")
        assert on.asked("smooth")[-1][1] == "volume"
        await on.press("escape")
        assert "4 COMPARE" in on.lines[0]
        assert on.app.focused.id == "ratios"


@pytest.mark.parametrize("size", [(80, 24), (200, 50)])
async def test_explain_tells_model_tests_and_what_is_withheld(size: tuple[int, int]):
    async with driven(size=size) as on:
        await on.press("4", "c", "x")
        said = on.text
        for _ in range(3):
            await on.press("pagedown")
            said += on.text
        joined = " ".join(said.split())
        assert "6,000 joints, 240 of them revised" in joined
        assert "non-linearity: does it bend?" in joined
        assert "proportionality: too few days with events" in joined
