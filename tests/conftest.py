"""What all tests share."""

import pytest
from hypothesis import settings

# A test that shares its machine with others may take long; whether it is right does not depend on that.
settings.register_profile("some", deadline=None, max_examples=30)
settings.register_profile("many", deadline=None, max_examples=150)

# Folders whose tests share registers or summaries that take long to make; elsewhere those of a file do.
TOGETHER = ("tests/cli/", "tests/summary/", "tests/synthetic_registry/")


def pytest_configure(config: pytest.Config) -> None:
    """Try more random cases where slow tests are asked for."""
    settings.load_profile("some" if config.getoption("markexpr") == "not slow" else "many")


@pytest.hookimpl(tryfirst=True)  # the plugin that shares tests out reads the groups in its own
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Keep tests on one process that share what takes long to make."""
    for item in items:
        file = item.nodeid.partition("::")[0]
        item.add_marker(pytest.mark.xdist_group(next((one for one in TOGETHER if file.startswith(one)), file)))
