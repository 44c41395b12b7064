"""
Which primary a revision belongs to, and why some have none.

Linking by patient, joint and side, and the classes of cause, are common practice (no published source).
"""

from pathlib import Path

import duckdb
import pytest

from regdash.intake.receive import receive
from tests.intake.small_register import SmallRegister, component, primary, reason, revision, total_knee


@pytest.fixture(scope="module")
def store(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("linkage")
    register = SmallRegister(folder / "in")
    register.catalogue()
    register.units()
    rows = [
        primary("H001-0000001", 1, "2004-01-05"),
        primary("H001-0000002", 2, "2004-02-05"),
        primary("H001-0000003", 2, "2005-02-05", side="right"),
        primary("H001-0000004", 3, "2004-03-05"),
        primary("H001-0000005", 4, "2004-04-05", birth_year=""),
        primary("H001-0000006", 5, "2004-05-05"),
        primary("H001-0000007", 6, "2004-06-05"),
    ]
    register.operations("2005-04-15", rows)
    rows = [
        revision("H002-0000001", 1, "2006-01-05"),
        revision("H002-0000002", 1, "2007-01-05"),
        revision("H002-0000003", 2, "2006-02-05", side="right"),
        revision("H002-0000004", 3, "2006-03-05", side="right"),
        revision("H002-0000005", 4, "2006-04-05"),
        revision("H002-0000006", 5, "2004-05-05"),
        revision("H002-0000007", 6, "2004-06-04"),
        revision("H002-0000008", 777_777_777, "2006-07-05"),
        revision("H002-0000009", 888_888_888, "2006-08-05"),
    ]
    parts = [component("H002-0000009", 1, "femoral", "KF001-3A", "removed")]
    register.operations("2007-04-15", rows, parts, hospital="H002")
    receive(folder / "store", [folder / "in"])
    return folder / "store"


@pytest.fixture(scope="module")
def links(store) -> dict[str, tuple[str | None, str | None]]:
    """Primary and cause of each revision that is not held."""
    with duckdb.connect(str(store / "registry.duckdb"), read_only=True) as connection:
        query = "select operation_id, primary_operation_id, cause from links"
        return {row[0]: row[1:] for row in connection.execute(query).fetchall()}


@pytest.fixture(scope="module")
def held(store) -> dict[str, str]:
    """Rule of each held operation."""
    with duckdb.connect(str(store / "registry.duckdb"), read_only=True) as connection:
        query = "select record_id, rule from held_rows where table_name = 'operations'"
        return dict(connection.execute(query).fetchall())


def test_a_revision_belongs_to_the_primary_of_its_patient_joint_and_side(links):
    assert links["H002-0000001"] == ("H001-0000001", None)
    assert links["H002-0000003"] == ("H001-0000003", None)


def test_a_later_revision_belongs_to_the_same_primary(links):
    assert links["H002-0000002"] == ("H001-0000001", None)


def test_a_revision_on_the_day_of_its_primary_belongs_to_it(links):
    assert links["H002-0000006"] == ("H001-0000006", None)


def test_a_primary_on_the_other_side_only_holds_the_revision(links, held):
    assert held["H002-0000004"] == "side-conflict"
    assert "H002-0000004" not in links


def test_a_revision_before_its_primary_is_held(links, held):
    assert held["H002-0000007"] == "revision-before-primary"
    assert "H002-0000007" not in links


def test_a_revision_of_a_held_primary_is_unlinked_and_says_so(links, held):
    assert held["H001-0000005"] == "birth-year-implausible"
    assert links["H002-0000005"] == (None, "primary held back")


def test_a_revision_of_a_patient_without_a_primary_is_unlinked(links):
    assert links["H002-0000008"] == (None, "unknown")


def test_components_older_than_the_register_may_mean_a_joint_older_than_the_register(links):
    """KF-001 came in 1995, the first primary of this register is of 2004."""
    assert links["H002-0000009"] == (None, "perhaps before the register began")


def test_a_component_newer_than_the_register_means_a_primary_that_should_be_known(tmp_path):
    register = SmallRegister(tmp_path / "in")
    register.submit(
        "catalogue",
        "2000-01-01",
        {
            "catalogue": [
                {
                    "catalogue_no": "KF009-3A",
                    "maker": "M01",
                    "implant": "KF-009",
                    "role": "femoral",
                    "joint": "knee",
                    "introduced_date": "2005-01-01",
                }
            ]
        },
    )
    register.units()
    rows = [primary("H001-0000001", 1, "2004-01-05"), revision("H001-0000002", 222_222_222, "2006-01-05")]
    parts = [*total_knee("H001-0000001"), component("H001-0000002", 1, "femoral", "KF009-3A", "removed")]
    register.operations("2007-04-15", rows, parts, [reason("H001-0000002")])
    receive(tmp_path / "store", [tmp_path / "in"])
    with duckdb.connect(str(tmp_path / "store" / "registry.duckdb"), read_only=True) as connection:
        assert connection.execute("select operation_id, cause from links").fetchall() == [
            ("H001-0000002", "primary elsewhere or not submitted")
        ]
