"""A submission in Parquet is the same as in CSV, whatever types its columns have; a damaged one is refused."""

import json
import shutil
from datetime import date

import duckdb
import polars as pl
import pytest

from regdash.errors import InputError
from regdash.intake.parquet import as_csv
from regdash.intake.pseudonyms import Pseudonyms
from regdash.intake.receive import receive
from regdash.store.freeze import freeze
from tests.intake.small_register import SmallRegister, component, primary, reason, revision, total_knee

TYPED = {
    "birth_year": pl.Int16,
    "operation_date": pl.Date,
    "admission_date": pl.Date,
    "bmi": pl.Decimal(4, 1),
    "weight_kg": pl.Float64,
    "stem_used": "yes",
    "augment_used": "yes",
    "graft_used": "yes",
    "line_no": pl.Int32,
    "leads": "yes",
    "sex": pl.Categorical,
    "introduced_date": pl.Datetime,
    "death_date": pl.Date,
    "month": pl.Date,
    "operations": pl.UInt32,
}


@pytest.fixture(scope="module")
def once(tmp_path_factory):
    """A small register in CSV (quoted cells, empty ones, every kind of type), a store of it and the hash of its cut."""
    folder = tmp_path_factory.mktemp("once")
    register = SmallRegister(folder / "csv")
    register.catalogue()
    register.units()
    rows = [
        primary("H001-0000001", 1, "2004-03-01", bmi="28.0", weight_kg="81.5", admission_date="2004-02-29"),
        primary("H001-0000002", 2, "2004-03-02", bmi="", surgeon_id="", technology_system='T"01'),
        revision("H001-0000003", 1, "2006-03-02"),
    ]
    parts = total_knee("H001-0000001") + total_knee("H001-0000002")
    parts += [component("H001-0000003", 1, "bearing insert", "KI001-3A") | {"lot": "L1, second"}]
    register.operations("2007-01-15", rows, parts, [reason("H001-0000003") | {"note": "a “note”, with ü"}])
    register.deaths("2007-02-01", {2: "2006-05-05"})
    month = {"hospital_id": "H001", "joint": "knee", "kind": "primary", "month": "2004-03", "operations": "2"}
    register.submit("admin_counts", "2007-02-01", {"admin_counts": [month]})
    made = cut_of(folder / "store", folder / "csv")
    assert made.joints == 2
    return folder, made.content_hash


@pytest.fixture
def sent(once, tmp_path):
    shutil.copytree(once[0] / "csv", tmp_path / "csv")
    return tmp_path / "csv"


def in_parquet(folder, to, typed):
    """Write the same submissions again, each table as Parquet."""
    shutil.copytree(folder, to)
    for path in to.rglob("*.csv"):
        frame = pl.read_csv(path, infer_schema=False)
        if typed:
            frame = frame.with_columns(as_typed(name) for name in frame.columns if name in TYPED)
        frame.write_parquet(path.with_suffix(".parquet"))
        path.unlink()
    for path in to.rglob("envelope.json"):
        said = json.loads(path.read_text())
        said["files"] = {name.replace(".csv", ".parquet"): rows for name, rows in said["files"].items()}
        path.write_text(json.dumps(said))
    return to


def as_typed(name):
    cell = pl.col(name)
    if TYPED[name] == "yes":
        return cell == "yes"
    if name == "month":
        return (cell + "-01").str.to_date()
    if TYPED[name] in (pl.Date, pl.Datetime):
        return cell.str.to_date().cast(TYPED[name])
    return cell.cast(TYPED[name])


def cut_of(store, folder):
    receipt = receive(store, [folder])
    assert receipt.new_submissions == 5
    return freeze(store, date(2006, 12, 31))


@pytest.mark.parametrize("typed", [pytest.param(False, marks=pytest.mark.slow), True], ids=["as text", "typed"])
def test_the_same_rows_give_the_same_cut_from_csv_and_from_parquet(typed, once, sent, tmp_path):
    folder, by_csv = once
    by_parquet = cut_of(tmp_path / "other", in_parquet(sent, tmp_path / "parquet", typed))
    assert by_parquet.content_hash == by_csv
    assert receive(folder / "store", [tmp_path / "parquet"]).new_submissions == 0


@pytest.mark.slow  # two stores
def test_one_table_of_a_submission_may_be_parquet_and_the_others_csv(once, sent, tmp_path):
    in_parquet(sent, tmp_path / "parquet", typed=True)
    shutil.copy(tmp_path / "parquet" / "H001-0001" / "components.parquet", sent / "H001-0001")
    (sent / "H001-0001" / "components.csv").unlink()
    envelope = sent / "H001-0001" / "envelope.json"
    envelope.write_text(envelope.read_text().replace("components.csv", "components.parquet"))
    assert cut_of(tmp_path / "other", sent).content_hash == once[1]


@pytest.mark.slow  # four stores
def test_numbers_of_patients_become_the_same_pseudonyms_from_parquet(sent, tmp_path):
    for path in sent.rglob("envelope.json"):
        said = json.loads(path.read_text())
        if said["kind"] in ("operations", "deaths"):
            path.write_text(json.dumps(said | {"patient_numbers": "shared"}))
    in_parquet(sent, tmp_path / "parquet", typed=True)
    key = Pseudonyms(bytes(range(32)))
    stores = []
    for name, folder in (("one", sent), ("other", tmp_path / "parquet")):
        receive(tmp_path / name, [folder], pseudonyms=key)
        stores.append(freeze(tmp_path / name, date(2006, 12, 31)).content_hash)
        assert b"P000000001" not in (tmp_path / name / "registry.duckdb").read_bytes()
    assert stores[0] == stores[1]


def written(frame, tmp_path):
    path = tmp_path / "deaths.parquet"
    frame.write_parquet(path)
    return path


def read(path):
    return as_csv(path.read_bytes(), str(path), "deaths")


DEATH = pl.DataFrame({"patient_id": ["P000000001"], "death_date": [date(2004, 9, 1)]})


def test_cells_are_written_as_csv_has_them(tmp_path):
    frame = pl.DataFrame({"patient_id": ["P000000001", "", 'a"b'], "death_date": [date(2004, 9, 1), None, None]})
    assert read(written(frame, tmp_path)) == b'patient_id,death_date\nP000000001,2004-09-01\n,\n"a""b",\n'
    assert read(written(frame.clear(), tmp_path)) == b"patient_id,death_date\n"


@pytest.mark.parametrize("value", [0.1, 28.5, 172.0, 1234.56, 99999.25])
def test_a_number_is_written_with_the_digits_that_it_has(value, tmp_path):
    path = tmp_path / "x.parquet"
    schema = pl.DataFrame({name: [value if name == "operations" else "x"] for name in COUNTS})
    schema.write_parquet(path)
    cell = as_csv(path.read_bytes(), str(path), "admin_counts").decode().splitlines()[1].rpartition(",")[2]
    assert float(cell) == value
    assert cell == f"{value:.10g}"


COUNTS = ("hospital_id", "joint", "kind", "month", "operations")


@pytest.mark.parametrize(
    ("spoil", "told"),
    [
        (lambda path: path.write_bytes(b"patient_id,death_date\n"), "is not Parquet, or was cut short"),
        (lambda path: path.write_bytes(b""), "is not Parquet, or was cut short"),
        (lambda path: path.write_bytes(path.read_bytes()[:-20]), "is not Parquet, or was cut short"),
        (lambda path: path.write_bytes(b"PAR1" + b"\0" * 50 + b"PAR1"), "is damaged"),
        (lambda path: DEATH.drop("death_date").write_parquet(path), "missing death_date"),
        (lambda path: DEATH.rename({"death_date": "died"}).write_parquet(path), "missing death_date"),
        (lambda path: DEATH.select("death_date", "patient_id").write_parquet(path), "in another order"),
        (lambda path: DEATH.with_columns(more=1).write_parquet(path), "in another order, or too many"),
        (lambda path: DEATH.with_columns(death_date=pl.lit(b"x")).write_parquet(path), "column death_date as blob"),
        (lambda path: DEATH.with_columns(death_date=pl.lit([1])).write_parquet(path), "column death_date as bigint[]"),
    ],
)
def test_what_cannot_be_used_is_refused_in_one_line(spoil, told, tmp_path):
    path = written(DEATH, tmp_path)
    spoil(path)
    with pytest.raises(InputError) as refused:
        read(path)
    assert told in str(refused.value)
    assert "\n" not in str(refused.value)


def test_a_file_of_the_wrong_name_is_refused(sent, tmp_path):
    folder = in_parquet(sent, tmp_path / "parquet", typed=False)
    for path in folder.rglob("deaths.parquet"):
        path.rename(path.with_suffix(".csv"))
    envelope = next(path for path in folder.rglob("envelope.json") if "deaths" in str(path.parent))
    envelope.write_text(envelope.read_text().replace("deaths.parquet", "deaths.csv"))
    told = [one.told for one in receive(tmp_path / "store", [folder]).refused]
    assert len(told) == 1
    assert "is not CSV but a Parquet file" in told[0]


def test_no_library_but_ours_is_loaded_for_parquet():
    """The database reads it without an extension to be fetched."""
    with duckdb.connect(config={"autoinstall_known_extensions": "false", "autoload_known_extensions": "false"}) as it:
        found = it.execute("select loaded from duckdb_extensions() where extension_name = 'parquet'").fetchall()
    assert found == [(True,)]
