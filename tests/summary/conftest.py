"""One summary for all tests of this folder."""

from collections.abc import Iterator

import pytest

from tests.summary.made import SHORT, Made, made_in
from tests.summary.packed import Packed, packed_in


@pytest.fixture(scope="session")
def made(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Made]:
    """The summary of a small register with one poor implant."""
    found = made_in(tmp_path_factory.mktemp("summary"))
    yield found
    found.desk.close()


@pytest.fixture(scope="session")
def brief(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Made]:
    """A summary of one risk and one implant, quick to make again."""
    found = made_in(tmp_path_factory.mktemp("brief"), own_edition=SHORT.format(words="class=total,partial"))
    yield found
    found.desk.close()


@pytest.fixture(scope="session")
def packed(tmp_path_factory: pytest.TempPathFactory) -> Packed:
    """The evidence on one poor implant among random joints, with a decision on it."""
    return packed_in(tmp_path_factory.mktemp("evidence"))
