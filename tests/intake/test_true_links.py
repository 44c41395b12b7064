"""
Links of a soiled register of three joints against its key, which knows what truly belongs together.

The key is written by the generator, which knows nothing of how revisions are linked. A row is right here where its
patient, joint and side are as in the key.
"""

from collections import Counter
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import duckdb
import pytest

from regdash.intake.receive import Receipt, receive
from synthetic_registry import make

JOINTS = 20_000

# Share of right rows that must be linked right. A contested one is not linked, which costs one or two in 1,000: here
# 1 of 966, so 99.90 % are right; 4 of 1,947 at 40,000 joints, so 99.79 %. Of the others, 99.9 % must be right.
RIGHT, RIGHT_OF_UNCONTESTED = 0.998, 0.999

# Each standing revision: what became of it beside what is true. A first revision's primary is named by the key itself;
# that of a later one is the key's joint of its patient, joint and side, where these are right.
OUTCOMES = """
with
faults as (from read_csv($faults, all_varchar = true)),
joints as (from read_csv($joints, all_varchar = true)),
wrong as (select operation_id, string_agg(kind, ' ') as kinds from faults
    where field in ('patient_id', 'joint', 'side') group by operation_id),
standing as (from operations where known_to is null),
held as (select distinct record_id from held_rows where table_name = 'operations' and severity = 'hold'),
truths as (
    select
        r.operation_id, r.joint::varchar as joint, r.patient_id, r.side, w.kinds,
        coalesce(first.operation_id, later.operation_id) as true_id
    from standing as r
    left join wrong as w using (operation_id)
    left join joints as first on first.revision_operation_id = r.operation_id
    left join joints as later
        on later.patient_id = r.patient_id and later.joint = r.joint::varchar and later.side = r.side
        and w.operation_id is null
    where r.kind = 'revision'
)
select
    t.joint, t.kinds,
    t.true_id in (select operation_id from standing) and t.true_id not in (from held)
        and t.true_id not in (select operation_id from wrong) as primary_counts,
    case
        when l.operation_id is null then 'held'
        when l.cause = 'primary contested' then 'contested'
        when l.primary_operation_id is null then 'unlinked'
        when l.primary_operation_id is not distinct from t.true_id then 'right'
        else 'wrong'
    end as outcome,
    count(*)
from truths as t
left join links as l using (operation_id)
group by all
"""
Row = tuple[str, str | None, bool | None, str, int]


@pytest.fixture(scope="module")
def taken_in(tmp_path_factory: pytest.TempPathFactory) -> tuple[Receipt, list[Row]]:
    folder: Path = tmp_path_factory.mktemp("true_links")
    make(folder / "in", JOINTS, 1, False, folder / "key", date(2024, 12, 31))
    receipt = receive(folder / "store", [folder / "in"])
    files = {name: str(folder / "key" / f"{name}.csv") for name in ("faults", "joints")}
    with duckdb.connect(str(folder / "store" / "registry.duckdb"), read_only=True) as store:
        return receipt, store.execute(OUTCOMES, files).fetchall()


def right_rows(outcomes: list[Row]) -> Iterator[tuple[str, str, int]]:
    """Revisions whose own row and whose primary's are right; those that another rule holds are not among them."""
    for joint, kinds, primary_counts, outcome, count in outcomes:
        if kinds is None and primary_counts and outcome != "held":
            yield joint, outcome, count


def test_right_rows_are_linked_right_in_each_joint(taken_in):
    counts: Counter[tuple[str, str]] = Counter()
    for joint, outcome, count in right_rows(taken_in[1]):
        counts[joint, outcome] += count
    assert {joint for joint, _ in counts} == {"knee", "hip", "shoulder"}
    assert sum(counts.values()) > 900
    right, contested = (
        sum(n for (_, outcome), n in counts.items() if outcome == said) for said in ("right", "contested")
    )
    assert right >= RIGHT * sum(counts.values()), counts
    assert contested > 0
    assert right >= RIGHT_OF_UNCONTESTED * (sum(counts.values()) - contested), counts


def test_no_right_row_is_linked_wrong_even_where_a_primary_with_a_wrong_side_stands_in_its_place(taken_in):
    assert [row for row in taken_in[1] if row[1] is None and row[3] == "wrong"] == []


def test_a_wrong_key_leaves_a_revision_without_a_primary_unless_it_fits_another_joint(taken_in):
    """
    A pseudonym that nobody has is never linked; another patient's links wrong where sex and year of birth fit, and a
    wrong side where that side has a primary too.
    """
    wrong_keys = [row for row in taken_in[1] if row[1] is not None]
    counts: Counter[str] = Counter()
    for *_, outcome, count in wrong_keys:
        counts[outcome] += count
    assert counts["unlinked"] > counts["wrong"]
    assert {outcome for _, kinds, _, outcome, _ in wrong_keys if kinds == "missed-link"} <= {"unlinked", "held"}
    linked = {kinds for _, kinds, _, outcome, _ in wrong_keys if outcome == "wrong"}
    assert linked <= {"false-link", "wrong-side", "pseudonym-collision"}


def test_every_row_of_every_file_has_one_end(taken_in):
    files = taken_in[0].files
    assert len(files) > 1_000
    assert [f for f in files if f.received != f.accepted + f.held + f.rejected + f.known_already] == []
