"""Registers that several tests look at; each is made once."""

from dataclasses import replace
from pathlib import Path

import pytest

from regdash.vocabulary import JOINTS
from synthetic_registry import Register, make, simulate
from synthetic_registry.knee import KNEE
from synthetic_registry.simulation import parameters_of
from tests.synthetic_registry.made import Files


@pytest.fixture(scope="session")
def dirty(tmp_path_factory: pytest.TempPathFactory) -> Files:
    """The demo's register as it is, with dirt and delay."""
    return Files(make(_folder(tmp_path_factory, "dirty"), 20_000, seed=1, only=("knee",)))


@pytest.fixture(scope="session")
def filthy(tmp_path_factory: pytest.TempPathFactory) -> Files:
    """A smaller register of knees in which broken links and copies are frequent, without the odd kinds."""
    dirt = replace(
        KNEE.dirt,
        wrong_side=0.04,
        revision_as_primary=0.1,
        after_death=0.003,
        missed_link=0.1,
        false_link=0.1,
        second_id=0.02,
        corrected=0.04,
        impossible_date=0.01,
        odd={},
    )
    return Files(make(_folder(tmp_path_factory, "filthy"), 5_000, seed=3, parameters=replace(KNEE, dirt=dirt)))


@pytest.fixture(scope="session")
def odd(tmp_path_factory: pytest.TempPathFactory) -> Files:
    """A register of all joints in which the odd kinds of faults are frequent, for looking at each of them."""
    often = {kind: min(12 * rate, 0.5) for kind, rate in KNEE.dirt.odd.items()}
    dirt = replace(KNEE.dirt, odd=often)
    parameters = [replace(own, dirt=dirt) for own in parameters_of(JOINTS)]
    return Files(make(_folder(tmp_path_factory, "odd"), 12_000, seed=5, parameters=parameters))


@pytest.fixture(scope="session")
def clean(tmp_path_factory: pytest.TempPathFactory) -> Files:
    """A smaller register without dirt and delay."""
    return Files(make(_folder(tmp_path_factory, "clean"), 5_000, seed=2, clean=True, only=("knee",)))


@pytest.fixture(scope="session")
def large() -> Register:
    """A register in memory, large enough for shares and reasons."""
    return simulate(200_000, seed=3, prior=True)


@pytest.fixture(scope="session")
def small() -> Register:
    """The demo's register in memory."""
    return simulate(20_000, seed=1)


def _folder(factory: pytest.TempPathFactory, name: str) -> Path:
    return factory.mktemp(name) / "register"
