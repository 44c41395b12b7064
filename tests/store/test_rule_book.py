"""
A store keeps its rules: a new one judges what comes after it, and all rows only when somebody says so.

That accepted data never change unsaid is a rule of good record keeping (common practice, no published source).
"""

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path

import duckdb
import pytest

from regdash.intake.receive import apply_new_rules, receive
from regdash.store import rules as program
from regdash.store.freeze import freeze
from regdash.store.rule_book import not_entered, rules_today
from regdash.store.rules import Rule, rules_of
from tests.intake.small_register import SmallRegister, primary, revision

FIRST, SECOND = "2005-01-15", "2005-04-15"
NO_SUNDAYS = Rule(
    name="operated-on-a-sunday",
    relation="operation_facts",
    version=1,
    severity="hold",
    starts=date(1900, 1, 1),
    shows="operation_date",
    text="The operation was on a Sunday; please check the date.",
    about="For this test.",
    predicate="dayofweek(operation_date) = 0",
)
SUNDAY, LATER_SUNDAY, MONDAY = "2004-05-02", "2005-03-06", "2004-05-03"


@pytest.fixture
def register(tmp_path: Path) -> SmallRegister:
    """Two operations, one on a Sunday, taken in under the program's rules."""
    made = SmallRegister(tmp_path / "in")
    made.catalogue()
    made.units()
    made.operations(FIRST, [primary("H001-1", 1, SUNDAY), primary("H001-2", 2, MONDAY)])
    receive(tmp_path / "store", [tmp_path / "in"])
    return made


@pytest.fixture
def with_rule(monkeypatch: pytest.MonkeyPatch) -> Callable[..., None]:
    """A later release of the program, with this rule beside its own or without one of them."""

    def release(*more: Rule, without: str = "") -> None:
        def of(relation: str) -> tuple[Rule, ...]:
            own = (rule for rule in rules_of(relation) if rule.name != without)
            return (*own, *(rule for rule in more if rule.relation == relation))

        monkeypatch.setattr(program, "rules_of", of)

    return release


def held(store: Path) -> set[tuple[str, str, int]]:
    with duckdb.connect(str(store / "registry.duckdb"), read_only=True) as connection:
        query = "select record_id, rule, rule_version from held_rows where table_name = 'operations'"
        return set(connection.execute(query).fetchall())


def test_a_new_rule_judges_what_comes_after_it_and_says_what_else_it_would_hold(register, with_rule, tmp_path):
    with_rule(NO_SUNDAYS)
    assert not_entered(tmp_path / "store") == 1
    register.operations(SECOND, [primary("H001-3", 3, LATER_SUNDAY)])
    receipt = receive(tmp_path / "store", [tmp_path / "in"])
    assert held(tmp_path / "store") == {("H001-3", "operated-on-a-sunday", 1)}
    assert [(one.rule, one.rows) for one in receipt.pending] == [("operated-on-a-sunday", 1)]
    assert not_entered(tmp_path / "store") == 0


@pytest.mark.slow  # three receives and cuts
def test_it_judges_all_rows_once_it_is_applied_and_older_cuts_stay_as_they_were(register, with_rule, tmp_path):
    store = tmp_path / "store"
    before = freeze(store, date(2004, 12, 31))
    with_rule(NO_SUNDAYS)
    register.operations(SECOND, [primary("H001-3", 3, LATER_SUNDAY)])
    receive(store, [tmp_path / "in"])
    assert [(one.rule, one.rows) for one in apply_new_rules(store)] == [("operated-on-a-sunday", 1)]
    assert {record for record, *_ in held(store)} == {"H001-1", "H001-3"}
    assert freeze(store, date(2004, 12, 31), because="a new rule was applied").joints == 1
    again = freeze(store, date(2004, 12, 31), date.fromisoformat(FIRST))
    assert (again.content_hash, again.rule_set, again.joints) == (before.content_hash, before.rule_set, 2)


@pytest.mark.slow  # three receives
def test_a_changed_rule_leaves_what_the_old_one_held(register, with_rule, tmp_path):
    store = tmp_path / "store"
    with_rule(NO_SUNDAYS)
    apply_new_rules(store)
    assert held(store) == {("H001-1", "operated-on-a-sunday", 1)}
    with_rule(replace(NO_SUNDAYS, version=2, predicate="dayofweek(operation_date) = 1"))
    register.operations(SECOND, [primary("H001-3", 3, "2005-03-07"), primary("H001-4", 4, LATER_SUNDAY)])
    receipt = receive(store, [tmp_path / "in"])
    assert held(store) == {("H001-1", "operated-on-a-sunday", 1), ("H001-3", "operated-on-a-sunday", 2)}
    assert [(one.version, one.rows) for one in receipt.pending] == [(2, 1)]
    apply_new_rules(store)
    assert held(store) == {("H001-2", "operated-on-a-sunday", 2), ("H001-3", "operated-on-a-sunday", 2)}


@pytest.mark.slow  # three receives
def test_a_rule_that_is_left_out_goes_on_for_what_it_judged(register, with_rule, tmp_path):
    store = tmp_path / "store"
    register.operations(SECOND, [revision("H001-3", 9, MONDAY) | {"surgeon_id": "S0404"}])
    receive(store, [tmp_path / "in"])
    with_rule(without="surgeon-unknown")
    register.operations("2005-07-15", [revision("H001-4", 8, MONDAY) | {"surgeon_id": "S0404"}])
    receive(store, [tmp_path / "in"])
    assert ("H001-3", "surgeon-unknown", 1) in held(store)
    assert ("H001-4", "surgeon-unknown", 1) not in held(store)


def test_an_empty_store_has_all_rules_from_the_beginning(register, tmp_path):
    rules = rules_today(tmp_path / "store")
    assert {rule.rows_from for _, rule in rules} == {date(1900, 1, 1)}
    assert len(rules) > 150
