"""
What the classes of a drawing look like: for paper, and for pages in light and dark.

Series differ in shape and dashes first. The colours are of unequal lightness, so that they differ in grey print and for
readers who tell few colours apart; each has at least 3:1 against its background (WCAG 2.2, 1.4.11).
"""

TEXT, SMALL, BOLD = "t", "t n", "t b"
AXIS, GRID, ZERO = "axis", "grid", "zero"
SERIES = 6

LIGHT = ("#0b4f8a", "#b4480f", "#1f7a4d", "#7a3b93", "#4d4d4d", "#8a6d00")
DARK = ("#7db8ee", "#f2a36b", "#7fd3a6", "#d3a4e6", "#c9c9c9", "#e3c65a")
DASHES = ("", "7 4", "2 3", "10 3 2 3", "12 5", "4 2 1 2")
FONTS = "sans-serif"

_SHARED = (
    f".figure text{{font-family:{FONTS};font-size:13px}}.figure .n{{font-size:12px}}.figure .b{{font-weight:bold}}"
    ".figure line,.figure path{fill:none}.figure .axis{stroke-width:1}.figure .grid{stroke-width:.6}"
    ".figure .zero{stroke-width:1.2;stroke-dasharray:4 3}"
)


def figure_css(series: tuple[str, ...], ink: str, pale: str, font: str = FONTS) -> str:
    """
    Say the look of all classes in given colours.

    Args:
        series: a colour for each series; ink: of text and axes; pale: of what stands behind.
    """
    rules = [_SHARED.replace(FONTS, font), f".figure .t{{fill:{ink}}}.figure .axis,.figure .zero{{stroke:{ink}}}"]
    rules.append(f".figure .grid{{stroke:{pale}}}")
    for n, (colour, dash) in enumerate(zip(series, DASHES, strict=True)):
        dashed = f";stroke-dasharray:{dash}" if dash else ""
        rules.append(
            f".figure .s{n}{{stroke:{colour};stroke-width:1.8{dashed}}}.figure "
            f".w{n}{{stroke:{colour};stroke-width:1.6}}"
            f".figure .f{n}{{fill:{colour}}}.figure .a{n}{{fill:{colour};fill-opacity:.14}}"
        )
    return "".join(rules)


PRINT_CSS = figure_css(LIGHT, "#1a1a1a", "#c4c4c4")
PAGE_CSS = figure_css(tuple(f"var(--s{n})" for n in range(SERIES)), "var(--ink)", "var(--rule)")


def page_variables(series: tuple[str, ...]) -> str:
    """Write the colours of a page's theme as custom properties."""
    return "".join(f"--s{n}:{colour};" for n, colour in enumerate(series))
