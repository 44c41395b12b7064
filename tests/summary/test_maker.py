"""What a maker gets: its own implants, and nothing of which a hospital, a surgeon or another maker could be told."""

import csv
import re
import shutil
from datetime import date
from pathlib import Path

import pytest

from tests.cli.asking import regdash
from tests.cuts import Row, components_of, joint, make_cut


def knees(construct: str, maker: str, number: int, hospitals: int, revised: int) -> list[Row]:
    return [
        joint(
            construct=construct,
            components=components_of(construct, maker=maker),
            implanted_date=date(2012 + n % 6, 1 + n % 12, 1 + n % 28),
            days=200 + 3 * n if n < revised else 2000 + n,
            ended="revised" if n < revised else "in place",
            reason="infection" if n % 4 else "pain, unexplained",
            hospital_id=f"H{1 + n % hospitals:03d}",
            surgeon_id=f"S{1 + n % hospitals:04d}",
        )
        for n in range(number)
    ]


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Knees of two makers: one in five hospitals, one in two, one with three revisions, one of a surgeon."""
    rows = knees("KF-001/KT-001", "M01", 300, 5, 24) + knees("KF-002/KT-002", "M01", 90, 2, 12)
    rows += knees("KF-003/KT-003", "M01", 90, 4, 3) + knees("KF-009/KT-009", "M02", 400, 6, 40)
    alone = [row | {"surgeon_id": "S0001"} for row in knees("KF-004/KT-004", "M01", 90, 4, 9)]
    alone[5:8] = [row | {"surgeon_id": "S0002"} for row in alone[5:8]]
    rows += alone
    return make_cut(tmp_path_factory.mktemp("maker") / "store", rows)


@pytest.fixture(scope="module")
def folder(store: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of the first maker."""
    found = tmp_path_factory.mktemp("editions") / "M01"
    said = regdash("summary", "2024Q3", "--for", "maker:M01", "--out", found, store=store)
    assert said.code == 0, said.stderr
    return found


def rows_of(folder: Path, name: str) -> dict[str, dict[str, str]]:
    with (folder / "tables" / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return {row["code"]: row for row in csv.DictReader(file)}


def test_own_implants_have_the_figures_of_the_command_line(store: Path, folder: Path) -> None:
    own = rows_of(folder, "own-implants-knee")
    told = next(
        row for row in regdash("implants", "joint=knee", "--json", store=store).json["rows"] if row["code"] == "KT-001"
    )
    assert (int(own["KT-001"]["joints"]), int(own["KT-001"]["revisions"])) == (300, 24)
    assert float(own["KT-001"]["rate_ratio"]) == pytest.approx(told["rate_ratio"])
    assert own["KT-001"]["class"] == "total"
    assert own["KT-001"]["first_used"] == told["first_used"][:4]


def test_an_implant_of_few_hospitals_or_revisions_is_withheld_whole(folder: Path) -> None:
    own = rows_of(folder, "own-implants-knee")
    few = (("KT-002", "at too few hospitals"), ("KT-003", "a count of 1 to 4"), ("KT-004", "nearly all by one"))
    for code, why in few:
        assert why in own[code]["withheld"]
        assert {own[code][name] for name in ("joints", "revisions", "expected", "rate_ratio", "p")} == {"withheld"}
        assert not list((folder / "tables").glob(f"own-implant-knee-{code.lower()}*"))
    assert {row["hospitals"] for row in own.values()} | {row["surgeons"] for row in own.values()} <= {"withheld", "–"}


def test_no_unit_and_no_other_maker_s_implant_is_named_in_any_file(store: Path, folder: Path) -> None:
    for path in folder.rglob("*"):
        if path.suffix in (".html", ".md", ".txt", ".csv", ".json", ".svg"):
            text = path.read_text(encoding="utf-8")
            assert not re.findall(r"\b(?:H\d{3}|S\d{4}|K[FT]-009|M02)\b", text), path.name
    assert regdash("verify", folder, store=store).code == 0


def test_no_setting_names_another_makers_implant(store: Path, tmp_path: Path) -> None:
    """An implant that is confirmed stands in the settings of screens, of which a maker is told the hash alone."""
    own = Path(shutil.copytree(store, tmp_path / "store"))
    (own / "screening.toml").write_text('version = "2"\nconfirmed = ["KT-009"]\n', encoding="utf-8")
    told = regdash("summary", "2024Q3", "--for", "maker:M01", "--out", tmp_path / "M01", store=own)
    assert told.code == 0, told.stderr
    inside = regdash("summary", "2024Q3", "--for", "committee", "--out", tmp_path / "office", store=own)
    assert inside.code == 0, inside.stderr
    assert "KT-009" in (tmp_path / "office" / "reproduction.json").read_text(encoding="utf-8")
    written = [
        path for path in (tmp_path / "M01").rglob("*") if path.suffix in (".json", ".html", ".md", ".txt", ".csv")
    ]
    assert len(written) > 5
    assert not [path.name for path in written if "KT-009" in path.read_text(encoding="utf-8")]
    assert regdash("verify", tmp_path / "M01", store=own).code == 0
