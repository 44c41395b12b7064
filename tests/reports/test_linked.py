"""The linked share against a plain count of what hospitals sent: a revision whose patient has a primary is linked."""

from collections import Counter
from datetime import date

import pytest

from regdash.errors import FilterError
from regdash.intake.receive import receive
from regdash.reports.desk import Desk
from regdash.reports.policy import Policy
from regdash.store.freeze import freeze
from regdash.store.links import link_shares
from tests.intake.small_register import SmallRegister, primary, revision, total_knee
from tests.reports.desks import EVERYTHING, asked

HOSPITALS = ("H001", "H002")
PRIMARIES = {patient: HOSPITALS[patient % 2] for patient in range(1, 9)}  # patient, hospital
# patient, hospital, year: patients from 20 on have no primary
REVISIONS = [(1, "H001", 2007), (2, "H002", 2007), (3, "H002", 2008), (4, "H001", 2008), (20, "H001", 2007)]
REVISIONS += [(21, "H002", 2008), (22, "H002", 2008)]


@pytest.fixture(scope="module")
def store(tmp_path_factory):
    folder = tmp_path_factory.mktemp("linked")
    register = SmallRegister(folder / "in")
    register.catalogue()
    register.units(hospitals=HOSPITALS)
    for hospital in HOSPITALS:
        own = [(f"{hospital}-{p:07d}", p) for p, where in PRIMARIES.items() if where == hospital]
        rows = [primary(operation, patient, "2006-03-01") for operation, patient in own]
        parts = [line for operation, _ in own for line in total_knee(operation)]
        rows += [
            revision(f"{hospital}-{9_000_000 + n}", patient, f"{year}-06-01")
            for n, (patient, where, year) in enumerate(REVISIONS)
            if where == hospital
        ]
        register.operations("2009-02-01", rows, parts, hospital=hospital, complete="2008-12-31")
    register.deaths("2009-02-01", {}, complete="2008-12-31")
    receive(folder / "store", [folder / "in"])
    freeze(folder / "store", date(2008, 12, 31))
    return folder / "store"


@pytest.fixture
def desk(store) -> Desk:
    return Desk(store)


def test_revisions_are_linked_where_their_patient_has_a_primary(desk: Desk) -> None:
    rows = {row.group: row for row in desk.linked(EVERYTHING, ("hospital", "year")).rows}
    assert set(rows) == {f"{hospital}, {year}" for _, hospital, year in REVISIONS}
    for label, row in rows.items():
        own = [patient for patient, hospital, year in REVISIONS if f"{hospital}, {year}" == label]
        linked = sum(patient in PRIMARIES for patient in own)
        assert (row.revisions, row.linked, row.share) == (len(own), linked, linked / len(own))
        assert sum(row.unlinked.values()) == len(own) - linked


def test_the_command_on_links_gives_the_same_counts(store, desk: Desk) -> None:
    shares = {one.group: (one.revisions, one.linked) for one in link_shares(store, by=("hospital",))[1]}
    assert {(row.group,): (row.revisions, row.linked) for row in desk.linked(EVERYTHING, ("hospital",)).rows} == shares
    causes = {one.group[0]: one.revisions for one in link_shares(store, by=("class",), unlinked=True)[1]}
    (whole,) = desk.linked(EVERYTHING).rows
    assert whole.unlinked == causes


def test_a_filter_keeps_the_revisions_of_a_hospital_or_of_some_years(desk: Desk) -> None:
    counted = Counter(hospital for _, hospital, year in REVISIONS if year == 2008)
    rows = desk.linked(asked(desk, "implanted=2008"), ("hospital",)).rows
    assert {row.group: row.revisions for row in rows} == dict(counted)
    with pytest.raises(FilterError):
        desk.linked(asked(desk, "class=partial"))


def test_a_small_count_withholds_the_share_that_would_give_it_away(store) -> None:
    (whole,) = Desk(store, policy=Policy(withhold_counts_under=4)).linked(EVERYTHING).rows
    assert (whole.revisions, whole.linked, whole.share) == (7, 4, None)
    assert whole.withheld
