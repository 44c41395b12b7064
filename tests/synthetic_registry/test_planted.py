"""Planted truths: they are there, used enough to be seen, and as poor as the parameters say."""

import numpy as np
import pytest

from synthetic_registry import Register, simulate
from synthetic_registry.implants import MIDDLE_SIZE
from synthetic_registry.knee import KNEE

IMPLANTS = KNEE.frailty.poor_implants


@pytest.fixture(scope="module", params=[20_000, 200_000])
def register(request: pytest.FixtureRequest) -> Register:
    return simulate(request.param, seed=6)


def total_hazard(register: Register) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Positions of the total knees, and their integrated hazards from 0 to 5 and from 5 to 10 years."""
    hazard = register.hazards[0]
    before = hazard.before()
    early, late = before[4], before[5] - before[4]
    return hazard.at, early, late


def times_others(values: np.ndarray, ours: np.ndarray) -> float:
    """How many times the others' mean it is."""
    return float(values[ours].mean() / values[~ours].mean())


@pytest.mark.parametrize("joints", [3_000, 20_000, 200_000])
def test_each_has_enough_joints_to_be_seen(joints: int) -> None:
    register = simulate(joints, seed=6)
    count = len(register.days)
    share = {
        implant.kind: (register.joints.construct[:count] == register.setting.implants.planted(number)).sum() / count
        for number, implant in enumerate(IMPLANTS)
    }
    assert all(0.01 < value < 0.12 for name, value in share.items() if name != "only looks poor")
    # One surgeon's work: more of it the fewer surgeons there are.
    assert share["only looks poor"] * count >= min(100, 0.01 * count)
    units = register.setting.units
    for codes, poor in (
        (register.joints.hospital[:count], units.hospitals.poor),
        (register.joints.surgeon[:count], units.surgeons.poor),
    ):
        assert len(np.unique(poor)) == len(poor)
        assert min((codes == unit).sum() for unit in poor) >= min(300, 0.012 * count)
    assert (len(units.hospitals.poor), len(units.surgeons.poor)) == (2, 3)


def test_an_implant_is_poor_from_the_start_late_or_in_one_size(register: Register) -> None:
    at, early, late = total_hazard(register)
    construct, size = register.joints.construct[at], register.joints.other_size[at]
    start, five, sized = (construct == register.setting.implants.planted(number) for number in range(3))
    assert 1.7 < times_others(early, start) < 3.4
    assert times_others(early, five) < 1.4
    assert 2.0 < times_others(late, five) < 4.5
    assert 2.0 < times_others(early, sized & (size == MIDDLE_SIZE)) < 4.5
    assert times_others(early, sized & (size != MIDDLE_SIZE)) < 1.4


def test_many_surgeons_use_the_poor_implants(register: Register) -> None:
    count = len(register.days)
    for number in range(3):
        ours = register.joints.construct[:count] == register.setting.implants.planted(number)
        by_surgeon = np.bincount(register.joints.surgeon[:count][ours])
        assert by_surgeon.max() < 0.6 * by_surgeon.sum()
        assert (by_surgeon > 0).sum() >= 4


def test_one_implant_only_looks_poor(register: Register) -> None:
    at, early, _ = total_hazard(register)
    number = next(place for place, implant in enumerate(IMPLANTS) if implant.only_looks_poor)
    ours = register.joints.construct[at] == register.setting.implants.planted(number)
    surgeon = register.joints.surgeon[at] == register.setting.units.surgeons.poor[0]
    implants, construct = register.setting.implants, register.joints.construct[at]
    device = implants.families.factor[implants.constructs.other[construct]]
    assert times_others(device, ours) == pytest.approx(1, abs=0.1)
    assert (ours & surgeon).sum() > 0.8 * ours.sum()
    assert times_others(early, ours) > 1.2
    # Leaving that one surgeon out, little of it remains.
    assert times_others(early[~surgeon], ours[~surgeon]) < 0.85 * times_others(early, ours)


def test_poor_units_are_poor_in_all_they_do(register: Register) -> None:
    """Planted at 1.8 and 2.2; against all others, who have poor ones among them too, and their own implants."""
    at, early, _ = total_hazard(register)
    units = register.setting.units
    hospitals = [times_others(early, register.joints.hospital[at] == poor) for poor in units.hospitals.poor]
    surgeons = [times_others(early, register.joints.surgeon[at] == poor) for poor in units.surgeons.poor]
    assert np.mean(hospitals) > 1.4
    assert np.mean(surgeons) > 1.4
    assert min(hospitals + surgeons) > 1.0
