"""
Hips and shoulders, and registers of all three joints: curves as tuned, shares of the trade, shared patients.
Tuned values and shares: common practice in the trade, no published source.
"""

import numpy as np
import pytest

from synthetic_registry import Register, simulate, simulate_several
from synthetic_registry.hip import HIP
from synthetic_registry.parameters import Parameters
from synthetic_registry.people import count_patients
from synthetic_registry.shoulder import SHOULDER

# Percent revised at so many years.
TUNED = {
    ("hip", "total"): {1: 1.8, 5: 3.2, 10: 5.0, 15: 7.5},
    ("shoulder", "reverse"): {1: 2.1, 5: 4.4, 10: 6.2},
    ("shoulder", "anatomic"): {1: 1.5, 5: 5.9, 10: 10.4},
}
OF = {"hip": HIP, "shoulder": SHOULDER}


@pytest.fixture(scope="module")
def three() -> dict[str, Register]:
    return {register.joint: register for register in simulate_several(60_000, seed=3, prior=True)}


@pytest.mark.parametrize("joints", [6_000, 60_000])
@pytest.mark.parametrize("joint", ["hip", "shoulder"])
def test_the_classes_curves_come_out_as_tuned(joint: str, joints: int) -> None:
    curves = simulate(joints, seed=7, parameters=OF[joint]).class_curves
    for (of_joint, name), tuned in TUNED.items():
        if of_joint == joint:
            for year, percent in tuned.items():
                assert 100 * curves[name].at(year)[0] == pytest.approx(percent, abs=0.15), (name, year)


def test_the_curves_are_the_same_beside_other_joints(three: dict[str, Register]) -> None:
    for (joint, name), tuned in TUNED.items():
        for year, percent in tuned.items():
            assert 100 * three[joint].class_curves[name].at(year)[0] == pytest.approx(percent, abs=0.15)


def test_half_are_knees_and_few_are_shoulders(three: dict[str, Register]) -> None:
    counts = {joint: len(register.days) for joint, register in three.items()}
    assert sum(counts.values()) == 60_000
    assert [counts[joint] / 60_000 for joint in ("knee", "hip", "shoulder")] == pytest.approx(
        [0.52, 0.42, 0.06], abs=0.001
    )


def test_some_patients_have_a_hip_and_a_knee_and_are_one_person(three: dict[str, Register]) -> None:
    knees, hips = three["knee"].joints, three["hip"].joints
    both, of_knee, of_hip = np.intersect1d(knees.primaries.patient, hips.primaries.patient, return_indices=True)
    hip_patients = np.unique(hips.primaries.patient[: hips.primaries.registered])
    assert 0.08 < len(both) / len(hip_patients) < 0.14
    assert (knees.sex[of_knee] == hips.sex[of_hip]).all()
    assert (knees.birth_year[of_knee] == hips.birth_year[of_hip]).all()
    # Body mass index is that of one person years apart: tenths of a unit.
    assert np.median(np.abs(knees.bmi[of_knee].astype(int) - hips.bmi[of_hip])) < 15
    assert len(np.unique(three["knee"].lives.exits.death_day)) > 1000
    assert len(three["knee"].lives.exits.death_day) == count_patients([r.joints for r in three.values()])


def test_nobody_has_a_primary_of_any_joint_after_death(three: dict[str, Register]) -> None:
    exits = three["knee"].lives.exits
    for register in three.values():
        primaries = register.joints.primaries
        assert (primaries.day <= exits.death_day[primaries.patient]).all()
        assert (primaries.day <= exits.loss_day[primaries.patient]).all()
        assert (primaries.gap >= 0).all()


def test_most_surgeons_do_one_kind_of_joint_and_hospitals_do_all(three: dict[str, Register]) -> None:
    kinds = [np.unique(register.joints.surgeon) for register in three.values()]
    surgeons = np.bincount(np.concatenate(kinds))
    assert (surgeons == 1).sum() > (surgeons == 2).sum() > (surgeons == 3).sum()
    hospitals = [set(register.joints.hospital.tolist()) for register in three.values()]
    assert hospitals[0] == hospitals[1]
    assert hospitals[2] <= hospitals[0]


def share(register: Register, field: str, word: str, of: np.ndarray) -> float:
    codes, listed = register.covariate(field)
    return float((codes[of] == listed.index(word)).mean())


def test_hips_look_like_hips(three: dict[str, Register]) -> None:
    hips = three["hip"]
    everything = np.ones(len(hips.days), bool)
    assert share(hips, "class", "total", everything) == pytest.approx(0.857, abs=0.02)
    assert share(hips, "class", "hemi", everything) == pytest.approx(0.13, abs=0.02)
    total = hips.joints.joint_class[: len(hips.days)] == 0
    for word, expected in (("cementless", 0.50), ("hybrid", 0.27), ("cemented", 0.20), ("reverse hybrid", 0.02)):
        assert share(hips, "fixation", word, total) == pytest.approx(expected, abs=0.05), word
    age = hips.joints.age[: len(hips.days)][total]
    assert (age.mean(), age.std()) == pytest.approx((68, 11), abs=1)
    recent = total & (hips.joints.calendar_year[: len(hips.days)] >= 2020)
    assert share(hips, "head", "36", recent) > share(hips, "head", "28", recent)
    couples, listed = hips.covariate("couple")
    soft = np.array([word.endswith("polyethylene") for word in listed])[couples[total]]
    assert 0.85 < soft.mean() < 0.95  # polyethylene liner 90 %


def test_reverse_shoulders_take_over(three: dict[str, Register]) -> None:
    shoulders = three["shoulder"]
    year = shoulders.joints.calendar_year[: len(shoulders.days)]
    assert share(shoulders, "class", "reverse", year <= 2005) == pytest.approx(0.40, abs=0.1)
    assert share(shoulders, "class", "reverse", year >= 2022) == pytest.approx(0.77, abs=0.06)
    growth = np.bincount(shoulders.joints.year[: len(year)])
    assert 0.07 < (growth[-3:].mean() / growth[:3].mean()) ** (1 / 20) - 1 < 0.12


@pytest.mark.parametrize("parameters", [HIP, SHOULDER], ids=["hip", "shoulder"])
def test_poor_implants_are_poor(parameters: Parameters) -> None:
    register = simulate(60_000, seed=6, parameters=parameters)
    hazard = register.hazards[0]
    construct, early = register.joints.construct[hazard.at], hazard.before()[4]
    late = hazard.before()[5] - early
    for number, planted in enumerate(parameters.frailty.poor_implants):
        if planted.only_looks_poor or planted.one_size_only:
            continue
        ours = construct == register.setting.implants.planted(number)
        values = late if planted.from_day else early
        assert ours.sum() > 100
        assert 1.5 < values[ours].mean() / values[~ours].mean() < 4.5, planted.kind


def test_the_poor_stem_goes_with_a_cup_that_is_not_poor() -> None:
    register = simulate(60_000, seed=6, parameters=HIP)
    implants = register.setting.implants
    constructs, planted = implants.constructs, implants.planted(0)
    same_cup = constructs.other[register.joints.construct] == constructs.other[planted]
    same_stem = constructs.first[register.joints.construct] == constructs.first[planted]
    assert same_cup.sum() > 2 * same_stem.sum() > 400


def test_the_poor_lot_is_poor_and_only_that_lot() -> None:
    from synthetic_registry.true_components import poor_lot_joints

    register = simulate(200_000, seed=1)
    ours, hazard = poor_lot_joints(register), register.hazards[0]
    at = hazard.at[hazard.at < len(ours)]
    early = hazard.before()[4][: len(at)]
    assert ours.sum() > 80
    assert 2.5 < early[ours[at]].mean() / early[~ours[at]].mean() < 6
