"""The command that prints and writes the data dictionary."""

import csv
import io
import json

import pytest

from regdash.dictionary.descriptors import SCHEMAS
from tests.cli.asking import regdash


def test_the_overview_names_every_table_within_80_columns():
    said = regdash("dictionary")
    assert (said.code, said.stderr) == (0, "")
    lines = said.stdout.splitlines()
    assert all(len(line) < 80 for line in lines)
    assert {name for name in SCHEMAS if any(f"  {name} " in line for line in lines)} == set(SCHEMAS)


@pytest.mark.parametrize("table", SCHEMAS)
def test_a_page_tells_every_field_and_every_code_within_80_columns(table):
    said = regdash("dictionary", table)
    assert (said.code, said.stderr) == (0, "")
    lines = said.stdout.splitlines()
    assert all(len(line) < 80 for line in lines)
    words = set(said.stdout.replace(",", " ").split())
    for field in SCHEMAS[table].fields:
        assert any(line.startswith(f"{field.name}  (") for line in lines)
        assert set(field.constraints.get("enum", [])) <= words


@pytest.mark.parametrize("table", SCHEMAS)
def test_json_is_the_descriptor_of_a_table(table):
    assert json.loads(regdash("dictionary", table, "--json").stdout) == SCHEMAS[table].descriptor


def test_json_without_a_table_is_the_package_with_every_schema_in_it():
    package = json.loads(regdash("dictionary", "--json").stdout)
    assert {one["name"]: one["schema"] for one in package["resources"]} == {
        name: schema.descriptor for name, schema in SCHEMAS.items()
    }


def test_csv_lists_the_fields_in_the_order_of_the_file():
    rows = list(csv.DictReader(io.StringIO(regdash("dictionary", "--csv").stdout)))
    assert [(row["table"], row["field"]) for row in rows] == [
        (name, column) for name, schema in SCHEMAS.items() for column in schema.columns
    ]
    bmi = next(row for row in rows if row["field"] == "bmi")
    assert (bmi["type"], bmi["required"], bmi["minimum"], bmi["maximum"]) == ("number", "false", "14", "70")
    assert len(list(csv.reader(io.StringIO(regdash("dictionary", "deaths", "--csv").stdout)))) == 3


def test_an_export_is_a_folder_of_descriptors(tmp_path):
    said = regdash("dictionary", "--export", str(tmp_path / "out"))
    assert (said.code, said.stdout) == (0, "")
    package = json.loads((tmp_path / "out" / "datapackage.json").read_text(encoding="utf-8"))
    for resource in package["resources"]:
        schema = json.loads((tmp_path / "out" / resource["schema"]).read_text(encoding="utf-8"))
        assert schema == SCHEMAS[resource["name"]].descriptor


def test_what_cannot_be_is_refused_in_one_line(tmp_path):
    (tmp_path / "file").write_text("")
    for words, told in [
        (("dictionary", "operatons"), "There is no table operatons. Nearest: operations"),
        (("dictionary", "deaths", "--export", str(tmp_path / "x")), "--export writes everything"),
        (("dictionary", "--export", str(tmp_path / "file" / "x")), "cannot be written"),
    ]:
        said = regdash(*words)
        assert said.code != 0
        assert told in said.stderr
