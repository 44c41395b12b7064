"""
The questions that an office is asked most, answered by keyboard: the keys that DEVELOPERS.md names are pressed on a
register that was taken in and frozen twice, and what is then painted is compared with what the named command prints.
"""

import csv
import re
import shlex
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest

from regdash.cohort import Cohort
from regdash.dashboard.app import Dashboard, opener
from regdash.dashboard.asked import Asked
from tests.cli.asking import regdash
from tests.dashboard import answers as read
from tests.dashboard import answers_done as done
from tests.dashboard import answers_records as records
from tests.dashboard import answers_signals as signals
from tests.dashboard.driving import Driver
from tests.dashboard.office_register import EARLIER, LATER
from tests.dashboard.painted import Painted, painted, reads, reads_limits
from tests.dashboard.question_rows import questions

CODE, HOSPITAL, SURGEON = "KI-031", "H006", "S0008"  # an implant that is a signal, and who uses it
QUESTIONS = questions()
NAMED = {"Enter": "enter", "Tab": "tab", "Esc": "escape", "Down": "down", "End": "end"}
KEYS = NAMED | {"[": "left_square_bracket", "/": "slash"}

# What is read after each step of a question's keys.
READ: dict[int, tuple[read.Reader, ...]] = {
    1: tuple(read.risk(years) for years in (15.0, 10.0, 5.0, 3.0, 1.0)),
    2: (read.risk(10.0), read.reasons("partial", 10.0)),
    3: (read.ratios,),
    4: (read.risk(15.0), read.ratios, read.reasons("fixed", 15.0)),
    5: tuple(read.reasons("all", years) for years in (1.0, 5.0, 10.0)),
    6: (read.risk(15.0),),
    7: (read.risk(15.0), read.ratios, read.risk(15.0)),
    8: (read.risk(5.0, 2), read.ratios),
    9: (read.risk(15.0), read.ratios, read.curve),
    10: tuple(signals.screened(kind) for kind in ("implant", "construct", "size", "lot")),
    11: (signals.new_and_gone, signals.quarters, signals.moved),
    12: (
        signals.own_reasons(CODE, 10.0),
        signals.own_windows(CODE),
        signals.excess,
        signals.first_revisions,
        signals.subgroups,
    ),
    13: (signals.without_each("hospital"), signals.without_each("surgeon")),
    14: (records.units("hospital"), read.risk(15.0, 2)),
    15: (records.units("surgeon"), read.risk(15.0, 2), records.cases),
    16: (records.feeds, records.completeness, records.delays, records.triangle, records.missing),
    17: (done.operations("all"), done.operations("total"), done.why_in_two_years, done.work_in_two_years),
    18: (done.in_all_years("reason"), done.in_all_years("at the revision")),
    19: (done.why_in_two_years, read.reasons("implanted=2019..", 2.0), read.reasons("implanted=2014..2018", 2.0)),
    20: (read.reasons("I", 0.25, 1), read.reasons("II", 0.25), read.reasons("II", 2.0)),
    21: (read.reasons("28–31 mm", 15.0), read.reasons("32–35 mm", 15.0)),
    22: (read.risk(5.0, 3), read.ratios, read.reasons("hemi", 5.0), read.risk(5.0)),
    23: (
        read.mortality(365, "1 year"),
        read.mortality(90, "90 days"),
        *(read.mortality(30, "30 days") for _ in ("class", "age", "fracture")),
        read.mortality(3652, "10 years"),
    ),
    24: (records.unlinked("hospital"), records.unlinked("year"), records.to_review),
    25: (read.risk(15.0), signals.own_reasons(CODE, 10.0)),
}
# What only writes a folder has a test of its own.
WRITES = "summary"
# Run by --slow alone, for what they take: four screens twice over (10), the page of one implant again, as in 12 (13,
# 25), places that tests of their own press as well (8, 18, 23), and those that ask as others do (4, 6, 7, 20, 21, 22).
SLOW = (4, 6, 7, 8, 10, 11, 12, 13, 16, 18, 19, 20, 21, 22, 23, 24, 25)


def named(text: str, folder: Path) -> str:
    """Put the codes of this office in the place of capital words."""
    own = {"CODE": CODE, "HOSPITAL": HOSPITAL, "SURGEON": SURGEON, "CUT": EARLIER, "NEWEST": LATER}
    own |= {"FILE": f"{folder}/written.csv", "DIR": f"{folder}/written"}
    return re.sub(r"\b[A-Z]{3,}\b", lambda word: own.get(word[0], word[0]), text)


async def press(on: Driver, key: str, folder: Path) -> None:
    """Press a key as the table writes it: alone, several times, or with a text that is typed and entered."""
    name, _, text = key.partition(" ")
    if text.startswith("×"):
        await on.press(*[KEYS.get(name, name)] * int(text[1:]))
        return
    await on.press(KEYS.get(name, name))
    if text:
        await on.enter(named(text, folder))


async def shown_after(steps: Sequence[Sequence[str]], store: Path, folder: Path) -> list[Painted]:
    """Press the keys of each step from the opening screen on, and read the screen after each."""
    shown = []
    app = Dashboard(opener(store), None, Asked(Cohort()))
    async with app.run_test(size=(80, 24)) as pilot:
        on = Driver(app, pilot, desk=None)
        await on.until(lambda: app.desk is not None)
        await on.settled()
        for step in steps:
            for key in step:
                await press(on, key, folder)
            shown.append(painted(on))
    return shown


def said(command: str, store: Path, folder: Path) -> Any:
    """What a command prints as JSON."""
    answer = regdash(*shlex.split(named(command, folder)), *(() if "--csv" in command else ("--json",)), store=store)
    assert answer.code == 0, answer.stderr
    return answer.csv if "--csv" in command else answer.json


def csv_of(command: str, store: Path, folder: Path) -> str:
    """What a command prints as CSV."""
    return regdash(*shlex.split(named(command, folder)), "--csv", store=store).stdout.replace("\r\n", "\n")


@pytest.mark.parametrize(
    "number", [pytest.param(n, marks=[pytest.mark.slow] if n in SLOW else []) for n in sorted(READ)]
)
async def test_the_keys_of_a_question_lead_to_the_figures_of_its_command(number: int, office: Path, tmp_path: Path):
    question = QUESTIONS[number]
    assert len(question.steps) == len(READ[number]), "each step has a part of the answer"
    shown = await shown_after(question.steps, office, tmp_path)
    told: dict[str, Any] = {}  # by command
    for step, (compare, screen) in enumerate(zip(READ[number], shown, strict=True)):
        first, *more = question.commands_of(step)
        for command in (first, *more):
            if command not in told and not command.startswith(WRITES):
                told[command] = said(command, office, tmp_path)
        compare(screen, told[first])
    if any("FILE" in key for step in question.steps for key in step):
        file = (tmp_path / "written.csv").read_text(encoding="utf-8")
        assert file == csv_of(question.commands[-1][0], office, tmp_path)


def test_every_question_of_the_table_is_pressed():
    assert sorted(QUESTIONS) == sorted(READ) == list(range(1, 26))


def written(folder: Path, command: str, store: Path, table: str) -> list[dict[str, str]]:
    """A table of a summary that a command of the page writes; its folder is `folder`."""
    answer = regdash(*shlex.split(named(command, folder)), store=store)
    assert answer.code == 0, answer.stderr
    with (folder / "written" / "tables" / f"{table}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.mark.slow  # a summary takes some seconds
async def test_a_surgeons_summary_has_the_risk_that_their_page_shows(office: Path, tmp_path: Path):
    (command,) = [c for c in QUESTIONS[15].commands[-1] if c.startswith(WRITES)]
    keys = ("6", "Tab", "/ joint=knee class=partial", "y 10", "j SURGEON", "Enter")
    (shown,) = await shown_after([keys], office, tmp_path)
    table = written(tmp_path, command, office, "own-risk-partial-knees")
    rows = {row["group"]: row for row in table if row["years"] == "10.0"}
    own, others = shown.rows
    for cells, row in ((own, rows["own"]), (others, rows["all others"])):
        estimate, lower, upper = (100 * float(row[key]) for key in ("estimate", "lower", "upper"))
        assert reads(cells["risk %"], estimate, 1)
        assert reads_limits(cells["95 % limits"], lower, upper, 1)
    assert reads(own["at risk"], int(rows["own"]["at_risk"]))
    assert reads(own["revised"], int(rows["own"]["revisions"]))
    assert rows["all others"]["revisions"] == "–"  # of others no count leaves the office


@pytest.mark.slow  # a summary takes some seconds
async def test_a_makers_summary_has_the_counts_and_the_ratio_that_an_implants_page_shows(office: Path, tmp_path: Path):
    (command,) = [c for c in QUESTIONS[25].commands[-1] if c.startswith(WRITES)]
    rows = [row for row in written(tmp_path, command, office, "own-implants-knee") if row["joints"].isdigit()]
    row = max(rows, key=lambda row: int(row["revisions"]))
    (shown,) = await shown_after([("5", f"j {row['code']}", "Enter")], office, tmp_path)
    assert f" {row['joints']} joints, " in shown.text
    assert f" · {row['revisions']} revised, " in shown.text
    assert f"crude ratio {float(row['rate_ratio']):.2f}" in shown.text
    assert row["hospitals"] == row["surgeons"] == "–"  # a maker is not told how many use it
