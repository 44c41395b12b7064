"""
A hostile reader of everything that is given out: no small count of others is told more closely than is stated.

`attack/` reads folders as recipients have them and bounds every small count by linear and integer programs
(scipy.optimize.linprog and milp, HiGHS); what it is granted beyond that is said in `attack/reader.py`. Protection
intervals: Hundepool et al. (2012), Statistical Disclosure Control.
"""

import shutil
from collections.abc import Callable
from datetime import date
from pathlib import Path

import numpy as np
import pytest

from regdash.summary import disclosure, suppression, told_apart
from regdash.summary.released import read_released
from regdash.summary.sections import own_implant_page, own_reasons, public_risk
from tests.cuts import Row, joint, make_cut, shoulder
from tests.summary.attack.folder import Folder
from tests.summary.attack.program import Program
from tests.summary.attacked import BETWEEN, LATER, SOONER, Office, rows, two_cuts


@pytest.fixture(scope="module")
def office(tmp_path_factory: pytest.TempPathFactory) -> Office:
    """An office with two data cuts of a small register."""
    folder = tmp_path_factory.mktemp("attack")
    return Office(two_cuts(folder / "store", 5, 1500), folder)


@pytest.fixture(scope="module")
def public(office: Office) -> list[Folder]:
    """Everybody's editions."""
    return office.public()


def test_a_program_bounds_what_follows_from_totals() -> None:
    """2 and 10 of a total of 12, the first at least 1, and another row that shares neither: by hand."""
    program = Program()
    cells = program.unknown(np.array([[2, 10], [7, 30]]))
    program.know(cells[0], 12, 12)
    program.know(cells[0, :1], 1)
    program.know(cells[:, 1], 40, 40)
    assert program.bounds(cells[0, :1]) == (1, 12)
    assert program.bounds(cells[1, 1:]) == (29, 40)
    assert program.bounds(cells[1, :1])[0] == 0
    with pytest.raises(AssertionError):
        program.know(cells[0], 13, 13)


@pytest.mark.parametrize("reader", ["hospital:H001", "hospital:H005", "surgeon:S0040", "maker:M01"])
def test_no_reader_tells_a_small_count(office: Office, public: list[Folder], reader: str) -> None:
    found = office.attack([office.gives(reader), *public])
    assert found.attacked > 15
    assert found.breaches == []


def test_everybody_tells_no_small_count(office: Office, public: list[Folder]) -> None:
    found = office.attack(public)
    assert found.attacked > 15
    assert found.breaches == []


def test_a_quarter_told_three_times_tells_no_small_count(tmp_path: Path) -> None:
    """What the first tells and the second withholds is what the third cannot be below."""
    two_cuts(tmp_path / "store", 5, 1500)
    last, end = rows(5, 1500), date(2024, 9, 30)
    late = [n for n, row in enumerate(last) if date(2024, 7, 1) <= row["implanted_date"] <= end][1:2]
    between = [row for n, row in enumerate(last) if row["implanted_date"] <= end and n not in late]
    make_cut(tmp_path / "store", between, name=BETWEEN)
    office = Office(tmp_path / "store", tmp_path)
    first = office.gives("public", "2024Q3", SOONER)
    second = office.gives("public", "2024Q3", BETWEEN, first)
    third = office.gives("public", "2024Q3", LATER, second)
    ever = read_released(second.path, ("knee",)).told_ever["knee"]
    assert set(ever) > {cell for cell, number in read_released(second.path, ("knee",)).counts["knee"].items() if number}
    assert office.attack([first, second, third]).breaches == []


# Faults that are planted, each of which the reader must find.


def test_it_finds_that_nothing_is_withheld_beside_small_cells(office: Office, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(suppression, "_is_guarded", lambda *_: True)
    found = office.attack([office.gives("public", "2024Q3", SOONER)])
    assert [breach for breach in found.breaches if "operations" in breach.what]


def test_it_finds_that_units_are_not_guarded_against(office: Office, monkeypatch: pytest.MonkeyPatch) -> None:
    suppressed = suppression.suppressed
    monkeypatch.setattr(
        "regdash.summary.public_counts.suppressed", lambda table, _, *more, **told: suppressed(table, [], *more, **told)
    )
    folders = [office.gives("hospital:H001", "2024Q3", SOONER), office.gives("public", "2024Q3", SOONER)]
    assert [breach for breach in office.attack(folders).breaches if "operations" in breach.what]


def test_it_finds_that_an_earlier_edition_was_not_named(office: Office, public: list[Folder]) -> None:
    again = office.gives("public", "2024Q3", LATER)
    assert [breach for breach in office.attack([public[0], again]).breaches if breach.what.endswith("late")]


def failing(of: dict[str, int], number: int, make: Callable[..., Row] = joint, **given: object) -> list[Row]:
    """Joints of other hospitals that are followed for 14 years, so many of them revised in the second for a reason."""
    reasons = [reason for reason, many in of.items() for _ in range(many)]
    revised = [make(days=400 + n, ended="revised", reason=reason, **given) for n, reason in enumerate(reasons)]
    kept = [make(days=5000, hospital_id=f"H00{2 + n % 3}", surgeon_id=f"S000{2 + n % 3}") for n in range(number)]
    return [*(row | {"hospital_id": "H002"} for row in revised), *(row | given for row in kept)]


def alone(folder: Path, rows: list[Row]) -> Office:
    """An office with one data cut, whose hospital H001 has some joints of each kind too."""
    return Office(make_cut(folder / "store", rows, name=LATER), folder)


def test_it_finds_that_small_reasons_alone_are_withheld(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """All shoulders: 43 revised for all reasons together are told as a risk, and 30 and 10 of them as reasons."""
    rows = failing({"loosening": 30, "infection": 10, "instability": 3}, 600, shoulder)
    own = [shoulder(days=5000) for _ in range(60)] + [shoulder(days=90, ended="revised", reason="infection")]
    office = alone(tmp_path, [*rows, *own])
    assert office.attack([office.gives("hospital:H001")]).breaches == []
    monkeypatch.setattr(disclosure, "is_wide", lambda *_: True)
    monkeypatch.setattr(
        disclosure, "hidden_reasons", lambda policy, _, counts, __: [policy.count(number) is None for number in counts]
    )
    found = office.attack([office.gives("hospital:H001")]).breaches
    assert {(breach.count, breach.low, breach.high) for breach in found} == {(3, 3, 3)}


def test_reasons_that_are_all_small_are_not_even_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Five are revised, and a risk tells so: of four reasons that are named each would be 1 or 2."""
    rows = failing({"loosening": 2, "infection": 1, "instability": 1, "breakage": 1}, 600, shoulder)
    own = [shoulder(days=5000) for _ in range(60)] + [shoulder(days=90, ended="revised", reason="infection")]
    office = alone(tmp_path, [*rows, *own])
    assert office.attack([office.gives("hospital:H001")]).breaches == []
    monkeypatch.setattr(disclosure, "is_wide", lambda *_: True)
    assert len(office.attack([office.gives("hospital:H001")]).breaches) == 4


def test_it_finds_that_reasons_add_up_to_what_risks_leave_out(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Knees: 43 are revised for two reasons, and 40 of the total ones; so 3 of the others, whose risk is withheld."""
    rows = failing({"loosening, tibial": 30, "infection": 10}, 600)
    rows += failing({"infection": 3}, 300, class_="partial")
    own = [joint(days=5000, class_=one) for one in ("total", "partial") for _ in range(60)]
    own.append(joint(days=90, ended="revised", reason="infection"))
    office = alone(tmp_path, [*rows, *own])
    assert office.attack([office.gives("hospital:H001")]).breaches == []
    monkeypatch.setattr(own_reasons, "total_tells", lambda *_: False)
    found = office.attack([office.gives("hospital:H001")]).breaches
    assert [breach for breach in found if "partial" in breach.what and breach.high <= 3]


def test_it_finds_that_a_number_of_100_tells_a_unit_the_others(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Of 574 knees 14 are revised, 2 of 100, which 9 to 14 would be; 11 are of one hospital, and 3 of others."""
    own = [joint(days=400 + n, ended="revised", reason="infection") for n in range(11)]
    own += [joint(days=5000) for _ in range(60)]
    office = alone(tmp_path, [*failing({"infection": 3}, 500), *own])
    mine = office.gives("hospital:H001")
    assert office.attack([mine, office.gives("public")]).breaches == []
    monkeypatch.setattr(public_risk, "told", lambda numbers, *_: [True] * len(numbers))
    found = office.attack([mine, office.gives("public")]).breaches
    assert {(breach.count, breach.low, breach.high) for breach in found} == {(3, 1, 3)}


def test_it_finds_that_implants_which_share_joints_are_told_apart(
    office: Office, public: list[Folder], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(told_apart, "_is_apart", lambda *_: True)
    found = office.attack([office.gives("maker:M01"), *public])
    assert [breach for breach in found.breaches if " and not " in breach.what]


def test_it_finds_that_an_implant_and_its_class_are_told_apart(
    office: Office, public: list[Folder], monkeypatch: pytest.MonkeyPatch
) -> None:
    def every(own, others, can_be, under, width):
        return tuple(place for place, is_possible in enumerate(can_be) if is_possible)

    monkeypatch.setattr(own_implant_page, "told_times", every)
    found = office.attack([office.gives("maker:M01"), *public])
    assert [breach for breach in found.breaches if "own-implant-" in breach.what]


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(8))
def test_no_reader_of_many_registers_tells_a_small_count(seed: int, tmp_path: Path) -> None:
    number = (600, 1500, 4000, 9000)[seed % 4]
    office = Office(two_cuts(tmp_path / "store", 100 + seed, number), tmp_path)
    public = office.public()
    attacked = office.attack(public).attacked
    for reader in ("hospital:H001", "hospital:H003", "hospital:H004", "hospital:H005", "surgeon:S0010", "maker:M01"):
        found = office.attack([office.gives(reader), *public])
        attacked += found.attacked
        assert found.breaches == []
    shutil.rmtree(tmp_path / "store")
    assert attacked > 50
