"""
The submission tree: bytes, envelopes, words; and that a clean register read back is the truth.
"""

import os
import re
import subprocess
import sys
from datetime import date
from pathlib import Path

import polars as pl
import pytest

from regdash import dictionary
from regdash import vocabulary as words
from regdash.errors import InputError
from synthetic_registry import make
from tests.synthetic_registry.made import Files, tree

THROUGH = date(2024, 12, 31)
SHORT = date(2007, 12, 31)  # for tests that need few files
# Lists of the columns that hold words, in each table.
LISTS = {
    "operations": {
        "sex": words.SEXES,
        "joint": words.JOINTS,
        "side": words.SIDES,
        "kind": words.KINDS,
        "stage": words.STAGES,
        "class": words.CLASSES["knee"],
        "compartment": words.COMPARTMENTS,
        "bearing": words.BEARINGS,
        "constraint": words.CONSTRAINTS,
        "fixation": words.FIXATIONS,
        "patella": words.PATELLAS,
        "approach": words.APPROACHES,
        "technology": words.TECHNOLOGIES,
        "prophylaxis": words.PROPHYLAXES,
        "diagnosis": words.DIAGNOSES,
        "asa": words.ASA_CLASSES,
        "action": words.ACTIONS,
        "stem_used": ("yes", "no"),
        "augment_used": ("yes", "no"),
        "graft_used": ("yes", "no"),
    },
    "components": {"role": words.ROLES["knee"], "action": words.COMPONENT_ACTIONS},
    "reasons": {"reason": tuple(r.detail for r in words.REASONS["knee"]), "leads": ("yes", "no")},
}


@pytest.mark.slow  # the register three times
def test_the_same_seed_gives_the_same_bytes_on_any_number_of_threads(tmp_path: Path) -> None:
    make(tmp_path / "one" / "register", 1_500, seed=9, through=SHORT)
    environment = {**os.environ, "POLARS_MAX_THREADS": "1", "PYTHONHASHSEED": "7", "OMP_NUM_THREADS": "1"}
    command = [sys.executable, "-m", "synthetic_registry", str(tmp_path / "two" / "register")]
    subprocess.run(
        [*command, "--joints", "1500", "--seed", "9", "--through", str(SHORT)],
        check=True,
        env=environment,
        capture_output=True,
    )
    one, two = tree(tmp_path / "one"), tree(tmp_path / "two")
    assert list(one) == list(two)
    assert [name for name in one if one[name] != two[name]] == []


@pytest.mark.slow  # two registers
def test_another_seed_gives_another_register(tmp_path: Path) -> None:
    made = [Files(make(tmp_path / str(seed), 1_000, seed=seed, through=SHORT)) for seed in (1, 2)]
    assert not set(made[0].operations["patient_id"]) & set(made[1].operations["patient_id"])


@pytest.mark.slow  # two registers
def test_leaving_the_dirt_out_does_not_change_the_truth(tmp_path: Path) -> None:
    made = [Files(make(tmp_path / str(clean), 1_000, seed=4, clean=clean, through=SHORT)) for clean in (True, False)]
    clean, dirty = (files.key("joints").drop("patient_id") for files in made)
    assert clean.equals(dirty)
    assert made[0].key("curves").equals(made[1].key("curves"))


@pytest.mark.parametrize("kind", ["dirty", "clean"])
def test_every_file_holds_the_rows_its_envelope_declares(kind: str, request: pytest.FixtureRequest) -> None:
    files: Files = request.getfixturevalue(kind)
    rows = 0
    for folder, said in files.envelopes.items():
        tables = dictionary.KINDS[said["kind"]].tables
        assert list(said) == list(dictionary.ENVELOPE_FIELDS)
        assert list(said["files"]) == [f"{table}.csv" for table in tables]
        assert sorted(os.listdir(folder)) == sorted(["envelope.json", *said["files"]])
        for name, declared in said["files"].items():
            lines = Path(folder, name).read_bytes().split(b"\n")
            assert lines[0].decode() == ",".join(dictionary.TABLES[name.removesuffix(".csv")])
            assert lines[-1] == b""
            assert len(lines) - 2 == declared
            rows += declared
    assert rows == files.made.rows


@pytest.mark.parametrize("kind", ["dirty", "clean"])
def test_envelopes_count_up_and_are_received_after_what_they_cover(kind: str, request: pytest.FixtureRequest) -> None:
    files: Files = request.getfixturevalue(kind)
    last: dict[tuple[str, str], tuple[int, str]] = {}
    for folder, said in files.envelopes.items():
        assert Path(folder).name == said["id"]
        assert said["schema"] == dictionary.SCHEMA_VERSION
        sender = (said["sender"], said["kind"])
        sequence, received = last.get(sender, (0, ""))
        assert said["sequence"] == sequence + 1
        assert said["received_date"] > received
        if said["kind"] in ("operations", "deaths", "losses", "admin_counts"):
            assert (date.fromisoformat(said["received_date"]) - date.fromisoformat(said["complete_through"])).days > 10
        last[sender] = (said["sequence"], said["received_date"])
    assert {said["complete_through"] for said in files.envelopes.values() if said["complete_through"] > "2024-12"} == {
        "2024-12-31"
    }
    assert max(said["received_date"] for said in files.envelopes.values()) < "2025-04"


@pytest.mark.parametrize("kind", ["dirty", "clean"])
def test_every_cell_holds_a_word_of_the_vocabulary_or_is_empty(kind: str, request: pytest.FixtureRequest) -> None:
    files: Files = request.getfixturevalue(kind)
    for table, lists in LISTS.items():
        frame = files.hospital_table(table)
        for column, listed in lists.items():
            odd = files.faults.filter((pl.col("table") == table) & (pl.col("field") == column))
            sound = frame.join(
                odd.unique(["submission", "operation_id"]), on=["submission", "operation_id"], how="anti"
            )
            found = set(sound[column].drop_nulls().unique())
            assert found <= {words.coded(word) for word in listed if word != words.NOT_RECORDED}, column
            assert found, column
    assert files.operations["patient_id"].str.contains(f"^{dictionary.PATIENT_FORM.pattern}$").all()
    assert files.operations["operation_id"].str.contains("^H[0-9]{3}-[0-9]{7}$").all()
    assert files.operations["surgeon_id"].drop_nulls().str.contains("^S[0-9]{4}$").all()
    assert files.operations["bmi"].drop_nulls().str.contains(r"^[0-9]{1,2}\.[0-9]$").all()


def test_the_catalogue_knows_each_number_once_and_says_when_it_came_and_went(clean: Files) -> None:
    catalogue = clean.catalogue
    assert catalogue["catalogue_no"].str.contains("^[KUP][FTIPSAX][0-9]{3}-[1-8][CUA][LR]?$").all()
    first = catalogue.unique("catalogue_no", keep="first", maintain_order=True)
    assert first["implant"].str.contains("^[KUP][FTIPSAX]-[0-9]{3}$").all()
    # What comes a second time adds nothing but the date on which it was withdrawn.
    again = catalogue.filter(
        ~pl.struct("catalogue_no", "submission").is_in(first.select("catalogue_no", "submission").to_struct().implode())
    )
    assert again["withdrawn_date"].is_not_null().all()
    joined = again.join(first, on="catalogue_no", suffix="_first")
    for column in ("maker", "implant", "role", "class", "bearing", "size", "introduced_date"):
        assert (joined[column] == joined[f"{column}_first"]).all()


def test_implants_are_used_while_they_are_on_the_market(clean: Files) -> None:
    bought = clean.components.filter(pl.col("action") == "implanted").join(
        clean.operations.filter(pl.col("kind") == "primary"), on="operation_id"
    )
    market = clean.catalogue.group_by("catalogue_no").agg(
        pl.col("introduced_date").first(), pl.col("withdrawn_date").drop_nulls().first()
    )
    used = bought.join(market, on="catalogue_no", how="left")
    assert used["introduced_date"].is_not_null().all()
    assert (used["operation_date"] >= used["introduced_date"]).all()
    assert (used["operation_date"] <= used["withdrawn_date"].fill_null("9999")).all()


def test_surgeons_and_hospitals_are_active_when_they_operate(clean: Files) -> None:
    surgeons = (
        clean.feed("surgeons")
        .group_by("surgeon_id")
        .agg(pl.col("active_from").first(), pl.col("active_to").drop_nulls().first())
    )
    joined = clean.operations.join(surgeons, on="surgeon_id", how="left").join(
        clean.feed("hospitals"), on="hospital_id", how="left", suffix="_hospital"
    )
    for column in ("active_from", "active_from_hospital"):
        assert (joined["operation_date"] >= joined[column]).all()
    assert (joined["operation_date"] <= joined["active_to"].fill_null("9999")).all()


def test_the_form_says_what_the_components_are(clean: Files) -> None:
    """Of total and partial knees; a patellofemoral one has no tibial component."""
    main = clean.components.filter((pl.col("action") == "implanted") & pl.col("role").is_in(["femoral", "tibial"]))
    known = main.join(clean.catalogue.unique("catalogue_no", keep="first"), on="catalogue_no", suffix="_catalogue")
    tibial = pl.col("class").is_in(["total", "partial"])
    primaries = clean.operations.filter((pl.col("kind") == "primary") & tibial)
    joined = known.join(primaries, on="operation_id", suffix="_form")
    assert len(joined) == 2 * len(primaries) > 1.98 * clean.made.joints
    for column in ("class", "bearing", "constraint"):
        assert (joined[column] == joined[f"{column}_form"]).all(), column
    both = joined.group_by("operation_id").agg(pl.col("fixation").sort().str.join("+"), pl.col("fixation_form").first())
    said = set(both.select("fixation", "fixation_form").unique().rows())
    mixed = "cemented+cementless"
    assert said <= {
        ("cemented+cemented", "cemented"),
        ("cementless+cementless", "cementless"),
        (mixed, "hybrid"),
        (mixed, "reverse-hybrid"),
    }


def test_a_clean_register_read_back_is_the_truth(clean: Files) -> None:
    """Follow-up worked out plainly from the files is that of the key, joint by joint, to the day."""
    operations = clean.operations.with_columns(pl.col("operation_date").str.to_date())
    joint = ["patient_id", "side"]
    primaries = operations.filter(pl.col("kind") == "primary")
    revised = (
        operations.filter(pl.col("kind") == "revision")
        .group_by(joint)
        .agg(pl.col("operation_date").min().alias("revised"))
    )
    deaths = clean.feed("deaths").select("patient_id", died=pl.col("death_date").str.to_date())
    losses = clean.feed("losses").select("patient_id", lost=pl.col("loss_date").str.to_date())
    lives = primaries.join(revised, on=joint, how="left").join(deaths, on="patient_id", how="left")
    lives = lives.join(losses, on="patient_id", how="left").with_columns(end=pl.lit(THROUGH))
    ends = pl.min_horizontal("revised", "died", "lost", "end")
    ended = pl.coalesce(
        pl.when(pl.col(column) == ends).then(pl.lit(word))
        for column, word in (("revised", "revised"), ("died", "died"), ("lost", "lost"), ("end", "in-place"))
    )
    found = lives.select(
        "operation_id", days=(ends - pl.col("operation_date")).dt.total_days().cast(pl.String), ended=ended
    )
    key = clean.key("joints").select("operation_id", "days", "ended")
    assert len(key) == clean.made.joints
    assert found.sort("operation_id").equals(key.sort("operation_id"))


def test_reasons_read_back_are_those_of_the_key(clean: Files) -> None:
    groups = {words.coded(reason.detail): words.coded(reason.group) for reason in words.REASONS["knee"]}
    leading = clean.reasons.filter(pl.col("leads") == "yes").with_columns(pl.col("reason").replace_strict(groups))
    key = clean.key("joints").filter(pl.col("ended") == "revised")
    joined = key.join(leading, left_on="revision_operation_id", right_on="operation_id")
    assert len(joined) == len(key) > 100
    assert (joined["reason"] == joined["reason_group"]).all()


def test_administrative_counts_are_the_operations(clean: Files) -> None:
    months = clean.operations.with_columns(month=pl.col("operation_date").str.slice(0, 7))
    counted = months.group_by("hospital_id", "kind", "month").len().sort("hospital_id", "kind", "month")
    said = clean.feed("admin_counts").with_columns(pl.col("operations").cast(pl.UInt32))
    said = said.select("hospital_id", "kind", "month", len="operations").sort("hospital_id", "kind", "month")
    assert counted.equals(said)


def test_a_folder_that_holds_something_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "taken").mkdir()
    (tmp_path / "taken" / "letter.txt").write_text("mine")
    with pytest.raises(InputError, match=re.escape("is not empty: it holds letter.txt")):
        make(tmp_path / "taken", 1_000)
    assert os.listdir(tmp_path / "taken") == ["letter.txt"]


@pytest.mark.parametrize("inside", ["register", "register/key"])
def test_the_key_is_never_among_the_data(tmp_path: Path, inside: str) -> None:
    with pytest.raises(InputError, match="must not lie among the data"):
        make(tmp_path / "register", 1_000, key=tmp_path / inside)


@pytest.mark.parametrize(
    ("asked", "said"), [({"joints": 100}, "at least 500 joints"), ({"through": date(2002, 6, 30)}, "must last a year")]
)
def test_what_would_not_look_like_a_register_is_refused(tmp_path: Path, asked: dict, said: str) -> None:
    with pytest.raises(InputError, match=said):
        make(tmp_path / "register", **asked)


def test_progress_goes_from_nothing_to_all(tmp_path: Path) -> None:
    told: list[tuple[str, float]] = []
    make(tmp_path / "register", 1_000, through=SHORT, progress=lambda text, done: told.append((text, done)))
    shares = [done for _, done in told]
    assert shares == sorted(shares)
    assert (shares[0], shares[-1]) == (0, 1)
    assert len({text for text, _ in told}) >= 5


def test_a_shorter_register_ends_on_its_last_day(tmp_path: Path) -> None:
    files = Files(make(tmp_path / "register", 1_000, through=date(2009, 8, 15), clean=True))
    assert files.operations["operation_date"].max() <= "2009-08-15"
    assert max(said["complete_through"] for said in files.envelopes.values()) == "2009-08-15"
    assert files.key("joints").filter(pl.col("ended") == "in-place")["days"].cast(pl.Int64).max() < 2784


@pytest.mark.slow
def test_a_million_joints_take_under_a_minute_and_three_gigabytes(tmp_path: Path) -> None:
    """On two cores; the time is the processors', so that other work on the machine does not count."""
    code = (
        "import resource, sys, pathlib, synthetic_registry as s\n"
        "s.make(pathlib.Path(sys.argv[1]), 1_000_000)\n"
        "used = resource.getrusage(resource.RUSAGE_SELF)\n"
        "print(used.ru_utime + used.ru_stime, used.ru_maxrss)"
    )
    answer = subprocess.run(
        [sys.executable, "-c", code, str(tmp_path / "register")], check=True, capture_output=True, text=True
    )
    seconds, memory = (float(value) for value in answer.stdout.split())
    kilobytes = memory / (1024 if sys.platform == "darwin" else 1)
    assert seconds < 60
    assert kilobytes < 3 * 1024**2
