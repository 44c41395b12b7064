"""Quiet as `regdash.dashboard.run` makes it, before the terminal library is imported; and a small office."""

import os
from pathlib import Path

import pytest

from regdash.dashboard import QUIET
from tests.dashboard.office_register import make_office

os.environ.update(QUIET)
# Pictures must not depend on the terminal that the tests run in.
os.environ.pop("NO_COLOR", None)
os.environ["COLORTERM"] = "truecolor"


@pytest.fixture(scope="session")
def office(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The store of a small office with two cuts, made once."""
    return make_office(tmp_path_factory.mktemp("office"))
