"""The strip of a unit's quarters: one character each, years apart, and the words that say the same."""

from regdash.signals.history_model import HistoryRow
from regdash.signals.history_strip import LEGEND, history_lines, in_words, strip, strip_lines

QUARTERS = [f"{year}Q{number}" for year in range(2002, 2022) for number in (1, 2, 3, 4)][1:]  # from 2002Q2: 79
STATES = " " * 10 + "-" * 9 + "." * 20 + "#" * 40


def row(states: str, **more: object) -> HistoryRow:
    given = {"first_seen": None, "window": None, "years_to_first_seen": None, "joints": None, "revisions": None}
    return HistoryRow("KF-001", "femoral", "total", None, states, **(given | more))  # type: ignore[arg-type]


def test_every_quarter_has_its_character_and_no_line_is_longer_than_the_width() -> None:
    for width in (20, 40, 78):
        lines = strip_lines(QUARTERS, STATES, width)
        assert max(map(len, lines)) <= width
        assert all(line.isascii() for line in lines)
        drawn = "".join(line[6:].replace(" ", "") for line in lines)
        assert drawn == STATES.strip()
    assert strip_lines(QUARTERS, STATES, 78)[1].startswith("2016  #### ####")
    assert strip_lines([], "", 40) == []
    assert (strip(STATES, 3), strip(STATES, 0), strip("#", 9)) == ("###", "", "#")


def test_words_say_what_the_strip_shows_and_the_legend_names_every_character() -> None:
    seen = row("--..#.", first_seen="2003Q2", window="all", years_to_first_seen=1.25)
    told = in_words(seen, QUARTERS)
    assert told == (
        "first seen in 2003Q2, 1.2 years after its first use here; seen again in 0 of 1 quarter since; not seen now, "
        "last in 2003Q2"
    )
    assert in_words(row("--.."), QUARTERS) == "never a signal; tested in 2 of 4 quarters"
    drawn = history_lines([seen], QUARTERS[:6], 60)
    assert drawn[0] == "KF-001, femoral, total"
    assert drawn[1] == "  2002   --. .#."
    assert " ".join(drawn[drawn.index("") + 1 :]).split() == LEGEND.split()
    assert {"#", ".", "-"} <= set(LEGEND)
