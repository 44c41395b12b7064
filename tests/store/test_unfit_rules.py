"""
A rule that a store keeps from an older release and that does not fit this one is named, with what to do.

What a person is told is our own choice; that a store outlives the release that made it is a fact of the trade.
"""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path

import duckdb
import pytest

from regdash.intake.receive import apply_new_rules, receive
from regdash.store.freeze import freeze
from regdash.store.rules import Rule, rules_of
from regdash.store.unfit_rules import UnfitRuleError, fitting, refuse_unknown_relations
from tests.intake.small_register import SmallRegister, primary

OLD = Rule(
    name="operated-on-a-sunday",
    relation="operation_facts",
    version=3,
    severity="hold",
    starts=date(1900, 1, 1),
    shows="operation_date",
    text="The operation was on a Sunday; please check the date.",
    about="For this test.",
    predicate="dayofweek(operation_date) = 0",
)
NAMED = r"operated-on-a-sunday \(version 3\).*{}.*regdash rules --apply"


@pytest.fixture
def settled() -> Iterator[duckdb.DuckDBPyConnection]:
    """A settled relation, and another that a rule may look into."""
    with duckdb.connect() as connection:
        connection.execute("begin")
        connection.execute("create temp table operation_facts (operation_date date, side enum ('left', 'right'))")
        connection.execute("create temp table known_hospital_systems (hospital_id varchar)")
        yield connection


@pytest.mark.parametrize(
    ("faulty", "why"),
    [
        ({"predicate": "day_of_surgery is null"}, "day_of_surgery"),
        ({"shows": "weekday_of(operation_date)"}, "weekday_of"),
        ({"predicate": "operation_date + side > 9"}, "No function matches"),
        ({"predicate": "exists (from known_wards)"}, "known_wards"),
        ({"predicate": "side = and"}, "syntax error"),
    ],
)
def test_a_rule_that_names_what_is_not_there_is_refused_in_one_sentence(settled, faulty, why):
    with pytest.raises(UnfitRuleError, match=NAMED.format(why)) as said:
        fitting(settled, [OLD, replace(OLD, **faulty)])
    assert "\n" not in str(said.value)
    assert fitting(settled, [OLD, replace(OLD, **faulty)], leave_out_unfit=True) == [OLD]
    assert settled.execute("from operation_facts").fetchall() == []  # the transaction goes on


@pytest.mark.parametrize("fit", ["side = 'left'", "exists (from known_hospital_systems)", "gtin_check_holds('0')"])
def test_a_rule_that_fits_is_left_as_it_is(settled, fit):
    assert fitting(settled, [replace(OLD, predicate=fit)]) == [replace(OLD, predicate=fit)]


def test_a_rule_of_this_release_is_not_called_old(settled):
    own = rules_of("operation_facts")
    assert fitting(settled, own) == list(own)  # although its columns are not there: that would be a bug


def test_a_rule_on_what_is_no_longer_worked_out_is_refused():
    with pytest.raises(UnfitRuleError, match=NAMED.format("operations_on_sundays")):
        refuse_unknown_relations({"operations_on_sundays": [replace(OLD, relation="operations_on_sundays")]})
    refuse_unknown_relations({"operation_facts": [OLD], "unit_figures": [OLD], "read_wards": [OLD]})


@pytest.mark.slow  # five receives
def test_a_store_with_such_a_rule_takes_in_again_once_the_rules_are_applied(tmp_path: Path):
    store, register = tmp_path / "store", SmallRegister(tmp_path / "in")
    register.catalogue()
    register.units()
    register.operations("2005-01-15", [primary("H001-1", 1, "2004-05-03")])
    receive(store, [tmp_path / "in"])
    with duckdb.connect(str(store / "registry.duckdb")) as connection:
        connection.execute(
            "insert into rules "
            "select * replace ('operated-on-a-sunday' as rule, 3 as version, 'wards > 9' as predicate) "
            "from rules where rule = 'surgeon-unknown'"
        )
    register.operations("2005-04-15", [primary("H001-2", 2, "2005-03-07")])
    for act in (lambda: receive(store, [tmp_path / "in"]), lambda: freeze(store, date(2004, 12, 31))):
        with pytest.raises(UnfitRuleError, match=NAMED.format("wards")):
            act()
    apply_new_rules(store)
    receive(store, [tmp_path / "in"])
    assert freeze(store, date(2005, 4, 15)).joints == 2
