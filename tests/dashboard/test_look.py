"""How screens look where signs or colours are few, and on a light background."""

import re
from dataclasses import replace

import pytest
from rich.cells import cell_len
from rich.terminal_theme import TerminalTheme

from regdash.charts.gateway import COLOURS
from regdash.dashboard.app import Dashboard
from regdash.dashboard.asked import Asked
from regdash.dashboard.painting import DARK_PALETTE, LIGHT_PALETTE
from regdash.dashboard.terminal import DARK, LIGHT, Look, look_of
from tests.dashboard.driving import driven
from tests.dashboard.fake_desk import FakeDesk

CURVES_AND_LISTS = {"2": "a total", "3": "loosening", "4": "hazard ratio", "5": "at most", "ctrl+p": "Search"}


async def screens(look: Look) -> tuple[str, list]:
    """What some places show, and the styles that they are painted in."""
    app = Dashboard(lambda cut: FakeDesk(), None, Asked(), look)
    texts, styles = [], []
    async with app.run_test(size=(100, 40)) as pilot:
        for key, shown in CURVES_AND_LISTS.items():
            await pilot.press(key)
            for _ in range(200):
                strips = app.screen._compositor.render_strips()
                text = "\n".join(strip.text for strip in strips)
                if shown in text:
                    break
                await pilot.pause(0.01)
            assert shown in text
            texts.append(text)
            styles += [segment.style for strip in strips for segment in strip if segment.style]
    return "\n".join(texts), styles


async def test_screens_in_ascii_keep_their_columns_and_their_marks():
    written, _ = await screens(Look(ascii_only=True))
    shown, _ = await screens(Look())
    assert written.isascii()
    assert [cell_len(line) for line in written.splitlines()] == [cell_len(line) for line in shown.splitlines()]
    assert re.search(r"\[-*\*-*\]", written), "an estimate between its limits"
    assert re.search(r"[-=]*[\[=-]+\*-+\]", written)
    assert written.count("?") == shown.count("?"), "every sign has its stand-in"


async def test_without_colour_curves_and_cursor_are_still_told_apart():
    shown, styles = await screens(Look(colours=False))
    assert all(style.color is None and style.bgcolor is None for style in styles)
    assert any(style.reverse for style in styles), "the cursor"
    for letter in "ab":
        assert re.search(rf"[\u2800-\u28ff]{letter}[\u2800-\u28ff·]", shown), "a letter stands in its curve"


async def test_without_colour_the_cursor_of_a_line_to_type_in_can_be_seen():
    app = Dashboard(lambda cut: FakeDesk(), None, Asked(), Look(colours=False))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause(0.1)
        await pilot.press("slash", "a", "b")
        await pilot.pause(0.1)
        line = app.screen._compositor.render_strips()[2]
        reversed_at = [
            n for n, cell in enumerate(line.divide(range(1, 81))) for s in cell if s.style and s.style.reverse
        ]
        assert line.text.startswith("ab")
        assert reversed_at == [2]


async def test_values_of_reasons_are_read_with_their_limits_and_reasons_can_be_stacked():
    async with driven(size=(100, 40)) as driver:
        await driver.press("3", "left_square_bracket", "left_square_bracket")
        assert "infection 0" in driver.text
        assert re.search(r"at 13 years: infection \d\.\d\d % \(\d\.\d\d to \d\.\d\d\)", driver.text)
        read = re.search(r"at 13 years: infection (\S+)", driver.text)
        await driver.press("down")
        assert "at 13 years: loosening" in driver.text
        await driver.press("t")
        assert "stacked, the top is all reasons" in driver.text
        assert re.search("b{9,}", driver.text)
        assert read
        assert f"a infection {float(read[1]):.1f} at 13 y" in driver.text
        await driver.press("t", "right_square_bracket", "right_square_bracket")
        assert "each reason by itself" in driver.text
        assert " at 13 y" not in driver.text


async def test_groups_have_panels_on_one_scale_and_the_cursor_reads_them_all():
    async with driven(size=(100, 30)) as driver:
        await driver.press("t", "left_square_bracket")
        assert driver.text.count("▲") == 2
        assert "at 14 years" in driver.text
        assert re.search(r"a total \d\.\d \(\d\.\d to \d\.\d\) +b partial \d+\.\d \(", driver.text)
        await driver.press("t")
        assert driver.text.count("▲") == 1


async def test_a_long_reason_for_withholding_pushes_no_limits_out_of_view():
    class Withholding(FakeDesk):
        def risk(self, *asked, **named):
            report = super().risk(*asked, **named)
            withheld = "not reached: the longest follow-up of any of these joints is shorter"
            rows = [r if r.group == "total" else replace(r, estimate=None, withheld=withheld) for r in report.rows]
            return replace(report, rows=tuple(rows))

    async with driven(desk=Withholding()) as driver:
        (total,) = (line for line in driver.lines if "a total" in line and "88,120" in line and " to " in line)
        assert re.search(r"5\.5  \d\.\d to \d\.\d", total)
        (partial,) = (line for line in driver.lines if "b partial" in line and "not reached" in line)
        assert partial.rstrip().endswith("…")


async def test_no_scale_stands_over_bars_that_are_withheld():
    class Withholding(FakeDesk):
        def reasons(self, *asked, **named):
            report = super().reasons(*asked, **named)
            withheld = {"incidence": None, "lower": None, "upper": None, "withheld": "fewer than 40 joints at risk"}
            return replace(report, rows=tuple(replace(row, **withheld) for row in report.rows))

    async with driven(desk=Withholding()) as driver:
        await driver.press("3")
        (head,) = (line for line in driver.lines if "95 % limits" in line)
        assert head.split() == ["reason", "%", "95", "%", "limits", "ever", "share", "%"]
    async with driven() as driver:
        await driver.press("3")
        assert re.search(r"limits +0 to \d+\.\d % +ever", driver.text)


def luminance(rgb: tuple[int, int, int]) -> float:
    """WCAG 2.2, relative luminance."""
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in (part / 255 for part in rgb)]
    return sum(share * part for share, part in zip((0.2126, 0.7152, 0.0722), linear))


@pytest.mark.parametrize(("theme", "palette"), [(DARK, DARK_PALETTE), (LIGHT, LIGHT_PALETTE)])
async def test_curves_can_be_read_on_either_background(theme: str, palette: TerminalTheme):
    app = Dashboard(lambda cut: FakeDesk(), None, Asked(), Look(theme=theme))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        behind = luminance(app.screen.styles.background.rgb)
        assert app.ansi_theme is palette
    assert (behind > 0.5) is (theme == LIGHT)
    curves = [palette.ansi_colors[number] for number in COLOURS.values()]
    assert len(set(curves)) == len(curves)
    for curve in curves:
        low, high = sorted((behind, luminance(curve)))
        assert (high + 0.05) / (low + 0.05) >= 4.5  # WCAG 2.2, success criterion 1.4.3


@pytest.mark.parametrize(
    ("environ", "look"),
    [
        ({"TERM": "xterm-256color", "LANG": "en_GB.UTF-8"}, Look(False, DARK, True)),
        ({"TERM": "xterm", "LC_ALL": "C", "LANG": "en_GB.UTF-8"}, Look(True, DARK, True)),
        ({"TERM": "xterm", "LC_CTYPE": "C.UTF-8", "LANG": "POSIX"}, Look(True, DARK, True)),  # as Python leaves it
        ({"TERM": "xterm", "LC_CTYPE": "de_DE.ISO-8859-1"}, Look(True, DARK, True)),
        ({"TERM": "linux", "LANG": "C.UTF-8", "NO_COLOR": "1"}, Look(True, DARK, False)),
        ({"TERM": "screen", "NO_COLOR": ""}, Look(False, DARK, True)),  # no-color.org: where it is not empty
        ({"TERM": "xterm", "COLORFGBG": "0;default;15"}, Look(False, LIGHT, True)),
    ],
)
def test_a_terminal_says_what_it_can_show(environ: dict[str, str], look: Look):
    assert look_of(environ) == look
    assert look_of(environ, ascii_only=not look.ascii_only).ascii_only is not look.ascii_only
    assert look_of(environ, theme=LIGHT).theme == LIGHT
