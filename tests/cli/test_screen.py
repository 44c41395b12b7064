"""screen at the command line: its fields, its settings and its page."""

from pathlib import Path

import pytest

from tests.cli.asking import one_line, regdash
from tests.cuts import make_cut, random_joints

FIELDS = [
    *("code", "role", "class", "window", "joints", "implant_years", "revisions", "expected"),
    *("per_100_implant_years", "rate_ratio", "rate_p", "hazard_ratio", "lower", "upper", "p", "q"),
    *("shrunk_hazard_ratio", "probability", "signal"),
]


@pytest.mark.parametrize("kind", ["implants", "constructs", "sizes", "lots"])
def test_rows_have_the_promised_fields_in_json_and_csv(kind: str, store: Path) -> None:
    answer = regdash("screen", kind, "joint=knee", "class=total", "--json", store=store).json
    assert (answer["screened"], answer["cohort"], answer["adjust"]) == (kind, "joint=knee class=total", "age,sex")
    assert answer["windows"] == [1, 5]
    assert answer["rows"]
    for row in answer["rows"]:
        assert [name for name in row if name != "withheld"] == FIELDS
    table = regdash("screen", kind, "joint=knee", "class=total", "--csv", store=store).csv
    assert list(table[0]) == [*FIELDS, "withheld"]
    assert len(table) == len(answer["rows"])


def test_settings_of_the_store_stand_in_the_answer(tmp_path: Path) -> None:
    store = make_cut(tmp_path, random_joints(300))
    (store / "screening.toml").write_text('version = "7"\nstated_ratio = 1.5\nwindows = [2]\n', encoding="utf-8")
    answer = regdash("screen", "implants", "--json", store=store).json
    assert (answer["screening"]["version"], answer["screening"]["stated_ratio"]) == ("7", 1.5)
    assert answer["windows"] == [2]
    assert f"version 7, hash {answer['screening']['hash']}: a ratio above 1.5" in " ".join(
        regdash("screen", "implants", store=store).stdout.split()
    )
    (store / "screening.toml").write_text("q = 0.1", encoding="utf-8")
    refused = regdash("screen", "implants", store=store)
    assert refused.code == 1
    assert "has no version" in one_line(refused)


def test_a_page_prints_the_caution_and_how_many_signals_may_be_false(store: Path) -> None:
    said = " ".join(regdash("screen", "implants", "--windows", "1,5", store=store).stdout.split())
    assert "A signal starts a review and shows no cause" in said
    assert "tests made; " in said
    assert "expected to be false" in said or "no signal. Were all to have a true ratio of 1.25 or less" in said


def test_an_outcome_word_an_unknown_kind_and_bad_windows_are_refused(store: Path) -> None:
    assert regdash("screen", "implants", "ended=revised", store=store).code == 1
    assert regdash("screen", "hospitals", store=store).code == 2
    assert regdash("screen", "implants", "--windows", "5,1", store=store).code == 1
