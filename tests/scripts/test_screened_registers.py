"""Registers straight in the pools of a screen are what a cut of them gives, and their truth is what they live by."""

from datetime import date
from pathlib import Path

import numpy as np
import pytest
from screened_registers import ScreenedRegister

from regdash.cohort import Cohort
from regdash.intake.receive import receive
from regdash.reports.policy import Policy
from regdash.signals.desk import SignalsDesk
from regdash.signals.model import IMPLANTS, SIZES
from regdash.signals.pool import windows_of
from regdash.signals.screen import screen
from regdash.signals.settings import read_settings
from regdash.store.freeze import freeze
from synthetic_registry import make, simulate
from synthetic_registry.simulation import simulate_several

JOINTS, SEED = 2_500, 4
SETTINGS = read_settings()
WINDOWS = windows_of(SETTINGS.windows)


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> SignalsDesk:
    """The clean register, received and frozen."""
    folder: Path = tmp_path_factory.mktemp("register")
    receive(folder / "store", [make(folder / "sent", JOINTS, SEED, clean=True).out])
    freeze(folder / "store", date(2024, 12, 31))
    return SignalsDesk(folder / "store", policy=Policy(minimum_at_risk=1, minimum_events=1))


@pytest.fixture(scope="module")
def register() -> ScreenedRegister:
    return ScreenedRegister.of(simulate_several(JOINTS, SEED, prior=True))


@pytest.mark.slow  # of a study that is run by hand
@pytest.mark.parametrize("kind", [IMPLANTS, SIZES])
def test_a_screen_of_the_pools_is_that_of_the_cut(desk: SignalsDesk, register: ScreenedRegister, kind: str) -> None:
    of_cut = desk.screen(kind, Cohort())
    of_pools = screen(register.pools(kind), SETTINGS, WINDOWS, desk.policy.level)
    assert (of_cut.tests, of_cut.not_tested) == (of_pools.tests, of_pools.not_tested)
    assert set(of_cut.apart) <= register.withdrawn()
    found = {(one.joint_class, one.role, one.code, one.window.label): one for one in of_pools.findings}
    assert len(of_cut.rows) == len(found) > 100
    for row in of_cut.rows:
        one = found[row.joint_class, row.role, row.code, row.window]
        assert (row.joints, row.revisions, row.signal) == (one.joints, one.revised, one.signal)
        assert row.expected == pytest.approx(one.expected)
        assert (row.q is None) == (one.hazard is None)
        if one.hazard is not None:
            assert (row.p, row.q) == pytest.approx((one.hazard.p_higher, one.q))


def test_revisions_come_as_the_true_hazards_say() -> None:
    """Revisions less the hazard that joints have lived through are a martingale: they differ by chance alone."""
    register = ScreenedRegister.of((simulate(60_000, 2),))
    for pool in register.pools():
        if pool.joint_class == "total" and pool.role in ("femoral", "tibial"):
            for window in WINDOWS:
                truth = register.truth(pool, window)
                due = float(np.nansum(truth.ratio * truth.due))
                seen = int(window.hit(pool.day, pool.revised).sum())
                assert abs(seen - due) < 4 * due**0.5, (pool.role, window.label)


def test_the_truth_of_planted_implants_is_about_their_factor() -> None:
    """Many surgeons use them, whose own factors differ by a fifth: 2.5 from the start, 3 after five years."""
    register = ScreenedRegister.of((simulate(60_000, 2),))
    own = register.several.registers[0]
    (pool,) = [pool for pool in register.pools() if (pool.joint_class, pool.role) == ("total", "tibial")]
    for number, (early, late) in enumerate([(2.5, 2.5), (1.0, 3.0)]):
        family = int(own.setting.implants.constructs.other[own.setting.implants.planted(number)])
        place = pool.codes.index(register.several.catalogues[0].implant_code(family, 1))
        ratios = [register.truth(pool, window).ratio[place] for window in (WINDOWS[1], WINDOWS[3])]
        assert ratios == pytest.approx([early, late], rel=0.35)
