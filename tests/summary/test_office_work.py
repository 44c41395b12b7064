"""The office's own work in the committee's summary: decisions and requests of the quarter, for nobody else."""

import json
import shutil
from datetime import date
from pathlib import Path

import pytest

from regdash.store.requests import answer_request
from regdash.summary.output import REPRODUCTION
from regdash.summary.verify import verify
from tests.cli.asking import one_line, regdash
from tests.summary.made import SHORT, Made, made_in

WORK = SHORT.replace('"risk", "implants", "reproduction"', '"decisions", "requests", "methods", "reproduction"').format(
    words="class=total"
)


@pytest.fixture(scope="module")
def office(tmp_path_factory: pytest.TempPathFactory) -> Made:
    return made_in(tmp_path_factory.mktemp("office"), own_edition=WORK)


def table(made: Made, name: str) -> list[dict[str, object]]:
    (found,) = (table.record.rows for table in made.document.tables if table.name == name)
    return found


def test_decisions_are_those_of_the_quarter_with_what_stood_before(office: Made) -> None:
    """The store has one decision on the last day before the quarter, one on its first day and one on its last."""
    told = [(row["date"], row["code"], row["from"], row["to"]) for row in table(office, "decisions-of-the-quarter")]
    assert told == [
        ("2024-07-01", "KT-099", "under review", "watching"),
        ("2024-09-30", "KT-099", "watching", "closed"),
    ]


def test_no_decision_names_who_took_it_or_why(office: Made) -> None:
    text = office.files["summary.txt"].decode()
    rows = table(office, "decisions-of-the-quarter")
    assert not {"why", "decided_by", "account"} & {name for row in rows for name in row}
    assert "three hospitals were asked" not in text
    assert "1 to watching (not settled" in text


def test_units_are_left_out_where_the_edition_says_so(office: Made, tmp_path: Path) -> None:
    own = WORK.replace('title = "Ours"', 'title = "Ours"\nname_units = false')
    bare = made_in(tmp_path, own_edition=own)
    rows = table(bare, "decisions-of-the-quarter")
    assert len(rows) == 2
    assert "code" not in rows[0]
    assert "KT-099" not in bare.files["summary.html"].decode()
    (told,) = (one for one in bare.document.tables if one.name == "decisions-of-the-quarter")
    assert regdash(*told.provenance.command, "--json", store=bare.store).json["rows"] == rows


def test_requests_are_counted_as_the_store_was_given_them(office: Made) -> None:
    """
    By hand, of what `made.write_down` gives: received on 20 and 29 June, 8, 17 and 26 July; answered after 4, 11, 18,
    and 32 days, the researcher never, which was due on 6 August.
    """
    rows = {row["kind"]: row for row in table(office, "requests-of-the-quarter")}
    assert (rows["all"]["received"], rows["all"]["answered"]) == (3, 3)
    assert (rows["all"]["median_days"], rows["all"]["ninetieth_days"]) == (18, 32)
    assert (rows["all"]["open"], rows["all"]["overdue"]) == (1, 1)
    assert (rows["researcher"]["received"], rows["researcher"]["answered"], rows["researcher"]["overdue"]) == (1, 0, 1)
    assert (rows["press"]["received"], rows["press"]["answered"], rows["press"]["median_days"]) == (0, 1, 11)
    text = " ".join(office.files["summary.txt"].decode().split())
    said = "received 3 requests and answered 3, half of them within 18 days and all of them within 32 days."
    assert f"{said} At its end one was open, and overdue." in text


def test_what_is_answered_later_on_the_same_day_leaves_a_summary_as_it_was(office: Made, tmp_path: Path) -> None:
    """A summary often is the answer to a request, and that is written down on the day on which it was made."""
    store = Path(shutil.copytree(office.store, tmp_path / "store"))
    answer_request(store, "R004", date(2024, 8, 8), note="the summary")
    assert verify(store, office.folder).is_same
    assert regdash("summary", "2024Q3", "--out", tmp_path / "new", store=store).code == 0
    assert verify(store, tmp_path / "new").is_same
    written = json.loads((tmp_path / "new" / REPRODUCTION).read_text())
    words = ("summary", "2024Q3", "--requests-up-to", "10", "--out", tmp_path / "past")
    assert regdash(*words, store=store).code == 0
    assert (tmp_path / "past" / "summary.html").read_bytes() == (office.folder / "summary.html").read_bytes()
    assert (tmp_path / "new" / "summary.html").read_bytes() != (office.folder / "summary.html").read_bytes()
    assert "--requests-up-to 11" in (tmp_path / "new" / "summary.txt").read_text(encoding="utf-8").replace(
        "\n", ""
    ).replace("  ", "")
    assert written["requests"]["lines"] == 11
    was, new = (json.loads((one / REPRODUCTION).read_text())["requests"] for one in (office.folder, tmp_path / "new"))
    assert (was["lines"], new["lines"]) == (10, 11)
    folder = Path(shutil.copytree(office.folder, tmp_path / "spoilt"))
    record = json.loads((folder / REPRODUCTION).read_text())
    record["requests"]["hash"] = "0" * 12
    (folder / REPRODUCTION).write_text(json.dumps(record))
    assert "the first 10 lines of the register of requests are others" in verify(store, folder).why
    record["requests"]["lines"] = "ten"
    (folder / REPRODUCTION).write_text(json.dumps(record))
    said = regdash("verify", folder, store=store)
    assert said.code == 1
    assert one_line(said) == "The recorded number of lines of the register of requests is none."


@pytest.mark.parametrize("section", ["decisions", "requests"])
def test_another_edition_that_asks_for_them_is_refused(office: Made, tmp_path: Path, section: str) -> None:
    store = Path(shutil.copytree(office.store, tmp_path / "store"))
    text = WORK.replace('"decisions", "requests", "methods", "reproduction"', f'"{section}"')
    (store / "editions" / "hospital.toml").write_text(text)
    said = regdash("summary", "2024Q3", "--for", "hospital:H001", "--out", tmp_path / "new", store=store)
    assert said.code == 1
    assert said.stderr.splitlines()[-1].startswith(f"The section {section} is for the committee alone")
    assert not (tmp_path / "new").exists()


def test_a_quarter_without_any_says_so(office: Made, tmp_path: Path) -> None:
    store = Path(shutil.copytree(office.store, tmp_path / "store"))
    assert regdash("summary", "2023Q1", "--out", tmp_path / "new", store=store).code == 0
    page = " ".join((tmp_path / "new" / "summary.txt").read_text(encoding="utf-8").split())
    assert "No decision on a signal was taken in 2023Q1." in page
    assert "The register of requests has none of 2023Q1" in page
