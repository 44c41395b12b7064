"""The evidence for who is not of the office: no code of a hospital, surgeon or patient, and no small count."""

import csv
import io
import json
import re
import shutil
import subprocess
import zipfile
from pathlib import Path

import pytest

from regdash.cohort import parse
from regdash.signals.desk import SignalsDesk
from regdash.summary.document import Document
from regdash.summary.edition import read_edition
from regdash.summary.evidence import build_evidence, find_unit
from regdash.summary.output import REPRODUCTION
from regdash.summary.pinned import pinned_by_cut
from regdash.summary.recipient import MAKER, Recipient
from regdash.summary.renderers import pdf
from tests.cli.asking import one_line, regdash
from tests.summary.packed import WHY, Packed

UNDER, WIDTH = 5, 4  # as in evidence-maker.toml
# Hospitals, surgeons, patients, makers, and implants that are not the unit, as this register writes them.
CODES = re.compile(r"\b(?:H\d{3}|S\d{4}|P\d{9}|M0\d|(?!KT-099)[KH][A-Z]-\d{3})\b")


@pytest.fixture(scope="module")
def folder(packed: Packed, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of the form for a maker, and beside it what the office keeps."""
    place = tmp_path_factory.mktemp("outside")
    words = ("evidence", "KT-099", "--for", "maker", "--withheld", place / "kept.csv", "--out", place / "pack")
    said = regdash(*words, store=packed.store)
    assert said.code == 0, said.stderr
    return place / "pack"


def document_of(store: Path, code: str = "KT-099") -> Document:
    edition = read_edition(store, "evidence-maker")
    desk = SignalsDesk(store, withhold_counts_under=edition.withhold_counts_under)
    try:
        unit, cohort = find_unit(desk, parse(()), code)
        reviews = pinned_by_cut(store, desk.manifest)
        return build_evidence(desk, edition, unit, cohort, reviews, None, recipient=Recipient(MAKER))
    finally:
        desk.close()


def texts_of(path: Path) -> list[str]:
    """All that a file says: of a workbook the parts in it, of a PDF the text on its pages."""
    data = path.read_bytes()
    if path.suffix == ".xlsx":
        with zipfile.ZipFile(io.BytesIO(data)) as book:
            return [book.read(name).decode("utf-8", "replace") for name in book.namelist()]
    if path.suffix == ".pdf" and (reader := shutil.which("pdftotext")):
        return [subprocess.run([reader, path, "-"], capture_output=True, check=True).stdout.decode("utf-8")]
    return [data.decode("utf-8", "replace")]


def test_no_file_has_a_code_of_a_hospital_surgeon_patient_or_other_implant(packed: Packed, folder: Path) -> None:
    files = [path for path in folder.rglob("*") if path.is_file()]
    assert {path.suffix for path in files} >= {".html", ".pdf", ".xlsx", ".csv", ".json", ".md", ".txt", ".svg"}
    for path in files:
        for text in texts_of(path):
            assert not CODES.findall(text), path.name
            assert WHY not in text, path.name
    assert not CODES.findall(pdf.source(document_of(packed.store)))
    inside = (packed.folder / "evidence.txt").read_text(encoding="utf-8")
    assert {"H001", "S0001"} <= set(CODES.findall(inside))  # the search finds them where they are


def test_its_figures_are_those_of_the_screen_as_people_read_them(packed: Packed, folder: Path) -> None:
    rows = regdash("screen", "implants", "joint=knee", "--json", store=packed.store).json["rows"]
    screened = {row["window"]: row for row in rows if (row["code"], row["role"]) == ("KT-099", "tibial")}
    told = {row["window"]: row for row in rows_of(folder, "screening")}
    assert told.keys() == screened.keys()
    assert (told["all"]["joints"], told["all"]["revisions"]) == ("120", "60")
    for window, row in told.items():
        if row["revisions"] != "withheld":
            assert int(row["revisions"]) == screened[window]["revisions"]
            for name in ("hazard_ratio", "rate_ratio", "expected"):
                if screened[window][name] is not None:
                    assert float(row[name]) == pytest.approx(screened[window][name], abs=0.05 + 1e-9)


def test_its_rate_ratio_has_the_exact_limits_of_the_command_line(packed: Packed, folder: Path) -> None:
    (row,) = rows_of(folder, "rate")
    (told,) = regdash("implant", "KT-099", "joint=knee", "class=total", "--json", store=packed.store).json["rows"]
    for name in ("rate_ratio", "ratio_lower", "ratio_upper"):
        assert float(row[name]) == pytest.approx(told[name], abs=0.005 + 1e-9)
    assert {row[name] for name in ("hospitals", "surgeons", "first_used", "last_used")} == {"–"}


def rows_of(folder: Path, name: str) -> list[dict[str, str]]:
    with (folder / "tables" / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def parts_of(folder: Path) -> dict[str, tuple[list[str], int]]:
    """Everything in a pack that adds up to a count that is told: the parts as they are written, and their total."""
    whole, *windows = rows_of(folder, "screening")
    joints, revised = int(whole["joints"]), int(whole["revisions"])
    subgroups, first = rows_of(folder, "subgroups"), rows_of(folder, "first-revisions")
    found = {
        "windows": ([row["revisions"] for row in windows], revised),
        "reasons": ([row["revisions"] for row in rows_of(folder, "excess") if row["reason"] != "all reasons"], revised),
        "done": ([row["revisions"] for row in first if row["kind"] == "done"], revised),
    }
    for field in ("sex", "age", "implanted"):
        own = [row for row in subgroups if row["field"] == field]
        found[f"{field}: revisions"] = ([row["revisions"] for row in own], revised)
        found[f"{field}: joints"] = ([row["joints"] for row in own], joints)
    return found


def test_no_small_part_is_told_nor_follows_from_a_total(folder: Path) -> None:
    """What is withheld adds up to the total less what is told, each part at least 1: an interval of that width."""
    hidden = 0  # windows that the screen does not have are one part more
    for what, (parts, total) in parts_of(folder).items():
        told = [int(part) for part in parts if part != "withheld"]
        assert not [count for count in told if 0 < count < UNDER], what
        left, gone = total - sum(told), len(parts) - len(told)
        hidden += gone
        assert left == 0 or left >= UNDER if not gone else gone > 1 and left - gone >= WIDTH, what
    assert hidden > 2
    reasons = {row["reason"]: row["revisions"] for row in rows_of(folder, "excess")}
    assert (reasons["pain"], reasons["wear"], reasons["all reasons"]) == ("withheld", "withheld", "60")


def test_one_text_says_why_whatever_the_cause(folder: Path) -> None:
    told = {row["withheld"] for part in ("excess", "subgroups", "first-revisions") for row in rows_of(folder, part)}
    chance = {"fewer than 40 joints", "fewer than 5 revisions", "–"}
    assert told - chance == {"a count of 1 to 4, or a figure that would tell one"}


def test_no_digit_tells_more_than_people_read(folder: Path) -> None:
    """A ratio with all its digits is a fraction of counts."""
    for path in sorted((folder / "tables").glob("*.csv")):
        cells = [cell for row in csv.reader(path.open(encoding="utf-8", newline="")) for cell in row]
        assert not [cell for cell in cells if re.fullmatch(r"-?\d+\.\d{4,}", cell) and float(cell) > 0.01], path.name


def test_there_is_no_list_of_joints_or_users_and_people_say_nothing(folder: Path) -> None:
    names = {path.stem for path in (folder / "tables").glob("*.csv")}
    assert names.isdisjoint({"revised-joints", "hospitals", "surgeons", "companions", "nearby", "signals"})
    (decision,) = rows_of(folder, "decisions")
    assert set(decision) == {"day", "years", "state"}
    assert decision["state"] == "under review"
    for row in rows_of(folder, "falls"):
        assert set(row) == {"unit", "ratio", "lowest", "highest", "withheld"}


def test_the_office_keeps_what_was_withheld_outside_the_folder(packed: Packed, folder: Path, tmp_path: Path) -> None:
    kept = list(csv.DictReader((folder.parent / "kept.csv").open(encoding="utf-8", newline="")))
    assert {("excess", "wear"), ("excess", "pain")} <= {(row["table"], row["row"]) for row in kept}
    words = ("evidence", "KT-099", "--for", "maker", "--withheld", tmp_path / "out" / "kept.csv")
    assert "may not stand in" in one_line(regdash(*words, "--out", tmp_path / "out", store=packed.store))


def test_it_is_made_again_and_other_settings_are_a_reason(packed: Packed, folder: Path, tmp_path: Path) -> None:
    assert regdash("verify", folder, store=packed.store).code == 0
    assert set(json.loads((folder / REPRODUCTION).read_text())["screening"]) == {"version", "hash"}
    store = Path(shutil.copytree(packed.store, tmp_path / "store"))
    (store / "screening.toml").write_text('version = "2"\nconfirmed = ["KT-098"]\n')
    said = regdash("verify", folder, store=store)
    assert said.code == 1
    assert "the settings of screens are others" in said.stdout
    assert regdash("evidence", "KT-099", "--for", "maker", "--out", tmp_path / "pack", store=store).code == 0
    assert not [path for path in (tmp_path / "pack").rglob("*.*") if CODES.findall(path.read_text("latin-1"))]


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (("KT-098",), "Nothing of KT-098 is told to a maker: used at too few hospitals"),
        (("KT-097",), "Nothing of KT-097 is told to a maker: used by too few surgeons"),
        (("KT-099", "age=..70"), "What a maker is told is of all joints of a class. Leave out age=..70."),
        (("KT-099", "hospital!=H001"), "What a maker is told is of all joints of a class. Leave out hospital!=H001."),
    ],
)
def test_what_would_tell_of_single_hospitals_is_refused(
    packed: Packed, tmp_path: Path, words: tuple[str, ...], why: str
) -> None:
    said = regdash("evidence", *words, "--for", "maker", "--out", tmp_path / "out", store=packed.store)
    assert said.code == 1
    assert said.stderr.splitlines()[-1].startswith(why)
    assert not (tmp_path / "out").exists()


def test_an_edition_cannot_ask_for_what_is_never_told(packed: Packed, tmp_path: Path) -> None:
    store = Path(shutil.copytree(packed.store, tmp_path / "store"))
    file = store / "editions" / "evidence-maker.toml"
    text = file.read_text(encoding="utf-8")
    file.write_text(text.replace('explained = ["excess"', 'explained = ["hospitals", "excess"'), encoding="utf-8")
    said = regdash("evidence", "KT-099", "--for", "maker", "--out", tmp_path / "out", store=store)
    assert said.stderr.splitlines()[-1].startswith("No maker is told hospitals")
    file.write_text(text.replace('"reviews"', '"reviews", "joints"'), encoding="utf-8")
    said = regdash("evidence", "KT-099", "--for", "maker", "--out", tmp_path / "out", store=store)
    assert "sections has joints" in one_line(said)
