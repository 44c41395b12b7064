"""The evidence on one unit: its figures are those of the command line, and its bytes are the same again."""

import json
import shutil
import subprocess
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from regdash.summary.document import Document, Paragraph
from regdash.summary.output import REPRODUCTION
from tests.another_day import elsewhere
from tests.cli.asking import one_line, process, regdash
from tests.summary.made import sections_of
from tests.summary.packed import WHY, Packed, document_of, poor
from tests.summary.test_verify import contents

ALONE = """
version = "1"
title = "Past quarters"
years = [2]
reason_years = 5
horizon = 5
rows_on_paper = 5
sections = [{}]
"""
PARTS = {"risk": "risk", "reasons": "reasons", "rates": "windows"}  # lists beside the rows, by the name of a table


def paragraphs(document: Document) -> list[str]:
    return [
        block.text for one in sections_of(document.sections) for block in one.blocks if isinstance(block, Paragraph)
    ]


@cache
def asked(command: tuple[str, ...], store: Path) -> Any:
    return regdash(*command, "--json", store=store).json


def told(table: Any, store: Path) -> list[dict[str, Any]]:
    """What the command line says of a table: its rows, those of the unit where it lists others too."""
    answer = asked(table.provenance.command, store)
    rows = answer[PARTS[table.name]] if table.name in PARTS else answer["rows"]
    if table.name in ("screening", "signals"):
        rows = [row for row in rows if (row["code"], row["role"]) == ("KT-099", "tibial")]
    if table.name in ("signals", "decisions"):  # people are numbers in a pack, and machines are nobody
        rows = [{**row, "decided_by": row["decided_by"] and "person 1"} for row in rows]
        rows = [{name: value for name, value in row.items() if name != "account"} for row in rows]
    return rows


def test_every_table_says_what_the_command_line_says(packed: Packed) -> None:
    compared = 0
    for table in packed.document.tables:
        if table.name == "commands":
            continue
        rows = json.loads(json.dumps(table.record.rows))
        found = told(table, packed.store)
        if table.name == "signals":  # the command line lists windows with a signal or a decision alone
            rows = [row for row in rows if row["window"] in {one["window"] for one in found}]
        assert rows == found, table.name
        compared += len(rows)
    assert compared > 150


def test_its_figures_are_those_that_the_register_was_made_with(packed: Packed) -> None:
    """Counted by hand from `poor`: 120 joints, 60 revised, 3 of them for pain and 19 for wear, in five hospitals."""
    tables = {table.name: table.record.rows for table in packed.document.tables}
    whole = next(row for row in tables["screening"] if row["window"] == "all")
    assert (whole["joints"], whole["revisions"], whole["signal"]) == (120, 60, "look closer")
    by_reason = {row["reason"]: row["revisions"] for row in tables["excess"]}
    assert (by_reason["infection"], by_reason["wear"], by_reason["pain"], by_reason["all reasons"]) == (38, 19, 3, 60)
    assert sum(row["excess"] for row in tables["excess"][:-1]) == pytest.approx(tables["excess"][-1]["excess"])
    assert {row["user"]: row["joints"] for row in tables["hospitals"]} == {f"H{n:03d}": 24 for n in range(1, 6)}
    listed = {(row["implanted_date"], row["hospital_id"]) for row in tables["revised-joints"]}
    made = [poor(number) for number in range(1, 120, 2)]
    assert len(tables["revised-joints"]) == 60
    assert listed == {(row["implanted_date"].isoformat(), row["hospital_id"]) for row in made}


def test_the_front_says_what_it_is_and_that_a_signal_is_no_proof(packed: Packed) -> None:
    text = (packed.folder / "evidence.txt").read_text(encoding="utf-8")
    front = text.partition("What the screen found")[0]
    for said in ("is no proof", "KT-099 (tibial, total knee) is a signal in this screen", "Not looked at", "hash"):
        assert said in front
    assert f"because: {WHY}" not in front
    (row,) = next(table for table in packed.document.tables if table.name == "decisions").record.rows
    assert (row["state"], row["why"], row["decided_by"]) == ("under review", WHY, "person 1")


@pytest.mark.slow  # two processes; that of a summary is tried by default
def test_another_process_day_time_zone_and_locale_write_the_same_bytes(
    packed: Packed, tmp_path: Path, tmp_path_factory: pytest.TempPathFactory
) -> None:
    words = ("evidence", "kt-099", "--out", tmp_path / "again", "--store", packed.store)
    running = process(*words, env=elsewhere(tmp_path_factory.mktemp("clock")), stdout=subprocess.PIPE)
    _, stderr = running.communicate(timeout=300)
    assert running.returncode == 0, stderr
    assert contents(tmp_path / "again") == contents(packed.folder)


def test_decisions_count_up_to_a_day_that_is_written_down(packed: Packed, tmp_path: Path) -> None:
    store = Path(shutil.copytree(packed.store, tmp_path / "store"))
    (store / "editions" / "evidence.toml").write_text(ALONE.format('"opening", "reviews"'))
    words = ("evidence", "KT-099", "--reviews-as-of", "2025-01-31", "--out", tmp_path / "pack")
    assert regdash(*words, store=store).code == 0
    text = (tmp_path / "pack" / "evidence.txt").read_text(encoding="utf-8")
    assert "Nobody has decided anything on it by 2025-01-31." in text
    assert WHY not in text
    assert regdash("verify", tmp_path / "pack", store=store).code == 0


def test_a_changed_table_is_found(packed: Packed, tmp_path: Path) -> None:
    store, folder = Path(shutil.copytree(packed.store, tmp_path / "store")), tmp_path / "pack"
    (store / "editions" / "evidence.toml").write_text(ALONE.format('"screening"'))
    assert regdash("evidence", "KT-099", "--out", folder, store=store).code == 0
    table = folder / "tables" / "screening.csv"
    table.write_bytes(table.read_bytes().replace(b",60,", b",61,", 1))
    said = regdash("verify", folder, "--json", store=store)
    assert said.code == 1
    assert [row["file"] for row in said.json["rows"]] == ["tables/screening.csv"]


@pytest.mark.parametrize("spoilt", [{}, {"unit": {"code": "KT-099"}, "cohort": []}, {"unit": 3}, []])
def test_a_damaged_unit_is_refused_in_one_line(packed: Packed, tmp_path: Path, spoilt: Any) -> None:
    folder = Path(shutil.copytree(packed.folder, tmp_path / "pack"))
    record = json.loads((folder / REPRODUCTION).read_text())
    (folder / REPRODUCTION).write_text(json.dumps({**record, "evidence": spoilt}))
    assert one_line(regdash("verify", folder, "--json", store=packed.store)).startswith("The recorded unit")


def test_that_single_joints_were_written_out_stands_in_the_audit_trail(packed: Packed, tmp_path: Path) -> None:
    store = Path(shutil.copytree(packed.store, tmp_path / "store"))
    (store / "registry.duckdb").touch()  # the trail is one of a store that takes records in
    (store / "editions" / "evidence.toml").write_text(ALONE.format('"joints"'))
    assert regdash("evidence", "KT-099", "--out", tmp_path / "pack", store=store).code == 0
    exports = [act["details"] for act in regdash("audit", "--json", store=store).json["rows"]]
    assert exports[-1] == {"of": "evidence on KT-099 for committee", "rows": 60, "form": "files"}


def test_a_unit_that_is_no_signal_is_packed_and_says_so(packed: Packed) -> None:
    rows = regdash("screen", "implants", "joint=knee", "--json", store=packed.store).json["rows"]
    signals = {row["code"] for row in rows if row["signal"] == "look closer"}
    code = next(row["code"] for row in rows if row["code"] not in signals)
    said = paragraphs(document_of(packed.store, code))[0]
    assert said.startswith(f"{code} (")
    assert "is no signal in this screen. The pack was made because somebody asked for it" in said


def test_a_size_is_told_beside_its_class_and_its_own_joints_are_listed(packed: Packed) -> None:
    """Every third of the 120 has size 7, of these every other one is revised."""
    document = document_of(packed.store, "KT-099 size 7")
    tables = {table.name: table for table in document.tables}
    assert len(tables["revised-joints"].record.rows) == 20
    assert next(row for row in tables["screening"].record.rows if row["window"] == "all")["joints"] == 40
    answer = asked(tables["risk"].provenance.command, packed.store)
    assert json.loads(json.dumps(tables["risk"].record.rows)) == answer["rows"]
    assert tables["risk"].columns[0].cells == ["KT-099 size 7", "all total knees"]


def test_an_office_edits_what_a_pack_holds(packed: Packed, tmp_path: Path) -> None:
    store = Path(shutil.copytree(packed.store, tmp_path / "store"))
    file = store / "editions" / "evidence.toml"
    file.write_text(ALONE.format('"opening", "screening"'))
    document = document_of(store, "KT-099")
    assert [section.key for section in document.sections] == ["opening", "screening"]
    assert "Left out by the edition of this pack:" in paragraphs(document)
    file.write_text(ALONE.format('"opening", "front"'))
    line = one_line(regdash("evidence", "KT-099", "--out", tmp_path / "out", store=store))
    assert line.endswith("sections has front. Nearest: joints.")


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (("KT-777",), "The screen of implants tells of no KT-777."),
        (("KT-099 size 9",), "The screen of sizes tells of no KT-099 size 9."),
        (("KT-099", "joint=hip"), "The screen of implants tells of no KT-099."),
        (("KT-099", "ended=revised"), "ended is known only after implantation."),
        (("KT-099", "--cut", "1999-12-31"), "There is no data cut 1999-12-31"),
    ],
)
def test_what_cannot_be_packed_is_refused_in_one_line(packed: Packed, tmp_path: Path, words: Any, why: str) -> None:
    said = regdash("evidence", *words, "--out", tmp_path / "out", store=packed.store)
    assert said.code == 1
    assert one_line(said).startswith(why)
    assert not (tmp_path / "out").exists()
