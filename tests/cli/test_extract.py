"""Extracts at the command line: told first, made for a request, noted, verified, refused in one line."""

import json
import shutil
from pathlib import Path

import pytest

from regdash.store.checksums import checksum_of
from regdash.store.connect import registry_path
from tests.cli.asking import one_line, regdash
from tests.cli.test_completion import completed
from tests.cuts import joint, make_cut

LIST = "joints-for-research"


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Thirty women alike in all that others may know, twelve men, and three men who are old; and some requests."""
    women = [joint(patient=n, hospital_id=f"H00{1 + n % 4}", days=3000 + n) for n in range(30)]
    men = [joint(patient=50 + n, sex="male", days=2000, ended="revised", reason="infection") for n in range(12)]
    old = [joint(patient=70 + n, age=90, sex="male", days=2000) for n in range(3)]
    store = make_cut(tmp_path_factory.mktemp("store"), [*women, *men, *old])
    registry_path(store).touch()  # acts are noted in the trail of a store that takes in
    regdash("requests", "add", "researcher", "total knees", "--received", "2025-03-01", store=store)
    regdash("requests", "add", "maker", "our implants", "--code", "M02", "--received", "2025-03-01", store=store)
    regdash("requests", "add", "researcher", "hips", "--received", "2025-03-01", store=store)
    regdash("requests", "close", "R003", "--why", "withdrawn", "--on", "2025-03-02", store=store)
    return store


@pytest.fixture
def store(made: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(made, tmp_path / "store"))


def test_without_a_folder_it_tells_what_each_field_does_and_writes_nothing(store):
    before = {path: path.read_bytes() for path in store.rglob("*") if path.is_file()}
    said = regdash("extract", LIST, "--json", store=store).json
    every = said["rows"][0]
    assert (every["change"], every["rows"], every["smallest"], every["rows_under"]) == ("as the list says", 45, 3, 3)
    without = {f"without {name}" for name in ("joint", "class", "sex", "age", "implanted")}
    coarser = {"with age: bands at 60, 80", "with implanted: years of 2"}
    assert {row["change"] for row in said["rows"]} == {"as the list says"} | without | coarser
    assert {path: path.read_bytes() for path in store.rglob("*") if path.is_file()} == before
    assert "Nothing was written." in regdash("extract", LIST, store=store).stdout


def test_rows_of_too_few_alike_are_refused_and_the_field_that_makes_it_so_is_named(store, tmp_path):
    said = regdash("extract", LIST, "--out", tmp_path / "out", "--request", "R001", store=store)
    assert said.code == 1
    told = one_line(said)
    assert told.startswith("3 of 45 rows are in 1 classes of fewer than 10 patients, the smallest of 3.")
    assert "make the list coarser: without age it has 0 such rows." in told
    assert not (tmp_path / "out").exists()


def test_it_is_made_for_a_request_noted_verified_and_answered(store, tmp_path):
    out = tmp_path / "R001"
    said = regdash("extract", LIST, "--out", out, "--request", "r1", "--suppress", "--json", store=store)
    assert said.code == 0
    assert said.json["rows"][0]["file"] == "README.md"
    (line,) = regdash("audit", "--what", "export", "--json", store=store).json["rows"]
    told = line["details"]
    assert (told["of"], told["request"], told["k"]) == (f"extract {LIST}", "R001", 10)
    assert told["checksum"] == checksum_of(out) == said.json["checksum"]
    kept = len((out / "data.csv").read_text().splitlines()) - 1
    assert (
        (told["rows"], told["left_out"]) == (kept, 45 - kept) == (30, 15)
    )  # the three, and the smallest class with them
    same = regdash("verify", out, store=store)
    assert (same.code, "Same: 7 files" in same.stdout) == (0, True)
    (row,) = regdash("requests", "answer", "R001", "--with", out, "--json", store=store).json["rows"]
    assert (row["given"], row["checksum"]) == ("R001", told["checksum"])


def test_what_was_changed_in_the_folder_is_told(store, tmp_path):
    out = tmp_path / "R001"
    regdash("extract", LIST, "sex=female", "--out", out, "--request", "R001", store=store)
    (out / "data.csv").write_bytes((out / "data.csv").read_bytes().replace(b"female", b"male", 1))
    (out / "note.txt").write_text("more")
    (out / "data.parquet").unlink()
    said = regdash("verify", out, "--json", store=store)
    assert said.code == 1
    assert {row["file"]: row["verdict"] for row in said.json["rows"]} == {
        "data.csv": "changed since it was written",
        "data.parquet": "missing",
        "note.txt": "not of the extract",
    }


def test_another_key_or_cut_is_named_as_the_reason(store, made, tmp_path):
    out = tmp_path / "R001"
    regdash("extract", LIST, "sex=female", "--out", out, "--request", "R001", store=store)
    said = regdash("verify", out, "--json", store=made)  # where no extract was made, so there is no key
    assert said.code == 1
    assert said.json["why"] == ["the key of the store that orders rows is another"]
    manifest = store / "cuts" / "2024-12-31.1.json"
    manifest.write_text(json.dumps(json.loads(manifest.read_text()) | {"content_hash": "another"}))
    assert "data cut 2024-12-31.1 is another" in regdash("verify", out, "--json", store=store).json["why"]


WRONG = {
    **dict.fromkeys(("list", "filter", "request", "order", "software", "files", "data", "suppress")),
    "extract": 9,
    "k": 1,
    "cut": {},
}


def test_a_damaged_folder_is_refused_in_one_line_whatever_is_wrong_in_it(store, tmp_path):
    out = tmp_path / "R001"
    regdash("extract", LIST, "sex=female", "--out", out, "--request", "R001", store=store)
    whole = json.loads((out / "reproduction.json").read_text())
    assert set(WRONG) == set(whole)
    spoilt = [{**whole, name: wrong} for name, wrong in WRONG.items()]
    for text in ["{}", *map(json.dumps, spoilt)]:
        (out / "reproduction.json").write_text(text)
        said = regdash("verify", out, store=store)
        assert (said.code, said.stdout) == (1, "")
        assert "damaged, or of another release" in one_line(said)
    (out / "reproduction.json").write_text(json.dumps(whole | {"filter": "joint=elbow"}))
    assert one_line(regdash("verify", out, store=store)).startswith("The recorded filter cannot be used:")
    (out / "reproduction.json").write_text(json.dumps(whole))
    (out / "fields.toml").write_text("title = 1")
    assert "fields.toml cannot be read: title is a text" in one_line(regdash("verify", out, store=store))


def test_rows_leave_for_a_request_or_for_a_reason_that_is_kept(store, tmp_path):
    said = regdash("extract", LIST, "sex=female", "--out", tmp_path / "out", store=store)
    assert said.code == 2
    assert "Rows leave for a request" in one_line(said)
    words = ("--because", "for the committee's own check", "--data", "csv")
    assert regdash("extract", LIST, "sex=female", "--out", tmp_path / "out", *words, store=store).code == 0
    (line,) = regdash("audit", "--what", "export", "--json", store=store).json["rows"]
    assert (line["why"], line["details"]["request"]) == ("for the committee's own check", None)
    assert not (tmp_path / "out" / "data.parquet").exists()
    assert "committee's own check" not in "".join(path.read_text() for path in (tmp_path / "out").iterdir())


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("research", "--request", "R001"), "There is no field list research."),
        ((LIST, "--request", "R009"), "There is no request R009. The newest is R003."),
        ((LIST, "--request", "R003"), "R003 was closed on 2025-03-02."),
        ((LIST, "--request", "R002"), "R002 was asked by a maker, and joints-for-research is for researcher or"),
        (("own-implants", "--request", "R002"), "This list is for one maker's own implants"),
        (
            ("own-implants", "maker=M01", "--request", "R002"),
            "R002 was asked by M02, and the filter names the maker M01",
        ),
        ((LIST, "age=91", "--request", "R001"), "age=91 is finer than the list"),
        ((LIST, "hospital=H001", "--request", "R001"), "No extract tells a hospital"),
        ((LIST, "joint=hip", "--request", "R001"), "No row of this data cut can be told of joint=hip."),
        ((LIST, "age=80..", "--suppress", "--request", "R001"), "All 3 rows are in classes of fewer than 10 patients."),
        ((LIST, "sex=male", "--suppress", "--request", "R001"), "All 15 rows would go: 3 are in classes of fewer"),
        ((LIST, "--k", "40", "--suppress", "--request", "R001"), "All 45 rows are in classes of fewer than 40"),
        ((LIST, "ended=revised", "--request", "R001"), "ended is known only after implantation"),
    ],
)
def test_what_cannot_be_is_one_line_and_leaves_nothing(store, tmp_path, words, told):
    said = regdash("extract", *words, "--out", tmp_path / "out", store=store)
    assert (said.code, said.stdout) == (1, "")
    assert one_line(said).startswith(told)
    assert not (tmp_path / "out").exists()


def test_a_full_folder_or_two_reasons_are_refused(store, tmp_path):
    (tmp_path / "there.txt").write_text("kept")
    said = regdash("extract", LIST, "--out", tmp_path, "--request", "R001", store=store)
    assert (said.code, "is not empty" in one_line(said)) == (1, True)
    assert (tmp_path / "there.txt").read_text() == "kept"
    said = regdash("extract", LIST, "--request", "R001", "--because", "both", store=store)
    assert (said.code, "say one of them" in one_line(said)) == (2, True)


def test_a_second_extract_for_one_request_says_that_nobody_counts_what_both_tell(store, tmp_path):
    words = (LIST, "sex=female", "--request", "R001", "--out")
    assert "before" not in regdash("extract", *words, tmp_path / "one", store=store).stdout
    said = " ".join(regdash("extract", *words, tmp_path / "two", "--data", "csv", store=store).stdout.split())
    assert "1 extract was made for this request before, the last on " in said
    assert "(sex=female, 30 rows): what they tell together is not counted." in said


def test_lists_and_requests_are_completed(store, monkeypatch):
    monkeypatch.setenv("REGDASH_STORE", str(store))
    assert completed("extract", "j") == [LIST]
    assert completed("extract", LIST, "--request", "") == ["R001", "R002"]  # the third is closed
    assert completed("requests", "answer", "r") == ["R001", "R002"]


def test_a_policy_that_withholds_more_asks_for_more_patients_alike(store, tmp_path):
    (store / "policy.toml").write_text("withhold_counts_under = 25\n")
    assert regdash("extract", LIST, "--json", store=store).json["k"] == 25
    assert regdash("extract", LIST, "--k", "3", "--json", store=store).json["k"] == 25
    assert regdash("extract", LIST, "--k", "30", "--json", store=store).json["k"] == 30
