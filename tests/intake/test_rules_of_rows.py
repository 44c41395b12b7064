"""
Rules on cells and rows: each fires on a row that breaks it, and not on one that just does not.

What is a fault, and whether it rejects, holds or warns, is common practice of registry offices (no published source
for the list as a whole). The check digits are those of the GS1 General Specifications.
"""

from pathlib import Path

import duckdb
import pytest

from regdash.intake.receive import receive
from regdash.store.rules import all_rules
from tests.intake.rule_bench import Bench, entry, number, write
from tests.intake.small_register import Row, SmallRegister, component, primary, reason, revision, total_knee

DAY, LATER = "2004-05-03", "2006-05-03"
# GTIN-14 of the GS1 General Specifications' examples of element strings, and the same with another check digit.
LABEL, WRONG_LABEL = "(01)09506000134352(17)141120", "(01)09506000134353(17)141120"

# Rule: fields of a primary that break it, fields that just do not.
FIELDS: dict[str, tuple[Row, Row]] = {
    "height-implausible": ({"height_cm": "1.72"}, {"height_cm": "120"}),
    "weight-implausible": ({"weight_kg": "251"}, {"weight_kg": "250"}),
    "height-weight-swapped": ({"height_cm": "82", "weight_kg": "172"}, {"height_cm": "172", "weight_kg": "82"}),
    "bmi-disagrees": (
        {"height_cm": "170", "weight_kg": "82", "bmi": "29.4"},
        {"height_cm": "170", "weight_kg": "82", "bmi": "29.3"},
    ),
    "asa-missing": ({"asa": ""}, {"asa": "IV"}),
    "asa-five-elective": ({"asa": "V"}, {"asa": "V", "diagnosis": "acute-fracture"}),
    "approach-missing": ({"approach": ""}, {"approach": "other"}),
    "prophylaxis-missing": ({"prophylaxis": ""}, {"prophylaxis": "none"}),
    "icd10-malformed": ({"icd10": "MM17"}, {"icd10": "M17.1"}),
    "icd10-other-joint": ({"icd10": "M16.1"}, {"icd10": "M17.1"}),
    "diagnosis-other-joint": ({"diagnosis": "femoral-neck-fracture"}, {"diagnosis": "osteonecrosis"}),
    "class-other-joint": ({"class": "reverse"}, {"class": "total"}),
    "approach-other-joint": ({"approach": "posterior"}, {"approach": "other"}),
    "compartment-missing": (
        {"class": "partial", "bearing": "mobile", "constraint": ""},
        {"class": "partial", "bearing": "mobile", "constraint": "", "compartment": "lateral"},
    ),
    "patella-already-resurfaced": ({"patella": "already-resurfaced"}, {"patella": "not-resurfaced"}),
    "technology-system-missing": (
        {"technology": "robot-assisted"},
        {"technology": "robot-assisted", "technology_system": "T01"},
    ),
    "discharge-before-operation": ({"discharge_date": "2004-05-02"}, {"discharge_date": DAY}),
    "admission-after-operation": ({"admission_date": "2004-05-04"}, {"admission_date": DAY}),
}
# Rule: cells of a component that break it, cells that just do not.
PARTS: dict[str, tuple[Row, Row]] = {
    "lot-missing": ({"lot": ""}, {"lot": "", "action": "removed"}),
    "lot-placeholder": ({"lot": "N/A"}, {"lot": "NA1"}),
    "component-expired": ({"expiry_date": "2004-05-02"}, {"expiry_date": DAY}),
    "udi-check-digit": ({"udi": WRONG_LABEL}, {"udi": LABEL}),
    "udi-unreadable": ({"udi": "01 wrong"}, {"udi": "+A123BJC5D6E71G"}),
}
REASONS: dict[str, tuple[Row, Row]] = {
    "other-without-note": ({"reason": "other"}, {"reason": "other", "note": "squeaking"}),
    "reason-unknown": ({"reason": "dislocation"}, {"reason": "instability"}),
}
ENTRIES: dict[str, tuple[Row, Row]] = {
    "gtin-check-digit": ({"gtin": "09506000134353"}, {"gtin": "09506000134352"}),
}
ALL = {**FIELDS, **PARTS, **REASONS, **ENTRIES}


def add(bench: Bench, rule: str, n: int, changes: Row) -> str:
    """Put one row into the register and give its record."""
    name = number(n)
    if rule in FIELDS:
        return bench.add(primary(name, n, DAY) | changes)
    if rule in PARTS:
        first, *others = total_knee(name)
        return bench.add(primary(name, n, DAY), parts=[first | changes, *others])
    if rule in REASONS:
        bench.add(primary(name, n, DAY))
        name = number(n, 1)
        parts = [component(name, 1, "bearing-insert", "KI001-3A", action) for action in ("removed", "implanted")]
        parts[1] |= {"line_no": "2"}
        return bench.add(revision(name, n, LATER), parts, [reason(name), reason(name, "", "no", 2) | changes])
    bench.catalogue.append(entry(n, **changes))
    return f"C{n}"


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> dict[tuple[str, str], str]:
    """Severity of what was found, by record and rule."""
    folder: Path = tmp_path_factory.mktemp("rows")
    bench = Bench()
    for n, (rule, both) in enumerate(ALL.items(), 1):
        for k, changes in enumerate(both):
            add(bench, rule, 1000 * k + n, changes)
    bench.systems.append({"hospital_id": "H001", "technology_system": "T01", "active_from": "2000-01-01"})
    write(SmallRegister(folder / "in"), bench)
    receive(folder / "store", [folder / "in"])
    with duckdb.connect(str(folder / "store" / "registry.duckdb"), read_only=True) as store:
        query = "select record_id, rule, severity from (from held_rows union all from noted_rows)"
        return {(record, rule): severity for record, rule, severity in store.execute(query).fetchall()}


def record_of(rule: str, k: int) -> str:
    n = 1000 * k + list(ALL).index(rule) + 1
    return f"C{n}" if rule in ENTRIES else number(n, 1) if rule in REASONS else number(n)


@pytest.mark.parametrize("rule", ALL)
def test_a_row_that_breaks_a_rule_is_found_and_one_that_just_does_not_is_not(found, rule):
    severity = {one.name: one.severity for one in all_rules()}[rule]
    broken, near = record_of(rule, 0), record_of(rule, 1)
    assert found[broken, rule] == severity
    assert (near, rule) not in found


def test_a_height_in_metres_and_a_weight_in_pounds_are_told_as_such(tmp_path):
    register = SmallRegister(tmp_path / "in")
    rows = [
        primary("H001-1", 1, DAY, height_cm="1.72", weight_kg="80", bmi="27.0"),
        primary("H001-2", 2, DAY, height_cm="172", weight_kg="176.4", bmi="27.0"),
    ]
    register.operations("2005-01-15", rows)
    receive(tmp_path / "store", [tmp_path / "in"])
    with duckdb.connect(str(tmp_path / "store" / "registry.duckdb"), read_only=True) as store:
        told = dict(store.execute("select record_id, value from noted_rows where value like '%perhaps%'").fetchall())
    assert told == {
        "H001-1": "1.72, perhaps in metres",
        "H001-2": "27.0, but 59.6 by height and weight, perhaps the weight is in pounds",
    }
