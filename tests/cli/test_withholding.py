"""What leaves the office: small counts withheld on request or by the store's own policy, in every form of an answer."""

from pathlib import Path

import pytest

from tests.cli.asking import one_line, regdash
from tests.cuts import make_cut, random_joints

COMMANDS = {
    "risk": ["risk", "--by", "hospital"],
    "risk of patients": ["risk", "--by", "hospital", "--cluster", "patient", "--difference"],
    "rates": ["rates", "--by", "hospital,class,sex"],
    "reasons": ["reasons", "--by", "class"],
    "describe": ["describe", "--by", "hospital,class,sex"],
    "compare": ["compare", "--by", "class"],
    "gap": ["gap", "--by", "class"],
    "implants": ["implants"],
    "screen": ["screen", "implants"],
    "signals": ["signals", "list"],
    "implant": ["implant", "KT-001"],
    "units": ["units", "surgeons"],
    "one unit": ["units", "hospitals", "--code", "H001"],
}
COUNTS = (
    "joints",
    "joints_last_365_days",
    "patients",
    "revisions",
    "held_revisions",
    "at_risk",
    "revised",
    "died",
    "lost",
)


@pytest.mark.parametrize("command", COMMANDS)
def test_a_command_withholds_small_counts_in_json_and_csv(command: str, store: Path) -> None:
    asked = [*COMMANDS[command], "--withhold-counts-under", "25"]
    answer = regdash(*asked, "--json", store=store).json
    assert answer["policy"]["withhold_counts_under"] == 25
    for row in [answer, *answer["rows"]]:
        for name in COUNTS:
            assert row.get(name) is None or row[name] == 0 or row[name] >= 25, (name, row)
    for row in regdash(*asked, "--csv", store=store).csv:
        for name in COUNTS:
            assert row.get(name, "") in ("", "0") or int(row[name]) >= 25, (name, row)


def test_some_count_was_withheld_and_a_page_says_why(store: Path) -> None:
    asked = ["rates", "--by", "hospital,class,sex", "--withhold-counts-under", "25"]
    assert any(row.get("revisions") is None for row in regdash(*asked, "--json", store=store).json["rows"])
    page = regdash(*asked, store=store).stdout
    assert "withheld: counts of 1 to 24 are withheld" in page
    assert "Counts under 25 are withheld, 0 apart" in page


@pytest.mark.parametrize("words", [["joints"], ["joint", "P000000000-KL"]])
def test_lists_of_joints_are_refused_in_one_line(words: list[str], store: Path) -> None:
    said = regdash(*words, "--withhold-counts-under", "10", store=store)
    assert said.code == 1
    assert one_line(said).startswith("regdash: Counts under 10 are withheld") or "Counts under 10" in one_line(said)


def test_a_bad_policy_file_is_one_line_and_a_good_one_stands_in_the_head(tmp_path: Path) -> None:
    store = make_cut(tmp_path, random_joints(200))
    (store / "policy.toml").write_text("minimum_at_risk = 20\n", encoding="utf-8")
    assert regdash("risk", "--json", store=store).json["policy"] == {
        "minimum_at_risk": 20,
        "minimum_events": 5,
        "minimum_in_stratum": 10,
        "withhold_counts_under": 0,
        "confidence_level": 0.95,
    }
    (store / "policy.toml").write_text("minimum_at_risk = few\n", encoding="utf-8")
    said = regdash("risk", store=store)
    assert said.code == 1
    assert "policy.toml is not TOML" in one_line(said)


def test_sql_has_no_such_option_since_its_rows_are_raw(store: Path) -> None:
    assert regdash("sql", "select 1", "--withhold-counts-under", "5", store=store).code == 2


def test_limits_of_patients_are_asked_for_by_name(store: Path) -> None:
    answer = regdash("risk", "--by", "class", "--cluster", "patient", "--json", store=store).json
    assert "the variance is that of patients" in answer["method"]
    plain = regdash("risk", "--by", "class", "--json", store=store).json
    assert [row["estimate"] for row in answer["rows"]] == [row["estimate"] for row in plain["rows"]]
    assert [row["upper"] for row in answer["rows"]] != [row["upper"] for row in plain["rows"]]
