"""The demo is made once, found again, and never touches what is not its own."""

import json
import threading
import time

import pytest

from regdash.cli import demo_store
from regdash.cli.demo_store import Recipe, prepare
from regdash.errors import StoreError
from regdash.vocabulary import CLASSES
from tests.cli.asking import one_line, process, regdash

SMALL = ("--joints", "1000", "--seed", "3", "--no-browse")


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """A demo store of a thousand joints, and what was said while it was made."""
    folder = tmp_path_factory.mktemp("demo") / "store"
    return folder, regdash("demo", *SMALL, store=folder)


def stamps(folder):
    return {path: path.stat().st_mtime_ns for path in folder.rglob("*") if path.is_file()}


def test_without_a_terminal_it_prints_the_risk_by_class_and_how_to_go_on(made):
    folder, said = made
    assert said.code == 0
    assert said.stdout.startswith("Net revision risk, by joint and class\n")
    assert f"regdash browse --store {folder}" in said.stdout
    rows = regdash("risk", "--by", "class", "--json", store=folder).json["rows"]
    groups = [row["group"] for row in regdash("describe", "--by", "class", "--json", store=folder).json["rows"]]
    every = {f"{joint}, {name}" for joint, classes in CLASSES.items() for name in classes}
    assert {"knee, total", "knee, partial", "hip, total"} <= set(groups) <= every
    assert [(row["group"], row["years"]) for row in rows] == [(group, t) for group in groups for t in (1, 5, 10, 15)]
    for row in rows:
        if row["estimate"] is not None:
            assert f"{100 * row['estimate']:.1f} ({100 * row['lower']:.1f} to {100 * row['upper']:.1f})" in said.stdout


def test_progress_goes_to_standard_error_alone(made):
    _, said = made
    assert "Making a demo of 1,000 joints" in said.stderr
    assert "checking files" in said.stderr
    assert "checking files" not in said.stdout


def test_the_second_time_nothing_is_made_and_the_answer_is_the_same(made):
    folder, first = made
    before = stamps(folder)
    began = time.monotonic()
    again = regdash("demo", *SMALL, store=folder)
    assert time.monotonic() - began < 2
    assert (again.code, again.stdout, again.stderr) == (0, first.stdout, "")
    assert stamps(folder) == before


def test_it_is_an_ordinary_store_with_the_truth_apart(made):
    folder, _ = made
    assert regdash("cuts", "--json", store=folder).json["rows"][0]["through"] == "2024-12-31"
    assert regdash("held", "--json", store=folder).json["total"] > 0
    assert (folder / "demo-files" / "submissions").is_dir()
    assert (folder / "demo-key").is_dir()


def test_the_usual_place_is_the_demo_folder_of_the_platforms_data_folder(own_home, monkeypatch):
    recipes = []
    monkeypatch.setattr(demo_store, "_make", lambda store, recipe: recipes.append((store, recipe.joints)))
    monkeypatch.setenv("REGDASH_STORE", str(own_home / "the-office"))
    said = regdash("demo", "--no-browse", "--joints", "5000")
    folder = own_home / "data" / "regdash" / "demo"
    assert recipes == [(folder, 5000)]
    assert "There is no data cut" in said.stderr
    assert not (own_home / "the-office").exists()


@pytest.mark.parametrize("content", ["registry.duckdb", "thesis.txt"])
def test_a_folder_that_holds_something_else_is_left_alone(content, tmp_path):
    (tmp_path / content).write_text("mine")
    said = regdash("demo", *SMALL, store=tmp_path)
    assert said.code == 1
    assert "is not empty and is no demo store" in one_line(said)
    assert [(path.name, path.read_text()) for path in tmp_path.iterdir()] == [(content, "mine")]


def test_a_store_of_an_office_is_left_alone(store):
    before = stamps(store)
    assert regdash("demo", *SMALL, store=store).code == 1
    assert stamps(store) == before


def recipe(**changes):
    return Recipe(**({"joints": 1000, "seed": 1, "through": "2024-12-31", "software": "1"} | changes))


@pytest.fixture
def makings(monkeypatch):
    """Count the makings instead of making."""
    done = []

    def make(store, recipe):
        demo_store._write_stamp(store, recipe, complete=False)
        done.append(recipe)
        (store / "cuts").mkdir(exist_ok=True)
        demo_store._write_stamp(store, recipe, complete=True)

    monkeypatch.setattr(demo_store, "_make", make)
    return done


@pytest.mark.parametrize("change", [{"joints": 2000}, {"seed": 2}, {"software": "2"}])
def test_another_recipe_is_made_anew(change, tmp_path, makings):
    prepare(tmp_path, recipe())
    prepare(tmp_path, recipe())
    prepare(tmp_path, recipe(**change))
    assert makings == [recipe(), recipe(**change)]


def test_a_making_that_was_interrupted_is_begun_again(tmp_path, makings):
    demo_store._write_stamp(tmp_path, recipe(), complete=False)
    (tmp_path / "registry.duckdb").write_text("half of it")
    prepare(tmp_path, recipe())
    assert makings == [recipe()]


def test_what_a_demo_left_is_cleared_and_nothing_else(tmp_path):
    (tmp_path / "cuts").mkdir()
    (tmp_path / "cuts" / "2024-12-31.1.json").write_text("{}")
    (tmp_path / "registry.duckdb").write_text("old")
    (tmp_path / "notes.txt").write_text("mine")
    demo_store._clear(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["notes.txt"]


def test_a_stamp_of_another_release_means_a_demo_store_to_be_made_anew(tmp_path, makings):
    (tmp_path / "demo.json").write_text(json.dumps({"made_by": demo_store.MADE_BY, "recipe": {"colour": "red"}}))
    prepare(tmp_path, recipe())
    assert makings == [recipe()]


@pytest.mark.parametrize("text", ["{}", "[1]", "not json", '{"recipe": {"joints": 1000}, "complete": true}'])
def test_a_file_that_is_named_like_the_stamp_makes_no_demo_store(text, tmp_path, makings):
    (tmp_path / "demo.json").write_text(text)
    with pytest.raises(StoreError, match="is no demo store"):
        prepare(tmp_path, recipe())
    assert makings == []


def test_a_folder_that_cannot_be_made_is_one_line(tmp_path):
    (tmp_path / "file").write_text("")
    said = regdash("demo", store=tmp_path / "file" / "store")
    assert said.code == 1
    assert "cannot be made: Not a directory." in one_line(said)


def test_two_demos_at_once_do_not_write_one_store(tmp_path, monkeypatch):
    inside, leave = threading.Event(), threading.Event()

    def make(store, recipe):
        inside.set()
        leave.wait(30)

    monkeypatch.setattr(demo_store, "_make", make)
    first = threading.Thread(target=prepare, args=(tmp_path, recipe()))
    first.start()
    assert inside.wait(30)
    with pytest.raises(StoreError, match="Another process is making the demo store"):
        prepare(tmp_path, recipe())
    leave.set()
    first.join()


@pytest.mark.parametrize("words", [("--joints", "0"), ("--joints", "many"), ("--seed", "-1")])
def test_a_register_that_cannot_be_made_is_wrong_usage(words, tmp_path):
    said = regdash("demo", *words, store=tmp_path / "store")
    assert said.code == 2
    assert words[1] in one_line(said)
    assert not (tmp_path / "store").exists()


def test_as_a_process_without_a_terminal_it_prints_and_ends(made):
    folder, first = made
    child = process("demo", *SMALL[:-1], "--store", folder)
    stdout, stderr = child.communicate(timeout=60)
    assert (child.returncode, stdout, stderr) == (0, first.stdout, "")
