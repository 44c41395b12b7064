"""Asking a store's newest cut about links, and taking decisions on a day that a test names."""

from pathlib import Path

import duckdb
import pytest

from regdash.store import link_decisions
from regdash.store.cuts import cut_path, find_cut


def asked(store: Path, query: str) -> list[tuple]:
    with duckdb.connect(str(cut_path(store, find_cut(store).cut)), read_only=True) as cut:
        return cut.execute(query).fetchall()


def link_of(store: Path, revision_id: str) -> tuple:
    columns = "primary_operation_id, method, confidence, cause, decided_by, decided_on"
    return asked(store, f"select {columns} from links where operation_id = '{revision_id}'")[0]


def on(monkeypatch: pytest.MonkeyPatch, day: str) -> None:
    monkeypatch.setattr(link_decisions, "now", lambda: f"{day}T12:00:00Z")
    monkeypatch.setenv("REGDASH_USER", "analyst 1")
