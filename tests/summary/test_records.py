"""What was received, how complete and late it is, and what moved since the cut before, in a register of files."""

import json
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from regdash.intake.receive import receive
from regdash.signals.desk import SignalsDesk
from regdash.store.freeze import freeze
from regdash.summary.build import build, cut_before
from regdash.summary.document import Document
from regdash.summary.edition import read_edition
from regdash.summary.pinned import pinned_by_cut
from regdash.summary.quarter import read_quarter
from regdash.summary.renderers import text
from tests.cli.asking import regdash
from tests.reports.quality_register import draw_register

QUARTER = read_quarter("2007Q4")


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two cuts of a small register: the end of the quarter, and a year and a half before."""
    folder = tmp_path_factory.mktemp("records")
    draw_register(folder / "in", seed=5, joints=50)
    receive(folder / "store", [folder / "in"])
    freeze(folder / "store", date(2006, 6, 30), date(2009, 6, 30))
    freeze(folder / "store", date(2007, 12, 31), date(2009, 6, 30))
    return folder / "store"


@pytest.fixture(scope="module")
def document(store: Path) -> Iterator[Document]:
    desk = SignalsDesk(store)
    edition = replace(read_edition(store, "committee"), sections=("front", "intake", "activity", "implants"))
    earlier = cut_before(desk.cuts(), desk.manifest, QUARTER)
    assert earlier is not None
    yield build(desk, edition, QUARTER, pinned_by_cut(store, desk.manifest), earlier)
    desk.close()


@pytest.fixture(scope="module")
def tables(document: Document) -> dict[str, list[dict[str, Any]]]:
    return {table.name: table.record.rows for table in document.tables}


def test_tables_on_records_say_what_the_command_line_says(store: Path, document: Document) -> None:
    compared = 0
    for table in document.tables:
        if table.name in ("changes", "completeness", "completeness-by-hospital", "delays", "missing-fields"):
            rows = json.loads(json.dumps(table.record.rows))
            assert rows == regdash(*table.provenance.command, "--json", store=store).json["rows"]
            compared += len(rows)
    assert compared > 60


def test_every_received_row_has_one_end(tables: dict[str, list[dict[str, Any]]]) -> None:
    ends = ("accepted", "held", "rejected", "known_already")
    for row in (*tables["rows-received"], *tables["rows-received-by-hospital"]):
        assert row["received"] == sum(row[end] for end in ends)
    operations = next(row for row in tables["rows-received"] if row["kind"] == "operations")
    by_hospital = tables["rows-received-by-hospital"]
    assert operations["received"] == sum(row["received"] for row in by_hospital) > 100
    assert operations["submissions"] == sum(row["submissions"] for row in by_hospital)


def test_linked_shares_are_those_of_the_command_on_links(store: Path, tables: dict[str, list[dict[str, Any]]]) -> None:
    told = regdash("links", "--by", "joint,year", "--json", store=store).json["rows"]
    of_year = {row["joint"]: (row["revisions"], row["linked"]) for row in told if str(row["year"]) == "2007"}
    ours = {row["group"]: (row["revisions"], row["linked"]) for row in tables["linked-implanted-2007"]}
    assert ours == of_year
    assert of_year


def test_operations_by_quarter_are_those_of_the_commands(store: Path, tables: dict[str, list[dict[str, Any]]]) -> None:
    """Revisions of the four quarters of a year are those that the command on links counts in it."""
    told = regdash("links", "--by", "joint,year", "--json", store=store).json["rows"]
    for row in told:
        if str(row["year"]) == "2007":
            own = tables[f"operations-by-quarter-{row['joint']}"]
            quarters = [one for one in own if one["period"].startswith("2007")]
            assert row["revisions"] == sum(one["revisions"] for one in quarters)
            assert 4 <= len(own) <= 8  # none before the first operation of the joint
            years = [one for one in tables[f"operations-by-year-{row['joint']}"] if one["period"] == "2007"]
            assert row["revisions"] == sum(one["revisions"] for one in years)


def test_what_is_new_is_told_against_the_cut_before_the_quarter(document: Document) -> None:
    page = text.render(document)
    assert "Against data cut 2006-06-30.1 (through 2006-06-30)" in page
    assert "Compared with data cut 2006-06-30.1." in page or "No signal among" in page


def test_the_cut_before_ends_before_the_quarter_and_is_the_newest_such(store: Path) -> None:
    desk = SignalsDesk(store)
    cuts, own = desk.cuts(), desk.manifest
    desk.close()
    assert cut_before(cuts, own, QUARTER) == cuts[0]
    assert cut_before(cuts, own, read_quarter("2006Q2")) is None
    later_known = replace(cuts[0], known_as_of="2010-01-01")
    assert cut_before([later_known, own], own, QUARTER) is None
