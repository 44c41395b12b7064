"""
What the records amount to, as known at a date: which version stands, what rules hold, which revision is whose.

The result is a function of the set of submissions received by then, and of nothing else: not of the
order in which they were taken in, not of what was settled before, which only saves work.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date
from typing import Any

import duckdb

from regdash.store.carried import (
    Settled,
    choose_scope,
    feeds_of_patients,
    keep,
    lists_of_office,
    put_together,
    settled_by,
    tell_findings,
)
from regdash.store.code_rows import code_rows
from regdash.store.link_decisions import LinkDecision, standing
from regdash.store.rule_book import rules_in_force
from regdash.store.rule_settings import setting_values
from regdash.store.rules import Rule, judge
from regdash.store.run import run
from regdash.store.tables import FEEDS, OPERATION_COLUMNS, VERSIONS_PER_SUBMISSION, Feed
from regdash.store.unfit_rules import fitting, refuse_unknown_relations

# Called with what is being done, how much of it is done, and how much there is.
Progress = Callable[[str, int, int], None]

# Files whose rows belong to an operation, and their tables in the store.
PARTS = {"components": "components", "reasons": "revision_reasons"}

# Each step makes relations that rules then judge; a step reads what the rules before it left standing.
STEPS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("operation_facts", ("operation_facts",)),
    ("component_sets", ("operation_components",)),
    ("size_pairs", ("size_pairs",)),
    ("same_day_operations", ("same_day_operations",)),
    ("shared_serials", ("shared_serials",)),
    ("death_versions", ("death_versions",)),
    ("operations_after_death", ("operations_after_death", "deaths_before_operation")),
    ("operations_after_loss", ("operations_after_loss",)),
    ("patient_operations", ()),
    ("primaries_in_order", ("primaries_in_order", "patient_operations")),
    ("removed_lines", ("removed_lines", "removed_twice")),
    ("revisions_and_primaries", ("revisions_and_primaries",)),
    ("operations_near_death", ("operations_near_death",)),
    ("both_sides", ("both_sides",)),
    ("operation_ends", ()),
    ("component_facts", ("component_facts",)),
    ("reason_facts", ("reason_facts",)),
)
# What no rule judges is made of all records, whatever was settled before.
LINKING = ("contested_links", "link_candidates", "links")


def settle(
    connection: duckdb.DuckDBPyConnection,
    as_of: date,
    progress: Progress | None = None,
    decisions: Sequence[LinkDecision] = (),
    *,
    leave_out_unfit: bool = False,
    afresh: bool = False,
) -> Settled:
    """
    Make the temporary tables that say what was known at the end of a day.

    Where the store was settled by the same rules and lists before, and nothing later than its last submission is left
    out, only patients are settled anew of whom something new is known, and what rules judge is of them alone.

    Args:
        decisions: those of people on links, by then; without them links are what the records alone say.
        leave_out_unfit: whether rules of an older release that do not fit judge nothing.
        afresh: whether all is settled anew, so that what rules judge is of all records.

    Among them `known_operations` and the known feeds, `primary_implants`, `reason_counts`, `settled_links`,
    `settled_findings` and `settled_files`; `standing_operations` are those that count.

    Raises:
        UnfitRuleError: a rule that the store keeps from an older release does not fit, and is not to be left out.
    """
    values = {"as_of": as_of, **setting_values()}
    rules = rules_in_force(connection, as_of)
    if not leave_out_unfit:
        refuse_unknown_relations(rules)
    for path in ("intake/udi", "settle/macros", "settle/code_tables"):
        run(connection, path)
    _fill_code_tables(connection)
    run(connection, "settle/findings", values)
    _choose_versions(connection, lists_of_office(), values)
    by = settled_by(rules)
    is_part = not afresh and choose_scope(connection, as_of, rules, by)
    _judge_records(connection, values, rules, progress, leave_out_unfit=leave_out_unfit)
    if is_part:
        put_together(connection)
        _choose_versions(connection, feeds_of_patients(), values)
        for path in ("reason_counts", "operation_ends"):
            run(connection, f"settle/{path}", values)
    _put_decisions(connection, decisions)
    for path in LINKING:
        run(connection, f"settle/{path}", values)
    _count_rows(connection, values)
    tell_findings(connection, is_part=is_part)
    if progress:
        progress("checking and linking", len(STEPS), len(STEPS))
    return Settled(as_of, by, is_part)


def _fill_code_tables(connection: duckdb.DuckDBPyConnection) -> None:
    """Put the vocabulary's lists and orders where statements can join them."""
    for table, rows in code_rows().items():
        with connection.appender(table) as appended:
            for row in rows:
                appended.append_row(*row)


def _put_decisions(connection: duckdb.DuckDBPyConnection, decisions: Sequence[LinkDecision]) -> None:
    run(connection, "settle/link_decisions")
    with connection.appender("link_decisions") as rows:
        for one in standing(decisions):
            rows.append_row(one.revision_id, one.primary_id, one.decision, one.decided_by, one.decided_on)


def _choose_versions(connection: duckdb.DuckDBPyConnection, feeds: Iterable[Feed], values: dict[str, Any]) -> None:
    for feed in feeds:
        run(
            connection,
            "settle/versions",
            values,
            table=feed.table,
            key=feed.key_list,
            key_of_t=", ".join(f"t.{column}" for column in feed.key),
            same_key=" and ".join(f"r.{column} = t.{column}" for column in feed.key),
            content="row(" + ", ".join(f"t.{column}" for column in feed.content) + ")",
        )
        run(connection, "settle/known_feed", values, table=feed.table, file=feed.name)


def _judge_records(
    connection: duckdb.DuckDBPyConnection,
    values: dict[str, Any],
    rules: Mapping[str, Sequence[Rule]],
    progress: Progress | None,
    *,
    leave_out_unfit: bool,
) -> None:
    """Choose the versions that stand, and let the rules judge them beside each other."""
    _choose_versions(connection, feeds_of_patients(), values)
    content = ", ".join(f"v.{column}" for column in OPERATION_COLUMNS)
    run(connection, "settle/versions_operations", values, content=content)
    for path in ("known_operations", "standing", "known_entries", "primary_implants", "reason_counts"):
        run(connection, f"settle/{path}", values)
    for number, (path, relations) in enumerate(STEPS):
        if progress:
            progress("checking and linking", number, len(STEPS))
        run(connection, f"settle/{path}", values)
        for relation in relations:
            fit = fitting(connection, rules.get(relation, ()), leave_out_unfit=leave_out_unfit)
            judge(connection, relation, rules=fit)


def _count_rows(connection: duckdb.DuckDBPyConnection, values: dict[str, Any]) -> None:
    union = [f"select '{f.name}' as table_name, version_no as place, standing from versions_{f.table}" for f in FEEDS]
    run(connection, "settle/feed_versions", values, versions_of_each="\nunion all\n".join(union))
    run(connection, "settle/row_ends", values)
    owned = {"operations": ("operations", "submission_no")}
    owned |= {feed.name: (feed.table, "submission_no") for feed in FEEDS}
    owned |= {file: (name, f"version_no // {VERSIONS_PER_SUBMISSION}") for file, name in PARTS.items()}
    kept = [
        f"    select '{file}' as table_name, ({number})::integer as submission_no, count(*) as rows\n"
        f"    from {name} group by all"
        for file, (name, number) in owned.items()
    ]
    run(connection, "settle/settled_files", values, kept_of_each="\n    union all\n".join(kept))
    unequal = run(connection, "settle/unequal_files", values)
    if unequal:
        raise AssertionError(f"rows received are not accepted + held + rejected + known already: {unequal[:3]}")


def keep_settled(connection: duckdb.DuckDBPyConnection, settled: Settled) -> None:
    """Write what was settled to the store, as what is held and linked today and for the next time."""
    run(connection, "settle/keep")
    for feed in FEEDS:
        run(connection, "settle/keep_versions", table=feed.table)
    keep(connection, settled)
