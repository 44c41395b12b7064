"""Rows that break the rules on single rows of a file, each by one cell or by being there twice."""

from collections.abc import Callable

from regdash.store.rules import JUDGED
from tests.intake.rule_bench import CASES, DAY, LATER, Bench, case, death, entry, loss, number
from tests.intake.small_register import (
    Row,
    component,
    patient,
    primary,
    reason,
    revision,
)


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
