"""What is imported when: the command line must start quickly, and the first screen too."""

import subprocess
import sys

import pytest


def loaded_by(statement: str) -> set[str]:
    """Names of the modules that a fresh Python has loaded after a statement."""
    done = subprocess.run(
        [sys.executable, "-c", f"import sys; {statement}; print(*sys.modules)"],
        capture_output=True,
        text=True,
        check=True,
    )
    return set(done.stdout.split())


@pytest.mark.parametrize("library", ["textual", "numpy", "duckdb", "polars", "scipy", "plotext"])
def test_the_package_itself_loads_no_library(library):
    assert library not in loaded_by("import regdash.dashboard")


@pytest.mark.parametrize("library", ["duckdb", "polars", "scipy", "plotext"])
def test_the_app_loads_what_answers_need_only_when_it_asks(library):
    assert library not in loaded_by("import regdash.dashboard.app")
