"""
Completeness, delays, the reporting triangle and missingness against a plain second count with polars and numpy,
made from the rows as hospitals wrote them.

What is compared (registry over administrative count by hospital, joint, kind and month), the triangle and the shares
within 30, 60 and 90 days are common practice of registry offices (no published source); order statistics are numpy's
inverted_cdf, definition 1 of Hyndman & Fan (1996).
"""

from datetime import date, timedelta

import duckdb
import numpy as np
import polars
import pytest

from regdash.errors import FilterError
from regdash.intake.receive import receive
from regdash.reports.desk import Desk
from regdash.reports.policy import Policy
from regdash.reports.records import units_of
from regdash.store.cuts import cut_path
from regdash.store.freeze import freeze
from tests.reports.desks import asked
from tests.reports.quality_register import Drawn, draw_register

THROUGH = date(2007, 12, 31)
COMPLETE = {"H001": date(2007, 12, 31), "H002": date(2007, 10, 15), "H003": date(2007, 12, 31)}
KNOWN = date(2009, 6, 30)


@pytest.fixture(scope="module")
def register(tmp_path_factory) -> tuple[Drawn, Desk]:
    folder = tmp_path_factory.mktemp("records")
    drawn = draw_register(folder / "in", seed=7)
    receive(folder / "store", [folder / "in"])
    freeze(folder / "store", THROUGH)
    return drawn, Desk(folder / "store", policy=Policy(minimum_at_risk=1))


def records(drawn: Drawn) -> polars.DataFrame:
    """One row an operation: what was sent, and when it first came."""
    return polars.DataFrame(
        [
            {
                "hospital": sent.row["hospital_id"],
                "joint": sent.row["joint"],
                "kind": sent.row["kind"],
                "day": date.fromisoformat(sent.row["operation_date"]),
                "received": sent.received,
                "asa": sent.standing["asa"],
                "bmi": sent.standing["bmi"],
                "diagnosis": sent.standing["diagnosis"],
                "approach": sent.standing["approach"],
            }
            for sent in drawn.operations
        ]
    ).with_columns(
        month=polars.col("day").dt.truncate("1mo"),
        year=polars.col("day").dt.strftime("%Y"),
        delay=(polars.col("received") - polars.col("day")).dt.total_days(),
    )


def test_no_row_was_held_so_that_every_row_sent_is_in_the_cut(register):
    drawn, desk = register
    told = desk.missing(by=()).rows
    assert {row.records for row in told if row.field == "sex" and row.group.startswith("knee")} == {
        sum(sent.row["joint"] == "knee" for sent in drawn.operations)
    }


@pytest.mark.parametrize("by", ["hospital,joint,kind", "joint,kind,year", "hospital,joint,kind,month"])
def test_completeness_is_that_of_a_plain_count(register, by):
    drawn, desk = register
    cells = records(drawn).group_by("hospital", "joint", "kind", "month").len()
    names = ("hospital", "joint", "kind", "month", "counted")
    admin = polars.DataFrame(drawn.admin, schema=names, orient="row")
    both = cells.join(admin, on=names[:4], how="full", coalesce=True).with_columns(polars.col("len").fill_null(0))
    last = polars.col("month").dt.month_end()
    both = both.with_columns(
        reported=last <= polars.col("hospital").replace_strict(COMPLETE), year=polars.col("month").dt.strftime("%Y")
    ).with_columns(month=polars.col("month").dt.strftime("%Y-%m"))
    due = both.filter(polars.col("reported") & polars.col("counted").is_not_null())
    keys = by.split(",")
    compared = {row[:-2]: row[-2:] for row in due.group_by(keys).agg(_sum("len"), _sum("counted")).iter_rows()}
    alone = both.filter(polars.col("counted").is_null())
    without = {row[:-1]: row[-1] for row in alone.group_by(keys).agg(_sum("len")).iter_rows()}
    late = both.filter(polars.col("counted").is_not_null() & ~polars.col("reported"))
    awaited = {row[:-1]: row[-1] for row in late.group_by(keys).agg(_sum("counted")).iter_rows()}
    rows = {tuple(row.group.split(", ")): row for row in desk.completeness(by=units_of(by)).rows}
    assert set(rows) == set(compared) | set(without) | set(awaited)
    assert len(without) > 3
    assert any(n > m for n, m in compared.values())
    for group, row in rows.items():
        if group not in compared:
            assert (row.counted, row.completeness, row.registered) == (None, None, 0)
            assert "no administrative count" in row.withheld
        else:
            registered, counted = compared[group]
            assert (row.registered, row.counted) == (registered, counted)
            assert row.completeness == (registered / counted if counted else None)
            assert (row.fault is not None) == (registered > counted)
        assert (row.without_count, row.awaited) == (without.get(group, 0), awaited.get(group, 0))


def _sum(name: str) -> polars.Expr:
    return polars.col(name).sum()


def test_kinds_and_joints_are_kept_apart_unasked(register):
    report = register[1].completeness(by=("hospital",))
    assert report.head.by == ("joint", "hospital", "kind")
    assert "Joints are not mixed" in report.head.cautions[0]
    alone = register[1].completeness(asked(register[1], "joint=hip"), ("hospital",), "revision")
    assert alone.head.by == ("hospital",)


def test_delays_are_those_of_numpy(register):
    drawn, desk = register
    frame = records(drawn)
    settled = KNOWN - timedelta(days=90)
    assert (frame["day"] <= settled).all(), "every operation is old enough in this register"
    rows = {tuple(row.group.split(", ")): row for row in desk.delays(by=("joint", "hospital", "kind")).rows}
    groups = {key: part["delay"].to_numpy() for key, part in frame.group_by("joint", "hospital", "kind")}
    assert set(rows) == set(groups)
    for key, delays in groups.items():
        row = rows[key]
        assert row.operations == len(delays)
        assert row.median_days == np.quantile(delays, 0.5, method="inverted_cdf")
        assert row.ninetieth_days == np.sort(delays)[-(-9 * len(delays) // 10) - 1]
        assert [row.within_30, row.within_60, row.within_90] == [np.mean(delays <= most) for most in (30, 60, 90)]


def test_an_operation_of_the_last_ninety_days_says_nothing_on_delays(register, tmp_path):
    drawn, _ = register
    receive(tmp_path / "store", [drawn.folder])
    known = date(2007, 12, 31)
    freeze(tmp_path / "store", known, known_as_of=known)
    desk = Desk(tmp_path / "store")
    frame = records(drawn).filter(polars.col("received") <= known)
    old = frame.filter(polars.col("day") <= known - timedelta(days=90))
    rows = desk.delays(by=("joint",)).rows
    assert sum(row.operations for row in rows) == len(old)
    assert sum(row.too_recent for row in rows) == len(frame) - len(old) > 0


def test_the_triangle_is_a_plain_cross_table(register):
    drawn, desk = register
    frame = records(drawn).with_columns(
        operated=polars.col("day").dt.strftime("%Y-%m"), came=polars.col("received").dt.strftime("%Y-%m")
    )
    expected = {row[:-1]: row[-1] for row in frame.group_by("joint", "operated", "came").len().iter_rows()}
    rows = desk.triangle(months=0).rows
    assert {(row.group, row.operated, row.received): row.operations for row in rows} == expected
    for row in rows:
        of_row = {came: n for (j, o, came), n in expected.items() if (j, o) == (row.group, row.operated)}
        assert row.so_far == sum(n for came, n in of_row.items() if came <= row.received)
        assert row.share == row.so_far / sum(of_row.values())
        first, last = (int(month[:4]) * 12 + int(month[5:]) for month in (row.operated, row.received))
        assert row.months == last - first
    recent = desk.triangle(months=6).rows
    assert recent == tuple(row for row in rows if row.operated >= "2007-07")


def test_the_triangle_of_quarters_adds_up_that_of_months_and_ends_where_nothing_can_have_come(register):
    _, desk = register
    months, quarters = desk.triangle(months=0).rows, desk.triangle(months=0, period="quarter")
    expected: dict[tuple[str, ...], int] = {}
    for row in months:
        key = (row.group, *(f"{m[:4]}-Q{(int(m[5:]) + 2) // 3}" for m in (row.operated, row.received)))
        expected[key] = expected.get(key, 0) + row.operations
    assert {(row.group, row.operated, row.received): row.operations for row in quarters.rows} == expected
    assert quarters.latest == "2009-Q2"
    for line in quarters.lines:
        year, quarter = map(int, line.operated.split("-Q"))
        assert len(line.counts) == (2009 - year) * 4 + 2 - quarter + 1
        assert sum(line.counts) == line.so_far
        running = np.cumsum(line.counts) / line.so_far
        assert np.allclose(line.shares, running, rtol=0, atol=1e-15)


def test_a_small_cell_of_the_triangle_withholds_the_shares_whose_whole_it_is_part_of(register):
    shown = register[1].triangle(months=0, period="quarter")
    assert None not in [row.share for row in shown.rows]
    hidden = Desk(register[0].folder.parent / "store", withhold_counts_under=2).triangle(months=0, period="quarter")
    small = {(row.group, row.operated) for row in hidden.rows if row.operations is None}
    assert 0 < len(small) < len(shown.lines)
    assert all((row.share is None) == ((row.group, row.operated) in small) for row in hidden.rows)
    assert all(row.withheld for row in hidden.rows if row.share is None)


def test_a_file_has_as_many_groups_as_there_are_and_a_page_as_many_as_anybody_reads(register):
    by = ("hospital", "month")
    whole = register[1].delays(by=by).rows
    few = Desk(register[0].folder.parent / "store")
    few.most_groups = 5
    with pytest.raises(FilterError, match=f"gives {len(whole)} groups, more than the 5.*--csv"):
        few.delays(by=by)
    few.most_groups = None
    assert len(few.delays(by=by).rows) == len(whole)


def test_missingness_is_a_plain_count_of_empty_cells(register):
    drawn, desk = register
    frame = records(drawn).filter(polars.col("kind") == "primary")
    rows = {(row.group, row.field): row for row in desk.missing(by=("joint", "hospital", "year")).rows}
    seen = 0
    for key, part in frame.group_by("joint", "hospital", "year"):
        for name in ("asa", "bmi", "diagnosis", "approach"):
            row = rows[", ".join(key), name]
            empty = int((part[name] == "").sum())
            assert (row.records, row.missing, row.share) == (len(part), empty, empty / len(part))
            seen += empty
    assert seen > 10


def test_a_field_is_judged_only_where_it_applies(register):
    rows = {(row.group, row.field): row for row in register[1].missing().rows}
    assert ("knee", "patella") in rows
    assert ("hip", "patella") not in rows
    assert ("shoulder", "bearing") not in rows
    assert ("knee", "compartment") not in rows
    assert rows["hip", "reason"].missing == 0
    assert rows["hip", "lot"].missing == 0
    hips = [sent.row["kind"] for sent in register[0].operations if sent.row["joint"] == "hip"]
    assert rows["hip", "lot"].records == 4 * hips.count("primary") + hips.count("revision")


def test_each_hospital_is_followed_to_the_earliest_of_what_is_complete(register):
    rows = {row.sender: row for row in register[1].complete_through().rows if row.feed == "operations"}
    assert {sender: row.complete_through for sender, row in rows.items()} == {
        sender: day.isoformat() for sender, day in COMPLETE.items()
    }
    assert {sender: row.followed_to for sender, row in rows.items()} == {
        "H001": "2007-11-30",
        "H002": "2007-10-15",
        "H003": "2007-11-30",
    }
    assert [rows[sender].days_behind for sender in sorted(rows)] == [0, 77, 0]


def test_follow_up_of_every_joint_stops_there(register):
    """Knees, hips and shoulders: nobody is followed past it, and who is in place is followed right to it."""
    desk = register[1]
    limits = {row.sender: row.followed_to for row in desk.complete_through().rows if row.feed == "operations"}
    query = "select joint::varchar, hospital_id::varchar, implanted_date + days from follow_up where ended = 'in place'"
    with duckdb.connect() as connection:
        connection.execute(
            f"attach '{cut_path(register[0].folder.parent / 'store', desk.manifest.cut)}' as cut (read_only)"
        )
        connection.execute("use cut")
        told = connection.execute(query).fetchall()
    assert {joint for joint, _, _ in told} == {"knee", "hip", "shoulder"}
    assert {(hospital, stops.isoformat()) for _, hospital, stops in told} == set(limits.items())


def test_small_counts_are_withheld_with_what_gives_them_away(register):
    desk = register[1]
    desk = Desk(desk._store, withhold_counts_under=5)
    for row in desk.completeness(by=("hospital", "joint", "kind")).rows:
        if row.completeness is not None:
            assert min(row.registered, row.counted) >= 5
    for row in desk.missing(by=("hospital",)).rows:
        assert row.missing is None or row.missing in (0, row.records) or 5 <= row.missing <= row.records - 5
    assert any(row.missing is None for row in desk.missing(by=("hospital",)).rows)


def test_words_that_speak_of_joints_alone_are_refused(register):
    desk = register[1]
    with pytest.raises(FilterError, match="age does not choose records of both kinds"):
        desk.completeness(asked(desk, "age=50..59"))
    with pytest.raises(FilterError, match="not grouped by yeer"):
        units_of("yeer")
