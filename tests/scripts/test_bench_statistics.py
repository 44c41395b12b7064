"""What the statistics' bench measures is real: its cut is a cut, and its figures are lifelines' too."""

import sys
from pathlib import Path

import bench_cut
import bench_others
import bench_questions
import bench_statistics
import numpy as np
import pytest
from bench_questions import QUESTIONS

from regdash import cohort, grouping
from regdash.reports.desk import Desk
from regdash.store.cuts import Cut

JOINTS = 6000


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A cut in `store` and the same joints in `rows`."""
    folder = tmp_path_factory.mktemp("bench")
    drawn = bench_cut.draw(JOINTS)
    bench_cut.write_cut(folder / "store", drawn)
    bench_cut.write_rows(folder / "rows", drawn)
    return folder


def test_the_cut_answers_the_programs_own_questions(made):
    desk = Desk(made / "store")
    report = desk.risk(cohort.parse([], known=desk.known), grouping.parse("bearing"), years=[5])
    desk.close()
    drawn = bench_cut.draw(JOINTS)
    fixed = drawn.codes["bearing"] == 0
    assert report.head.joints == JOINTS
    assert report.head.revisions == drawn.revised.sum()
    assert report.rows[0].revisions == (drawn.revised & fixed & (drawn.days <= 5 * 365.25)).sum()


@pytest.mark.slow  # all that the bench measures
@pytest.mark.parametrize("question", ["net_risk", "cox"])
def test_ours_and_lifelines_agree_on_the_benchs_joints(made, question):
    cut = Cut(made / "store")
    ours = bench_questions.timed(QUESTIONS[question], cut, 1)[1]
    cut.close()
    _, theirs = bench_others.timed(bench_others.JOBS["lifelines", question], bench_others.Rows.of(made / "rows"))
    assert ours.keys() == theirs.keys()
    assert bench_statistics.largest_difference(ours, theirs) < 1e-8


def test_every_asking_counts_afresh(made, monkeypatch):
    counted = []
    own = Cut.columns_in_parts

    def fetched(self, sql, **given):
        counted.append(sql)
        return own(self, sql, **given)

    monkeypatch.setattr(Cut, "columns_in_parts", fetched)
    cut = Cut(made / "store")
    bench_questions.timed(QUESTIONS["net_risk"], cut, 2)
    cut.close()
    assert len(counted) == 3


def test_a_larger_difference_is_another_answer():
    one, other = ({"log ratio": np.array([0.1, np.nan]), "statistic": np.array([value])} for value in (50.0, 51.0))
    assert bench_statistics.largest_difference(one, other) == pytest.approx(0.02)
    line = bench_statistics._other(
        bench_statistics.Figures("regdash", {"seconds": 1.0}, 0.1, one),
        bench_statistics.Figures("another", {"seconds": 9.0}, 0.1, other),
    )
    assert "another " in line
    assert "9.0 ×" not in line


@pytest.mark.parametrize(
    ("code", "patience", "trouble"),
    [("raise SystemExit('no such data')", 30.0, "failed: no such data"), ("import time; time.sleep(30)", 0.5, "over")],
)
def test_a_program_without_an_answer_says_why(tmp_path, code, patience, trouble):
    found = bench_statistics.asked("it", [sys.executable, "-c", code], tmp_path / "answer", patience)
    assert found.trouble.startswith(trouble)
    assert found.took == np.inf
