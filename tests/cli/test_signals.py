"""signals at the command line: the list, decisions and their life, in every form."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from regdash.cli.main import cli
from regdash.store.audit import audit_lines, verify
from regdash.store.connect import registry_path
from tests.cli.asking import one_line, regdash
from tests.signals.two_cuts import EARLIER, LATER, made

FIGURES = [
    *("window", "joints", "implant_years", "revisions", "expected", "per_100_implant_years", "rate_ratio", "rate_p"),
    *("hazard_ratio", "lower", "upper", "p", "q", "shrunk_hazard_ratio", "probability", "signal"),
]
FIELDS = [
    *("code", "joint", "class", "role", *FIGURES, "state", "seen", "cause", "moved", "moved_revisions"),
    *("revisions_before", "expected_before", "hazard_ratio_before", "q_before"),
    *("decision", "decided_by", "decided_at", "decided_on", "why"),
]


@pytest.fixture(scope="module")
def cuts(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return made(tmp_path_factory.mktemp("two"))


@pytest.fixture
def office(cuts: Path, tmp_path: Path) -> Path:
    """The same cuts, and an office file of its own beside a store that acts are written down for."""
    store = tmp_path / "store"
    store.mkdir()
    (store / "cuts").symlink_to(cuts / "cuts")
    registry_path(store).touch()
    return store


def test_the_list_has_its_promised_fields_in_json_and_csv(cuts):
    answer = regdash("signals", "list", "joint=knee", "--json", store=cuts).json
    assert (answer["measure"], answer["screened"], answer["cohort"]) == (
        "signals of implants",
        "implants",
        "joint=knee",
    )
    assert (answer["cut"], answer["compared_with"]) == (LATER, EARLIER)
    assert (answer["first_seen"], answer["seen_again"], answer["not_seen"]) == (3, 1, 2)
    assert answer["reviews"] == {"as_of": None, "taken": 0, "hash": answer["reviews"]["hash"], "confirmed": []}
    assert answer["cautions"][0].startswith("A signal starts a review and shows no cause")
    assert "expected to be false" in answer["cautions"][1]
    rows = answer["rows"]
    assert all([name for name in row if name != "withheld"] == FIELDS for row in rows)
    again = next(row for row in rows if (row["code"], row["window"]) == ("KF-002", "all"))
    assert (again["seen"], again["cause"], again["moved_revisions"]) == ("seen again", "new events", {"new_events": 1})
    assert (again["revisions_before"], again["revisions"], again["state"]) == (14, 15, "new")
    table = regdash("signals", "list", "joint=knee", "--csv", store=cuts).csv
    assert list(table[0]) == [*FIELDS, "withheld"]
    assert len(table) == len(rows)
    assert "KF-008" not in {row["code"] for row in rows}


def test_the_page_names_cause_and_figures_and_prints_the_caution(cuts):
    page = regdash("signals", "list", "--since", EARLIER, store=cuts)
    said = " ".join(page.stdout.split())
    assert max(map(len, page.stdout.splitlines())) <= 79
    assert f"since {EARLIER}: of implants, in one window or more, 3 first seen, 1 seen again, 2 not seen" in said
    assert "KF-002, all seen again: new events. 14 to 15 revised (+1 new event)" in said
    assert "A signal starts a review and shows no cause" in said
    assert "tests made; of" in said
    assert "For review under local governance" in said


def test_a_decision_is_taken_listed_shown_and_audited(office, monkeypatch):
    monkeypatch.setenv("REGDASH_USER", "analyst one")
    why = "asked about P123456789"
    said = regdash("signals", "decide", "KF-002", "under-review", "--why", why, "--json", store=office).json
    (row,) = said["rows"]
    assert (row["number"], row["code"], row["class"], row["window"]) == (1, "KF-002", "total", "every")
    assert (row["state"], row["why"], row["decided_by"]) == ("under review", "asked about [patient]", "analyst one")
    assert (row["cut"], row["signal"], row["supersedes"]) == (LATER, "look closer", None)
    command = ("signals", "decide", "KF-002", "confirmed")
    assert regdash(*command, "--why", "the records say so", "--after", 1, store=office).code == 0
    refused = regdash(*command, "--why", "more", "--after", 1, store=office)
    assert refused.code == 1
    assert "KF-002 was decided meanwhile: confirmed, by analyst one at 20" in one_line(refused)
    shown = regdash("signals", "show", "kf-002", "--csv", store=office).csv
    assert [row["state"] for row in shown] == ["under review", "confirmed"]
    page = " ".join(regdash("signals", "show", store=office).stdout.split())
    assert "KF-002 (femoral, total knee), implants 1 under review: analyst one, 20" in page
    assert "because: the records say so rests on data cut" in page
    assert "A signal starts a review and shows no cause" in page
    listed = regdash("signals", "list", "--state", "confirmed", "--json", store=office).json
    assert {row["code"] for row in listed["rows"]} == {"KF-002"}
    assert listed["reviews"]["confirmed"] == listed["implants_left_out_of_comparison"] == ["KF-002"]
    screened = regdash("screen", "implants", "--reviews-as-of", "2020-01-01", "--json", store=office).json
    assert (screened["reviews"]["as_of"], screened["implants_left_out_of_comparison"]) == ("2020-01-01", [])
    lines = audit_lines(office)
    assert [(line.what, line.subject) for line in lines] == [("signal-decided", "implants KF-002")] * 3
    assert [line.outcome.partition(":")[0] for line in lines] == ["done", "done", "refused"]
    assert lines[0].why == "asked about [patient]"
    assert json.loads(lines[1].details)["supersedes"] == 1
    assert verify(office).fault is None


@pytest.mark.parametrize(
    ("words", "code", "told"),
    [
        (("KF-002", "good", "--why", "x"), 2, "There is no state good. A signal is new, under-review"),
        (("KF-002", "confirmed", "--why", "x"), 1, "KF-002 is new, and cannot become confirmed from there."),
        (("KF-002", "new", "--why", "x"), 1, "It may become under-review, explained, watching or closed."),
        (("KF-002", "closed", "--why", "  "), 1, "A decision needs a reason"),
        (("KF-099", "closed", "--why", "x"), 1, "The screen of implants tells of no KF-099. Nearest: KF-00"),
        (("KF-002", "closed", "ended=revised", "--why", "x"), 1, "known only after implantation"),
        (("KF-002", "closed", "--window", "0..9", "--why", "x"), 1, "alone, not in 0..9"),
    ],
)
def test_what_cannot_be_decided_is_refused_in_one_line(office, words, code, told):
    said = regdash("signals", "decide", *words, store=office)
    assert said.code == code
    assert told in " ".join(said.stderr.split())
    assert regdash("signals", "show", "--csv", store=office).csv == []
    assert "Nobody has decided anything" in regdash("signals", "show", store=office).stdout


def test_a_code_with_a_typing_error_is_not_told_as_one_without_decisions(office):
    said = regdash("signals", "show", "KF-0002", store=office)
    assert said.code == 1
    assert "There is no implant or construct KF-0002 in data cut" in one_line(said)
    known = regdash("signals", "show", "kf-002", store=office)
    assert (known.code, "Nobody has decided anything on kf-002" in known.stdout) == (0, True)


def test_states_are_completed(cuts):
    asked = {"_REGDASH_COMPLETE": "bash_complete", "COMP_WORDS": "regdash signals decide KF-002 un", "COMP_CWORD": "4"}
    found = CliRunner().invoke(cli, [], env=asked | {"REGDASH_STORE": str(cuts)}, prog_name="regdash").output
    assert "under-review" in found
