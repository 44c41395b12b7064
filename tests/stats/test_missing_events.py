"""
Risks as if a share of revisions were missing: on counts worked out by hand, and on a synthetic register whose truth is
known, from which revisions are deleted at random.
"""

import csv
from datetime import date
from pathlib import Path

import numpy as np
import pytest

from regdash.errors import CountError
from regdash.stats.aalen_johansen import aalen_johansen
from regdash.stats.events import CENSORED, DIED, FIRST_REASON, EventTable, GroupCounts
from regdash.stats.kaplan_meier import kaplan_meier
from regdash.stats.missing_events import more_for, together, with_missing
from synthetic_registry.making import make

OUTCOMES = ("censored", "died", "revised")
DAYS = [365, 5 * 365, 10 * 365]


def counted(days: np.ndarray, outcomes: np.ndarray) -> GroupCounts:
    return EventTable((("all",),), OUTCOMES, np.zeros_like(days), days, outcomes, np.ones_like(days)).of(0)


def test_expected_counts_worked_out_by_hand():
    """Ten joints: two revised on day 10, two censored on day 20, one revised on day 30, five censored on day 40."""
    counts = counted(np.array([10] * 2 + [20] * 2 + [30] + [40] * 5), np.array([2] * 2 + [0] * 2 + [2] + [0] * 5))
    found = with_missing(counts, 0.5)  # a third of all is missing: one more on day 10, half a one on day 30
    among = 1 / 7  # of those that end otherwise, by day 10
    later = among + 0.5 / 5
    assert found.revised.tolist() == pytest.approx([3, 0, 1.5, 0])
    assert found.censored.tolist() == pytest.approx([0, 2 * (1 - among), 0, 5 * (1 - later)])
    first = 3 / 10
    at_risk = 10 - 3 - 2 * (1 - among)
    expected = [0, first, first, 1 - (1 - first) * (1 - 1.5 / at_risk)]
    assert found.risk_at([9, 10, 29, 30], compete=False).tolist() == pytest.approx(expected)


def drawn(seed: int, joints: int = 400) -> GroupCounts:
    rng = np.random.default_rng(seed)
    days = rng.integers(0, 300, joints)
    return counted(days, rng.choice(3, joints, p=[0.6, 0.2, 0.2]))


@pytest.mark.parametrize("seed", range(5))
def test_with_nothing_missing_it_is_kaplan_meier_and_aalen_johansen(seed):
    counts, days = drawn(seed), [0, 10, 100, 250, 299]
    found = with_missing(counts, 0.0)
    plain = [at.risk or 0.0 for at in kaplan_meier(counts.days, counts.revised, counts.left).at(days)]
    assert found.risk_at(days, compete=False).tolist() == pytest.approx(plain, abs=1e-12)
    competing = aalen_johansen(counts.days, counts.competing, counts.left)
    plain = [at.risk or 0.0 for at in competing.at(days, 1)]
    assert found.risk_at(days, compete=True).tolist() == pytest.approx(plain, abs=1e-12)


@pytest.mark.parametrize("more", [0.1, 1.0, 50.0])
def test_joints_are_only_moved_however_many_are_missing(more):
    counts = drawn(7)
    found = with_missing(counts, more)
    assert found.revised.sum() + found.died.sum() + found.censored.sum() == pytest.approx(400)
    assert min(found.revised.min(), found.died.min(), found.censored.min()) >= -1e-9
    assert np.all(np.diff(found.risk_at(range(300), compete=False)) >= -1e-12)


def test_parts_together_are_the_whole_where_they_report_alike():
    counts = [drawn(1), drawn(2)]
    whole = together([with_missing(one, 0.0) for one in counts])
    merged = np.union1d(counts[0].days, counts[1].days)
    assert whole.days.tolist() == merged.tolist()
    assert whole.revised.sum() == sum(int(one.revised.sum()) for one in counts)


def test_what_cannot_be_expected_is_refused():
    with pytest.raises(CountError):
        with_missing(drawn(1), -0.1)
    with pytest.raises(CountError):
        more_for(0.1, 10, 0)


@pytest.fixture(scope="module")
def lives(tmp_path_factory: pytest.TempPathFactory) -> tuple[np.ndarray, ...]:
    """Of each joint of a clean register: day and outcome, and those that it would have had if never revised."""
    folder: Path = tmp_path_factory.mktemp("clean") / "out"
    made = make(folder, 12_000, 4, clean=True)
    with (made.key / "joints.csv").open(newline="") as text:
        rows = list(csv.DictReader(text))
    through = max(date.fromisoformat(r["implanted_date"]).toordinal() + int(r["days"]) for r in rows)
    days, outcomes, otherwise, other_outcomes = [], [], [], []
    for row in rows:
        start = date.fromisoformat(row["implanted_date"]).toordinal()
        ends = [(through, CENSORED)]
        ends += [(date.fromisoformat(row["death_date"]).toordinal(), DIED)] if row["death_date"] else []
        ends += [(date.fromisoformat(row["loss_date"]).toordinal(), CENSORED)] if row["loss_date"] else []
        end, why = min(ends)
        revised = row["ended"] == "revised"
        days.append(int(row["days"]) if revised else end - start)
        outcomes.append(FIRST_REASON if revised else why)
        otherwise.append(end - start)
        other_outcomes.append(why)
    return tuple(np.array(values) for values in (days, outcomes, otherwise, other_outcomes))


def test_a_register_without_a_fifth_of_its_revisions_gives_the_risk_of_the_whole_one_back(lives):
    days, outcomes, otherwise, other_outcomes = lives
    revised = outcomes == FIRST_REASON
    assert revised.sum() > 300
    clean = with_missing(counted(days, outcomes), 0.0).risk_at(DAYS, compete=False)
    rng, runs, share = np.random.default_rng(1), 200, 0.2
    plain, mended = np.zeros((runs, 3)), np.zeros((runs, 3))
    for run in range(runs):
        gone = revised & (rng.random(len(days)) < share)
        counts = counted(np.where(gone, otherwise, days), np.where(gone, other_outcomes, outcomes))
        plain[run] = with_missing(counts, 0.0).risk_at(DAYS, compete=False)
        mended[run] = with_missing(counts, share / (1 - share)).risk_at(DAYS, compete=False)
    error = mended.std(axis=0, ddof=1)
    bias = mended.mean(axis=0) - clean
    assert np.all(np.abs(bias) < 4 * error / np.sqrt(runs) + 0.002 * clean)  # measured: 0.4, 0.0 and 0.1 % of it
    assert np.all(np.abs(mended - clean) < 5 * error)  # every single one, within its sampling error
    assert np.all(plain.mean(axis=0) < clean - 0.15 * clean)  # what is mended is no small thing
