"""What all tests share."""

import pytest
from hypothesis import settings

# A test that shares its machine with others may take long; whether it is right does not depend on that.
settings.register_profile("some", deadline=None, max_examples=30)
settings.register_profile("many", deadline=None, max_examples=150)


def pytest_configure(config: pytest.Config) -> None:
    """Try more random cases where slow tests are asked for."""
    settings.load_profile("some" if config.getoption("markexpr") == "not slow" else "many")
