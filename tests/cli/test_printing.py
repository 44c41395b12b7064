"""Progress and pages fit the terminal they go to."""

import io
import sys

import pytest

from regdash.cli import printing
from regdash.cli.ending import exit_code
from regdash.cli.printing import Steps, as_shown, page_width
from regdash.errors import RegdashError


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


@pytest.mark.parametrize(("columns", "width"), [("200", 199), ("80", 79), ("60", 59), ("10", 39)])
def test_a_page_is_as_wide_as_the_terminal(columns, width, monkeypatch):
    monkeypatch.setattr(sys, "stdout", Terminal())
    monkeypatch.setenv("COLUMNS", columns)
    assert page_width() == width


def test_a_page_that_goes_to_no_terminal_has_79_columns(monkeypatch):
    monkeypatch.setattr(sys, "stdout", io.StringIO())
    monkeypatch.setenv("COLUMNS", "200")
    assert page_width() == 79


def test_without_a_terminal_a_step_is_told_when_it_begins_and_while_it_lasts(monkeypatch):
    said, clock = io.StringIO(), iter([0.0, 1.0, 7.0, 8.0, 8.1])
    monkeypatch.setattr(sys, "stderr", said)
    monkeypatch.setattr(printing.time, "monotonic", lambda: next(clock))
    with Steps() as steps:
        for done in (0, 100, 700):
            steps("checking files", done, 1200)
        steps.share("making", 0.25)
        steps.share("making", 0.30)
        steps.share("done", 1.0)
    assert said.getvalue().splitlines() == ["checking files …", "checking files 700 of 1,200", "making …"]


def test_on_a_terminal_one_line_renews_itself_and_is_cleared_at_the_end(monkeypatch):
    said = Terminal()
    monkeypatch.setattr(sys, "stderr", said)
    monkeypatch.setenv("COLUMNS", "20")
    with Steps() as steps:
        steps("checking a great many files", 1, 1200)
    assert said.getvalue() == "\r\x1b[2Kchecking a great ma\r\x1b[2K"


def test_what_a_terminal_cannot_show_is_stood_in_for_and_a_file_is_as_ever(monkeypatch):
    for name in ("LC_ALL", "LC_CTYPE"):
        monkeypatch.delenv(name, raising=False)
    page = "5┤ ├──●──┤\n1.2–3.4 …"
    monkeypatch.setenv("LANG", "C")
    monkeypatch.setenv("TERM", "xterm")
    assert as_shown(page, Terminal()) == "5+ [--*--]\n1.2-3.4 ~"
    assert as_shown(page, io.StringIO()) == page
    monkeypatch.setenv("LANG", "de_CH.UTF-8")
    assert as_shown(page, Terminal()) == page
    latin = io.TextIOWrapper(io.BytesIO(), encoding="latin-1")
    assert as_shown("Müller ● 1", latin) == "Müller * 1"


def test_a_refusal_has_the_signs_of_its_terminal(monkeypatch):
    said = Terminal()
    monkeypatch.setattr(sys, "stderr", said)
    for name, value in (("LC_ALL", "C"), ("TERM", "xterm")):
        monkeypatch.setenv(name, value)

    def refuse() -> None:
        raise RegdashError("From 1 – 2 …")

    assert exit_code(refuse) == 1
    assert said.getvalue() == "From 1 - 2 ~\n"
