"""
The data dictionary against the standard that it claims to follow, and against the rest of the program.

The standard: Table Schema and Tabular Data Package, version 1, of the Open Knowledge Foundation
(specs.frictionlessdata.io/table-schema and /tabular-data-package): its types, formats, constraints and keys.
"""

import importlib.util
import json
import re
from pathlib import Path

import pytest

from regdash import icd10
from regdash.dictionary import KINDS, PATIENT_FORM, ROW_KEYS, TABLES
from regdash.dictionary.descriptors import FOLDER, PACKAGE, SCHEMAS, export_to, with_limits
from regdash.store.tables import FEEDS, OPERATION_COLUMNS
from regdash.store.words import WORDS, word_of

# Types of Table Schema, each with the constraints that it may have beside `required`, `unique` and `enum`.
ORDERED = {"minimum", "maximum"}
TYPES = {
    "string": {"pattern", "minLength", "maxLength"},
    "number": ORDERED,
    "integer": ORDERED,
    "boolean": set(),
    "object": {"minLength", "maxLength"},
    "array": {"minLength", "maxLength"},
    "date": ORDERED,
    "time": ORDERED,
    "datetime": ORDERED,
    "year": ORDERED,
    "yearmonth": ORDERED,
    "duration": ORDERED,
    "geopoint": set(),
    "geojson": set(),
    "any": set(),
}
EVERYWHERE = {"required", "unique", "enum"}
FIELD_PROPERTIES = {"name", "title", "description", "type", "format", "constraints", "trueValues", "falseValues"}
SCHEMA_PROPERTIES = {"fields", "missingValues", "primaryKey", "foreignKeys"}
OWN = {"codeList", "name", "title", "description"}  # the standard allows properties of one's own

FIELDS = [(table, f) for table, schema in SCHEMAS.items() for f in schema.descriptor["fields"]]


def script():
    path = Path(__file__).parents[2] / "scripts" / "descriptors.py"
    spec = importlib.util.spec_from_file_location("descriptors_script", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize("table", SCHEMAS)
def test_a_schema_has_what_the_standard_asks_for(table):
    said = SCHEMAS[table].descriptor
    assert set(said) - OWN <= SCHEMA_PROPERTIES
    names = [f["name"] for f in said["fields"]]
    assert len(set(names)) == len(names) >= 1
    assert all(isinstance(value, str) for value in said["missingValues"])
    assert set(said["primaryKey"]) <= set(names)
    for key in said.get("foreignKeys", []):
        there = SCHEMAS[key["reference"]["resource"]]
        assert set(key["fields"]) <= set(names)
        assert len(key["fields"]) == len(key["reference"]["fields"])
        assert tuple(key["reference"]["fields"]) == there.primary_key


@pytest.mark.parametrize(("table", "field"), FIELDS, ids=[f"{table}.{f['name']}" for table, f in FIELDS])
def test_a_field_has_a_type_and_constraints_of_the_standard(table, field):
    assert set(field) - {"codeList"} <= FIELD_PROPERTIES
    constraints = field.get("constraints", {})
    assert set(constraints) <= EVERYWHERE | TYPES[field["type"]]
    assert all(isinstance(constraints.get(name, True), bool) for name in ("required", "unique"))
    if "enum" in constraints:
        assert len(set(constraints["enum"])) == len(constraints["enum"]) >= 1
    if "pattern" in constraints:
        re.compile(constraints["pattern"])
    if set(constraints) >= ORDERED:
        assert constraints["minimum"] < constraints["maximum"]
    assert set(field) & {"trueValues", "falseValues"} == (
        {"trueValues", "falseValues"} if field["type"] == "boolean" else set()
    )
    assert field["title"][0].isupper()
    assert field["description"].endswith(".")


def test_the_package_names_every_schema_with_a_path_of_its_own():
    assert re.fullmatch(r"[a-z0-9._/-]+", PACKAGE["name"])  # as the standard wants a name
    assert PACKAGE["profile"] == "tabular-data-package"
    for resource in PACKAGE["resources"]:
        assert {"name", "path", "schema", "profile"} <= set(resource)
        assert resource["profile"] == "tabular-data-resource"
        assert resource["path"] == f"{resource['name']}.csv"
        assert not resource["schema"].startswith("/")
        assert ".." not in resource["schema"]
    listed = {resource["schema"] for resource in PACKAGE["resources"]}
    assert listed == {f"schemas/{path.name}" for path in (FOLDER / "schemas").iterdir()}
    assert [table for kind in KINDS.values() for table in kind.tables] == list(TABLES)


@pytest.mark.parametrize("table", SCHEMAS)
def test_the_descriptors_hold_the_code_lists_of_the_vocabulary(table):
    wanted = script()
    path = FOLDER / "schemas" / f"{table}.json"
    assert path.read_text(encoding="utf-8") == wanted.written(wanted.descriptor_of(table))


def test_every_code_of_an_enum_is_a_word_to_intake():
    for table, field in FIELDS:
        if "codeList" in field:
            reads = word_of("cell", field["codeList"])
            for code in field["constraints"]["enum"]:
                assert f"when '{code}' then" in reads, (table, field["name"], code)
            assert set(WORDS[field["codeList"]]) - {"not recorded"} == {
                w for w in WORDS[field["codeList"]] if f"then '{w}'" in reads and w != "not recorded"
            }


def test_sexes_may_be_digits_of_iso_iec_5218():
    """ISO/IEC 5218: 0 not known, 1 male, 2 female, 9 not applicable."""
    reads = word_of("cell", "sex")
    for digit, word in (("0", "not recorded"), ("1", "male"), ("2", "female"), ("9", "not recorded")):
        assert f"when '{digit}' then '{word}'" in reads


def test_the_store_keeps_every_column_that_is_submitted():
    assert [{"constraint": "constraint_design"}.get(name, name) for name in TABLES["operations"]] == list(
        OPERATION_COLUMNS
    )
    for feed in FEEDS:
        columns = [{"constraint": "constraint_design"}.get(name, name) for name in TABLES[feed.name]]
        assert columns == [*feed.key, *feed.content]
        assert ROW_KEYS[feed.name] == feed.key


def test_the_forms_of_pseudonyms_and_of_icd10_codes_stand_in_one_place():
    for table in ("operations", "deaths", "losses"):
        assert SCHEMAS[table].field("patient_id").constraints["pattern"] == PATIENT_FORM.pattern
    assert SCHEMAS["operations"].field("icd10").constraints["pattern"] == icd10.FORM


def test_limits_come_from_the_dictionary():
    bmi = SCHEMAS["operations"].field("bmi").constraints
    assert with_limits("{operations.bmi.minimum}-{operations.bmi.maximum}") == f"{bmi['minimum']}-{bmi['maximum']}"
    assert with_limits("{relation}") == "{relation}"
    with pytest.raises(KeyError):
        with_limits("{operations.asa.minimum}")


def test_an_export_is_the_package_as_it_stands(tmp_path):
    written = export_to(tmp_path / "new")
    assert len(written) == len(SCHEMAS) + 1
    package = json.loads((tmp_path / "new" / "datapackage.json").read_text(encoding="utf-8"))
    for resource in package["resources"]:
        assert (
            json.loads((tmp_path / "new" / resource["schema"]).read_text(encoding="utf-8"))["name"] == resource["name"]
        )
