"""
Named endpoints, one joint and one edge at a time.

What is the event, what competes and what is ignored, and that a clock since revision starts at the operation or at
reimplantation, is common practice of registry offices (no published source); days are worked out by hand.
"""

from datetime import date
from pathlib import Path
from typing import Any

import pytest

from regdash.reports.model import IMPLANT_VIEW, PATIENT_VIEW
from tests.cuts import Row, component, joint
from tests.reports.desks import EVERYTHING, desk_of, years_of
from tests.reports.one_joint import AGAIN, CONVERTED, INSERT, LAST, PATELLA, SEPTIC, SPACER, TIBIA, half, left, revised

NO_GROUPS = ()

# ---- aseptic -----------------------------------------------------------------------------------


def test_aseptic_is_a_first_revision_for_anything_but_infection(tmp_path: Path) -> None:
    assert left(tmp_path, revised({"day": 400}), "aseptic") == (400, "loosening")


@pytest.mark.parametrize(("view", "how"), [(IMPLANT_VIEW, "censored"), (PATIENT_VIEW, "died or otherwise revised")])
def test_a_septic_first_revision_censors_in_the_implant_view_and_competes_in_the_patient_view(
    tmp_path: Path, view: str, how: str
) -> None:
    row = revised(SEPTIC, {"day": 900, "reason": "loosening, tibial"})
    assert left(tmp_path, row, "aseptic", view) == (400, how)


def test_of_two_revisions_on_one_day_the_event_counts(tmp_path: Path) -> None:
    row = revised(SEPTIC, {"day": 400, "reason": "instability"})
    assert left(tmp_path, row, "aseptic", PATIENT_VIEW) == (400, "instability")


def test_a_revision_without_a_reason_is_aseptic(tmp_path: Path) -> None:
    assert left(tmp_path, revised({"day": 9, "reason": "not recorded"}), "aseptic") == (9, "not recorded")


# ---- what is ignored, and follow-up goes on ----------------------------------------------------


@pytest.mark.parametrize(
    ("endpoint", "minor"), [("without-bearing-exchange", INSERT), ("without-later-patella", PATELLA)]
)
def test_what_is_ignored_does_not_end_follow_up(tmp_path: Path, endpoint: str, minor: Row) -> None:
    assert left(tmp_path, revised(minor), endpoint) == (LAST, "censored")
    assert left(tmp_path, revised(minor, died_day=1200), endpoint) == (1200, "died")
    assert left(tmp_path, revised(minor, followed_days=700, followed_end="lost"), endpoint) == (700, "censored")
    assert left(tmp_path, revised(minor, TIBIA), endpoint) == (900, "loosening")
    assert left(tmp_path, revised(minor, minor | {"day": 800}, TIBIA), endpoint) == (900, "loosening")
    assert left(tmp_path, revised(minor | {"day": 0}), endpoint) == (LAST, "censored")


@pytest.mark.parametrize(
    ("endpoint", "minor"), [("without-bearing-exchange", INSERT), ("without-later-patella", PATELLA)]
)
def test_an_ignored_revision_on_the_day_of_an_event_or_a_death_changes_nothing(
    tmp_path: Path, endpoint: str, minor: Row
) -> None:
    assert left(tmp_path, revised(minor, TIBIA | {"day": 400}), endpoint) == (400, "loosening")
    assert left(tmp_path, revised(minor, died_day=400), endpoint) == (400, "died")


@pytest.mark.parametrize(
    ("endpoint", "minor"), [("without-bearing-exchange", PATELLA), ("without-later-patella", INSERT)]
)
def test_each_of_the_two_ignores_its_own_kind_alone(tmp_path: Path, endpoint: str, minor: Row) -> None:
    found = left(tmp_path, revised(minor), endpoint)
    assert found is not None
    assert found[0] == 400
    assert found[1] in ("instability", "patellofemoral")


def test_major_is_the_first_revision_that_removes_what_is_fixed_to_bone(tmp_path: Path) -> None:
    assert left(tmp_path, revised(INSERT), "major") == (LAST, "censored")
    assert left(tmp_path, revised(PATELLA, INSERT | {"day": 500}, TIBIA), "major") == (900, "loosening")
    assert left(tmp_path, revised(SEPTIC | {"action": "removal with spacer"}), "major") == (400, "infection")


def test_an_event_on_the_day_of_a_death_counts_the_event(tmp_path: Path) -> None:
    assert left(tmp_path, revised(INSERT, TIBIA, died_day=900), "major", PATIENT_VIEW) == (900, "loosening")


# ---- partial to total --------------------------------------------------------------------------


def test_a_conversion_is_followed_past_revisions_that_leave_a_partial(tmp_path: Path) -> None:
    assert left(tmp_path, half(CONVERTED), "partial-to-total") == (900, "progression of disease")
    assert left(tmp_path, half(INSERT, CONVERTED), "partial-to-total") == (900, "progression of disease")
    whole = {"day": 400, "action": "all components exchanged"}
    assert left(tmp_path, half(whole), "partial-to-total") == (LAST, "censored")


def test_total_primaries_are_not_followed_to_conversion(tmp_path: Path) -> None:
    assert left(tmp_path, revised(CONVERTED), "partial-to-total") is None
    assert left(tmp_path, joint(), "partial-to-total") is None


@pytest.mark.parametrize(("view", "how"), [(IMPLANT_VIEW, "censored"), (PATIENT_VIEW, "died or otherwise revised")])
def test_a_partial_that_is_taken_out_for_good_competes_with_conversion(tmp_path: Path, view: str, how: str) -> None:
    for taken_out in (SPACER, SPACER | {"action": "removal without replacement", "stage": "single"}):
        assert left(tmp_path, half(taken_out), "partial-to-total", view) == (400, how)


def test_two_stages_that_end_in_a_total_are_a_conversion_at_the_first(tmp_path: Path) -> None:
    row = half(SPACER | {"reimplanted_day": 480, "to_total": True})
    assert left(tmp_path, row, "partial-to-total") == (400, "infection")


def test_a_first_stage_still_open_is_undecided_and_censors_in_both_views(tmp_path: Path) -> None:
    lately = SPACER | {"day": LAST - 100}
    for view in (IMPLANT_VIEW, PATIENT_VIEW):
        assert left(tmp_path, half(lately), "partial-to-total", view) == (LAST - 100, "censored")
    died = half(lately, died_day=LAST - 50)
    assert left(tmp_path, died, "partial-to-total", PATIENT_VIEW) == (LAST - 100, "died or otherwise revised")


# ---- since revision ----------------------------------------------------------------------------


def test_the_clock_restarts_at_a_single_stage_revision(tmp_path: Path) -> None:
    assert left(tmp_path, revised(TIBIA, AGAIN), "re-revision") == (100, "instability")
    assert left(tmp_path, revised(TIBIA), "re-revision") == (LAST - 900, "censored")
    assert left(tmp_path, revised(TIBIA, died_day=950), "re-revision") == (50, "died")
    assert left(tmp_path, revised(TIBIA, AGAIN | {"day": 900}), "re-revision") == (0, "instability")
    assert left(tmp_path, joint(), "re-revision") is None


def test_a_third_revision_is_not_looked_at(tmp_path: Path) -> None:
    third = AGAIN | {"day": 1001, "reason": "infection"}
    assert left(tmp_path, revised(TIBIA, AGAIN, third), "re-revision") == (100, "instability")


def test_the_clock_restarts_at_reimplantation_where_there_are_two_stages(tmp_path: Path) -> None:
    staged = SPACER | {"reimplanted_day": 480}
    assert left(tmp_path, revised(staged, AGAIN), "re-revision") == (520, "instability")
    assert left(tmp_path, revised(staged, died_day=480), "re-revision") == (0, "died")
    assert left(tmp_path, revised(staged, died_day=481), "re-revision") == (1, "died")


def test_a_first_stage_without_a_second_restarts_the_clock_when_its_twelve_months_are_over(tmp_path: Path) -> None:
    """Day 400 is 2011-02-08; a second stage could have come until 2012-02-08, day 765."""
    assert (date(2012, 2, 8) - date(2010, 1, 4)).days == 765
    assert left(tmp_path, revised(SPACER), "re-revision") == (LAST - 765, "censored")
    assert left(tmp_path, revised(SPACER, AGAIN), "re-revision") == (235, "instability")
    assert left(tmp_path, revised(SPACER, died_day=766), "re-revision") == (1, "died")
    late = {"day": 800, "reason": "not recorded", "action": "reimplantation", "stage": "second of two"}
    assert left(tmp_path, revised(SPACER, late), "re-revision") == (35, "not recorded")  # too late: one of its own


def test_an_open_first_stage_is_undecided_with_death_competing(tmp_path: Path) -> None:
    """Until its window closes the clock stands at 0."""
    lately = SPACER | {"day": LAST - 100}
    assert left(tmp_path, revised(lately), "re-revision") == (0, "censored")
    assert left(tmp_path, revised(SPACER, died_day=600), "re-revision") == (0, "died")
    assert left(tmp_path, revised(SPACER, died_day=765), "re-revision") == (0, "died")
    lost = revised(SPACER, followed_days=600, followed_end="lost")
    assert left(tmp_path, lost, "re-revision") == (0, "censored")


def test_another_revision_while_a_first_stage_is_open_is_an_event_on_day_0(tmp_path: Path) -> None:
    again = SPACER | {"day": 450, "reimplanted_day": 600}
    assert left(tmp_path, revised(SPACER, again), "re-revision") == (0, "infection")


def test_deaths_while_waiting_lower_the_patients_risk_and_leave_the_implants_alone(tmp_path: Path) -> None:
    """Of four, one dies while waiting and one is revised again: 1 in 3 implants, 1 in 4 patients."""
    rows = [revised(TIBIA, AGAIN), revised(TIBIA), revised(TIBIA), revised(SPACER, died_day=600)]
    desk = desk_of(tmp_path, rows)
    implant = desk.risk(EVERYTHING, NO_GROUPS, [1], endpoint="re-revision")
    patient = desk.risk(EVERYTHING, NO_GROUPS, [1], view="patient", endpoint="re-revision")
    assert implant.rows[0].estimate == pytest.approx(1 / 3)
    assert patient.rows[0].estimate == pytest.approx(1 / 4)
    assert implant.head.joints == patient.head.joints == 4
    (rate,) = desk.rates(EVERYTHING, endpoint="re-revision").rows
    assert (rate.joints, rate.revisions) == (4, 1)
    assert rate.implant_years == pytest.approx((100 + 2 * (LAST - 900)) / 365.25)


# ---- components --------------------------------------------------------------------------------


def with_parts(*lines: Row, **more: Any) -> Row:
    return revised(INSERT, TIBIA, components=list(lines), **more)


def test_a_component_is_followed_past_revisions_that_leave_it_in(tmp_path: Path) -> None:
    insert = component("bearing insert", "KI-001", out_day=400, out_reason="instability")
    tibia = component("tibial", "KT-001", out_day=900, out_reason="loosening, tibial")
    row = with_parts(component("femoral", "KF-001"), tibia, insert)
    assert left(tmp_path, row, "removed:bearing-insert") == (400, "instability")
    assert left(tmp_path, row, "removed:tibial") == (900, "loosening")
    assert left(tmp_path, row, "removed:femoral") == (LAST, "censored")
    assert left(tmp_path, row | {"died_day": 1000}, "removed:femoral") == (1000, "died")
    assert left(tmp_path, row, "removed:patellar") is None


def test_a_component_that_went_in_later_is_not_followed(tmp_path: Path) -> None:
    first = component("bearing insert", "KI-001", out_day=400)
    second = component("bearing insert", "KI-002", in_day=400, operation_id="H001-8000000", out_day=900)
    assert left(tmp_path, with_parts(second), "removed:bearing-insert") is None
    assert left(tmp_path, with_parts(first, second), "removed:bearing-insert") == (400, "instability")


def test_of_two_of_a_role_the_first_to_come_out_counts(tmp_path: Path) -> None:
    stems = [component("stem", "KS-001", out_day=900), component("stem", "KS-001", out_day=400)]
    assert left(tmp_path, with_parts(*stems), "removed:stem") == (400, "instability")


def test_a_component_taken_out_at_the_second_stage_has_the_reason_of_the_episode(tmp_path: Path) -> None:
    tibia = component("tibial", "KT-001", out_day=480, out_reason=None)
    row = revised(SPACER | {"reimplanted_day": 480}, TIBIA, components=[tibia])
    assert left(tmp_path, row, "removed:tibial") == (480, "infection")


# ---- hips and shoulders --------------------------------------------------------------------------

LINER = {"day": 400, "reason": "dislocation", "action": "bearing exchange only"}
CUP = {"day": 900, "reason": "loosening, cup", "action": "one component exchanged"}


def test_an_exchange_of_head_or_liner_is_no_major_revision_of_a_hip(tmp_path: Path) -> None:
    row = revised(LINER, CUP, joint="hip")
    assert left(tmp_path, row, "major") == (900, "loosening")
    assert left(tmp_path, row, "without-bearing-exchange") == (900, "loosening")
    assert left(tmp_path, row, "any-revision") == (400, "dislocation")


@pytest.mark.parametrize(
    ("key", "which", "class_", "action"),
    [
        ("hemi-to-total", "hip", "hemi", "hemi to total"),
        ("hemi-to-total", "shoulder", "hemi", "hemi to total"),
        ("anatomic-to-reverse", "shoulder", "anatomic", "anatomic to reverse"),
        ("partial-to-total", "knee", "patellofemoral", "partial to total"),
    ],
)
def test_a_conversion_is_an_event_of_the_class_that_is_converted(
    tmp_path: Path, key: str, which: str, class_: str, action: str
) -> None:
    """Follow-up goes on past a revision that leaves the class; other classes of the joint are not followed."""
    kept = {"day": 300, "reason": "infection", "action": "bearing exchange only"}
    turned = {"day": 700, "reason": "pain, unexplained", "action": action, "to_total": "to-total" in key}
    row = revised(kept, turned, joint=which, class_=class_)
    assert left(tmp_path, row, key) == (700, "pain")
    assert left(tmp_path, row | {"class": "reverse" if which == "shoulder" else "total"}, key) is None


def test_years_are_read_on_the_endpoints_own_clock(tmp_path: Path) -> None:
    """Revised again on day 1000, 100 days after the first revision: before half a year on that clock."""
    desk = desk_of(tmp_path, [revised(TIBIA, AGAIN)] * 5)
    report = desk.risk(EVERYTHING, NO_GROUPS, [years_of(99), years_of(100)], endpoint="re-revision")
    assert [row.estimate for row in report.rows] == [0.0, 1.0]
