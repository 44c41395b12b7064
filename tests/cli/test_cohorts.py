"""Named cohorts at the command line: saved, asked by name, written as text and read again, removed."""

import shutil

from tests.cli.asking import regdash


def test_a_name_is_saved_asked_shared_and_removed(store, tmp_path):
    own = tmp_path / "store"
    shutil.copytree(store, own)
    assert regdash("cohorts", "save", "men", "sex=male", "class=total", store=own).code == 0
    by_name = regdash("describe", "@men", "--json", store=own)
    assert by_name.json["cohort"] == "class=total sex=male"
    assert by_name.stdout == regdash("describe", "sex=male", "class=total", "--json", store=own).stdout
    lines = regdash("cohorts", "list", "--lines", store=own).stdout
    assert lines == "men: class=total sex=male\n"
    more = regdash("cohorts", "save", "--from", "-", store=own, stdin=lines + "old-men: @men age=80..\n")
    assert more.code == 0
    listed = regdash("cohorts", "list", "--json", store=own).json["rows"]
    assert [(row["name"], row["words"]) for row in listed] == [
        ("men", "class=total sex=male"),
        ("old-men", "class=total sex=male age=80.."),
    ]
    assert regdash("cohorts", "remove", "men", store=own).code == 0
    refused = regdash("describe", "@men", store=own)
    assert (refused.code, refused.stdout) == (1, "")
    assert refused.stderr == "No cohort is named men. Nearest: old-men.\n"


def test_a_file_with_one_wrong_line_saves_nothing(store, tmp_path):
    own = tmp_path / "store"
    shutil.copytree(store, own)
    refused = regdash("cohorts", "save", "--from", "-", store=own, stdin="a: sex=male\nb: sx=male\n")
    assert refused.code == 1
    assert refused.stderr.startswith("b: There is no filter word sx. Nearest: ")
    assert regdash("cohorts", "list", "--json", store=own).json["rows"] == []


def test_two_cohorts_side_by_side_say_what_both_are(store):
    said = regdash("risk", "class=partial", "--beside", "sex=male", "--years", "5", "--json", store=store).json
    assert (said["cohort"], said["beside"]) == ("class=partial", "sex=male")
    assert [row["group"] for row in said["rows"]] == ["class=partial", "sex=male"]
    page = regdash("reasons", "class=partial", "--beside", "sex=male", store=store).stdout
    assert "in both cohorts" in page
