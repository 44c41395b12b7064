"""The counts in the database: groups however wide their numbers, outcomes by reason, patients and held revisions."""

from collections import Counter
from pathlib import Path

import numpy as np
import pytest

from regdash.cohort import Cohort, parse
from regdash.store import cuts
from regdash.store.cuts import Cut
from regdash.store.event_counts import (
    REASON_DETAIL,
    GroupExpressions,
    count_events,
    count_held_revisions,
    count_patients,
)
from tests.cuts import joint, make_cut, random_joints

JOINTS = random_joints(300, seed=51)
ALL = Cohort().predicate()


@pytest.fixture(scope="module")
def cut(tmp_path_factory: pytest.TempPathFactory) -> Cut:
    return Cut(make_cut(tmp_path_factory.mktemp("store"), JOINTS, held=[(0, "a"), (1, "a"), (None, "b")]))


@pytest.mark.parametrize("factor", [1, 1_000_003, 4_000_000_000_000])
def test_groups_are_numbered_right_however_wide_their_numbers(cut: Cut, factor: int) -> None:
    """Three fields of up to 4e14 each would together overflow 64 bits."""
    fields = ("age", "implanted_year", "coalesce(surgeon_volume, -1)")
    wide = GroupExpressions(tuple(f"{field}::bigint * {factor}" for field in fields))
    counts = count_events(cut, ALL, wide)
    expected = Counter(
        (row["age"], row["implanted_date"].year, -1 if row["surgeon_volume"] is None else row["surgeon_volume"])
        for row in JOINTS
    )
    found: Counter[tuple[int, ...]] = Counter()
    for group, joints in zip(counts.group, counts.joints):
        found[tuple(number // factor for number in counts.numbers[group])] += int(joints)
    assert found == expected
    assert list(counts.numbers) == sorted(counts.numbers)


def test_outcomes_are_the_groups_of_reasons_or_their_details(cut: Cut) -> None:
    revised = [row["reason"] for row in JOINTS if row["ended"] == "revised"]
    counts = count_events(cut, ALL, GroupExpressions(), REASON_DETAIL)
    found: Counter[str] = Counter()
    for outcome, joints in zip(counts.outcome, counts.joints):
        found[counts.outcomes[outcome]] += int(joints)
    assert found.pop("died") == sum(row["ended"] == "died" for row in JOINTS)
    assert found.pop("censored") == sum(row["ended"] in ("lost", "in place") for row in JOINTS)
    assert found == Counter(revised)


def test_a_revision_without_a_reason_is_counted_as_not_recorded(tmp_path: Path) -> None:
    counts = count_events(Cut(make_cut(tmp_path, [joint(ended="revised")])), ALL, GroupExpressions())
    assert [counts.outcomes[outcome] for outcome in counts.outcome] == ["not recorded"]


@pytest.mark.parametrize("threads", [2, 7])
def test_joints_fetched_in_parts_are_counted_as_in_one(cut: Cut, threads: int, monkeypatch: pytest.MonkeyPatch) -> None:
    by = GroupExpressions(("age", "implanted_year"))
    whole = count_events(cut, ALL, by)
    monkeypatch.setattr(cuts, "ROW_GROUP", 40)
    monkeypatch.setattr(cuts, "threads", lambda: threads)
    assert len(cuts.joint_parts(len(JOINTS), threads)) == threads
    cut.remembered.forget()
    parts = count_events(cut, ALL, by)
    assert parts.numbers == whole.numbers
    for name in ("group", "day", "outcome", "joints"):
        assert np.array_equal(getattr(parts, name), getattr(whole, name))


def test_an_empty_cohort_has_no_groups(cut: Cut) -> None:
    nobody = parse("age=200..").predicate()
    assert count_events(cut, nobody, GroupExpressions(("age",))).numbers == ()
    assert count_events(cut, nobody, GroupExpressions()).numbers == ()
    assert count_patients(cut, nobody) == 0


def test_patients_are_counted_once(cut: Cut) -> None:
    assert count_patients(cut, ALL) == len({row["patient"] for row in JOINTS}) == cut.manifest.patients


def test_held_revisions_of_unknown_joints_count_only_for_the_whole_cut(cut: Cut) -> None:
    first = parse(f"class={JOINTS[0]['class']}").predicate()
    of_class = sum(JOINTS[place]["class"] == JOINTS[0]["class"] for place in (0, 1))
    assert count_held_revisions(cut, ALL, everything=True) == 3
    assert count_held_revisions(cut, first, everything=False) == of_class
