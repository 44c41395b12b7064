"""
Named endpoints: their figures against another program's, and what an answer says of them.
"""

from pathlib import Path

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
from regdash.vocabulary import JOINTS
from tests.cuts import Row, joint
from tests.reports.desks import EVERYTHING, asked, desk_of
from tests.reports.one_joint import CONVERTED, INSERT, LAST, half
from tests.stats.plain import incidence
from tests.store.chains import leaves, random_chains

NO_GROUPS = ()

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
