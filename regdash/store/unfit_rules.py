"""
Rules that a store keeps from an older release: whether they still fit what this release works out.

They are tried beside the store, on empty tables, since the database gives up a transaction in which it found a fault.
"""

import re
from collections.abc import Mapping, Sequence

import duckdb

from regdash.errors import StoreError
from regdash.store.rules import JUDGED, SUBMISSIONS, UNITS, Rule, every_rule
from regdash.store.run import run

# How the database refuses a condition whose columns, functions or types are not there.
MISFITS = (duckdb.BinderException, duckdb.CatalogException, duckdb.ParserException)


class UnfitRuleError(StoreError):
    """A rule of an older release that names what this one does not have."""


def refuse_unknown_relations(rules: Mapping[str, Sequence[Rule]]) -> None:
    """
    Refuse rules on what this release does not work out any more: what they held would count unsaid.

    Raises:
        UnfitRuleError: there is such a rule.
    """
    for relation in sorted(rules.keys() - {*JUDGED, UNITS, SUBMISSIONS}):
        if relation.startswith("read_"):  # judged what was taken in then, and judges nothing now
            continue
        raise _unfit(rules[relation][0], "it has none")


def fitting(
    connection: duckdb.DuckDBPyConnection, rules: Sequence[Rule], *, leave_out_unfit: bool = False
) -> list[Rule]:
    """
    Give the rules that can judge their relation, which must be there.

    Raises:
        UnfitRuleError: one cannot, and is not to be left out.
    """
    # The program's own fit, or it has a bug.
    own = {_judged(rule) for rule in every_rule()}
    fit = []
    for rule in rules:
        told = "" if _judged(rule) in own else _misfit(connection, rule)
        if told and not leave_out_unfit:
            raise _unfit(rule, told)
        if not told:
            fit.append(rule)
    return fit


def _judged(rule: Rule) -> tuple[str, ...]:
    return (rule.relation, rule.shows, rule.predicate)


def _misfit(connection: duckdb.DuckDBPyConnection, rule: Rule) -> str:
    """Say why a rule cannot judge its relation; empty where it can."""
    with duckdb.connect() as beside:
        for path in ("intake/macros", "intake/udi"):
            run(beside, path)
        for table, columns in run(connection, "settle/tables_named", {"words": _words(rule)}):
            typed = ", ".join(f'"{name}" {kind}' for name, kind in columns)
            run(beside, "settle/empty_table", table=table, columns=typed)
        try:
            run(beside, "settle/fits", relation=rule.relation, shows=rule.shows, predicate=rule.predicate)
        except MISFITS as fault:
            return str(fault).splitlines()[0].rstrip("!.")
    return ""


def _words(rule: Rule) -> list[str]:
    return sorted(set(re.findall(r"\w+", f"{rule.relation} {rule.shows} {rule.predicate}")))


def _unfit(rule: Rule, told: str) -> UnfitRuleError:
    return UnfitRuleError(
        f"Rule {rule.name} (version {rule.version}) is kept in the store from an older release and cannot judge "
        f"{rule.relation} as this one has it ({told}); let the rules of this release judge all rows with: "
        "regdash rules --apply (a cut as known on an earlier day than that needs the older release)"
    )
