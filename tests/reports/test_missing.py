"""
Risks beside which stand those as if revisions were missing. A register is drawn, and revisions are then taken out of it
as a hospital would that does not send them.
"""

import random

import pytest

from regdash import cohort, grouping
from regdash.errors import FilterError
from regdash.output.machine import as_json
from regdash.output.people import as_text
from regdash.reports.desk import Desk
from tests.cuts import Row, make_cut, random_joints

SILENT, JOINTS = "H003", 6000


def without(rows: list[Row], share: float, seed: int, hospital: str | None = None) -> list[Row]:
    draw = random.Random(seed)
    unsent = {"reason": None, "stem_used": None, "augment_used": None, "graft_used": None}
    return [
        row | {"days": row["followed_days"], "ended": row["followed_end"], "died_day": None, **unsent}
        if row["ended"] == "revised" and hospital in (None, row["hospital_id"]) and draw.random() < share
        else row
        for row in rows
    ]


def revisions(rows: list[Row]) -> int:
    return sum(row["ended"] == "revised" for row in rows)


@pytest.fixture(scope="module")
def drawn() -> list[Row]:
    return [row | {"patient": None} for row in random_joints(JOINTS, seed=11)]


@pytest.fixture(scope="module")
def desks(drawn, tmp_path_factory) -> tuple[Desk, Desk, float]:
    """The whole register, one in which a hospital sends a quarter of its revisions, and the share that is missing."""
    silent = without(drawn, 0.75, 2, SILENT)
    stores = [make_cut(tmp_path_factory.mktemp(name), rows) for name, rows in (("whole", drawn), ("less", silent))]
    return Desk(stores[0]), Desk(stores[1]), 1 - revisions(silent) / revisions(drawn)


def test_the_silent_hospital_is_found_and_the_risk_of_the_whole_register_comes_back(desks):
    whole, less, share = desks
    by = grouping.parse("class")
    true = whole.risk(cohort.parse([]), by, (5, 10)).rows
    found = less.risk(cohort.parse([]), by, (5, 10), missing=share, missing_from_worst=1)
    assert found.missing is not None
    assert found.missing.hospitals == (SILENT,)
    for row, wanted in zip(found.missing.rows, true, strict=True):
        assert row.if_missing is not None
        assert row.estimate is not None
        assert wanted.estimate is not None
        assert row.estimate < row.if_missing
        # Within the limits of the true one, and nearer than the plain one.
        assert abs(row.if_missing - wanted.estimate) < abs(row.estimate - wanted.estimate)
        assert wanted.lower is not None
        assert wanted.lower < row.if_missing < (wanted.upper or 0)


def test_the_plain_risk_stays_as_it_is(desks):
    _, less, share = desks
    plain = less.risk(cohort.parse([]), (), (1, 5))
    asked = less.risk(cohort.parse([]), (), (1, 5), missing=share)
    assert asked.rows == plain.rows
    assert [row.estimate for row in asked.missing.rows] == [row.estimate for row in plain.rows]


def test_programs_and_people_see_both(desks):
    _, less, _ = desks
    found = less.risk(cohort.parse([]), (), (5,), missing=0.1)
    assert '"estimate_if_missing"' in as_json(found)
    page = as_text(found)
    assert "if 10 % are missing, %" in page
    assert "at random" in page


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        ({"missing": 1.2}, "between 0 and 100"),
        ({"missing": 0.1, "endpoint": "aseptic"}, "not for one endpoint"),
        ({"missing": 0.1, "reason": "infection"}, "not for one endpoint"),
        ({"missing": 0.1, "given_unrevised": 1.0}, "since day 0"),
        ({"missing": 0.1, "missing_from_worst": 99}, "Ask for fewer"),
        ({"missing_from_worst": 2}, "with the share"),
    ],
)
def test_what_it_is_not_worked_out_for_is_refused(desks, asked, told):
    with pytest.raises(FilterError, match=told):
        desks[1].risk(cohort.parse([]), (), (5,), **asked)
