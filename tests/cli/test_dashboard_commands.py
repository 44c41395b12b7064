"""How the dashboard is opened: on which store, cut and cohort."""

import io
import re
import shlex
import sys

import pytest

from regdash import dashboard
from regdash.cli import demo, demo_store
from tests.cli.asking import one_line, regdash


@pytest.fixture
def opened(monkeypatch):
    """Note what a dashboard would be opened with."""
    calls = []

    def run(store, cut=None, words=(), ascii_only=None, theme=None):
        looks = () if ascii_only is theme is None else (ascii_only, theme)
        calls.append((store, cut, words, *looks))

    monkeypatch.setattr(dashboard, "run", run)
    return calls


def test_browse_opens_the_newest_cut_of_the_store(store, opened):
    assert regdash("browse", store=store).code == 0
    assert opened == [(store, None, ())]


def test_browse_begins_with_the_cut_and_the_filter_words_given(store, opened):
    assert regdash("browse", "class=partial", "--cut", "2024-12-31", "age=..64", store=store).code == 0
    assert opened == [(store, "2024-12-31", ("class=partial", "age=..64"))]


def test_signs_and_background_are_as_options_say(store, opened):
    assert regdash("browse", "--ascii", "--theme", "light", store=store).code == 0
    assert opened == [(store, None, (), True, "light")]


@pytest.mark.parametrize("place", ["register", "compare", "implants", "units", "cuts"])
def test_a_place_as_text_is_what_the_command_prints_that_it_names(place, store, opened):
    words = [] if place == "cuts" else ["class=partial,total"]
    said = regdash("browse", "--plain", place, *words, store=store)
    named = said.stderr.splitlines()
    assert len(named) == (2 if place == "register" else 1)
    assert said.code == 0
    assert not opened
    assert said.stdout == "".join(regdash(*shlex.split(one)[1:], store=store).stdout for one in named)
    assert said.stdout.strip()


def test_the_risk_as_text_is_every_value_that_the_cursor_of_the_chart_reads(store):
    said = regdash("browse", "--plain", "risk", "class=partial", store=store).stdout
    rows = regdash("risk", "class=partial", "--by", "class", "--years", "1,2,3", "--json", store=store).json["rows"]
    for row in rows:
        percents = " to ".join(f"{100 * row[limit]:.1f}" for limit in ("lower", "upper"))
        assert f"{100 * row['estimate']:.1f} ({percents})" in said


def test_text_in_ascii_has_the_same_figures(store):
    plain = regdash("browse", "--plain", "compare", store=store).stdout
    written = regdash("browse", "--plain", "compare", "--ascii", store=store).stdout
    assert not plain.isascii()
    assert written.isascii()
    assert re.findall("[0-9]+", written) == re.findall("[0-9]+", plain)
    assert [len(line) for line in written.splitlines()] == [len(line) for line in plain.splitlines()]


def test_the_place_of_statements_has_no_text_without_one(store):
    assert one_line(regdash("browse", "--plain", "sql", store=store)).startswith("The place sql answers a statement.")


def test_the_demo_opens_the_dashboard_where_there_is_a_terminal(tmp_path, opened, monkeypatch):
    monkeypatch.setattr(demo, "_can_show", lambda: True)
    monkeypatch.setattr(demo_store, "_make", lambda store, recipe: None)
    said = regdash("demo", store=tmp_path / "demo")
    assert (said.code, said.stdout) == (0, "")
    assert opened == [(tmp_path / "demo", None, ())]


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


@pytest.mark.parametrize(("term", "shown"), [("xterm-256color", True), ("dumb", False), ("", False)])
def test_a_terminal_that_can_show_nothing_gets_the_table(term, shown, monkeypatch):
    monkeypatch.setattr(sys, "stdin", Terminal())
    monkeypatch.setattr(sys, "stdout", Terminal())
    monkeypatch.setenv("TERM", term)
    assert demo._can_show() is shown
    monkeypatch.setattr(sys, "stdout", io.StringIO())
    assert not demo._can_show()
