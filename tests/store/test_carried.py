"""
What is settled of a part, with what was settled of the rest before, is what settling all of it anew gives: every table
that is settled, row by row, after every receipt, whatever came first.
"""

import random
import re
from collections import Counter
from collections.abc import Iterator, Sequence
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import duckdb
import pytest

from regdash.intake import receive as intake
from regdash.intake.receive import latest_receipt, receive
from regdash.store import carried
from regdash.store.carried import INTO_RECORDS, REVISION_LIST, Settled, looked_into
from regdash.store.connect import reading
from regdash.store.link_decisions import ACCEPTED, LinkDecision
from regdash.store.rules import JUDGED, rules_of
from regdash.store.settle import keep_settled, settle
from regdash.store.tables import FEEDS
from tests.store.chance_register import ChanceRegister
from tests.store.tangled import JOINED, steps

Rows = Counter[tuple[Any, ...]]

# All that is settled; `findings` are those of rows and of records together.
SETTLED = {
    name: f"from {name}"
    for name in (
        *(f"{kind}_{feed.table}" for feed in FEEDS for kind in ("known", "versions")),
        "findings",
        "known_operations",
        "versions_operations",
        "standing_operations",
        "standing_deaths",
        "primary_implants",
        "reason_counts",
        "operation_ends",
        "contested_links",
        "settled_candidates",
        "settled_links",
        "settled_files",
        "settled_findings",
        "row_ends",
    )
}
SETTLED["revisions_and_primaries"] = f"select {REVISION_LIST} from revisions_and_primaries"
VERSIONS = "select version_no, known_to, repeats from"
# What the store keeps of it, and what it is to be.
KEPT = {
    "submission_files": "from settled_files",
    "links": "from settled_links",
    "operation_versions": "from versions_operations",
    "implants_of_primaries": "from primary_implants",
    "revision_facts": SETTLED["revisions_and_primaries"],
    "record_findings": "from findings_of_records",
}
FOUND = "(from registry.held_rows union all by name from registry.noted_rows)"


def rows(connection: duckdb.DuckDBPyConnection, query: str) -> Rows:
    return Counter((repr(row),) for row in connection.execute(query).fetchall())


def settled(
    connection: duckdb.DuckDBPyConnection, as_of: date, decisions: Sequence[LinkDecision], *, afresh: bool
) -> dict[str, Rows]:
    made = settle(connection, as_of, decisions=decisions, afresh=afresh)
    assert made.is_part == (not afresh)
    return {name: rows(connection, query) for name, query in SETTLED.items()}


def assert_the_part_is_the_whole(store: Path, days: int = 0, decisions: Sequence[LinkDecision] = ()) -> dict[str, Rows]:
    """
    Settle what is left to settle and then all of it; give the latter.

    As a freeze does it so many days after the last receipt, with decisions on links.
    """
    with reading(store) as connection:
        as_of = latest_receipt(connection) + timedelta(days=days)
        part = settled(connection, as_of, decisions, afresh=False)
        whole = settled(connection, as_of, decisions, afresh=True)
        differ = {name: (part[name] - found, found - part[name]) for name, found in whole.items()}
        assert not {name: found for name, found in differ.items() if any(found)}
        if days:
            return whole
        for table, query in KEPT.items():
            assert rows(connection, f"from registry.{table}") == rows(connection, query), table
        assert rows(connection, f"from {FOUND}") == whole["settled_findings"]
        for table in ("operations", *(feed.table for feed in FEEDS)):
            stands = f"select version_no, known_to, standing = 'repeat' from versions_{table}"
            single = f"select version_no, null, false from {table} anti join versions_{table} using (version_no)"
            assert rows(connection, f"{VERSIONS} {table}") == rows(connection, f"{stands} union all {single}"), table
    return whole


@pytest.fixture
def parts_kept(monkeypatch: pytest.MonkeyPatch) -> list[bool]:
    """Lets a part be settled however large it is, and tells of each receipt whether that was done."""
    kept: list[bool] = []

    def noted(connection: duckdb.DuckDBPyConnection, made: Settled) -> None:
        kept.append(made.is_part)
        keep_settled(connection, made)

    monkeypatch.setattr(carried, "MOST_IN_SCOPE", 1000)
    monkeypatch.setattr(intake, "keep_settled", noted)
    return kept


def rules_found(whole: dict[str, Rows]) -> Counter[str]:
    return Counter(rule for (row,) in whole["findings"] for rule in re.findall(r"'([a-z]+(?:-[a-z]+)+)'", row))


@pytest.mark.slow  # beside the random orders
def test_a_part_and_what_stood_before_are_the_whole(tmp_path, parts_kept):
    found: Counter[str] = Counter()
    for step in steps(tmp_path / "in"):
        receive(tmp_path / "store", step.folders)
        whole = assert_the_part_is_the_whole(tmp_path / "store")
        before, found = found, rules_found(whole)
        assert step.begin <= set(found - before)
        assert step.end <= set(before - found)
    assert parts_kept == [False, True, True, False, False]  # lists that may bear on anybody's records come last
    decided = LinkDecision(1, *JOINED, ACCEPTED, "two digits were swapped", "analyst 1", "2008-06-03T12:00:00Z")
    whole = assert_the_part_is_the_whole(tmp_path / "store", days=400, decisions=[decided])
    assert rules_found(whole)["first-stage-open"] == found["first-stage-open"] + 1
    assert any(repr(JOINED)[1:-1] in row for (row,) in whole["settled_links"])


def test_no_rule_looks_into_the_records_of_other_patients():
    """Else each receipt would settle all anew; what rules need of other records, a step before them finds."""
    rules = {relation: rules_of(relation) for relation in JUDGED}
    assert not INTO_RECORDS.search(looked_into(rules))
    assert INTO_RECORDS.search("exists (select 1\nfrom known_operations as o where o.patient_id = patient_id)")


def groups(folders: list[Path], draw: random.Random, at_most: int) -> Iterator[list[Path]]:
    left = draw.sample(folders, len(folders))
    while left:
        size = draw.randint(1, at_most)
        yield left[:size]
        left = left[size:]


def assert_order_does_not_matter(folder: Path, seed: int, at_most: int, parts_kept: list[bool]) -> None:
    folders = ChanceRegister(folder / "in", seed).submissions()
    for group in groups(folders, random.Random(seed), at_most):
        receive(folder / "store", group)
        assert_the_part_is_the_whole(folder / "store")
    assert_the_part_is_the_whole(folder / "store", days=400)
    assert not parts_kept[0]
    # Pairs and systems are settled of all; every other receipt after the first of a part.
    assert parts_kept[1:].count(False) <= 2


def test_a_chain_that_has_no_end_is_settled_with_everybody(monkeypatch):
    """Each round reads the store, so that many cost more than settling all."""
    asked = []

    def looked(connection: object, path: str, values: object = None) -> list[tuple[int, int]]:
        asked.append(path)
        return [(len(asked), 1)]

    class Store:
        def execute(self, sql: str) -> "Store":
            return self

        def fetchall(self) -> list[tuple[int]]:
            return [(10**6,)]

    monkeypatch.setattr(carried, "run", looked)
    assert not carried._grow(Store(), {})
    assert asked.count("settle/scope_grow") == carried.MOST_ROUNDS
    assert "settle/scope_tables" not in asked


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(100, 125))
def test_in_whatever_order_they_come(tmp_path, parts_kept, seed):
    assert_order_does_not_matter(tmp_path, seed, at_most=3, parts_kept=parts_kept)
