"""Counting endpoints in the database equals reading each joint's life for itself."""

from collections import Counter
from pathlib import Path

import pytest

from regdash import grouping
from regdash.cohort import Cohort, parse
from regdash.endpoints import ANY_REVISION, CENSORS, COMPETES, ENDPOINTS, EVENT, IGNORED, Endpoint
from regdash.store.cuts import Cut
from regdash.store.endpoint_counts import followed
from regdash.store.event_counts import EventCounts, GroupExpressions, count_events
from regdash.store.words import CLASSES as CLASS_WORDS
from regdash.vocabulary import JOINTS as JOINT_WORDS
from tests.cuts import Row, make_cut
from tests.store.chains import leaves, random_chains

JOINTS = random_chains(3000, seed=71, joints=JOINT_WORDS)
CLASSES = grouping.parse("joint,class")
EVERYTHING = Cohort().predicate()
Kind = tuple[str, str]  # joint and class


def kind(row: Row) -> Kind:
    return row["joint"], row["class"]


@pytest.fixture(scope="module")
def cut(tmp_path_factory: pytest.TempPathFactory) -> Cut:
    return Cut(make_cut(tmp_path_factory.mktemp("store"), JOINTS))


def counted(cut: Cut, endpoint: Endpoint, words: str = "", compete: bool = False) -> EventCounts:
    by = GroupExpressions(tuple(g.sql() for g in CLASSES))
    cohort = parse(words).predicate()
    return count_events(cut, followed(endpoint, cohort), by, endpoint=endpoint, compete=compete)


def cells(counts: EventCounts) -> Counter[tuple[Kind, int, str]]:
    """Joints by joint and class, day and outcome."""
    found: Counter[tuple[Kind, int, str]] = Counter()
    for group, day, outcome, joints in zip(counts.group, counts.day, counts.outcome, counts.joints):
        which, class_ = counts.numbers[group]
        how = counts.outcomes[outcome].partition(" or otherwise")[0]
        found[(JOINT_WORDS[which], CLASS_WORDS[class_]), int(day), how] += int(joints)
    return found


@pytest.mark.parametrize("compete", [False, True], ids=["implant view", "patient view"])
def test_the_database_counts_what_a_plain_reading_of_each_joint_finds(cut: Cut, compete: bool) -> None:
    for key in ENDPOINTS:
        left = [(row, kind(row), how) for row in JOINTS if (how := leaves(row, key, compete)) is not None]
        for words, kept in (("", left), ("sex=female age=60..", [one for one in left if is_older_woman(one[0])])):
            expected = Counter((which, *how) for _, which, how in kept)
            found = counted(cut, ENDPOINTS[key], words, compete)
            assert cells(found) == expected, (key, words)
            assert len({*zip(found.group, found.day, found.outcome)}) == len(found.joints), (key, words)
            reasons = {how for _, _, how in expected} - {"died", "censored"}
            assert len(reasons) >= 3, (key, words)  # the chains hold revisions of many kinds


def is_older_woman(row: Row) -> bool:
    return row["sex"] == "female" and row["age"] >= 60


def test_an_endpoint_that_ignores_nothing_is_any_revision(cut: Cut) -> None:
    """The query that looks at every revision gives the numbers of the one that looks at the first alone."""
    everything = Endpoint("all", "all", "", "", otherwise=EVENT)
    assert cells(counted(cut, everything)) == cells(counted(cut, ANY_REVISION))


def test_an_endpoint_that_ignores_everything_follows_each_joint_to_the_end(cut: Cut) -> None:
    nothing = Endpoint("none", "none", "", "", otherwise=IGNORED)
    found = cells(counted(cut, nothing))
    ends = [
        (kind(row), row["followed_days"], row["followed_end"])
        if row["ended"] == "revised"
        else (kind(row), row["days"], row["ended"])
        for row in JOINTS
    ]
    assert found == Counter((which, day, "died" if end == "died" else "censored") for which, day, end in ends)


@pytest.mark.parametrize("compete", [False, True])
def test_a_revision_that_censors_does_so_in_both_views(cut: Cut, compete: bool) -> None:
    found = cells(counted(cut, Endpoint("c", "c", "", "", otherwise=CENSORS), compete=compete))
    expected: Counter[tuple[Kind, int, str]] = Counter()
    for row in JOINTS:
        # Death on the day of the revision counts before it.
        died_then = row["followed_end"] == "died" and row["followed_days"] == row["days"]
        died = row["ended"] == "died" or (row["ended"] == "revised" and died_then)
        expected[kind(row), row["days"], "died" if died else "censored"] += 1
    assert found == expected
    assert sum(row["ended"] == "revised" and row["followed_days"] == row["days"] for row in JOINTS) > 20


def test_a_revision_that_competes_is_counted_with_deaths_in_the_patient_view_alone(cut: Cut) -> None:
    endpoint = Endpoint("c", "c", "", "", otherwise=COMPETES)
    implant, patient = counted(cut, endpoint), counted(cut, endpoint, compete=True)
    assert implant.outcomes[1] == "died"
    assert patient.outcomes[1] == "died or otherwise revised"
    revised = sum(row["ended"] == "revised" for row in JOINTS)
    died = sum(row["ended"] == "died" for row in JOINTS)
    assert int(patient.joints[patient.outcome == 1].sum()) == died + revised
    assert int(implant.joints[implant.outcome == 1].sum()) == died


def test_an_empty_cohort_has_no_groups(cut: Cut) -> None:
    assert [key for key in ENDPOINTS if counted(cut, ENDPOINTS[key], "age=200..").numbers] == []


def test_a_group_may_be_made_of_components_while_their_revisions_are_read(cut: Cut, tmp_path: Path) -> None:
    """A cohort word on components has columns of the same names as the tables of revisions."""
    endpoint = ENDPOINTS["removed:tibial"]
    predicate = followed(endpoint, parse("implant=X-f size=5").predicate())
    counts = count_events(cut, predicate, GroupExpressions(), endpoint=endpoint)
    kept = [
        row
        for row in JOINTS
        if any(line["implant"] == "X-f" and line["in_day"] == 0 for line in row["components"] or [])
        and leaves(row, "removed:tibial", False)
    ]
    assert int(counts.joints.sum()) == len(kept) > 30
