"""What became of received rows, against sums over the envelopes and files of a cut."""

from datetime import date
from pathlib import Path

import duckdb
import pytest

from regdash.reports.desk import Desk
from regdash.store.cuts import cut_path
from tests.cuts import NAME, joint, make_cut
from tests.reports.desks import EVERYTHING, asked

NAMES = "submission_id, kind, sender, sequence, received_date, complete_through, schema_version"
SUBMISSIONS = [
    ("H001-0001", "operations", "H001", 1, date(2024, 4, 17), date(2024, 3, 31), "2"),
    ("H001-0002", "operations", "H001", 2, date(2024, 7, 20), date(2024, 6, 30), "2"),
    ("H002-0001", "operations", "H002", 1, date(2024, 4, 2), date(2024, 3, 15), "2"),
    ("deaths-0001", "deaths", "office", 1, date(2024, 7, 1), date(2024, 5, 31), "2"),
]
# submission, file, hash, declared, received, accepted, held, rejected, known already
FILES = [
    ("H001-0001", "operations", "", 9, 9, 7, 1, 1, 0),
    ("H001-0001", "components", "", 30, 30, 28, 2, 0, 0),
    ("H001-0002", "operations", "", 5, 5, 3, 0, 0, 2),
    ("deaths-0001", "deaths", "", 4, 4, 4, 0, 0, 0),
]


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    store = make_cut(tmp_path, [joint(), joint(hospital_id="H002")])
    with duckdb.connect(str(cut_path(store, NAME))) as connection:
        connection.executemany(f"insert into submissions ({NAMES}) values (?, ?, ?, ?, ?, ?, ?)", SUBMISSIONS)
        connection.executemany("insert into submission_files values (?, ?, ?, ?, ?, ?, ?, ?, ?)", FILES)
    return Desk(store)


def test_rows_add_up_over_the_files_and_submissions_of_a_sender(desk: Desk) -> None:
    sent = {(row.kind, row.sender): row for row in desk.received(EVERYTHING).rows}
    assert set(sent) == {("deaths", "office"), ("operations", "H001"), ("operations", "H002")}
    first = sent["operations", "H001"]
    assert (first.submissions, first.last_received) == (2, "2024-07-20")
    assert (first.received, first.accepted, first.held, first.rejected, first.known_already) == (44, 38, 3, 1, 2)
    for row in sent.values():
        assert row.received == row.accepted + row.held + row.rejected + row.known_already


def test_a_submission_without_files_has_sent_no_rows(desk: Desk) -> None:
    assert [row.received for row in desk.received(asked(desk, "hospital=H002")).rows] == [0]


def test_who_is_no_hospital_stands_under_its_own_name(desk: Desk) -> None:
    but = desk.received(asked(desk, "hospital!=H001,H002"))
    assert [row.sender for row in but.rows] == ["office"]
