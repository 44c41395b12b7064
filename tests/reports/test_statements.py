"""Statements in SQL as a desk asks them: limits, cancelling, what may be asked, and the note of what leaves."""

import threading
import time
from pathlib import Path

import pytest

from regdash.errors import Cancelled, StatementError
from regdash.reports.desk import Desk
from regdash.store.audit import audit_lines
from regdash.store.sqlfiles import views_in_order
from tests.cuts import make_cut, random_joints

ENDLESS = "select count(*) from range(10000000) a, range(10000000) b where (a.range * b.range) % 7 = 3"


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_cut(tmp_path_factory.mktemp("statements"), random_joints(300, seed=4))


@pytest.fixture(scope="module")
def desk(store: Path) -> Desk:
    return Desk(store)


def test_a_statement_is_answered_while_the_desk_has_the_cut_open(desk: Desk) -> None:
    report = desk.statement("select count(*) as joints, 'a' as said from follow_up")
    assert (report.columns, report.rows, report.more) == (("joints", "said"), ((300, "a"),), False)
    with pytest.raises(StatementError, match="Only SELECT statements"):
        desk.statement("drop table follow_up")


def test_rows_end_at_the_cap_and_the_answer_says_so(desk: Desk) -> None:
    report = desk.statement("from follow_up")
    assert len(report.rows) == 300
    report = desk.statement("from follow_up", most_rows=7)
    assert (len(report.rows), report.more, report.most_rows) == (7, True, 7)


def test_a_statement_is_cancelled_with_all_other_questions(desk: Desk) -> None:
    began = time.monotonic()
    canceller = threading.Timer(0.3, desk.cancel)
    canceller.start()
    with pytest.raises(Cancelled):
        desk.statement(ENDLESS)
    assert time.monotonic() - began < 10
    canceller.join()
    assert desk.statement("select 1").rows == ((1,),)


def test_every_view_and_table_of_the_cut_may_be_asked_and_is_listed(desk: Desk) -> None:
    listed = {relation.name: relation for relation in desk.relations()}
    assert {view.name for view in views_in_order()} <= {name for name, each in listed.items() if each.kind == "view"}
    follow_up = listed["follow_up"]
    assert follow_up.about.startswith("One row per primary joint")
    days = next(column for column in follow_up.columns if column.name == "days")
    assert (days.type, days.about.partition(";")[0]) == (
        "integer",
        "whole days from implantation to the end of follow-up",
    )
    side = next(column for column in follow_up.columns if column.name == "side")
    assert side.type == "one of left, right"
    for name in listed:
        assert len(desk.statement(f"from {name}", most_rows=1).columns) == len(listed[name].columns)


def test_rows_that_leave_stand_in_the_audit_trail(desk: Desk, store: Path) -> None:
    assert desk.note_export("joints", 12, "csv file", filter="class=partial") is None
    (line,) = audit_lines(store, what="export")
    assert (line.subject, line.outcome) == ("2024-12-31.1", "done")
    assert '"rows":12' in line.details.replace(" ", "")


def test_who_may_not_write_the_trail_is_told(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    from regdash.errors import StoreError
    from regdash.store import audit

    def refused(*_: object, **__: object) -> None:
        raise StoreError("The office file cannot be written.")

    monkeypatch.setattr(audit, "append", refused)
    said = desk.note_export("sql", 1, "csv copied")
    assert said == "This export is not in the audit trail. The office file cannot be written."
