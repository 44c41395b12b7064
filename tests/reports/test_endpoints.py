"""
Named endpoints, one joint and one edge at a time, and their figures against another program's.

What is the event, what competes and what is ignored, and that a clock since revision starts at the operation or at
reimplantation, is common practice of registry offices (no published source); days are worked out by hand.
"""

from datetime import date
from pathlib import Path
from tempfile import mkdtemp
from typing import Any

import pytest
from lifelines import KaplanMeierFitter

from regdash import endpoints, grouping
from regdash.endpoints import ENDPOINTS
from regdash.errors import FilterError
from regdash.reports.counted import count
from regdash.reports.desk import Desk
from regdash.reports.model import IMPLANT_VIEW, PATIENT_VIEW
from regdash.stats.gray import gray_test
from regdash.stats.log_rank import log_rank_test
from regdash.store.cuts import Cut
from regdash.vocabulary import JOINTS
from tests.cuts import Row, component, joint, make_cut
from tests.reports.desks import EVERYTHING, asked, desk_of, years_of
from tests.stats.plain import incidence
from tests.store.chains import leaves, random_chains

LAST = 5475  # days from the primary of these joints, 2010-01-04, to the end of the cut
NO_GROUPS = ()


def revised(*episodes: Row, **more: Any) -> Row:
    """A joint with these revisions; the first says when follow-up to any revision ends."""
    first = {"reason": "loosening, tibial", "action": "one component exchanged"} | episodes[0]
    given = {"days": first["day"], "reason": first["reason"], "action": first["action"]} | more
    return joint(ended="revised", episodes=[first, *episodes[1:]], **given)


def left(folder: Path, row: Row, endpoint: str, view: str = IMPLANT_VIEW) -> tuple[int, str] | None:
    """When one joint leaves follow-up for an endpoint, and how; None where it is not followed."""
    cut = Cut(make_cut(Path(mkdtemp(dir=folder)), [row]))
    table = count(cut, EVERYTHING, endpoint=endpoints.named(endpoint), view=view).table
    if not len(table.joints):
        return None
    ((day, outcome),) = zip(table.day.tolist(), table.outcome.tolist(), strict=True)
    return day, table.outcomes[outcome]


# ---- aseptic -----------------------------------------------------------------------------------

SEPTIC = {"day": 400, "reason": "infection", "action": "bearing exchange only"}


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

INSERT = {"day": 400, "reason": "instability", "action": "bearing exchange only"}
PATELLA = {
    "day": 400,
    "reason": "patellofemoral, erosion",
    "action": "component added",
    "patella_added_only": True,
}
IGNORING = pytest.mark.parametrize(
    ("endpoint", "minor"), [("without-bearing-exchange", INSERT), ("without-later-patella", PATELLA)]
)
TIBIA = {"day": 900, "reason": "loosening, tibial", "action": "one component exchanged"}


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

CONVERTED = {"day": 900, "reason": "progression of disease", "action": "partial to total"}
SPACER = {"day": 400, "reason": "infection", "action": "removal with spacer", "stage": "first of two"}


def half(*episodes: Row, **more: Any) -> Row:
    return revised(*episodes, class_="partial", construct="UF-001/UT-001", **more)


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

AGAIN = {"day": 1000, "reason": "instability", "action": "bearing exchange only", "stage": "single"}


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


# ---- figures -----------------------------------------------------------------------------------

CHAINS = random_chains(900, seed=83, ties=False)
MIXED = random_chains(2700, seed=47, joints=JOINTS)


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Desk:
    return desk_of(tmp_path_factory.mktemp("store"), CHAINS, held=[(0, "side-missing"), (None, "no-patient")])


@pytest.fixture(scope="module")
def mixed(tmp_path_factory: pytest.TempPathFactory) -> Desk:
    """Knees, hips and shoulders."""
    return desk_of(tmp_path_factory.mktemp("mixed"), MIXED)


def followed(key: str, patient_view: bool, rows: list[Row] | None = None) -> list[tuple[int, str]]:
    chains = CHAINS if rows is None else rows
    return [found for row in chains if (found := leaves(row, key, patient_view)) is not None]


def of_group(label: str) -> list[Row]:
    """The mixed joints of a group by joint, or by joint and class."""
    which, *class_ = label.split(", ")
    return [row for row in MIXED if row["joint"] == which and class_ in ([], [row["class"]])]


@pytest.mark.parametrize("key", ENDPOINTS)
def test_net_risk_equals_lifelines(mixed: Desk, key: str) -> None:
    report = mixed.risk(EVERYTHING, grouping.parse("class"), [2, 8], endpoint=key)
    assert report.rows
    for row in report.rows:
        joints = followed(key, False, of_group(row.group))
        days = [day for day, _ in joints]
        events = [how not in ("died", "censored") for _, how in joints]
        fitted = KaplanMeierFitter().fit(days, events)
        day = int(row.years * 365.25)
        assert row.at_risk == sum(d >= day for d in days)
        assert row.revisions == sum(d <= day and event for d, event in zip(days, events))
        assert row.estimate == pytest.approx(1 - fitted.survival_function_at_times(day).iloc[0], abs=1e-10)
    everybody = followed(key, False, MIXED)
    assert report.head.joints == len(everybody)
    assert report.head.revisions == sum(how not in ("died", "censored") for _, how in everybody)


@pytest.mark.parametrize("key", ["aseptic", "partial-to-total", "re-revision", "removed:tibial"])
def test_cumulative_incidence_equals_a_plain_sum(desk: Desk, key: str) -> None:
    """Exact fractions, event by event (tests/stats/plain.py)."""
    (row,) = desk.risk(EVERYTHING, NO_GROUPS, [3], "patient", endpoint=key).rows
    number = {"censored": 0, "died": 1}
    joints = [(day, number.get(how, 2)) for day, how in followed(key, True)]
    assert row.estimate == pytest.approx(float(incidence(joints, 2, {1, 2}, 1095)), abs=1e-12)


def test_aseptic_revision_and_infection_add_up_to_any_revision(desk: Desk) -> None:
    parts = [{"endpoint": "aseptic", "view": "patient"}, {"reason": "infection"}]
    whole = desk.risk(EVERYTHING, NO_GROUPS, [1, 5, 10], "patient")
    each = [desk.risk(EVERYTHING, NO_GROUPS, [1, 5, 10], **part) for part in parts]
    for total, aseptic, septic in zip(whole.rows, each[0].rows, each[1].rows, strict=True):
        assert aseptic.estimate + septic.estimate == pytest.approx(total.estimate, abs=1e-12)
        assert aseptic.revisions + septic.revisions == total.revisions


@pytest.mark.parametrize("key", ["any-revision", "major", "aseptic", "re-revision"])
def test_risks_of_reasons_add_up_to_that_of_their_endpoint(desk: Desk, key: str) -> None:
    whole = desk.risk(EVERYTHING, NO_GROUPS, [6], "patient", endpoint=key)
    report = desk.reasons(EVERYTHING, years=6, endpoint=key)
    assert sum(row.incidence for row in report.rows) == pytest.approx(whole.rows[0].estimate, abs=1e-12)
    assert sum(row.revisions for row in report.rows) == whole.head.revisions
    assert report.head.endpoint == f"{ENDPOINTS[key].name}, by leading reason"
    (wear,) = [row for row in report.rows if row.reason == "wear"]
    (alone,) = desk.risk(EVERYTHING, NO_GROUPS, [6], reason="wear", endpoint=key).rows
    assert alone.estimate == pytest.approx(wear.incidence, abs=1e-12)


@pytest.mark.parametrize("key", ENDPOINTS)
def test_rates_count_the_events_and_the_years_of_the_endpoint(mixed: Desk, key: str) -> None:
    report = mixed.rates(EVERYTHING, grouping.parse("joint"), endpoint=key)
    assert report.rows
    for row in report.rows:
        joints = followed(key, False, of_group(row.group))
        assert (row.joints, row.revisions) == (len(joints), sum(how not in ("died", "censored") for _, how in joints))
        assert row.implant_years == pytest.approx(sum(day for day, _ in joints) / 365.25)
    assert report.head.endpoint == ENDPOINTS[key].name
    assert ("events of the endpoint" in report.head.method) == (key != "any-revision")


def test_a_comparison_counts_what_competes_as_no_event_and_lets_it_compete_in_gray_s_test(desk: Desk) -> None:
    cut, classes, aseptic = desk._cut, grouping.parse("class"), endpoints.named("aseptic")
    report = desk.compare(EVERYTHING, classes, adjust=(), endpoint="aseptic")
    found = {row.test: row.statistic for row in report.tests}
    net, crude = (count(cut, EVERYTHING, classes, endpoint=aseptic, view=v).table for v in (IMPLANT_VIEW, PATIENT_VIEW))
    assert found["log-rank"] == pytest.approx(log_rank_test(net).statistic, rel=1e-12)
    assert found["Gray"] == pytest.approx(gray_test(crude).statistic, rel=1e-12)
    assert found["Gray"] != pytest.approx(gray_test(net).statistic, rel=1e-3)
    assert report.head.endpoint == "aseptic revision"
    assert report.head.revisions == sum(how not in ("died", "censored") for _, how in followed("aseptic", False))


@pytest.mark.parametrize("view", [IMPLANT_VIEW, PATIENT_VIEW])
def test_a_gap_of_an_endpoint_is_the_difference_of_its_risks(desk: Desk, view: str) -> None:
    gap = desk.gap(EVERYTHING, grouping.parse("sex"), 5, view, endpoint="aseptic")
    risk = {
        row.group: row.estimate
        for row in desk.risk(EVERYTHING, grouping.parse("sex"), [5], view, endpoint="aseptic").rows
    }
    whole = gap.rows[-1]
    one, other = (group.label for group in gap.groups)
    assert whole.difference == pytest.approx(risk[one] - risk[other], abs=1e-12)
    assert sum(row.difference for row in gap.rows[:-1]) == pytest.approx(whole.difference, abs=1e-12)
    assert "infection" not in {row.reason for row in gap.rows}


def test_any_revision_is_what_is_asked_where_no_endpoint_is_named(desk: Desk) -> None:
    named, unnamed = desk.risk(EVERYTHING, endpoint="any-revision"), desk.risk(EVERYTHING)
    assert named.rows == unnamed.rows
    assert named.head == unnamed.head
    assert named.head.endpoint == "any revision"


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


@pytest.mark.parametrize("key", ENDPOINTS)
def test_every_endpoint_reads_as_a_sentence_of_every_joint(key: str) -> None:
    """The part that comes out is called as people call it, and no endpoint follows cement."""
    endpoint = ENDPOINTS[key]
    assert "cement" not in key
    if endpoint.role:
        article, _, noun = endpoint.name.removeprefix("removal of ").partition(" ")
        assert (article, noun.removesuffix(" component")) in {(a, endpoint.role) for a in ("the", "a", "an")}
        assert (article == "an") == (article != "the" and endpoint.role[0] in "aeiou")


# ---- what the head says ------------------------------------------------------------------------


def test_the_head_counts_the_patients_and_held_revisions_of_the_joints_that_are_followed(tmp_path: Path) -> None:
    rows = [joint(patient=0), half(CONVERTED, patient=0, side="right"), half(INSERT, patient=1)]
    desk = desk_of(tmp_path, rows, held=[(0, "a"), (1, "a"), (None, "b")])
    everything = desk.risk(EVERYTHING).head
    assert (everything.joints, everything.patients, everything.held_revisions) == (3, 2, 3)
    head = desk.risk(EVERYTHING, endpoint="partial-to-total").head
    assert (head.joints, head.patients, head.revisions, head.held_revisions) == (2, 2, 1, 1)
    assert head.median_follow_up == pytest.approx((900 + LAST) / 2 / 365.25)


@pytest.mark.parametrize("key", ENDPOINTS)
def test_an_answer_says_what_its_endpoint_is(desk: Desk, key: str) -> None:
    head = desk.risk(EVERYTHING, endpoint=key).head
    assert endpoints.named(head.endpoint).key == key  # the name that is printed can be asked for again
    assert (ENDPOINTS[key].about in head.cautions) == (key != "any-revision")


def test_the_cohort_of_a_re_revision_is_chosen_by_the_primary(desk: Desk) -> None:
    report = desk.risk(asked(desk, "class=partial"), grouping.parse("sex"), endpoint="re-revision")
    partial = [row for row in CHAINS if row["class"] == "partial" and row["ended"] == "revised"]
    assert report.head.joints == len(partial)
    assert {group.words[0] for group in report.groups} == {"class=partial"}


def test_one_reason_of_an_endpoint_is_named_with_it(desk: Desk) -> None:
    head = desk.risk(EVERYTHING, reason="loosening", endpoint="major").head
    assert (head.view, head.endpoint) == ("patient", "major revision, for loosening")


def test_an_unknown_endpoint_is_refused_with_the_nearest(desk: Desk) -> None:
    for ask in (desk.risk, desk.rates, desk.reasons):
        with pytest.raises(FilterError, match=r"There is no endpoint removed:tibia\. Nearest: .*removed:tibial"):
            ask(EVERYTHING, endpoint="removed:tibia")


def test_every_rule_of_an_endpoint_reads_a_flag_that_episodes_have(desk: Desk) -> None:
    query = "select column_name from duckdb_columns() where table_name = 'revision_episodes' and data_type = 'BOOLEAN'"
    flags = {name for (name,) in desk._cut.rows(query)}
    assert {rule.flag for endpoint in ENDPOINTS.values() for rule in endpoint.rules} <= flags


def test_years_are_read_on_the_endpoints_own_clock(tmp_path: Path) -> None:
    """Revised again on day 1000, 100 days after the first revision: before half a year on that clock."""
    desk = desk_of(tmp_path, [revised(TIBIA, AGAIN)] * 5)
    report = desk.risk(EVERYTHING, NO_GROUPS, [years_of(99), years_of(100)], endpoint="re-revision")
    assert [row.estimate for row in report.rows] == [0.0, 1.0]
