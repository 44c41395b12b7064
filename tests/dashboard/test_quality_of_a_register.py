"""The place on data quality on a register that was taken in and frozen: its lists show what the desk answers."""

import shlex
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest

from regdash import cohort
from regdash.dashboard.quality_lists import SECTIONS
from regdash.dashboard.sections import Section
from regdash.intake.receive import receive
from regdash.reports.desk import Desk
from regdash.store.freeze import freeze
from tests.cli.asking import regdash
from tests.dashboard.driving import Driver, driven
from tests.reports.quality_register import draw_register

KNEES = cohort.parse("joint=knee")
BY = ("hospital",)


@pytest.fixture(scope="module")
def store(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("quality")
    draw_register(folder / "in", seed=11)
    receive(folder / "store", [folder / "in"])
    freeze(folder / "store", date(2007, 12, 31))
    return folder / "store"


@pytest.fixture
def desk(store: Path) -> Iterator[Desk]:
    desk = Desk(store)
    desk.slow = set()  # type: ignore[attr-defined]  # as the driver looks for on its double
    yield desk
    desk.close()


def shown(on: Driver) -> list[tuple[str, ...]]:
    """The rows of the list that has the focus, cell by cell."""
    return [tuple(map(str, row.cells)) for row in on.grid.listed]


def percent(share: float | None, withheld: str | None = None) -> str:
    return f"{100 * share:.1f}" if share is not None else "withheld" if withheld else "–"


def counted(count: int | None) -> str:
    return "–" if count is None else f"{count:,}"


async def test_lists_about_records_show_the_desks_figures_of_the_filters_joint(desk: Desk):
    links, complete, triangle = desk.linked(KNEES, BY), desk.completeness(KNEES, BY), desk.triangle(KNEES)
    delays, missing = desk.delays(KNEES, BY), desk.missing(KNEES, BY)
    async with driven("joint=knee", desk=desk) as on:
        await on.press("7", *["tab"] * 4)
        assert [row[:4] for row in shown(on)] == [
            (row.group, str(row.revisions), str(row.linked), percent(row.share)) for row in links.rows
        ]
        await on.press("tab", "tab")
        assert [(f"{row[0]}, {row[1]}", *row[2:5]) for row in shown(on)] == [
            (
                row.group,
                str(row.registered),
                counted(row.counted),
                percent(row.completeness, row.withheld),
            )
            for row in complete.rows
        ]
        await on.press("tab")
        assert [row[:5] for row in shown(on)] == [
            (row.group, str(row.operations), str(row.median_days), str(row.ninetieth_days), percent(row.within_30))
            for row in delays.rows
        ]
        await on.press("tab", "g", "g")
        lines = [(line.operated, str(line.so_far), *map(str, line.counts)) for line in reversed(triangle.lines)]
        assert [tuple(cell for cell in row if cell) for row in shown(on)] == lines
        await on.press("tab")
        titles = [column.title for column in on.grid.columns]
        cells = {(title, row[0]): row[n] for row in shown(on) for n, title in enumerate(titles) if n}
        assert len(missing.rows) > 20
        assert {(row.group, row.field): percent(row.share) for row in missing.rows}.items() <= cells.items()


async def test_feeds_and_received_rows_are_the_desks_whatever_joint_is_asked_for(desk: Desk):
    async with driven("joint=knee", desk=desk) as on:
        await on.press("7", "tab", "tab")
        assert "joint=knee not followed here" in on.lines[1]
        found = desk.received(cohort.Cohort()).rows
        assert [row[:3] for row in shown(on)] == [(r.sender, f"{r.received:,}", f"{r.accepted:,}") for r in found]
        await on.press("tab")
        feeds = desk.complete_through().rows
        assert [row[:4] for row in shown(on)] == [
            (row.sender, row.feed, row.complete_through, f"{row.days_behind:,}") for row in feeds
        ]
        assert any(row.days_behind for row in feeds)


async def test_joints_are_kept_apart_where_no_filter_says_which(desk: Desk):
    apart = desk.linked(cohort.parse("hospital=H001,H002"), BY)
    async with driven("hospital=H001,H002", desk=desk) as on:
        await on.press("7", *["tab"] * 4)
        assert [column.title for column in on.grid.columns[:2]] == ["joint", "hospital"]
        assert [f"{row[0]}, {row[1]}" for row in shown(on)] == [row.group for row in apart.rows]


@pytest.mark.parametrize("section", SECTIONS, ids=lambda section: section.name)
@pytest.mark.parametrize("words", ["", "hospital=H001", "hospital=H001,H002 joint=knee implanted=2006.."])
def test_the_command_that_a_list_names_is_one_that_runs(section: Section, words: str, store: Path, desk: Desk):
    asked, by = section.followed(cohort.parse(words)), BY if BY in section.groupings else section.groupings[0]
    rows = section.table(section.ask(desk, asked, by), 80)[1]
    desk.close()  # one process opens a cut in one way at a time
    for row in [None, *rows[:1]]:
        program, *command = shlex.split(section.command(asked, by, row))
        assert program == "regdash"
        assert regdash(*command, store=store).code == 0, command


def test_hospitals_have_the_completeness_that_is_asked_by_itself(desk):
    found = {row.group: row.completeness for row in desk.completeness(KNEES, BY, "primary").rows}
    profiles = desk.profiles("hospitals", KNEES).rows
    assert any(row.completeness for row in profiles)
    assert {row.group: row.completeness for row in profiles} == {row.group: found.get(row.group) for row in profiles}
