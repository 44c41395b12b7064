"""Hazard ratios of many units, each against all others, against Cox's model unit by unit."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from regdash.errors import CountError, ModelError
from regdash.stats.cox import cox
from regdash.stats.cox_counts import PatternCounts
from regdash.stats.design import linear
from regdash.stats.events import Entries
from regdash.stats.partial_likelihood import Ties
from regdash.stats.screened import screened_hazard_ratios
from tests.stats.cases import rows_of

UNITS, STRATA = 12, 3
UNIT, STRATUM = np.divmod(np.arange(UNITS * STRATA), STRATA)
NAMES = [f"KF-{number:03}" for number in range(UNITS)]


def register(seed: int, joints: int = 900, late: bool = False) -> PatternCounts:
    """Joints of units with hazards of their own, few days and many ties."""
    random = np.random.default_rng(seed)
    pattern = random.choice(UNITS * STRATA, joints, p=random.dirichlet(np.full(UNITS * STRATA, 0.4)))
    hazard = np.exp(random.normal(0, 0.8, UNITS))[UNIT[pattern]] * (1 + STRATUM[pattern])
    fails, ends = random.exponential(90 / hazard).astype(int), random.integers(0, 40, joints)
    stop = np.minimum(fails, ends)
    entered = None
    if late:
        start = random.integers(-30, 20, joints)
        enters = (start >= 0) & (start < stop)
        entered = Entries(pattern[enters], start[enters], np.ones(int(enters.sum())))
    return PatternCounts(UNITS * STRATA, pattern, stop, fails <= ends, stratum=STRATUM, entered=entered)


@pytest.mark.parametrize("ties", ["efron", "breslow"])
@pytest.mark.parametrize("late", [False, True])
@pytest.mark.parametrize("block", [2**19, 1])  # all units at one time, or each by itself
def test_each_ratio_is_that_of_a_model_with_one_column(
    ties: Ties, late: bool, block: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("regdash.stats.screened.BLOCK", block)
    told = 0
    for seed in range(4):
        counts = register(seed, late=late)
        for number, found in enumerate(screened_hazard_ratios(counts, UNIT, NAMES, ties)):
            assert found.ratio.name == NAMES[number]
            assert found.joints == int((UNIT[counts.pattern] == number).sum())
            assert found.events == int(((UNIT[counts.pattern] == number) & (counts.event == 1)).sum())
            try:
                fit = cox(counts, linear("unit", number == UNIT), ties)
            except ModelError:
                assert found.ratio.ratio is None
                continue
            (expected,) = fit.ratios()
            told += expected.ratio is not None
            if expected.ratio is None:
                assert (found.ratio.ratio, found.events) == (None, 0)
                continue
            assert_allclose(found.ratio.ratio, expected.ratio, rtol=1e-9)
            assert_allclose(
                [found.ratio.lower, found.ratio.upper, found.ratio.log_se, found.ratio.p],
                [expected.lower, expected.upper, expected.log_se, expected.p],
                rtol=1e-8,
            )
    assert told > 30


def test_expected_events_are_those_of_the_log_rank_test_and_add_up() -> None:
    # Mantel (1966): each day's events are shared out as the joints at risk are.
    counts = register(5)
    found = screened_hazard_ratios(counts, UNIT, NAMES)
    assert_allclose(sum(one.expected for one in found), counts.events, rtol=1e-12)
    due = 0.0
    for stratum in range(STRATA):
        for day in range(40):
            there = (counts.day >= day) & (STRATUM[counts.pattern] == stratum)
            events = (there & (counts.day == day) & (counts.event == 1)).sum()
            due += events * (there & (UNIT[counts.pattern] == 4)).sum() / max(there.sum(), 1)
    assert_allclose(found[4].expected, due, rtol=1e-12)


def test_many_denominators_are_looked_at_in_two_goes() -> None:
    # More of them than the first look takes, and ratios far from 1.
    random = np.random.default_rng(8)
    unit = random.choice(3, 30_000, p=[0.9, 0.09, 0.01])
    fails, ends = random.exponential(np.array([9_000, 4_000, 900])[unit]), random.integers(1, 3_000, 30_000)
    counts = PatternCounts(3, unit, np.minimum(fails, ends).astype(int), fails <= ends)
    assert counts.events > 3_000
    for number, found in enumerate(screened_hazard_ratios(counts, [0, 1, 2], ["A", "B", "C"])):
        expected = cox(counts, linear("unit", np.arange(3) == number)).ratios()[0]
        assert_allclose([found.ratio.ratio, found.ratio.log_se], [expected.ratio, expected.log_se], rtol=1e-9)


def note_of(pattern: list[int], days: list[int], events: list[int], stratum: list[int] | None = None) -> str | None:
    counts = PatternCounts(3, pattern, days, events, stratum=stratum)
    return screened_hazard_ratios(counts, [0, 1, 2], ["A", "B", "C"])[0].ratio.note


def test_a_ratio_that_does_not_exist_is_told_why() -> None:
    assert note_of([0, 1, 2], [9, 3, 5], [0, 1, 1]) == "no events: its hazard ratio has no lower end"
    assert (note_of([0, 1, 2], [3, 9, 9], [1, 0, 0]) or "").startswith("all others have no events while it is")
    assert (note_of([0, 1, 2], [1, 5, 9], [0, 1, 0]) or "").startswith("none of its joints is in follow-up")
    assert (note_of([0, 0, 1], [5, 9, 5], [0, 1, 1]) or "").startswith("its events fell where no other joint")
    alone = note_of([0, 0, 1, 2], [5, 9, 5, 7], [1, 0, 1, 0], [0, 1, 1])
    assert alone == "no other joint of its strata is in follow-up on a day with an event"
    assert note_of([1, 2], [5, 9], [1, 0]) == "none of its joints is in follow-up on a day with an event"


def test_a_unit_alone_is_told_so_however_its_tied_joints_are_counted() -> None:
    # Tied shares are sums of fifths, which fall short of 1 in one order and not in another.
    one, parts = (
        PatternCounts(2, pattern, days, events, joints)
        for pattern, days, events, joints in (
            ([0, 1], [1, 0], [1, 0], [5, 4]),
            ([0, 1, 0], [1, 0, 1], [1, 0, 1], [2, 4, 3]),
        )
    )
    told = [screened_hazard_ratios(each, [0, 1], ["A", "B"])[0].ratio.note for each in (one, parts)]
    assert told == ["no other joint of its strata is in follow-up on a day with an event"] * 2


def test_units_that_do_not_match_the_patterns_are_refused() -> None:
    counts = register(1)
    for unit in (UNIT[:5], UNIT + 1):
        with pytest.raises(CountError, match="Each of 36 patterns needs a unit from 0 to 11"):
            screened_hazard_ratios(counts, unit, NAMES)
    with pytest.raises(ModelError, match="None of 2 joints has the event"):
        screened_hazard_ratios(PatternCounts(2, [0, 1], [3, 4], [0, 0]), [0, 1], ["A", "B"])


def test_each_group_of_r_s_data_against_all_others_has_the_ratio_of_coxph() -> None:
    """Strata by age band and sex; windows as the screening of implants makes them."""
    ends = {"all": (-1, 10**6), "0..1": (-1, 365), "1..5": (365, 1826), "5..": (1826, 10**6)}
    rows = rows_of("data_flchain")
    group, age, day, died = (
        np.array([int(row[name]) for row in rows]) for name in ("flc.grp", "age", "futime", "death")
    )
    stratum = np.searchsorted([59, 69, 79], age) * 2 + np.array([row["sex"] == "M" for row in rows])
    unit, strata = np.divmod(np.arange(80), 8)
    for window, (start, stop) in ends.items():
        there = day > start
        hit = (died == 1) & (day <= stop)
        counts = PatternCounts(80, ((group - 1) * 8 + stratum)[there], day[there], hit[there], stratum=strata)
        found = screened_hazard_ratios(counts, unit, [str(number) for number in range(1, 11)])
        printed = [row for row in rows_of("screen_flchain") if row["window"] == window]
        for one, row in zip(found, printed, strict=True):
            assert (one.ratio.name, one.joints, one.events) == (row["group"], int(row["joints"]), int(row["events"]))
            figures = [one.ratio.ratio, one.ratio.lower, one.ratio.upper, one.ratio.log_se]
            assert_allclose(figures, [float(row[name]) for name in ("hr", "lower", "upper", "se")], rtol=1e-8)
