"""The list of every screen's title, keys and labels is that of the program."""

import labels


def test_the_list_is_that_of_the_program():
    """Write it anew with .venv/bin/python scripts/labels.py, and read what changed."""
    assert labels.LIST.read_text(encoding="utf-8").splitlines() == labels.listed().splitlines()


def test_places_keys_columns_and_sentences_are_listed():
    lines = labels.listed().splitlines()
    assert lines[0].endswith("6 units 7 quality 8 cuts 9 sql")
    for line in (
        "screen UnitScreen: How the primaries of one unit last; as the place on risk, with two groups.",
        "  key Tab: hospitals, surgeons",
        "  column: last 365 d",
        "  text: There is no earlier question.",
        "  title: one SELECT  [Tab completes · Enter asks · ctrl+j new line · Escape leaves]",
    ):
        assert line in lines
