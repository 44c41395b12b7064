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
from tests.intake.small_register import Row, SmallRegister, primary, reason, revision

LATE = SETTINGS["lag_days"].value


@pytest.fixture(scope="module")
def asked(tmp_path_factory: pytest.TempPathFactory) -> set[tuple[str, str, str]]:
    """Rule, unit and period of every question of one cut."""
    from regdash.intake.receive import receive
    from regdash.store.freeze import freeze

    folder: Path = tmp_path_factory.mktemp("units")
    register = SmallRegister(folder / "in")
    register.catalogue()
    hospitals = [{"hospital_id": f"H00{n}", "region": f"R{n}", "active_from": "2000-01-01"} for n in (1, 2, 3, 4)]
    surgeons = [{"surgeon_id": f"S000{n}", "active_from": "2000-01-01"} for n in range(1, 6)]
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
    receive(folder / "store", [folder / "in"])
    freeze(folder / "store", date(2005, 1, 31))
    _, found = units_asked(folder / "store")
    return {(rule, unit, period) for _, unit, period, rule, *_ in found}


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
    ],
)
def test_a_figure_beyond_its_limit_is_asked_about_and_a_usual_one_is_not(asked, rule, unit, period, near):
    assert (rule, unit, period) in asked
    assert (rule, near) not in {(of, whose) for of, whose, _ in asked}


def test_every_rule_on_units_says_what_is_asked():
    assert len(unit_rules()) == 11
    assert all(rule.severity in ("warn", "note") and rule.text.endswith(".") for rule in unit_rules())
    assert timedelta(days=LATE) == timedelta(days=90)  # as offices mostly have it
