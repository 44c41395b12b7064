"""
Every rule fires on the row it is for, and on no other.

What is a fault, and whether it rejects, holds or warns, is common practice of registry offices (no
published source for the list as a whole); ages, BMI limits and the twelve months are settings of that practice.
"""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path

import duckdb
import pytest

from regdash.dictionary import PATIENT_FORM
from regdash.intake.receive import receive
from regdash.store.rules import JUDGED, SEVERITIES, SUBMISSIONS, UNITS, Rule, all_rules, rules_of
from tests.intake.small_register import (
    CATALOGUE,
    Row,
    SmallRegister,
    component,
    exchanged,
    partial,
    partial_knee,
    patient,
    primary,
    reason,
    revision,
    total_knee,
)


@dataclass
class Bench:
    """The rows of one large register in which each case has patients and numbers of its own."""

    operations: list[Row] = field(default_factory=list)
    components: list[Row] = field(default_factory=list)
    reasons: list[Row] = field(default_factory=list)
    catalogue: list[Row] = field(default_factory=list)
    hospitals: list[Row] = field(default_factory=list)
    surgeons: list[Row] = field(default_factory=list)
    pairs: list[Row] = field(default_factory=list)
    systems: list[Row] = field(default_factory=list)
    deaths: list[Row] = field(default_factory=list)
    losses: list[Row] = field(default_factory=list)
    admin_counts: list[Row] = field(default_factory=list)

    def add(self, row: Row, parts: list[Row] | None = None, reasons: list[Row] | None = None) -> str:
        """Add an operation with its components and reasons, and give its number."""
        number = row["operation_id"]
        if parts is None:
            parts = []
            if row["kind"] == "primary":
                parts = partial_knee(number) if row["class"] == "partial" else total_knee(number)
            elif row["kind"] == "revision":
                parts = exchanged(row)
        if reasons is None:
            reasons = [reason(number)] if row["kind"] == "revision" else []
        self.operations.append(row)
        self.components += parts
        self.reasons += reasons
        return number


def number(n: int, k: int = 0) -> str:
    return f"H001-{n:05d}{k:02d}"


DAY, LATER = "2004-05-03", "2006-05-03"
Case = Callable[[Bench, int], str]
CASES: dict[tuple[str, str], Case] = {}


def case(relation: str, rule: str) -> Callable[[Case], Case]:
    def keep(made: Case) -> Case:
        CASES[relation, rule] = made
        return made

    return keep


def changed(rule: str, **changes: str) -> None:
    """A primary with one field changed breaks one rule."""
    CASES["read_operations", rule] = lambda bench, n: bench.add(primary(number(n), n, DAY) | changes)


changed("patient-form", patient_id="P12345678")
changed("joint-unknown", joint="elbow")
changed("date-unreadable", operation_date="2004-02-30")
changed("date-after-receipt", operation_date="2030-01-01")
changed("hospital-not-sender", hospital_id="H002")
changed("side-missing", side="both")
changed("birth-year-implausible", birth_year="1994")
changed("class-missing", **{"class": ""})
changed("word-unknown", technology="magic")
changed("sex-missing", sex="")
changed("diagnosis-missing", diagnosis="")
changed("surgeon-missing", surgeon_id="")
changed("young-osteoarthritis", birth_year="1980")
changed("bmi-implausible", bmi="71.0")
changed("revision-fields-on-primary", stage="single")
changed("cell-unreadable", discharge_date="31.3.2004")


@case("read_operations", "operation-number")
def _(bench: Bench, n: int) -> str:
    return bench.add(primary("X-1", n, DAY, hospital_id="H001"))


@case("read_operations", "kind-unknown")
def _(bench: Bench, n: int) -> str:
    return bench.add(primary(number(n), n, DAY, kind="wash"), parts=[])


@case("read_operations", "record-repeated")
def _(bench: Bench, n: int) -> str:
    bench.add(primary(number(n), n, DAY))
    return bench.add(primary(number(n), n, DAY, bmi="31.0"), parts=[])


@case("read_operations", "row-repeated")
def _(bench: Bench, n: int) -> str:
    bench.add(primary(number(n), n, DAY))
    return bench.add(primary(number(n), n, DAY), parts=[])


@case("read_operations", "stage-missing")
def _(bench: Bench, n: int) -> str:
    bench.add(primary(number(n), n, DAY))
    return bench.add(revision(number(n, 1), n, LATER, stage=""))


def with_part(relation: str, rule: str, bad: Callable[[str], list[Row]]) -> None:
    """A primary with further components, or a revision with further reasons, breaks one rule of theirs."""

    def make(bench: Bench, n: int) -> str:
        made = bench.add(primary(number(n), n, DAY))
        if relation == "read_components":
            bench.components += bad(made)
            return made
        return bench.add(revision(number(n, 1), n, LATER), reasons=[reason(number(n, 1)), *bad(number(n, 1))])

    CASES[relation, rule] = make


with_part("read_components", "line-unreadable", lambda o: [component(o, 9, "stem", "KF001-3A") | {"line_no": "nine"}])
with_part(
    "read_components",
    "record-repeated",
    lambda o: [component(o, 9, "patellar", "KF001-3A"), component(o, 9, "patellar", "KT001-3A")],
)
with_part("read_components", "row-repeated", lambda o: [component(o, 9, "patellar", "KF001-3A")] * 2)
with_part("read_components", "role-unknown", lambda o: [component(o, 9, "hinge", "KF001-3A")])
with_part("read_components", "component-action-unknown", lambda o: [component(o, 9, "stem", "KF001-3A", "moved")])
with_part(
    "read_components",
    "date-unreadable",
    lambda o: [component(o, 9, "stem", "KS001-3A") | {"expiry_date": "2031"}],
)
with_part("read_reasons", "line-unreadable", lambda o: [reason(o, "instability", "no") | {"line_no": ""}])
with_part(
    "read_reasons",
    "record-repeated",
    lambda o: [reason(o, "instability", "no", 9), reason(o, "stiffness", "no", 9)],
)
with_part("read_reasons", "row-repeated", lambda o: [reason(o, "instability", "no", 9)] * 2)
with_part("read_reasons", "reason-unknown", lambda o: [reason(o, "rust", "no", 9)])
with_part("read_reasons", "leads-unreadable", lambda o: [reason(o, "instability", "perhaps", 9)])


@case("read_components", "operation-not-sent")
def _(bench: Bench, n: int) -> str:
    bench.components.append(component(number(n), 1, "stem", "KF001-3A"))
    return number(n)


@case("read_reasons", "operation-not-sent")
def _(bench: Bench, n: int) -> str:
    bench.reasons.append(reason(number(n)))
    return number(n)


@case("read_components", "operation-rejected")
def _(bench: Bench, n: int) -> str:
    return bench.add(primary(number(n), n, "soon"))


@case("read_reasons", "operation-rejected")
def _(bench: Bench, n: int) -> str:
    return bench.add(revision(number(n), n, "soon"))


def entry(n: int, **changes: str) -> Row:
    row = {"catalogue_no": f"C{n}", "maker": "M01", "implant": "KF-001", "role": "femoral", "joint": "knee"}
    return row | {"class": "total", "size": "3", "introduced_date": "1995-01-01"} | changes


def of_feed(relation: str, rule: str, rows: Callable[[int], list[Row]], record: Callable[[int], str]) -> None:
    def make(bench: Bench, n: int) -> str:
        getattr(bench, JUDGED[relation]).extend(rows(n))
        return record(n)

    CASES[relation, rule] = make


def of_catalogue(rule: str, *rows: Callable[[int], Row], record: Callable[[int], str] = lambda n: f"C{n}") -> None:
    of_feed("read_catalogue", rule, lambda n: [make(n) for make in rows], record)


of_catalogue("number-missing", lambda n: entry(n, catalogue_no=""), record=lambda n: "")
of_catalogue("record-repeated", entry, lambda n: entry(n, size="4"))
of_catalogue("row-repeated", entry, entry)
of_catalogue("implant-missing", lambda n: entry(n, implant=""))
of_catalogue("word-unknown", lambda n: entry(n, role="hinge"))
of_catalogue("date-unreadable", lambda n: entry(n, withdrawn_date="2020"))
for relation, column in (("read_hospitals", "hospital_id"), ("read_surgeons", "surgeon_id")):

    def unit(n: int, day: str = "2000-01-01", column: str = column) -> Row:
        return {column: f"U{n}", "active_from": day}

    code = "U{}".format
    of_feed(relation, "code-missing", lambda n, column=column: [{column: ""}], lambda n: "")
    of_feed(relation, "record-repeated", lambda n, unit=unit: [unit(n), unit(n, "2001-01-01")], code)
    of_feed(relation, "row-repeated", lambda n, unit=unit: [unit(n), unit(n)], code)
    of_feed(relation, "date-unreadable", lambda n, unit=unit: [unit(n, "1 May")], code)


def pair(n: int, steps: str = "1", paired: str = "KT-001") -> Row:
    return {"implant": f"X{n}", "paired_implant": paired, "size_steps": steps}


def system(n: int, day: str = "2000-01-01", code: str = "T01") -> Row:
    return {"hospital_id": f"H{n}", "technology_system": code, "active_from": day}


of_feed("read_pairs", "implant-missing", lambda n: [pair(n, paired="")], "X{} ".format)
of_feed("read_pairs", "steps-unreadable", lambda n: [pair(n, "few")], "X{} KT-001".format)
of_feed("read_pairs", "record-repeated", lambda n: [pair(n), pair(n, "2")], "X{} KT-001".format)
of_feed("read_pairs", "row-repeated", lambda n: [pair(n), pair(n)], "X{} KT-001".format)
of_feed("read_systems", "code-missing", lambda n: [system(n, code="")], "H{} ".format)
of_feed("read_systems", "date-unreadable", lambda n: [system(n, "1 May")], "H{} T01".format)
of_feed("read_systems", "record-repeated", lambda n: [system(n), system(n, "2001-01-01")], "H{} T01".format)
of_feed("read_systems", "row-repeated", lambda n: [system(n), system(n)], "H{} T01".format)


def death(n: int, day: str = "2004-09-01") -> Row:
    return {"patient_id": patient(n), "death_date": day}


def loss(n: int, day: str = "2004-09-01", kind: str = "emigrated") -> Row:
    return {"patient_id": patient(n), "loss_date": day, "loss": kind}


def not_shown(n: int) -> str:
    """What is not of the agreed form may be a patient's own number, and is not kept."""
    return f"not shown, {len(f'Q{n}')} characters"


of_feed("read_deaths", "patient-form", lambda n: [{"patient_id": f"Q{n}", "death_date": DAY}], not_shown)
of_feed("read_deaths", "date-unreadable", lambda n: [death(n, "2004-13-01")], patient)
of_feed("read_deaths", "date-after-receipt", lambda n: [death(n, "2031-01-01")], patient)
of_feed("read_deaths", "two-dates", lambda n: [death(n), death(n, "2004-09-02")], patient)
of_feed("read_deaths", "row-repeated", lambda n: [death(n), death(n)], patient)
of_feed("read_losses", "patient-form", lambda n: [loss(n) | {"patient_id": f"Q{n}"}], not_shown)
of_feed("read_losses", "date-unreadable", lambda n: [loss(n, "2004-13-01")], patient)
of_feed("read_losses", "date-after-receipt", lambda n: [loss(n, "2031-01-01")], patient)
of_feed("read_losses", "word-unknown", lambda n: [loss(n, kind="bored")], patient)
of_feed("read_losses", "record-repeated", lambda n: [loss(n), loss(n, "2004-09-02")], patient)
of_feed("read_losses", "row-repeated", lambda n: [loss(n), loss(n)], patient)


def count(n: int, operations: str = "12", month: str = "2004-03") -> Row:
    return {"hospital_id": f"H{n}", "joint": "knee", "kind": "primary", "month": month, "operations": operations}


of_feed("read_admin_counts", "count-unreadable", lambda n: [count(n, "many")], "H{} knee primary 2004-03".format)
of_feed("read_admin_counts", "record-repeated", lambda n: [count(n), count(n, "13")], "H{} knee primary 2004-03".format)
of_feed("read_admin_counts", "row-repeated", lambda n: [count(n), count(n)], "H{} knee primary 2004-03".format)


@case("operation_facts", "hospital-inactive")
def _(bench: Bench, n: int) -> str:
    return bench.add(primary(number(n), n, "1999-12-31"))


@case("operation_facts", "surgeon-unknown")
def _(bench: Bench, n: int) -> str:
    return bench.add(primary(number(n), n, DAY, surgeon_id="S9999"))


@case("operation_facts", "surgeon-inactive")
def _(bench: Bench, n: int) -> str:
    return bench.add(primary(number(n), n, DAY, surgeon_id="S0002"))


@case("operation_facts", "primary-with-reasons")
def _(bench: Bench, n: int) -> str:
    return bench.add(primary(number(n), n, DAY), reasons=[reason(number(n))])


@case("operation_facts", "revision-without-reason")
def _(bench: Bench, n: int) -> str:
    bench.add(primary(number(n), n, DAY))
    return bench.add(revision(number(n, 1), n, LATER), reasons=[])


@case("operation_facts", "class-disagrees")
def _(bench: Bench, n: int) -> str:
    return bench.add(primary(number(n), n, DAY), parts=partial_knee(number(n)))


@case("operation_facts", "birth-year-differs")
def _(bench: Bench, n: int) -> str:
    bench.add(primary(number(n), n, DAY))
    return bench.add(primary(number(n, 1), n, LATER, side="right", birth_year="1952"))


@case("operation_facts", "sex-differs")
def _(bench: Bench, n: int) -> str:
    bench.add(primary(number(n), n, DAY))
    return bench.add(primary(number(n, 1), n, LATER, side="right", sex="male"))


@case("operation_facts", "bearing-disagrees")
def _(bench: Bench, n: int) -> str:
    return bench.add(primary(number(n), n, DAY, bearing="mobile"))


@case("operation_facts", "constraint-disagrees")
def _(bench: Bench, n: int) -> str:
    parts = [*total_knee(number(n)), component(number(n), 4, "stem", "KS001-3A")]
    return bench.add(primary(number(n), n, DAY), parts=parts)


@case("operation_facts", "leading-reason-unclear")
def _(bench: Bench, n: int) -> str:
    bench.add(primary(number(n), n, DAY))
    both = [reason(number(n, 1), "instability", "yes", 1), reason(number(n, 1), "stiffness", "yes", 2)]
    return bench.add(revision(number(n, 1), n, LATER), reasons=both)


@case("component_facts", "catalogue-number-unknown")
def _(bench: Bench, n: int) -> str:
    parts = [*total_knee(number(n)), component(number(n), 4, "stem", "nowhere")]
    return bench.add(primary(number(n), n, DAY), parts=parts)


@case("component_facts", "operation-held")
def _(bench: Bench, n: int) -> str:
    return bench.add(primary(number(n), n, DAY, side=""))


@case("component_facts", "operation-known")
def _(bench: Bench, n: int) -> str:
    bench.add(primary(number(n), n, DAY))
    return bench.add(primary(number(n, 1), n, DAY))


@case("reason_facts", "operation-held")
def _(bench: Bench, n: int) -> str:
    return bench.add(revision(number(n), n, DAY, side=""))


@case("reason_facts", "operation-known")
def _(bench: Bench, n: int) -> str:
    bench.add(primary(number(n), n, DAY))
    bench.add(revision(number(n, 1), n, LATER))
    return bench.add(revision(number(n, 2), n, LATER))


@case("same_day_operations", "submitted-twice")
def _(bench: Bench, n: int) -> str:
    bench.add(primary(number(n), n, DAY))
    return bench.add(primary(number(n, 1), n, DAY))


@case("same_day_operations", "same-day-other-components")
def _(bench: Bench, n: int) -> str:
    bench.add(primary(number(n), n, DAY))
    return bench.add(
        primary(number(n, 1), n, DAY),
        parts=[component(number(n, 1), 1, "femoral", "KF002-3A"), *total_knee(number(n, 1))[1:]],
    )


@case("operations_after_death", "operation-after-death")
def _(bench: Bench, n: int) -> str:
    bench.deaths.append(death(n))
    return bench.add(primary(number(n), n, "2004-09-02"))


@case("deaths_before_operation", "death-before-operation")
def _(bench: Bench, n: int) -> str:
    bench.deaths.append(death(n))
    bench.add(primary(number(n), n, "2004-09-02"))
    return patient(n)


@case("deaths_before_operation", "death-before-birth")
def _(bench: Bench, n: int) -> str:
    bench.deaths.append(death(n, "1949-09-01"))
    bench.add(primary(number(n), n, DAY))
    return patient(n)


@case("operations_after_loss", "operation-after-loss")
def _(bench: Bench, n: int) -> str:
    bench.losses.append(loss(n))
    return bench.add(primary(number(n), n, "2004-09-02"))


@case("primaries_in_order", "second-primary")
def _(bench: Bench, n: int) -> str:
    bench.add(primary(number(n), n, DAY))
    return bench.add(primary(number(n, 1), n, LATER))


@case("primaries_in_order", "second-partial")
def _(bench: Bench, n: int) -> str:
    bench.add(partial(number(n), n, DAY))
    return bench.add(partial(number(n, 1), n, LATER, compartment="lateral"))


@case("revisions_and_primaries", "side-conflict")
def _(bench: Bench, n: int) -> str:
    bench.add(primary(number(n), n, DAY))
    return bench.add(revision(number(n, 1), n, LATER, side="right"))


@case("revisions_and_primaries", "revision-before-primary")
def _(bench: Bench, n: int) -> str:
    bench.add(primary(number(n), n, LATER))
    return bench.add(revision(number(n, 1), n, DAY))


@case("revisions_and_primaries", "progression-on-total")
def _(bench: Bench, n: int) -> str:
    bench.add(primary(number(n), n, DAY))
    return bench.add(revision(number(n, 1), n, LATER), reasons=[reason(number(n, 1), "progression-of-disease")])


@case("revisions_and_primaries", "dislocation-on-fixed")
def _(bench: Bench, n: int) -> str:
    bench.add(primary(number(n), n, DAY))
    return bench.add(revision(number(n, 1), n, LATER), reasons=[reason(number(n, 1), "bearing-dislocation")])


@case("revisions_and_primaries", "revision-on-day-0")
def _(bench: Bench, n: int) -> str:
    bench.add(primary(number(n), n, DAY))
    return bench.add(revision(number(n, 1), n, DAY))


@case("revisions_and_primaries", "second-stage-alone")
def _(bench: Bench, n: int) -> str:
    bench.add(primary(number(n), n, DAY))
    return bench.add(revision(number(n, 1), n, LATER, stage="second-of-two"), reasons=[])


# This one needs a hospital that the units feed does not name, and is made beside the bench.
BESIDE = {("operation_facts", "hospital-unknown"): "H003-0000001"}
# A record that breaks one rule can break another with it.
TOGETHER = {
    ("read_operations", "birth-year-implausible"): {"young-osteoarthritis"},
    ("operation_facts", "class-disagrees"): {"bearing-disagrees"},
    ("same_day_operations", "same-day-other-components"): {"mixed-makers"},
    ("deaths_before_operation", "death-before-birth"): {"death-before-operation"},
}


@pytest.fixture(scope="module")
def found(tmp_path_factory) -> dict[tuple[str, str, str], str]:
    """What rules found in the register of all cases: severity by file, record and rule."""
    folder = tmp_path_factory.mktemp("rules")
    bench = Bench()
    records = {key: make(bench, n) for n, (key, make) in enumerate(CASES.items(), 1)}
    clean = bench.add(primary("H001-9999900", 999, DAY))
    bench.add(revision("H001-9999901", 999, LATER))
    assert clean not in records.values()
    write(SmallRegister(folder / "in"), bench)
    receive(folder / "store", [folder / "in"])
    with duckdb.connect(str(folder / "store" / "registry.duckdb"), read_only=True) as store:
        query = "select table_name, record_id, rule, severity from (from held_rows union all from noted_rows)"
        return {row[:3]: row[3] for row in store.execute(query).fetchall()}


def write(register: SmallRegister, bench: Bench, received: str = "2010-01-01") -> None:
    columns = ("catalogue_no", "maker", "implant", "role", "class", "bearing")
    usual = [
        dict(zip(columns, row)) | {"role": row[3].replace(" ", "-"), "joint": "knee", "size": "3"} for row in CATALOGUE
    ]
    stem = entry(0, catalogue_no="KS001-3A", implant="KS-001", role="stem", constraint="hinged")
    register.submit("catalogue", received, {"catalogue": [*usual, stem, *bench.catalogue], "pairs": bench.pairs})
    units = {
        "hospitals": [{"hospital_id": "H001", "active_from": "2000-01-01"}, *bench.hospitals],
        "surgeons": [{"surgeon_id": "S0001"}, {"surgeon_id": "S0002", "active_to": "2001-01-01"}, *bench.surgeons],
        "systems": bench.systems,
    }
    register.submit("units", received, units)
    register.submit("deaths", received, {"deaths": bench.deaths})
    register.submit("losses", received, {"losses": bench.losses})
    register.submit("admin_counts", received, {"admin_counts": bench.admin_counts})
    register.operations(received, bench.operations, bench.components, bench.reasons, bare=True)
    register.operations(received, [primary("H003-0000001", 998, DAY)], hospital="H003")


@pytest.fixture(scope="module")
def records() -> dict[tuple[str, str], str]:
    bench = Bench()
    return {key: make(bench, n) for n, (key, make) in enumerate(CASES.items(), 1)} | BESIDE


HERE = [rule for rule in all_rules() if (rule.relation, rule.name) in {*CASES, *BESIDE}]


@pytest.mark.parametrize("rule", HERE, ids=lambda rule: f"{rule.relation}/{rule.name}")
def test_a_rule_fires_on_the_row_it_is_for_and_no_other_rule_does(rule, found, records):
    table, record = JUDGED[rule.relation], records[rule.relation, rule.name]
    fired = {name: severity for (of, about, name), severity in found.items() if (of, about) == (table, record)}
    together = TOGETHER.get((rule.relation, rule.name), set())
    assert fired.pop(rule.name) == rule.severity
    assert set(fired) == together


def test_nothing_is_found_in_rows_without_a_fault(found):
    clean = {f"H001-99999{k:02d}" for k in (0, 1)}
    assert not clean & {record for _, record, _ in found}


def test_every_rule_says_what_it_must():
    for rule in all_rules():
        assert rule.severity in SEVERITIES
        assert rule.version >= 1
        assert rule.text.endswith((".", "?"))
        assert rule.about.endswith(".")


def test_every_rule_has_a_row_that_breaks_it():
    from tests.intake import test_rules_of_joints as joints
    from tests.intake import test_rules_of_rows as rows

    tried = {name for _, name in {*CASES, *BESIDE}} | {*rows.ALL} | {*joints.CASES}
    assert {rule.name for rule in all_rules()} == tried


def test_every_folder_of_rules_is_judged():
    folders = {path.name for path in (Path(__file__).parents[2] / "sql" / "rules").iterdir()}
    assert folders == {relation for relation in (*JUDGED, UNITS, SUBMISSIONS) if rules_of(relation)}


def test_the_form_of_a_pseudonym_is_that_of_the_dictionary():
    assert PATIENT_FORM.fullmatch(patient(1))
    assert PATIENT_FORM.fullmatch("QABCDEFGHIJKL2345")
    for other in ("P12345678", "P1234567890", "QABCDEFGHIJKL234", "QABCDEFGHIJKL0189", "xP123456789"):
        assert not PATIENT_FORM.fullmatch(other)


@pytest.mark.parametrize(("field", "rule"), [("birth_year", "birth-year-implausible"), ("bmi", "bmi-implausible")])
def test_a_number_too_large_for_its_column_is_a_finding_and_no_crash(field, rule, tmp_path):
    register = SmallRegister(tmp_path / "in")
    register.operations("2005-01-15", [primary("H001-1", 1, DAY, **{field: "99999999"})])
    parts = [component("H001-2", 1, "stem", "KF001-3A") | {"line_no": "99999999"}]
    register.operations("2005-04-15", [primary("H001-2", 2, DAY)], parts)
    receive(tmp_path / "store", [tmp_path / "in"])
    with duckdb.connect(str(tmp_path / "store" / "registry.duckdb"), read_only=True) as store:
        found = {row[0] for row in store.execute("select rule from row_findings").fetchall()}
    assert found >= {rule, "line-unreadable"}


def test_a_rule_judges_operations_from_the_day_it_starts(tmp_path, monkeypatch):
    began = date(2005, 2, 1)

    def from_then(relation: str) -> tuple[Rule, ...]:
        return tuple(replace(rule, starts=began) for rule in rules_of(relation))

    monkeypatch.setattr("regdash.store.rules.rules_of", from_then)
    register = SmallRegister(tmp_path / "in")
    register.operations("2005-01-15", [primary("H001-1", 1, DAY, bmi="99")])
    register.operations("2005-04-15", [primary("H001-2", 2, "2005-03-03", bmi="99")])
    receive(tmp_path / "store", [tmp_path / "in"])
    with duckdb.connect(str(tmp_path / "store" / "registry.duckdb"), read_only=True) as store:
        found = store.execute("select record_id, rule from (from held_rows union all from noted_rows)").fetchall()
    assert {record for record, _ in found} == {"H001-2"}
    assert {rule for _, rule in found} >= {"bmi-implausible", "hospital-unknown"}
