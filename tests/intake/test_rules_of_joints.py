"""
Rules on components, joints, patients and units: each fires on a row that breaks it, and not on one that just does not.

What is a fault, and whether it holds, warns or notes, is common practice of registry offices (no published source for
the list as a whole). GTINs with their check digits are made by the rule of the GS1 General Specifications.
"""

from collections.abc import Callable
from pathlib import Path

import duckdb
import pytest

from regdash.intake.receive import receive
from regdash.store.rules import JUDGED, all_rules
from tests.intake.rule_bench import Bench, entry, number, write
from tests.intake.small_register import (
    Row,
    SmallRegister,
    component,
    exchanged,
    partial,
    patient,
    primary,
    reason,
    revision,
    total_knee,
)

DAY, LATER = "2004-05-03", "2006-05-03"
GTIN, OTHER_GTIN = "09506000134352", "09506000134369"
Case = Callable[[Bench, int, bool], str]
CASES: dict[str, Case] = {}


def case(rule: str) -> Callable[[Case], Case]:
    """A case makes one record: one that breaks the rule, or one that just does not."""

    def keep(made: Case) -> Case:
        CASES[rule] = made
        return made

    return keep


def knee_with(bench: Bench, n: int, parts: list[Row], **changes: str) -> str:
    """A total knee with further components."""
    return bench.add(primary(number(n), n, DAY, **changes), parts=[*total_knee(number(n)), *parts])


def knee_of(bench: Bench, n: int, first: Row, **changes: str) -> str:
    """A total knee with other cells in the femoral component."""
    femoral, *others = total_knee(number(n))
    return bench.add(primary(number(n), n, DAY, **changes), parts=[femoral | first, *others])


def revised(bench: Bench, n: int, day: str = LATER, reasons: list[Row] | None = None, **changes: str) -> str:
    """A total knee and its revision."""
    bench.add(primary(number(n), n, DAY))
    return bench.add(revision(number(n, 1), n, day, **changes), reasons=reasons)


@case("components-missing")
def _(bench: Bench, n: int, breaks: bool) -> str:
    return bench.add(primary(number(n), n, DAY), parts=total_knee(number(n))[: 1 if breaks else 2])


@case("duplicate-position")
def _(bench: Bench, n: int, breaks: bool) -> str:
    role, catalogue_no = ("femoral", "KF001-3A") if breaks else ("stem", "KS001-3A")
    return knee_with(bench, n, [component(number(n), 4, role, catalogue_no)])


@case("component-other-side")
def _(bench: Bench, n: int, breaks: bool) -> str:
    return knee_of(bench, n, {"catalogue_no": "KF009-3L"}, side="right" if breaks else "left")


@case("revision-without-components")
def _(bench: Bench, n: int, breaks: bool) -> str:
    bench.add(primary(number(n), n, DAY))
    row = revision(number(n, 1), n, LATER)
    return bench.add(row, parts=[] if breaks else exchanged(row)[:1])


def cement(n: int) -> list[Row]:
    return [component(number(n), 9, "cement", "")]


@case("cement-on-cementless")
def _(bench: Bench, n: int, breaks: bool) -> str:
    day = "2015-01-01" if breaks else "2014-12-31"
    return knee_with(bench, n, cement(n), fixation="cementless", operation_date=day)


@case("cemented-without-cement")
def _(bench: Bench, n: int, breaks: bool) -> str:
    return knee_with(bench, n, [] if breaks else cement(n), fixation="cemented", operation_date="2015-01-01")


@case("mixed-makers")
def _(bench: Bench, n: int, breaks: bool) -> str:
    return knee_of(bench, n, {"catalogue_no": "KF002-3A" if breaks else "KF001-3A"})


@case("technology-system-unknown")
def _(bench: Bench, n: int, breaks: bool) -> str:
    system = {"technology": "robot-assisted", "technology_system": "T01"}
    return knee_with(bench, n, [], operation_date="2003-12-31" if breaks else "2004-01-01", **system)


@case("sizes-unfit")
def _(bench: Bench, n: int, breaks: bool) -> str:
    return knee_of(bench, n, {"catalogue_no": "KF001-5A" if breaks else "KF001-4A"})


@case("serial-repeated")
def _(bench: Bench, n: int, breaks: bool) -> str:
    first = {"serial": f"S{n}AB"}
    knee_of(bench, n, first)
    other = n + 500 if breaks else n
    parts = [part | first for part in total_knee(number(n, 1))[:1]] + total_knee(number(n, 1))[1:]
    return bench.add(primary(number(n, 1), other, LATER, side="right"), parts=parts)


@case("removed-not-in-joint")
def _(bench: Bench, n: int, breaks: bool) -> str:
    bench.add(primary(number(n), n, DAY))
    parts = [component(number(n, 1), 1, "femoral", "KF002-3A" if breaks else "KF001-3A", "removed")]
    return bench.add(revision(number(n, 1), n, LATER), parts)


@case("removed-before")
def _(bench: Bench, n: int, breaks: bool) -> str:
    revised(bench, n)
    row = revision(number(n, 2), n, "2008-05-03")
    if not breaks:
        return bench.add(row)
    # What came out at the first revision had gone in twice by then; it comes out a third time.
    bench.add(row)
    last = revision(number(n, 3), n, "2009-05-03")
    lines = [component(number(n, 3), k, "femoral", "KF001-3A", "removed") for k in (1, 2)]
    return bench.add(last, lines)


@case("catalogue-other-joint")
def _(bench: Bench, n: int, breaks: bool) -> str:
    return knee_with(bench, n, [component(number(n), 4, "stem", "HS001-3A" if breaks else "KS001-3A")])


@case("component-off-market")
def _(bench: Bench, n: int, breaks: bool) -> str:
    return knee_of(bench, n, {"catalogue_no": "KF008-3A"}, operation_date="2004-07-01" if breaks else "2004-06-30")


@case("udi-other-device")
def _(bench: Bench, n: int, breaks: bool) -> str:
    return knee_of(bench, n, {"catalogue_no": "KF007-3A", "udi": f"(01){OTHER_GTIN if breaks else GTIN}(10)AB12"})


@case("death-dates-differ")
def _(bench: Bench, n: int, breaks: bool) -> str:
    bench.deaths.append({"patient_id": patient(n), "death_date": "2005-01-01"})
    LATER_DEATHS.append({"patient_id": patient(n), "death_date": "2005-01-02"})
    if not breaks:
        LAST_DEATHS.append({"patient_id": patient(n), "death_date": "2005-01-02"})
    return patient(n)


LATER_DEATHS: list[Row] = []
LAST_DEATHS: list[Row] = []


@case("patient-operations-implausible")
def _(bench: Bench, n: int, breaks: bool) -> str:
    bench.add(primary(number(n), n, DAY))
    days = [f"2005-{month:02d}-03" for month in range(1, 10 if breaks else 9)]
    return [bench.add(revision(number(n, k), n, day)) for k, day in enumerate(days, 1)][-1]


@case("death-soon-after")
def _(bench: Bench, n: int, breaks: bool) -> str:
    bench.deaths.append({"patient_id": patient(n), "death_date": "2004-05-05" if breaks else "2004-05-06"})
    return bench.add(primary(number(n), n, DAY))


@case("both-sides-same-day")
def _(bench: Bench, n: int, breaks: bool) -> str:
    bench.add(primary(number(n), n, DAY))
    return bench.add(primary(number(n, 1), n, DAY if breaks else "2004-05-04", side="right"))


@case("wear-too-early")
def _(bench: Bench, n: int, breaks: bool) -> str:
    # 365 days after 3 May 2004 is 3 May 2005.
    return revised(bench, n, "2005-05-02" if breaks else "2005-05-03", [reason(number(n, 1), "wear-bearing-surface")])


@case("conversion-of-total")
def _(bench: Bench, n: int, breaks: bool) -> str:
    bench.add(primary(number(n), n, DAY) if breaks else partial(number(n), n, DAY))
    return bench.add(revision(number(n, 1), n, LATER, action="partial-to-total"))


@case("infection-one-stage-cementless")
def _(bench: Bench, n: int, breaks: bool) -> str:
    return revised(bench, n, fixation="cementless" if breaks else "cemented")


@case("first-stage-open")
def _(bench: Bench, n: int, breaks: bool) -> str:
    made = revised(bench, n, stage="first-of-two", action="removal-with-spacer")
    if not breaks:
        second = revision(number(n, 2), n, "2006-09-01", stage="second-of-two", action="reimplantation")
        bench.add(second, reasons=[])
    return made


@case("pseudonym-collision")
def _(bench: Bench, n: int, breaks: bool) -> str:
    bench.add(primary(number(n), n, DAY))
    sex = "male" if breaks else "female"
    return bench.add(primary(number(n, 1), n, LATER, side="right", sex=sex, birth_year="1960"))


CATALOGUE = (
    {"catalogue_no": "KF009-3L", "side": "left"},
    {"catalogue_no": "KF001-4A", "size": "4"},
    {"catalogue_no": "KF001-5A", "size": "5"},
    {"catalogue_no": "KF008-3A", "withdrawn_date": "2004-06-30"},
    {"catalogue_no": "KF007-3A", "gtin": GTIN},
    {"catalogue_no": "HS001-3A", "implant": "HS-001", "role": "femoral-stem", "joint": "hip", "class": ""},
)


@pytest.fixture(scope="module")
def made(
    tmp_path_factory: pytest.TempPathFactory,
) -> tuple[dict[str, tuple[str, str]], dict[tuple[str, str], tuple[str, str]]]:
    """The two records of each rule, and severity and file of what was found, by record and rule."""
    folder: Path = tmp_path_factory.mktemp("joints")
    bench = Bench()
    records = {
        rule: (make(bench, n, True), make(bench, 1000 + n, False)) for n, (rule, make) in enumerate(CASES.items(), 1)
    }
    bench.catalogue += [entry(0, **row) for row in CATALOGUE]
    bench.pairs.append({"implant": "KF-001", "paired_implant": "KT-001", "size_steps": "1"})
    bench.systems.append({"hospital_id": "H001", "technology_system": "T01", "active_from": "2004-01-01"})
    register = SmallRegister(folder / "in")
    write(register, bench, "2016-01-01")
    register.submit("deaths", "2016-02-01", {"deaths": LATER_DEATHS})
    register.submit("deaths", "2016-03-01", {"deaths": LAST_DEATHS})
    receive(folder / "store", [folder / "in"])
    with duckdb.connect(str(folder / "store" / "registry.duckdb"), read_only=True) as store:
        query = "select record_id, rule, severity, table_name from (from held_rows union all from noted_rows)"
        return records, {row[:2]: row[2:] for row in store.execute(query).fetchall()}


@pytest.mark.parametrize("rule", CASES)
def test_what_breaks_a_rule_is_found_and_what_just_does_not_is_not(made, rule):
    records, found = made
    of = next(one for one in all_rules() if one.name == rule)
    broken, near = records[rule]
    assert found[broken, rule] == (of.severity, JUDGED[of.relation])
    assert (near, rule) not in found
