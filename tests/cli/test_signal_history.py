"""signals history at the command line: every form, a code by itself, progress beside the answer, and refusals."""

from pathlib import Path

import pytest

from tests.cli.asking import regdash
from tests.signals.small_history import small_history

FIELDS = [
    *("code", "role", "class", "first_used", "first_seen", "window", "years_to_first_seen", "joints", "revisions"),
    *("quarters_seen", "quarters_since", "now", "states"),
]
EAGER = """
version = "eager"
minimum_joints = 1
minimum_expected = 0.0001
stated_ratio = 0.01
q = 0.999
leave_out_withdrawn = false
adjust = ""
windows = []
"""


@pytest.fixture(scope="module")
def register(tmp_path_factory: pytest.TempPathFactory) -> Path:
    store = small_history(tmp_path_factory.mktemp("register"))
    (store / "screening.toml").write_text(EAGER)
    return store


def test_a_history_has_its_promised_fields_and_names_its_settings(register: Path) -> None:
    said = regdash("signals", "history", "joint=knee", "--json", store=register)
    answer = said.json
    assert "replaying quarters" in said.stderr
    assert (answer["measure"], answer["screened"]) == ("screen of implants, quarter by quarter", "implants")
    assert [one["quarter"] for one in answer["quarters"]] == ["2010Q1", "2010Q2", "2010Q3", "2010Q4"]
    assert answer["screening"]["version"] == "eager"
    assert len(answer["screening"]["hash"]) == 12
    assert answer["states"] == {"#": "signal", ".": "no signal", "-": "too few to test", " ": "not used yet"}
    assert all(list(row) == FIELDS for row in answer["rows"])
    # Everybody has the same implants: there is nobody to compare with, and nothing is tested.
    assert (answer["rows"], answer["never_tested"]) == ([], 3)
    assert regdash("signals", "history", "joint=knee", "--csv", store=register).stdout.startswith("code,role,class,")
    again = regdash("signals", "history", "joint=knee", store=register)
    assert "replaying" not in again.stderr  # it was remembered
    assert "1 primary and 0 revisions were corrected or linked by hand" in " ".join(again.stdout.split())
    assert "replaying" in regdash("signals", "history", "joint=knee", "--again", store=register).stderr


def test_a_code_that_no_screen_has_tested_and_two_codes_are_refused(register: Path) -> None:
    said = regdash("signals", "history", "KF-001", store=register)
    assert (said.code, said.stdout) == (1, "")
    assert "No screen of these joints has tested KF-001." in said.stderr
    assert regdash("signals", "history", "KF-001", "KT-001", store=register).code == 2
