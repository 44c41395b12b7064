"""
Whether a simulated register looks right. Magnitudes are facts of the trade: common practice, from memory,
no published source, unless a source is named beside the check.
"""

import numpy as np
import pytest

from regdash import vocabulary as words
from synthetic_registry import Register, simulate
from synthetic_registry.catalogue import Catalogue
from synthetic_registry.knee import KNEE
from synthetic_registry.revisions import Revisions, draw_revisions
from tests.synthetic_registry.made import net_risk

GROUPS = words.REASON_GROUPS["knee"]


@pytest.fixture(scope="module")
def revisions(large: Register) -> Revisions:
    return draw_revisions(large, Catalogue(KNEE, large.setting.implants))


def of_class(register: Register, name: str) -> np.ndarray:
    codes, listed = register.covariate("class")
    return codes == listed.index(name)


def share(register: Register, field: str, word: str, of: np.ndarray) -> float:
    codes, listed = register.covariate(field)
    return float((codes[of] == listed.index(word)).mean())


def reason_shares(register: Register, of: np.ndarray) -> dict[str, float]:
    counts = np.bincount(register.reason_group[of & (register.ended == 0)], minlength=len(GROUPS))
    return dict(zip(GROUPS, (counts / counts.sum()).tolist()))


def test_progression_leads_the_reasons_in_partial_knees(large: Register) -> None:
    shares = reason_shares(large, of_class(large, "partial"))
    assert sorted(shares, key=lambda group: -shares[group])[:2] == ["progression of disease", "loosening"]
    assert shares["progression of disease"] == pytest.approx(0.39, abs=0.03)
    assert shares["loosening"] == pytest.approx(0.27, abs=0.03)
    assert shares["bearing dislocation"] == pytest.approx(0.04, abs=0.015)
    assert shares["stiffness"] == 0


def test_infection_leads_the_reasons_in_total_knees(large: Register) -> None:
    total = of_class(large, "total")
    shares = reason_shares(large, total)
    assert sorted(shares, key=lambda group: -shares[group])[:3] == ["infection", "loosening", "instability"]
    assert shares["infection"] == pytest.approx(0.31, abs=0.03)
    early = reason_shares(large, total & (large.days <= 730))
    assert early["infection"] == pytest.approx(0.40, abs=0.04)


def test_late_failures_of_partial_knees_are_mostly_progression(large: Register) -> None:
    """Published: 56 % of late failures, doi 10.1007/s00402-021-03827-x, from memory."""
    late = reason_shares(large, of_class(large, "partial") & (large.days > 3652))
    assert late["progression of disease"] > 0.48


def test_progression_and_bearing_dislocation_happen_only_where_they_can(large: Register) -> None:
    group = large.reason_group
    total, fixed = of_class(large, "total"), large.covariate("bearing")[0] == words.BEARINGS.index("fixed")
    assert not (total & (group == GROUPS.index("progression of disease"))).any()
    assert not (fixed & (group == GROUPS.index("bearing dislocation"))).any()


def test_the_younger_the_patient_the_higher_the_risk(large: Register) -> None:
    for name in ("total", "partial"):
        curves = [curve for curve in large.curves("age_band") if curve.stratum["class"] == name]
        risks = [curve.at(10)[1] for curve in curves]
        assert risks == sorted(risks, reverse=True)
        assert 1.7 < risks[0] / risks[3] < 2.8  # under 50 against 70 to 79


def test_fixed_bearings_do_better_than_mobile_ones_in_the_long_run(large: Register) -> None:
    curves = {tuple(curve.stratum.values()): curve for curve in large.curves("bearing")}
    fixed, mobile = curves[("partial", "fixed")], curves[("partial", "mobile")]
    assert 0.01 < mobile.at(15)[1] - fixed.at(15)[1] < 0.06
    assert curves[("total", "fixed")].at(10)[1] == pytest.approx(curves[("total", "mobile")].at(10)[1], rel=0.25)


def test_robot_assistance_has_no_clear_effect_in_the_demo(small: Register) -> None:
    robot = small.covariate("technology")[0] == words.TECHNOLOGIES.index("robot-assisted")
    hand = small.covariate("technology")[0] == words.TECHNOLOGIES.index("conventional")
    recent = small.joints.calendar_year[: len(small.days)] >= 2015
    for name in ("total", "partial"):
        ours = of_class(small, name) & recent
        (with_it, without), errors = zip(
            *(
                [value[0] for value in net_risk(small.days[ours & group], small.ended[ours & group] == 0, (5,))]
                for group in (robot, hand)
            )
        )
        assert abs(with_it - without) < 1.96 * np.hypot(*errors)


def test_surgeons_who_do_few_partial_knees_see_more_revisions(large: Register) -> None:
    """Steep fall to 10 a year, flat after 30: doi 10.2106/JBJS.N.00487, from memory."""
    risks = {
        c.stratum["volume_band"]: c.at(8)[1] for c in large.curves("volume_band") if c.stratum["class"] == "partial"
    }
    assert risks["under 10"] > risks["10-29"] > risks["30 and over"]
    assert risks["under 10"] / risks["30 and over"] == pytest.approx(1.5, abs=0.3)


def test_shares_drift_through_the_years(large: Register) -> None:
    year = large.joints.calendar_year[: len(large.days)]
    first, last = year <= 2004, year >= 2022
    total, partial = of_class(large, "total"), of_class(large, "partial")
    assert share(large, "class", "partial", first) == pytest.approx(0.07, abs=0.015)
    assert share(large, "class", "partial", last) == pytest.approx(0.10, abs=0.015)
    assert share(large, "technology", "robot-assisted", first) == 0
    assert share(large, "technology", "robot-assisted", total & last) == pytest.approx(0.26, abs=0.05)
    assert share(large, "technology", "robot-assisted", partial & last) == pytest.approx(0.40, abs=0.06)
    assert share(large, "fixation", "cementless", total & first) == pytest.approx(0.05, abs=0.02)
    assert share(large, "fixation", "cementless", total & last) == pytest.approx(0.17, abs=0.03)
    assert share(large, "fixation", "cementless", partial & last) == pytest.approx(0.39, abs=0.05)
    assert share(large, "bearing", "mobile", partial & first) == pytest.approx(0.61, abs=0.05)
    assert share(large, "bearing", "mobile", partial & last) == pytest.approx(0.51, abs=0.05)


def test_patients_look_like_those_of_a_knee_register(large: Register) -> None:
    joints, count = large.joints, len(large.days)
    for name, age, female, bmi in (("total", 69, 0.57, 31), ("partial", 65, 0.47, 30)):
        ours = of_class(large, name)
        assert joints.age[:count][ours].mean() == pytest.approx(age, abs=0.8)
        assert joints.age[:count][ours].std() == pytest.approx(9, abs=0.5)
        assert share(large, "sex", "female", ours) == pytest.approx(female, abs=0.015)
        assert joints.bmi[:count][ours].mean() / 10 == pytest.approx(bmi, abs=0.4)
    assert 0.93 < share(large, "diagnosis", "osteoarthritis", of_class(large, "total")) < 0.96


def test_a_quarter_of_patients_have_both_sides_done(large: Register) -> None:
    primaries, count = large.joints.primaries, len(large.days)
    knees = np.bincount(primaries.patient[:count])
    assert count == 200_000
    assert 0.25 < (knees == 2).sum() / (knees > 0).sum() < 0.30
    assert 0.04 < primaries.same_day[:count].mean() < 0.06
    assert 0.51 < large.joints.side[:count].mean() < 0.53
    twice = primaries.patient[:count] * 2 + large.joints.side[:count]
    assert len(np.unique(twice)) == count


def test_operations_follow_the_calendar(large: Register) -> None:
    day, count = large.joints.primaries.day[: len(large.days)], len(large.days)
    yearly = np.bincount(large.joints.year[:count])
    growth = (yearly[-3:].mean() / yearly[:3].mean()) ** (1 / 20) - 1
    assert 0.03 < growth < 0.05
    assert yearly[11] < 0.95 * yearly[10]  # the slump of 2013
    dates = np.datetime64("2002-01-01") + day
    weekday = np.bincount((dates.astype(int) + 3) % 7, minlength=7) / count
    assert weekday[:5].min() > 0.14
    assert weekday[5] < 0.02
    assert weekday[6] < 0.01
    month = np.bincount(dates.astype("datetime64[M]").astype(int) % 12)
    assert month[[6, 7, 11]].max() < month[[0, 1, 2, 3, 4, 5, 8, 9, 10]].min()


@pytest.mark.parametrize("joints", [20_000, 200_000])
def test_ten_constructs_are_two_thirds_of_total_knees(joints: int) -> None:
    register = simulate(joints, seed=4)
    used = np.sort(np.bincount(register.joints.construct[of_class(register, "total").nonzero()[0]]))[::-1]
    assert 0.58 < used[:10].sum() / used.sum() < 0.78
    assert (used > 0).sum() > 35


def test_few_surgeons_do_many_partial_knees(large: Register) -> None:
    surgeons, count = large.setting.units.surgeons, len(large.days)
    years = surgeons.last_year - surgeons.first_year + 1
    partial = large.joints.surgeon[:count][of_class(large, "partial")]
    a_year = np.bincount(partial, minlength=len(years)) / years
    a_year = a_year[a_year > 0]
    assert 0.7 < (a_year < 15).mean() < 0.95
    assert (a_year >= 30).sum() >= 2


def test_a_small_register_has_few_units_and_still_every_kind(small: Register) -> None:
    units = small.setting.units
    assert 20 <= len(units.hospitals.codes) <= 25
    assert 30 <= len(units.surgeons.codes) <= 60
    tiny = simulate(3_000, seed=1)
    assert len(tiny.setting.units.hospitals.codes) < 15
    assert {"fixed", "mobile"} <= {words.BEARINGS[code] for code in np.unique(tiny.covariate("bearing")[0])}


def test_a_tenth_of_revisions_is_revised_again_within_two_years(large: Register, revisions: Revisions) -> None:
    """About 10 % at 2 years, 20 % at 8 to 15: PMC9647039 and doi 10.1080/17453674.2020.1871559, from memory."""
    last, patient = large.setting.days.last, large.joints.primaries.patient[revisions.joint]
    end = np.minimum(np.minimum(large.lives.exits.death_day, large.lives.exits.loss_day)[patient], last)
    following = np.append(revisions.day[1:], last + 1)
    again = np.append(revisions.joint[1:] == revisions.joint[:-1], False) & (following <= end)
    ours = revisions.first & (revisions.stage == words.STAGES.index("single"))
    days = (np.where(again, following, end) - revisions.day)[ours]
    risk, _ = net_risk(days, again[ours], (2, 8, 12))
    assert risk[0] == pytest.approx(0.10, abs=0.015)
    assert 0.15 < risk[1] < 0.22
    assert 0.18 < risk[2] < 0.25


def test_near_half_of_conversions_need_extras(large: Register, revisions: Revisions) -> None:
    conversion = revisions.first & (revisions.action == words.ACTIONS.index("partial to total"))
    extras = revisions.stem | revisions.augment | revisions.graft
    assert extras[conversion].mean() == pytest.approx(KNEE.class_named("partial").extras_used, abs=0.04)
    assert 0.42 < extras[conversion].mean() < 0.52
    assert (large.joints.joint_class[revisions.joint[conversion]] >= 1).all()
    assert (revisions.joint_class[conversion] == 0).all()


def test_a_third_of_revisions_are_done_elsewhere(large: Register, revisions: Revisions) -> None:
    first = revisions.first & (revisions.joint < large.joints.primaries.registered)
    where = large.setting.units.pair_hospital[revisions.pair[first]]
    assert 0.25 < (where != large.joints.hospital[revisions.joint[first]]).mean() < 0.35


def test_fewer_and_fewer_revisions_are_of_joints_from_before_the_register(
    large: Register, revisions: Revisions
) -> None:
    prior = revisions.joint >= large.joints.primaries.registered
    assert 0.06 < prior.mean() < 0.15
    thirds = [prior[(revisions.day // 2800) == third].mean() for third in range(3)]
    assert thirds[0] > 2 * thirds[1] > 3 * thirds[2]


def test_components_come_out_only_if_they_are_in(large: Register, revisions: Revisions) -> None:
    """What a revision removes is what the operation before left in the joint."""
    from synthetic_registry.parts import NONE, primary_parts

    catalogue = Catalogue(KNEE, large.setting.implants)
    before = np.vstack([np.zeros((1, 7), int), revisions.after[:-1]])
    first = revisions.first
    before[first] = primary_parts(large.joints, catalogue, revisions.joint[first])
    removed = revisions.removed != NONE
    assert (revisions.removed[removed] == before[removed]).all()
    kept = np.where(removed, NONE, before)
    assert (revisions.after == np.where(revisions.implanted != NONE, revisions.implanted, kept)).all()
    spacer = revisions.action == words.ACTIONS.index("removal with spacer")
    assert (revisions.after[spacer] == NONE).all()
    assert (revisions.removed != NONE)[~np.isin(revisions.action, [3, 6])].any(axis=1).all()


def test_a_second_stage_follows_a_first_within_a_year_and_nothing_follows_a_removal(revisions: Revisions) -> None:
    same = np.append(False, revisions.joint[1:] == revisions.joint[:-1])
    second = revisions.stage == words.STAGES.index("second of two")
    assert second.sum() > 100
    assert same[second].all()
    before = np.flatnonzero(second) - 1
    assert (revisions.stage[before] == words.STAGES.index("first of two")).all()
    assert (revisions.day[second] - revisions.day[before] < 365).all()
    removal = revisions.action == words.ACTIONS.index("removal without replacement")
    assert removal.sum() > 20
    assert not np.append(same[1:], False)[removal].any()


def test_lives_end_as_the_rules_say(large: Register) -> None:
    """First of revision, death, loss and the last day; on one day the revision comes first, then the death."""
    lives, joints = large.lives, large.joints
    patient, day = joints.primaries.patient, joints.primaries.day
    death, loss = lives.exits.death_day[patient] - day, lives.exits.loss_day[patient] - day
    last = large.setting.days.last - day
    assert (lives.days >= 0).all()
    assert (lives.days <= np.minimum(np.minimum(death, loss), last)).all()
    for ending, when in (("died", death), ("lost", loss), ("in place", last)):
        ours = lives.ended == words.ENDINGS.index(ending)
        assert (lives.days[ours] == when[ours]).all()
    assert (loss[lives.ended == words.ENDINGS.index("lost")] < death[lives.ended == words.ENDINGS.index("lost")]).all()


def test_nobody_has_a_primary_after_death_or_loss(large: Register) -> None:
    joints, exits = large.joints.primaries, large.lives.exits
    assert (joints.day <= exits.death_day[joints.patient]).all()
    assert (joints.day <= exits.loss_day[joints.patient]).all()


def test_two_hundred_small_registers_take_well_under_a_minute() -> None:
    """Twelve of them here, with their curves, in processor time: what a coverage study needs."""
    import time

    began = time.process_time()
    for seed in range(12):
        assert {"total", "partial"} <= set(simulate(3_000, seed).class_curves)
    assert (time.process_time() - began) * 200 / 12 < 60


@pytest.mark.parametrize(("joints", "words_said"), [(499, "at least 500"), (0, "at least 500")])
def test_too_few_joints_are_refused(joints: int, words_said: str) -> None:
    with pytest.raises(ValueError, match=words_said):
        simulate(joints)
