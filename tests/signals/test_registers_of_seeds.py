"""Several synthetic registers: what is poor and used enough is a signal, and few signals are false."""

import pytest
from threshold_seeds import Seed, mean_false_share, screened_seed

from regdash.signals.settings import read_settings
from synthetic_registry.knee import KNEE

pytestmark = pytest.mark.slow
JOINTS, SEEDS = 150_000, range(1, 7)


@pytest.fixture(scope="module")
def seeds() -> list[Seed]:
    return [screened_seed(JOINTS, seed, parameters=(KNEE,)) for seed in SEEDS]


def test_what_is_planted_and_used_enough_is_a_signal(seeds: list[Seed]) -> None:
    """A true ratio of 2 or more with 40 or more revisions due, in the window that is affected."""
    promised = [one for seed in seeds for one in seed.planted if one.promised]
    assert len(promised) >= 2 * len(seeds)
    assert sum(one.signal for one in promised) >= 0.95 * len(promised)


def test_the_implant_that_only_looks_poor_is_a_signal_too(seeds: list[Seed]) -> None:
    looks = [one for seed in seeds for one in seed.planted if one.only_looks_poor]
    assert len(looks) == len(seeds)
    assert all(one.signal for one in looks)
    named = [one.without.named for one in looks if one.without is not None]
    assert sum(named) >= len(looks) - 1  # of the few joints that others have, chance may make another fall further


def test_the_mean_share_of_false_signals_is_within_q(seeds: list[Seed]) -> None:
    """False is a true ratio up to the stated one, whatever it comes from: patients, surgeons or the implant."""
    assert min(seed.signals for seed in seeds) > 5
    assert mean_false_share(seeds) <= read_settings().q
    assert sum(seed.size_false for seed in seeds) <= read_settings().q * sum(seed.size_signals for seed in seeds)
