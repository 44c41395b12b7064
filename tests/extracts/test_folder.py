"""The folder of an extract: the same bytes again, a dictionary that fits the data, and nobody in it."""

import csv
import hashlib
import io
import json
import re
import shutil
import subprocess
from pathlib import Path

import duckdb
import polars as pl
import pytest

from regdash.dictionary.descriptors import Schema
from regdash.extracts.field_list import read_list
from regdash.extracts.model import CSV
from regdash.store.cuts import cut_path
from regdash.store.extract_key import extract_key, made_extract_key
from tests.cli.asking import process, regdash
from tests.cuts import NAME, component, joint, make_cut
from tests.dictionary.plain_validator import faults_of
from tests.extracts.made import LIST, MAKER, Told, a_list, extract_of

ELSEWHERE = {"TZ": "Pacific/Kiritimati", "LC_ALL": "C", "PYTHONHASHSEED": "77", "POLARS_MAX_THREADS": "1"}


@pytest.fixture(scope="module")
def told(store: Path) -> Told:
    return extract_of(store, a_list())


@pytest.fixture(scope="module")
def own(store: Path) -> Told:
    return extract_of(store, a_list(MAKER), "maker=M02")


def test_made_again_it_is_the_same_byte_for_byte(store, told):
    assert extract_of(store, a_list()).extract.files == told.extract.files


def test_another_process_time_zone_locale_and_number_of_threads_write_the_same_bytes(store, told, tmp_path):
    own = Path(shutil.copytree(store, tmp_path / "store"))
    (own / "extracts").mkdir()
    (own / "extracts" / "a-list.toml").write_text(told.wanted.fields.text)
    regdash("requests", "add", "researcher", "joints", "--received", "2024-01-01", store=own)
    words = ("extract", "a-list", "--request", "R001", "--suppress", "--out", tmp_path / "again", "--store", own)
    running = process(*words, env=ELSEWHERE, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    _, stderr = running.communicate(timeout=300)
    assert running.returncode == 0, stderr
    again = {path.name: path.read_bytes() for path in (tmp_path / "again").iterdir()}
    assert again == told.extract.files


def test_sha256sum_finds_every_file_whole(told, tmp_path):
    for name, content in told.extract.files.items():
        (tmp_path / name).write_bytes(content)
    said = subprocess.run(
        ["sha256sum", "--check", "--strict", "SHA256SUMS"], cwd=tmp_path, capture_output=True, text=True
    )
    assert said.returncode == 0
    assert {line.partition(":")[0] for line in said.stdout.splitlines()} == set(told.extract.files) - {"SHA256SUMS"}


def test_parquet_read_by_another_program_has_the_rows_of_the_csv_file(told, own):
    for one in (told, own):
        frame = pl.read_parquet(io.BytesIO(one.extract.files["data.parquet"]))
        rows = [tuple(map(plain, row)) for row in frame.iter_rows()]
        assert frame.columns == list(one.rows[0])
        assert rows == [tuple(value.removeprefix("'") for value in row.values()) for row in one.rows]


def plain(value: object) -> str:
    """Write a value as CSV has it."""
    return "" if value is None else str(value).lower() if isinstance(value, bool) else str(value)


def test_the_database_reads_the_parquet_file_too(told, tmp_path):
    (tmp_path / "data.parquet").write_bytes(told.extract.files["data.parquet"])
    counted = duckdb.execute(f"select count(*), max(row) from '{tmp_path / 'data.parquet'}'").fetchone()
    assert counted == (len(told.rows), len(told.rows))


@pytest.mark.parametrize("name", ["told", "own", "joints-for-research", "own-implants"])
def test_every_row_is_as_the_dictionary_says(name, told, own, store):
    """Read by a validator of Table Schema that knows the package alone (specs.frictionlessdata.io)."""
    shipped = {"joints-for-research": "joint=knee", "own-implants": "maker=M01"}
    one = {"told": told, "own": own}.get(name) or extract_of(store, read_list(store, name), shipped[name], k=2)
    package = json.loads(one.extract.files["datapackage.json"])
    for resource in package["resources"]:
        content = one.extract.files[resource["path"]]
        assert resource["hash"] == f"sha256:{hashlib.sha256(content).hexdigest()}"
        assert resource["bytes"] == len(content)
    schema = package["resources"][0]["schema"]
    assert [field["name"] for field in schema["fields"]] == list(one.rows[0])
    assert all(field["description"] for field in schema["fields"])
    checked = {"name": "data", "fields": [{**field, "title": ""} for field in schema["fields"]]}
    booleans = {field["name"] for field in schema["fields"] if field["type"] == "boolean"}
    rows = [{n: "yes" if n in booleans and value else value for n, value in row.items()} for row in one.rows]
    faults = list(faults_of(Schema(checked | {"missingValues": schema["missingValues"]}), rows))
    assert faults == []
    assert len({row["row"] for row in rows}) == len(rows)


def test_a_value_that_the_dictionary_does_not_have_is_found(told):
    """The validator is not blind: each field of the list is spoilt once."""
    schema = json.loads(told.extract.files["datapackage.json"])["resources"][0]["schema"]
    checked = Schema({"fields": [{**f, "title": ""} for f in schema["fields"]], "missingValues": [""]})
    for name in ("sex", "age", "bmi", "diagnosis", "ended", "reason", "followed"):
        spoilt = [{**told.rows[0], "stem": "", name: "-7"}]
        assert name in {column for column, _ in faults_of(checked, spoilt)}


def secrets_of(store: Path) -> dict[str, set[str]]:
    """Everything of a cut that must not be in an extract, by what it is."""
    with duckdb.connect(str(cut_path(store, NAME)), read_only=True) as cut:

        def column(sql: str) -> set[str]:
            return {str(value) for (value,) in cut.execute(sql).fetchall() if value is not None}

        return {
            "patients": column("select distinct patient_id from follow_up"),
            "joints": column("select distinct joint_id from follow_up"),
            "operations": column("select distinct operation_id from follow_up"),
            "hospitals": column("select distinct hospital_id from follow_up where hospital_id <> 'not recorded'"),
            "surgeons": column("select distinct surgeon_id from follow_up where surgeon_id <> 'not recorded'"),
            "regions": column("select distinct region from follow_up"),
            "days": column("select distinct implanted_date from follow_up")
            | column("select distinct revision_date from follow_up"),
        }


def test_nobody_no_place_and_no_day_stands_in_any_file(store, told, own):
    secrets = secrets_of(store)
    assert all(secrets.values())
    for one in (told, own):
        for name, content in one.extract.files.items():
            if name == "data.parquet":
                frame = pl.read_parquet(io.BytesIO(content))
                words = {str(value) for column in frame.iter_columns() for value in column.unique()}
            else:
                words = set(re.findall(r"[\w/.-]+", content.decode()))
            for what, values in secrets.items():
                if name in ("README.md", "reproduction.json") and what == "days":
                    continue  # the cut's own dates
                assert not words & values, (name, what)
            assert not re.search(rb"P\d{9}", content)


def test_the_order_of_rows_says_nothing_and_is_another_for_every_request(store, told):
    """Rows are in the order of a keyed hash: place and year have nothing to do with each other, nor two requests."""
    implanted = pl.Series([int(row["implanted"]) for row in told.rows])
    places = pl.Series([int(row["row"]) for row in told.rows])
    assert places.to_list() == list(range(1, len(told.rows) + 1))
    correlation = pl.select(pl.corr(places, implanted, method="spearman")).item()
    assert abs(correlation) < 4 / len(told.rows) ** 0.5  # four standard errors under no relation (common practice)
    other = extract_of(store, a_list(), request="R002")
    strip = [tuple(list(row.values())[1:]) for row in told.rows], [tuple(list(row.values())[1:]) for row in other.rows]
    assert strip[0] != strip[1]
    assert sorted(strip[0]) == sorted(strip[1])


def test_who_has_all_but_the_stores_key_cannot_find_the_order(store, told, tmp_path):
    """A hospital holds its pseudonyms, and the cut's hash, the list and the request stand in the folder."""
    key = extract_key(store)
    assert key == made_extract_key(store)
    assert len(key) == 32
    assert not any(key in content or key.hex().encode() in content for content in told.extract.files.values())
    elsewhere = make_cut(tmp_path / "other", [joint(patient=n) for n in range(30)])
    assert made_extract_key(elsewhere) != key


def test_what_hospitals_typed_cannot_act_in_a_spreadsheet_or_speak_of_somebody(tmp_path):
    lots = ["=1+1", "-L9", "Mrs Miller", "L-77/2", "", "ABCDEF", "A1" * 12]
    made = [
        joint(patient=n, hospital_id=f"H00{n % 2}", components=[component("tibial", "KT-001", lot=lot, size="+4")])
        for n, lot in enumerate(lots * 3)
    ]
    found = extract_of(make_cut(tmp_path, made), a_list(MAKER), "maker=M01", k=2)
    assert {row["lot"] for row in found.rows} == {"", "L-77/2"}
    assert {row["size"] for row in found.rows} == {"'+4"}
    assert found.extract.counted.lots_hidden == 15
    assert b"Miller" not in b"".join(found.extract.files.values())
    assert "15 are blank" in found.extract.files["README.md"].decode()


def test_one_form_of_data_is_enough(store):
    found = extract_of(store, a_list(), forms=(CSV,))
    assert set(found.extract.files) == {
        *("data.csv", "datapackage.json", "README.md", "fields.toml", "reproduction.json", "SHA256SUMS"),
    }
    assert csv.Sniffer().sniff(found.extract.files["data.csv"].decode()[:2000]).delimiter == ","


def test_the_page_says_what_was_asked_what_is_left_out_and_how_it_may_mislead(told):
    page = told.extract.files["README.md"].decode()
    counted = told.extract.counted
    assert counted.under_k.rows > 0
    share = f"{100 * counted.under_k.rows / counted.before.rows:.1f}"
    for said in (
        f"{len(told.rows):,} rows of {counted.after.patients:,} patients",
        f"{counted.under_k.rows:,} of {counted.before.rows:,} rows ({share} %)",
        "for request R001",
        "2024-12-31.1",
        "The event is the first revision of the joint",
        "there are 5 patients or more",
        "not left out by chance",
        "may find their row by its time",
        "Never in an extract: pseudonyms",
        "advice for one patient",
    ):
        assert said in page, said
    assert all(f"| `{name}` |" in page for name in told.rows[0])
    assert LIST.split('title = "')[1].split('"')[0] in page
