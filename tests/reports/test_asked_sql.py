"""The statements behind an answer: they give its counts when they are asked again, from memory too."""

from datetime import date

from regdash import grouping
from regdash.store.asked_sql import with_values
from tests.cuts import random_joints
from tests.reports.desks import asked, desk_of


def test_the_statements_of_an_answer_give_its_counts_again(tmp_path):
    desk = desk_of(tmp_path, random_joints(500))
    cohort, by = asked(desk, "class=total sex=male age=..69"), grouping.parse("class")
    desk.take_asked_sql()
    head = desk.risk(cohort, by).head
    first = desk.take_asked_sql()
    rows = {len(desk.statement(statement).rows) for statement in first if "days as day" in statement}
    assert rows == {head.joints}
    assert not any("$" in statement for statement in first)
    desk.take_asked_sql()
    desk.risk(cohort, by)  # from memory
    assert desk.take_asked_sql() == first


def test_values_are_written_as_the_database_reads_them():
    bound = {"a": "O'Neil", "b": date(2015, 1, 2), "c": None, "d": [1, 2], "e": True}
    written = with_values("select $a, $b, $c, $d, $e, $f", bound)
    assert written == "select 'O''Neil', date '2015-01-02', null, [1, 2], true, $f"
