"""A mistake is one clear line on standard error, exit code 1 or 2, and nothing changed."""

from pathlib import Path

import pytest

from tests.cli.asking import one_line, regdash

REFUSED = {
    "unknown filter word": (["risk", "colour=red"], "There is no filter word colour."),
    "misspelt filter word": (["risk", "clas=total"], "Nearest: class"),
    "unknown value": (["risk", "class=parshal"], "class has no value parshal. Nearest: partial"),
    "unknown code": (["risk", "hospital=H999"], "hospital has no value H999."),
    "no filter word": (["risk", "total"], "total is not a filter word. Write key=value, as in class=partial"),
    "empty value": (["risk", "class="], "class needs a value"),
    "backward range": (["risk", "age=70..60"], "age=70..60 runs backwards."),
    "unclosed quote": (["risk", "class='total"], "class has no value 'total"),
    "outcome word in risk": (["risk", "reason=infection"], "Ask for one reason with --reason"),
    "outcome word in rates": (["rates", "ended=revised"], "ended is known only after implantation."),
    "outcome word in reasons": (["reasons", "action=not-recorded"], "action is known only after implantation."),
    "outcome word in describe": (["describe", "revised=2020"], "revised is known only after implantation."),
    "outcome word in implants": (["implants", "stem=yes"], "stem is known only after implantation."),
    "unknown grouping": (["risk", "--by", "clas"], "There is no field clas to group by. Nearest: class"),
    "grouping by an outcome": (["risk", "--by", "reason"], "cannot form groups that are then followed."),
    "grouping by an implant": (["risk", "--by", "implant"], "Use construct."),
    "grouping twice": (["risk", "--by", "sex,sex"], "sex is named twice"),
    "grouping with a bad width": (["risk", "--by", "age:0"], "age:0 is not a grouping."),
    "unknown reason": (["risk", "--reason", "loosning"], "There is no reason loosning. Nearest: loosening"),
    "years nobody reaches": (["risk", "--years", "1000"], "1000 is not a time in years."),
    "unknown implant": (["implant", "KT-9999"], "There is no implant KT-9999 in data cut 2024-12-31.1."),
    "unknown joint": (["joint", "P999999999-KL"], "There is no joint P999999999-KL"),
    "unknown order": (["joints", "--order", "hight"], "Joints have no column hight"),
    "missing cut": (["risk", "--cut", "2020-01-01"], "There is no data cut 2020-01-01"),
    "missing cut in SQL": (["sql", "select 1", "--cut", "2020-01-01"], "There is no data cut 2020-01-01"),
    "no store to receive from": (["held", "--live"], "There is no store in"),
    "no store to freeze": (["freeze", "--through", "2024-12-31"], "There is no store in"),
    "dashboard without a terminal": (["browse"], "The dashboard needs a terminal."),
}
WRONG_USAGE = {
    "unknown command": (["rsk"], "There is no command rsk. Nearest: rules, risk"),
    "unknown option": (["risk", "--colour"], "--colour"),
    "option of another command": (["risk", "--through", "2024-12-31"], "--through"),
    "years in words": (["risk", "--years", "1,x"], "1,x does not say years."),
    "years from nothing": (["risk", "--years", ""], "does not say years."),
    "year 0": (["risk", "--years", "0"], "0 does not say years."),
    "negative years": (["risk", "--years", "5,-1"], "5,-1 does not say years."),
    "years that are no number": (["risk", "--years", "nan"], "nan does not say years."),
    "endless years": (["reasons", "--years", "inf"], "inf does not say a year."),
    "linked by why they are not": (["links", "--by", "class"], "it goes with --unlinked"),
    "unknown view": (["risk", "--view", "surgeon"], "surgeon"),
    "unknown endpoint": (["risk", "--endpoint", "pain"], "any-revision"),
    "one reason in the implant view": (["risk", "--view", "implant", "--reason", "infection"], "--view patient"),
    "two forms": (["risk", "--json", "--csv"], "--json and --csv are two forms of one answer"),
    "form of a command without one": (["--json", "browse"], "--json"),
    "live and cut": (["held", "--live", "--cut", "2024-12-31"], "--live"),
    "no statement": (["sql"], "STATEMENT"),
    "no path": (["receive"], "PATH"),
    "no date": (["freeze"], "--through"),
    "half a date": (["freeze", "--through", "2024-12"], "2024-12 is not a date. Write it as 2024-12-31."),
    "no such day": (["freeze", "--through", "2023-02-29"], "2023-02-29 is not a date."),
    "negative limit": (["joints", "--limit", "-1"], "-1"),
    "unknown shell": (["completion", "tcsh"], "tcsh"),
}


def listed(folder: Path) -> list[tuple[str, int, int]]:
    return sorted((str(path), path.stat().st_mtime_ns, path.stat().st_size) for path in folder.rglob("*"))


@pytest.mark.parametrize("mistake", REFUSED)
def test_what_is_refused_is_said_in_one_line(mistake, store):
    words, told = REFUSED[mistake]
    before = listed(store)
    said = regdash(*words, store=store)
    assert said.code == 1
    assert told in one_line(said)
    assert listed(store) == before


@pytest.mark.parametrize("mistake", WRONG_USAGE)
def test_wrong_usage_is_said_in_one_line_with_the_place_to_look(mistake, store, monkeypatch):
    words, told = WRONG_USAGE[mistake]
    monkeypatch.setenv("REGDASH_STORE", str(store))
    before = listed(store)
    said = regdash(*words)
    assert said.code == 2
    assert told in one_line(said)
    assert said.stderr.rstrip().endswith("--help")
    assert listed(store) == before


@pytest.mark.parametrize("form", ["--json", "--csv"])
def test_a_refusal_leaves_standard_output_empty_in_every_form(form, store):
    assert one_line(regdash("risk", "class=none", form, store=store)).startswith("class has no value none.")


def test_a_store_without_cuts_says_how_one_is_made(tmp_path):
    assert "regdash freeze --through DATE" in one_line(regdash("risk", store=tmp_path / "nothing"))


def test_without_a_store_the_demo_is_pointed_out(own_home):
    assert one_line(regdash("risk")).endswith("regdash demo")
    demo = own_home / "data" / "regdash" / "demo"
    (demo / "cuts").mkdir(parents=True)
    assert one_line(regdash("risk")).endswith(f"--store {demo}")


@pytest.mark.parametrize("fault", ["truncated", "missing"])
def test_a_damaged_cut_is_refused_in_one_line(fault, store, tmp_path):
    folder = tmp_path / "cuts"
    folder.mkdir()
    for path in (store / "cuts").iterdir():
        (folder / path.name).write_bytes(path.read_bytes())
    database = folder / "2024-12-31.1.duckdb"
    database.unlink()
    if fault == "truncated":
        database.write_bytes(b"no database at all")
    said = regdash("risk", store=tmp_path)
    assert said.code == 1
    assert "2024-12-31.1.duckdb" in one_line(said)


def test_an_unreadable_manifest_is_refused_in_one_line(tmp_path):
    (tmp_path / "cuts").mkdir()
    (tmp_path / "cuts" / "2024-12-31.1.json").write_text("{")
    assert "cannot be read" in one_line(regdash("cuts", store=tmp_path))


@pytest.mark.parametrize("path", ["nowhere", "empty-folder", "a-file.csv"])
def test_a_path_that_holds_no_submission_is_refused_and_makes_no_store(path, tmp_path):
    (tmp_path / "empty-folder").mkdir()
    (tmp_path / "a-file.csv").write_text("operation_id\n")
    said = regdash("receive", tmp_path / path, store=tmp_path / "store")
    assert said.code == 1
    assert path in one_line(said)
    assert not (tmp_path / "store").exists()


@pytest.mark.parametrize("words", [("cuts",), ("cohorts", "list"), ("cohorts", "remove", "x"), ("signals", "show")])
def test_a_folder_that_is_not_there_is_no_empty_store(words, tmp_path):
    said = regdash(*words, store=tmp_path / "nowhere")
    assert said.code == 1
    assert one_line(said) == f"There is no store in {tmp_path / 'nowhere'}. Name another with --store DIR."
    assert not (tmp_path / "nowhere").exists()
