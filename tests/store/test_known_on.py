"""
A cut as known on a date is the cut of a store that had received no more by then, with the complete-through dates of
that day: for knees, hips and shoulders, with late rows and corrections.
"""

import json
from datetime import date
from pathlib import Path

import pytest

from regdash.intake.receive import receive
from regdash.store.freeze import freeze
from tests.reports.quality_register import draw_register

THEN = (date(2006, 9, 30), date(2007, 8, 15))


@pytest.fixture(scope="module")
def everything(tmp_path_factory) -> Path:
    """A folder with all submissions, and a store that has received them all."""
    folder = tmp_path_factory.mktemp("known")
    draw_register(folder / "in", seed=19, joints=70)
    receive(folder / "store", [folder / "in"])
    return folder


def sent_by(folder: Path, day: date) -> list[Path]:
    envelopes = {path.parent: json.loads(path.read_text()) for path in (folder / "in").glob("*/envelope.json")}
    return [path for path, told in envelopes.items() if told["received_date"] <= day.isoformat()]


@pytest.mark.slow  # a store of what had been sent by then
@pytest.mark.parametrize("day", [THEN[0], *(pytest.param(day, marks=pytest.mark.slow) for day in THEN[1:])])
def test_a_cut_as_known_on_a_day_is_that_of_what_had_been_sent(everything, tmp_path, day):
    through = date(day.year, day.month, 1)
    again = freeze(everything / "store", through, known_as_of=day, because="compared elsewhere")
    receive(tmp_path / "store", sent_by(everything, day))
    then = freeze(tmp_path / "store", through, known_as_of=day)
    assert again.content_hash == then.content_hash
    assert again.complete_through == then.complete_through
    assert (again.joints, again.revisions, again.known_as_of) == (then.joints, then.revisions, then.known_as_of)
    assert then.joints > 0


@pytest.mark.slow  # beside the one before
def test_what_came_since_changes_the_cut(everything):
    day = THEN[1]
    now = freeze(everything / "store", date(2007, 8, 1), because="compared elsewhere")
    then = freeze(everything / "store", date(2007, 8, 1), known_as_of=day, because="compared elsewhere")
    assert now.joints > then.joints
    assert now.complete_through["operations"]["H001"] == "2007-12-31"
    assert then.complete_through["operations"]["H001"] < day.isoformat()
