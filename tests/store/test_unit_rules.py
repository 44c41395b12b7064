"""
Rules about hospitals and surgeons: what their figures ask of them, in a cut.

Which figures an office asks about is common practice, no published source; the thresholds are settings of it.
"""

from datetime import date, timedelta
from pathlib import Path

import pytest

from regdash.store.rule_book import units_asked
from regdash.store.rule_settings import SETTINGS
from regdash.store.rules import unit_rules
from tests.intake.small_register import Row, SmallRegister, component, primary, reason, revision, total_knee

LATE = SETTINGS["lag_days"].value


@pytest.fixture(scope="module")
def asked(tmp_path_factory: pytest.TempPathFactory) -> set[tuple[str, str, str]]:
    """Rule, unit and period of every question of one cut."""
    from regdash.intake.receive import receive
    from regdash.store.freeze import freeze

    folder: Path = tmp_path_factory.mktemp("units")
    register = SmallRegister(folder / "in")
    register.catalogue()
    hospitals = [{"hospital_id": f"H00{n}", "region": f"R{n}", "active_from": "2000-01-01"} for n in range(1, 7)]
    surgeons = [{"surgeon_id": f"S000{n}", "active_from": "2000-01-01"} for n in range(1, 8)]
    register.submit("units", "2000-01-01", {"hospitals": hospitals, "surgeons": surgeons})
    rows: dict[str, list[Row]] = {}
    # H001: 240 primaries of 2004, 20 a month, and no revision; one figure ends nearly all its surgeon's indices.
    for n in range(240):
        day = date(2004, n // 20 + 1, n % 20 + 1)
        row = primary(f"H001-{n}", n, str(day), bmi="28.5" if n % 10 else "31.2", surgeon_id="S0001")
        rows.setdefault("H001", []).append(row | {"asa": "III" if n % 3 else "II"})
    # H002: 240 primaries likewise with one revision, varied figures, and a second month that is half empty.
    for n in range(240):
        day = date(2004, n // 20 + 1, n % 20 + 1)
        row = primary(f"H002-{n}", 1000 + n, str(day), bmi=f"{24 + n % 17 / 10:.1f}", surgeon_id="S0002", asa="II")
        rows.setdefault("H002", []).append(row | ({"approach": ""} if n < 30 else {}))
    rows["H002"].append(revision("H002-900", 1000, "2004-12-20", surgeon_id="S0002"))
    rows["H002"] += [primary(f"H002-{950 + n}", 1500 + n, "2005-01-10", surgeon_id="S0002") for n in range(9)]
    # H003: one surgeon with 13 operations on one day, who also was in another region on it; one with 12.
    rows["H003"] = [primary(f"H003-{n}", 2000 + n, "2004-06-01", surgeon_id="S0003") for n in range(13)]
    rows["H003"] += [primary(f"H003-{n}", 2000 + n, "2004-06-02", surgeon_id="S0004") for n in range(20, 32)]
    rows["H004"] = [primary("H004-1", 2100, "2004-06-01", surgeon_id="S0003")]
    # H004: 60 operations that come late, and revisions whose reasons are other.
    rows["H004"] += [primary(f"H004-{n}", 3000 + n, "2003-02-01", surgeon_id="S0005") for n in range(10, 70)]
    revisions = [revision(f"H004-{n}", 2010 + n, "2004-03-01", surgeon_id="S0005") for n in range(100, 140)]
    rows["H004"] += [primary(f"H004-{n + 100}", 2010 + n, "2002-03-01") for n in range(100, 140)] + revisions
    received = str(date(2005, 1, 31))
    for hospital, of in rows.items():
        reasons = [
            reason(row["operation_id"], "other" if n < 5 else "infection")
            for n, row in enumerate(row for row in of if row["kind"] == "revision")
        ]
        register.operations(received, of, None, reasons, hospital=hospital)
    # H005 is just beyond its limits of 2004, H006 just within them; both report 40 days later in 2003.
    two_years(register, "H005", "S0006", "2004-05-20", infections=27, no_lot=12, alike=6, counted=126)
    two_years(register, "H006", "S0007", "2004-04-30", infections=25, no_lot=11, alike=5, counted=125)
    receive(folder / "store", [folder / "in"])
    freeze(folder / "store", date(2005, 1, 31))
    _, found = units_asked(folder / "store")
    return {(rule, unit, period) for _, unit, period, rule, *_ in found}


def two_years(
    register: SmallRegister,
    hospital: str,
    surgeon: str,
    received: str,
    infections: int,
    no_lot: int,
    alike: int,
    counted: int,
) -> None:
    """Sixty primaries and forty revisions of 1 March 2003 and 2004; what is given is of the second year."""
    for year, on, leading, without, same in (
        (2003, "2003-04-10", 20, 0, 1),
        (2004, received, infections, no_lot, alike),
    ):
        day, first = f"{year}-03-01", int(hospital[1:]) * 1000 + (year - 2003) * 100
        rows = [
            (primary if n < 60 else revision)(
                f"{hospital}-{first + n}",
                first + n,
                day,
                surgeon_id=surgeon,
                bmi="31.9" if 10 <= n < 10 + same else f"{24 + n % 17 / 10:.1f}",
            )
            for n in range(100)
        ]
        lines = [line for row in rows[:60] for line in total_knee(row["operation_id"])]
        lines += [component(row["operation_id"], 1, "cement", "") for row in rows[60:]]
        lines = [line | ({"lot": ""} if n < without else {}) for n, line in enumerate(lines)]
        reasons = [
            reason(row["operation_id"], "infection" if n < leading else "loosening-tibial")
            for n, row in enumerate(rows[60:])
        ]
        register.operations(on, rows, lines, reasons, hospital=hospital)
    # A month of few, one of many, and one of which nothing is said to have been sent yet.
    months = (("primary", "2003-03", 19), ("primary", "2004-03", counted - 50), ("revision", "2004-03", 50))
    counts = [
        {"hospital_id": hospital, "joint": "knee", "kind": kind, "month": month, "operations": str(number)}
        for kind, month, number in (*months, ("primary", "2004-12", 60))
    ]
    register.submit("admin_counts", "2005-01-20", {"admin_counts": counts})


@pytest.mark.parametrize(
    ("rule", "unit", "period", "near"),
    [
        ("revisions-none", "H001", "2004", "H002"),
        ("reason-other-often", "H004", "2004", "H002"),
        ("field-often-empty", "H002", "2004", "H001"),
        ("digit-preferred", "S0001", "2004", "S0002"),
        ("asa-always-same", "S0002", "2004", "S0001"),
        ("surgeon-day-full", "S0003", "2004-06-01", "S0004"),
        ("surgeon-in-two-regions", "S0003", "2004-06-01", "S0004"),
        ("month-unusual", "H002", "2005-01", "H003"),
        ("reports-late", "H004", "2003", "H003"),
        ("reports-later", "H005", "2004", "H006"),  # 80 days after 40, and 60 after 40
        ("reason-mix-changed", "H005", "2004", "H006"),  # 27 of 40 after 20, and 25 after 20
        ("field-often-empty", "H005", "2004", "H006"),  # lots: 12 of 220, and 11
        ("month-not-as-counted", "H005", "2004-03", "H006"),  # 100 of 126, and of 125
        ("bmi-repeated", "H005", "2004", "H006"),  # six in a row, and five
        ("bmi-repeated", "S0006", "2004", "S0007"),
    ],
)
def test_a_figure_beyond_its_limit_is_asked_about_and_a_usual_one_is_not(asked, rule, unit, period, near):
    assert (rule, unit, period) in asked
    assert (rule, near) not in {(of, whose) for of, whose, _ in asked}


def test_figures_of_units_are_for_people_in_two_decimals():
    from regdash.cli.rules import figures_rounded

    row = ("hospital", "H001", "2004", "field-often-empty", "asa", 0.132075, None)
    assert figures_rounded((*row, "Is there a reason?")) == (*row[:5], "0.13", None)


def test_every_rule_on_units_says_what_is_asked():
    assert len(unit_rules()) == 13
    assert all(rule.severity in ("warn", "note") and rule.text.endswith(".") for rule in unit_rules())
    assert timedelta(days=LATE) == timedelta(days=90)  # as offices mostly have it
