"""Bars made of characters."""

from hypothesis import given
from hypothesis import strategies as st

from regdash.charts.bars import column_chart, limits_bar

SHARE = st.one_of(st.none(), st.floats(0, 1))


@given(values=st.tuples(SHARE, SHARE, SHARE), largest=st.floats(0, 1), width=st.integers(0, 100))
def test_a_bar_always_has_its_width(values, largest, width):
    assert len(limits_bar(*values, largest, width)) == width


def test_a_bar_ends_at_its_estimate_and_limits_stand_beside_it():
    bar = limits_bar(0.5, 0.25, 0.75, 1.0, 41)
    assert (bar.index("├"), bar.index("●"), bar.index("┤")) == (10, 20, 30)


def test_a_limit_beyond_the_scale_stands_at_its_edge():
    assert limits_bar(0.5, 0.4, 9.0, 1.0, 21).endswith("┤")


def test_a_longer_bar_is_a_larger_share_whatever_the_colour():
    short, long = (limits_bar(share, None, None, 1.0, 40).rstrip() for share in (0.2, 0.6))
    assert len(long) > 2 * len(short)


@given(
    counts=st.lists(st.tuples(st.from_regex(r"[0-9]{4}", fullmatch=True), st.integers(0, 10**7)), max_size=60),
    width=st.integers(1, 200),
    height=st.integers(1, 30),
)
def test_columns_never_leave_their_room(counts, width, height):
    drawn = column_chart(counts, width, height)
    assert len(drawn) == height
    assert max(map(len, drawn)) <= width


def test_columns_stand_in_proportion_and_every_count_shows():
    drawn = column_chart([("2001", 800), ("2002", 400), ("2003", 1)], 60, 9)
    heights = [sum(line.ljust(60)[column] != " " for line in drawn[:-1]) for column in (7, 15, 23)]
    assert heights == [8, 4, 1]


def test_the_latest_years_are_kept_where_there_are_too_many():
    drawn = column_chart([(str(year), year) for year in range(1950, 2025)], 40, 5)
    assert "1950" not in drawn[-1]
