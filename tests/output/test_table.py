"""Tables keep their columns under each other, within a width, whatever the cells hold."""

import unicodedata

from hypothesis import example, given
from hypothesis import strategies as st

from regdash.output import sheets
from regdash.output.table import Column, labelled, lay_out, safe, wide
from regdash.reports.model import ImplantRow


def test_numbers_stand_right_and_text_left():
    table = lay_out([Column("group", ["total", "partial"], left=True), Column("joints", ["8", "1,200"])], 79)
    assert table.lines == (
        "group    joints",
        "---------------",
        "total         8",
        "partial   1,200",
    )


def test_a_column_that_may_be_wrapped_gives_way_and_loses_no_word():
    words = "loosening, several components, and a remark of the surgeon"
    table = lay_out([Column("reason", [words], left=True, least=12), Column("revised", ["12"])], 30)
    assert all(len(line) <= 30 for line in table.lines)
    assert " ".join(line[:21].strip() for line in table.lines[2:]) == words
    assert table.left_out == ()


def test_a_word_is_broken_only_where_no_other_column_can_give_way():
    columns = [
        Column("role", ["resurfacing head"], left=True, least=8),
        Column("told", ["a long remark of the surgeon"], left=True, least=8),
    ]
    assert "resurfacing" in lay_out(columns, 28).lines[2]
    assert "resurfacing" not in lay_out(columns, 18).lines[2]


def test_roles_and_classes_of_implants_are_not_broken_beside_one_another():
    use = (1_812, 9, 30, "2004-01-01", "2024-01-01", 9_000.0, 872, 700.0)
    row = ImplantRow("ZR-008", "resurfacing head", "resurfacing hip", *use, *(1.0,) * 6, 0.25)
    columns = sheets.implant_columns([row], 0.95, sheets.Withheld())
    assert "resurfacing  resurfacing" in lay_out(columns, 79).lines[2]


def test_the_least_important_column_is_left_out_first_and_named():
    columns = [Column("a", ["x" * 10]), Column("b", ["y" * 10], rank=2), Column("c", ["z" * 10], rank=1)]
    assert lay_out(columns, 22).left_out == ("b",)
    assert lay_out(columns, 21).left_out == ("c", "b")
    assert "x" * 10 in lay_out(columns, 1).lines[2]


def test_a_cell_cannot_command_the_terminal():
    """What hospitals submit reaches this table; an escape sequence could rewrite what the reader sees."""
    table = lay_out([Column("text", ["\x1b]0;owned\x07\r\nnext\x9b2J\u202e"], left=True)], 79)
    assert all(line.isprintable() for line in table.lines)
    assert len(table.lines) == 3


cells = st.lists(
    st.text(st.sampled_from("ab 膝-\u0301\x1b"), max_size=30) | st.text(max_size=30), min_size=1, max_size=5
)


@example([["", ""], ["", ""], ["", "aaaa"], ["", "aaaaá膝膝\u0301"]], 22)
@given(st.lists(cells, min_size=1, max_size=5), st.integers(20, 79))
def test_no_line_is_wider_than_the_page_where_every_column_may_be_wrapped_or_left_out(texts, width):
    rows = min(map(len, texts))
    columns = [Column(f"c{n}", text[:rows], left=True, least=6, rank=n) for n, text in enumerate(texts)]
    table = lay_out(columns, width)
    assert all(wide(line) <= width for line in table.lines)
    assert len(table.left_out) < len(columns)


def test_characters_of_two_columns_are_wrapped_by_the_columns_they_take():
    assert lay_out([Column("text", ["膝" * 7], left=True, least=4)], 6).lines[2:] == ("膝膝膝", "膝膝膝", "膝")


@given(st.text())
def test_what_is_shown_is_printable(text):
    assert safe(text).isprintable()
    assert len(safe(text)) == len(text)


def test_wide_and_combining_characters_take_the_columns_that_a_terminal_gives_them():
    """East Asian Width and combining classes: Unicode Standard Annex 11, and UnicodeData."""
    assert wide("膝") == 2
    assert wide(unicodedata.normalize("NFD", "é")) == 1


def test_a_long_value_is_wrapped_under_itself():
    assert labelled([("cohort", "one two three"), ("cut", "x")], 14) == [
        "cohort  one",
        "        two",
        "        three",
        "cut     x",
    ]
