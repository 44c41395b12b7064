"""How the dashboard is opened: on which store, cut and cohort."""

import io
import sys

import pytest

from regdash import dashboard
from regdash.cli import demo, demo_store
from tests.cli.asking import regdash


@pytest.fixture
def opened(monkeypatch):
    """Note what a dashboard would be opened with."""
    calls = []
    monkeypatch.setattr(dashboard, "run", lambda store, cut=None, words=(): calls.append((store, cut, words)))
    return calls


def test_browse_opens_the_newest_cut_of_the_store(store, opened):
    assert regdash("browse", store=store).code == 0
    assert opened == [(store, None, ())]


def test_browse_begins_with_the_cut_and_the_filter_words_given(store, opened):
    assert regdash("browse", "class=partial", "--cut", "2024-12-31", "age=..64", store=store).code == 0
    assert opened == [(store, "2024-12-31", ("class=partial", "age=..64"))]


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
