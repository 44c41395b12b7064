"""
A hostile reader of the tables that everybody gets. The attacker is a linear program (scipy.optimize.linprog, HiGHS),
which knows all that is shown, that what is left out is at least 1, and its own joints.
"""

import csv
import io
from datetime import date
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import linprog

from regdash import grouping
from regdash.cohort import parse
from regdash.reports.desk import Desk
from regdash.reports.model import RiskRow
from regdash.reports.policy import Policy
from regdash.summary.disclosure import risks_of_others
from regdash.summary.released import read_released
from regdash.summary.suppression import BESIDE, MOVED, SMALL, Reader, suppressed
from tests.cli.asking import regdash
from tests.cuts import Row, joint, make_cut
from tests.stats.table_solver import solved, with_totals

UNDER, WIDTH = 5, 4  # as in public.toml


def narrowest(shown: np.ndarray, hidden: np.ndarray, own: np.ndarray, truth: np.ndarray) -> int | None:
    """
    Attack as one reader, and give the width of the interval that a small count of all others is told by.

    Args:
        shown: counts with totals, whatever where they are hidden; own: the reader's; truth: to know what is small.
    """
    left = truth - own
    least = np.where(hidden, np.maximum(1 - own, 0), 0)
    known = np.where(hidden, 0, shown - own)
    widths = []
    for row, column in np.argwhere((left > 0) & (left < UNDER)).tolist():
        low, high = solved(known, hidden, least, row, column)
        assert low <= left[row, column] <= high
        widths.append(high - low)
    return min(widths) if widths else None


def test_a_small_count_takes_the_smallest_rectangle_with_it() -> None:
    table = with_totals(np.array([[3, 20, 50], [9, 30, 60], [40, 41, 42]]))
    found = suppressed(table, [], UNDER, WIDTH)
    assert found.why == {(0, 0): SMALL, (0, 1): BESIDE, (1, 0): BESIDE, (1, 1): BESIDE}


def test_a_cell_with_one_large_unit_goes_though_it_is_large() -> None:
    table = with_totals(np.array([[50, 20], [70, 30]]))
    own = with_totals(np.array([[48, 0], [0, 10]]))
    found = suppressed(table, [Reader("H001", own)], UNDER, WIDTH)
    assert found.hidden[0, 0]
    assert not suppressed(table, [], UNDER, WIDTH).hidden.any()


def test_who_has_all_of_a_withheld_cell_does_not_tell_the_other() -> None:
    """2 and 10 stand beside a total of 12: who has all of the 10 would know that the other is 1 or 2."""
    table = with_totals(np.array([[2, 10, 300], [70, 80, 200]]))
    own = with_totals(np.array([[0, 10, 5], [3, 0, 0]]))
    plain, guarded = (suppressed(table, readers, UNDER, WIDTH) for readers in ([], [Reader("H001", own)]))
    assert narrowest(table, plain.hidden, own, table) < WIDTH
    assert narrowest(table, guarded.hidden, own, table) >= WIDTH


def test_no_reader_of_any_table_tells_a_small_count_closer_than_is_stated() -> None:
    draw, attacked = np.random.default_rng(3), 0
    for _ in range(12):
        shape = (int(draw.integers(1, 5)), int(draw.integers(1, 6)))
        mean = draw.choice([1.0, 4.0, 12.0])
        parts = [draw.poisson(mean * draw.choice([0.2, 1.0, 4.0], shape)) for _ in range(3)]
        owns = [with_totals(part) for part in parts]
        table = with_totals(np.sum(parts, axis=0))
        found = suppressed(table, [Reader(f"H{n}", own) for n, own in enumerate(owns)], UNDER, WIDTH)
        assert not found.hidden[table == 0].any()
        for own in (np.zeros_like(table), *owns):
            width = narrowest(table, found.hidden, own, table)
            assert width is None or width >= WIDTH
            attacked += width is not None
    assert attacked > 15


def knees() -> list[Row]:
    """Draw the knees of two quarters."""
    draw = np.random.default_rng(11)
    rows = []
    for _ in range(900):
        hospital = int(draw.choice([1, 2, 3, 4], p=[0.45, 0.35, 0.17, 0.03]))
        kind = "partial" if draw.random() < (0.3 if hospital == 1 else 0.02) else "total"
        month, day = int(draw.integers(4, 10)), int(draw.integers(1, 29))
        rows.append(
            joint(
                class_=kind,
                age=int(np.clip(draw.normal(69, 9), 40, 95)),
                implanted_date=date(2024, month, day),
                days=90,
                hospital_id=f"H{hospital:03d}",
                surgeon_id=f"S{hospital:03d}{int(draw.integers(3))}",
            )
        )
    return rows


@pytest.fixture(scope="module")
def busy(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A store with two quarters of knees: large and small cells, and hospitals that do nearly all of a kind."""
    return make_cut(tmp_path_factory.mktemp("busy") / "store", knees())


@pytest.fixture(scope="module")
def editions(busy: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Everybody's editions of both quarters."""
    folder = tmp_path_factory.mktemp("public")
    for quarter in ("2024Q2", "2024Q3"):
        said = regdash("summary", quarter, "--for", "public", "--out", folder / quarter, store=busy)
        assert said.code == 0, said.stderr
    return {quarter: folder / quarter for quarter in ("2024Q2", "2024Q3")}


def test_from_two_quarters_and_own_joints_no_unit_tells_a_small_count(busy: Path, editions: dict[str, Path]) -> None:
    desk, attacked, shown_cells = Desk(busy), 0, 0
    for quarter, folder in editions.items():
        text = (folder / "tables" / "operations-knee.csv").read_text(encoding="utf-8")
        lines = list(csv.DictReader(io.StringIO(text)))
        classes, ages = (list(dict.fromkeys(line[name] for line in lines)) for name in ("class", "age"))
        hidden = np.array([line["joints"] == "withheld" for line in lines]).reshape(len(classes), -1)
        numbers = [0 if line["joints"] == "withheld" else int(line["joints"]) for line in lines]
        shown = np.array(numbers).reshape(hidden.shape)
        cohort, by = parse(("joint=knee", f"implanted={quarter}")), grouping.parse("class,age")
        truth = counted(desk.joints_of_groups(cohort, by), classes, ages)
        assert np.array_equal(shown[~hidden], truth[~hidden])
        shown_cells += int((~hidden & (truth > 0)).sum())
        units = {**desk.joints_by_unit("hospitals", cohort, by), **desk.joints_by_unit("surgeons", cohort, by)}
        for own in (np.zeros_like(truth), *(counted(one, classes, ages) for one in units.values())):
            width = narrowest(shown, hidden, own, truth)
            assert width is None or width >= WIDTH
            attacked += width is not None
    desk.close()
    assert attacked > 10
    assert shown_cells > 8


def counted(counts: dict[tuple[str, ...], int], classes: list[str], ages: list[str]) -> np.ndarray:
    return with_totals(np.array([[counts.get((one, other), 0) for other in ages[:-1]] for one in classes[:-1]]))


def test_the_office_reads_what_was_withheld_and_no_recipient_does(
    busy: Path, editions: dict[str, Path], tmp_path: Path
) -> None:
    (busy / "editions").mkdir(exist_ok=True)
    (busy / "editions" / "committee.toml").write_text(
        'version = "1"\ntitle = "Ours"\njoints = ["knee"]\nyears = [1]\nreason_years = 5\nhorizon = 5\n'
        'rows_on_paper = 25\nsections = ["withheld"]\n',
        encoding="utf-8",
    )
    said = regdash("summary", "2024Q3", "--out", tmp_path / "office", store=busy)
    assert said.code == 0, said.stderr
    with (tmp_path / "office" / "tables" / "withheld-counts.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    public = editions["2024Q3"] / "tables"
    with (public / "operations-knee.csv").open(encoding="utf-8", newline="") as file:
        left_out = {(row["class"], row["age"]) for row in csv.DictReader(file) if row["joints"] == "withheld"}
    assert {(row["class"], row["age"]) for row in rows} == left_out
    assert {row["why"] for row in rows} >= {SMALL, BESIDE}
    assert all(int(row["joints"]) > 0 for row in rows)
    assert not list(public.glob("withheld*"))


def test_risks_before_and_after_a_withheld_one_leave_it_as_wide_as_is_stated() -> None:
    """Revisions by a time never fall: a solver bounds each withheld number between those that figures tell."""
    draw, attacked = np.random.default_rng(5), 0
    policy, years = Policy(withhold_counts_under=UNDER), (1.0, 3.0, 5.0, 10.0)
    for _ in range(60):
        truth = np.cumsum(draw.poisson(draw.choice([0.7, 3.0, 9.0], 4)))
        rows = [RiskRow("x", y, 900, int(n), 0.1, 0.05, 0.2) for y, n in zip(years, truth)]
        told = [row.estimate is not None for row in risks_of_others(policy, rows)]
        bounds = [(n, n) if shown else (0, 10_000) for n, shown in zip(truth, told)]
        rising = -np.eye(4)[1:] + np.eye(4)[:-1]
        steps = np.diff(truth, prepend=0)
        small = [n for n in range(4) if 0 < truth[n] < UNDER or (n and told[n - 1] and 0 < steps[n] < UNDER)]
        for n in small:
            aims = (np.eye(4)[n], -np.eye(4)[n])
            low, high = (round(linprog(aim, A_ub=rising, b_ub=np.zeros(3), bounds=bounds).x[n]) for aim in aims)
            assert high - low >= WIDTH
            attacked += 1
    assert attacked > 40


def test_a_count_that_moved_by_few_since_it_was_told_goes_and_nothing_tells_it() -> None:
    """Three late rows in one cell: the cell, its totals and their difference must not tell that they are three."""
    cells = np.array([[40, 60, 50], [90, 30, 60], [40, 41, 42]])
    before = with_totals(cells)
    cells[1, 1] += 3
    table = with_totals(cells)
    found = suppressed(table, [], UNDER, WIDTH, before)
    assert {place for place, why in found.why.items() if why == MOVED} == {(1, 1), (1, 3), (3, 1), (3, 3)}
    least = np.where(found.hidden, 1, 0)
    for row, column in ((1, 1), (1, 3), (3, 1), (3, 3)):
        low, high = solved(np.where(found.hidden, 0, table), found.hidden, least, row, column)
        assert high - low >= WIDTH
    assert not suppressed(table, [], UNDER, WIDTH).hidden.any()
    assert not suppressed(table, [], UNDER, WIDTH, table).hidden.any()


def test_a_quarter_told_again_from_a_later_cut_is_not_set_off_against_the_first(
    busy: Path, editions: dict[str, Path], tmp_path: Path
) -> None:
    later = make_cut(tmp_path / "store", [*knees(), *(joint(implanted_date=date(2024, 8, 1), days=90),) * 2])
    words = ("summary", "2024Q3", "--for", "public", "--previous", editions["2024Q3"], "--out")
    said = regdash(*words, tmp_path / "again", store=later)
    assert said.code == 0, said.stderr
    told = [read_released(folder, ("knee",)).counts["knee"] for folder in (editions["2024Q3"], tmp_path / "again")]
    both = [(told[0][cell], told[1][cell]) for cell in told[0] if told[0][cell] is not None]
    assert all(now is None or now == was or abs(now - was) >= UNDER for was, now in both)
    assert any(now is None for _, now in both)
    assert regdash("verify", tmp_path / "again", store=later).code == 0
    other = regdash(*words[:4], "--previous", tmp_path, "--out", tmp_path / "x", store=later)
    assert other.code == 1
    assert "is no folder of a public edition" in other.stderr
