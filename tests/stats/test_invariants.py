"""
What must hold for every function of the statistics that reads counts: the order of rows never matters, a count may be
split in two rows, reasons may be merged where all are asked about, a stratum of one kind adds nothing, and no number
is missing or without end. Facts of counting, no published source. New functions are put on these lists, or say why not.
"""

import ast
import random
from collections.abc import Callable, Iterable
from dataclasses import dataclass, fields, is_dataclass, replace
from math import isfinite
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

import regdash.stats
from regdash.errors import CountError, ModelError
from regdash.stats.aalen_johansen import CumulativeIncidence, aalen_johansen
from regdash.stats.adjusted_risk import Population, adjusted_difference, adjusted_risk
from regdash.stats.against_others import ratios_against_others
from regdash.stats.baseline import baseline_hazard
from regdash.stats.ceiling import against_benchmark, against_ceiling
from regdash.stats.cox import CoxFit, cox
from regdash.stats.cox_counts import PatternCounts
from regdash.stats.cox_robust import robust_covariance
from regdash.stats.cox_tests import likelihood_ratio_test, score_test, wald_test
from regdash.stats.design import Design, categorical, linear
from regdash.stats.difference import risk_difference, risk_ratio
from regdash.stats.events import Entries, EventTable
from regdash.stats.firth import firth
from regdash.stats.gap import gap_by_reason
from regdash.stats.gray import gray_test
from regdash.stats.influence import incidence_influence, net_influence
from regdash.stats.kaplan_meier import NetRisk, kaplan_meier
from regdash.stats.landmark import given_unrevised
from regdash.stats.log_rank import log_rank_test, trend_test
from regdash.stats.missing_events import with_missing
from regdash.stats.poisson import rate_ratio, revision_rate
from regdash.stats.proportionality import proportionality
from regdash.stats.quantiles import times_to_risk
from regdash.stats.reference_hazard import hazard_of, model_hazard, rates_of
from regdash.stats.restricted_mean import mean_difference, mean_ratio, restricted_mean
from regdash.stats.screened import screened_hazard_ratios
from regdash.stats.spline import spline
from regdash.stats.spline_ratios import bending_test, spline_ratios
from regdash.stats.standardised_ratio import standardised_ratios
from regdash.stats.standardised_risk import standardised_risk
from regdash.stats.time_split import split_at
from regdash.stats.window_rates import calendar_rates, rates_since_implantation

DAYS, DAY = (0, 1, 3, 5), 3


def net_of(table: EventTable, group: int = 0) -> NetRisk:
    counts = table.of(group)
    return kaplan_meier(counts.days, counts.revised, counts.left, counts.entered)


def incidence_of(table: EventTable) -> CumulativeIncidence:
    counts = table.of(0)
    return aalen_johansen(counts.days, counts.competing, counts.left, counts.entered)


def both(table: EventTable, ask: Callable[..., Any]) -> Any:
    return ask(net_of(table, 0).steps, net_of(table, 1).steps)


def means(table: EventTable) -> tuple[Any, Any]:
    return restricted_mean(net_of(table, 0), DAY), restricted_mean(net_of(table, 1), DAY)


def rate(table: EventTable, group: int) -> tuple[int, float]:
    counts = table.of(group)
    return int(counts.revised.sum()), float(counts.implant_days) / 365.25


STRATIFIED: dict[str, Any] = {"compare": ["one", "other", "one", "other"], "stratum": [0, 0, 1, 1]}
ALL_CAUSE: dict[str, Callable[[EventTable], Any]] = {
    "kaplan_meier": lambda t: (net_of(t), net_of(t).steps.at(DAYS), net_of(t).steps.curve()),
    "given_unrevised": lambda t: net_of(given_unrevised(t, 1)).steps.at(DAYS),
    "times_to_risk": lambda t: times_to_risk(net_of(t).steps, [0.1, 0.5]),
    "risk_difference": lambda t: both(t, lambda one, other: risk_difference(one, other, DAYS)),
    "risk_ratio": lambda t: both(t, lambda one, other: risk_ratio(one, other, DAYS)),
    "restricted_mean": means,
    "mean_difference": lambda t: mean_difference(*means(t)),
    "mean_ratio": lambda t: mean_ratio(*means(t)),
    "net_influence": lambda t: net_influence(net_of(t)),
    "log_rank_test": lambda t: log_rank_test(t),
    "log_rank_test, stratified": lambda t: log_rank_test(t, **STRATIFIED),
    "trend_test": lambda t: trend_test(log_rank_test(t)),
    "gray_test": lambda t: gray_test(t),
    "gray_test, stratified": lambda t: gray_test(t, **STRATIFIED),
    "standardised_risk": lambda t: standardised_risk(
        [net_of(t, 0).steps, net_of(t, 2).steps], [2, 1], ["a", "b"], DAYS, 1
    ),
    "revision_rate": lambda t: revision_rate(*rate(t, 0)),
    "rate_ratio": lambda t: rate_ratio(*rate(t, 0), *rate(t, 1)),
    "rates_since_implantation": lambda t: rates_since_implantation(t.of(0), [2, 4]),
    "calendar_rates": calendar_rates,
    "with_missing": lambda t: with_missing(t.of(0), 0.25).risk_at(DAYS, compete=False),
    "against_ceiling": lambda t: against_ceiling(net_of(t).steps, 0.3, DAY, 1),
    "against_benchmark": lambda t: both(t, lambda one, other: against_benchmark(one, other, 0.2, DAY, 1)),
}
BY_REASON: dict[str, Callable[[EventTable], Any]] = {
    "aalen_johansen": lambda t: (incidence_of(t), *(incidence_of(t).at(DAYS, cause) for cause in range(3))),
    "incidence_influence": lambda t: incidence_influence(incidence_of(t), 1),
    "gap_by_reason": lambda t: (gap_by_reason(t, 0, 1, DAY, level=0.5), gap_by_reason(t, 0, 1, DAY, "patient", 0.5)),
}
ON_TABLES = ALL_CAUSE | BY_REASON

UNITS, LEVELS, STRATA = 3, 2, 2
LONE = UNITS * LEVELS * STRATA  # a pattern of unit 0 that is alone in a stratum of its own
UNIT, LEVEL, STRATUM = (
    np.array([*each.ravel(), last])
    for each, last in zip(np.indices((UNITS, LEVELS, STRATA)), (0, 0, STRATA), strict=True)
)
NAMES = ("H001", "H002", "H003")
DESIGN: Design = categorical("hospital", UNIT, NAMES).beside(linear("age", LEVEL))


KNOTS, AT = (0.0, 2.0, 5.0), np.array([1.0, 3.0, 6.0])  # of how much a pattern has of something


def fitted(counts: PatternCounts) -> CoxFit:
    return cox(counts, DESIGN)


def bent(counts: PatternCounts) -> CoxFit:
    return cox(counts, spline("dose", np.arange(LONE + 1) % 7.0, KNOTS))


def by_pattern(fit: CoxFit) -> np.ndarray:
    entered = None if fit.counts.entered is None else fit.counts.entered.group
    return robust_covariance(fit, fit.counts.pattern, entered)


def population(unit: int) -> Population:
    known = categorical("hospital", np.array([unit, 0, 1, 2]), NAMES, NAMES[0]).of(np.array([0]))
    return Population(known.beside(linear("age", [1])))


def by_window(counts: PatternCounts) -> Any:
    split = split_at(counts, [3])
    return cox(split.counts, split.constant(DESIGN)).ratios()


MODELS: dict[str, Callable[[PatternCounts], Any]] = {  # what a stratum of one kind cannot change
    "cox": lambda c: (fitted(c).coef, fitted(c).se, fitted(c).ratios()),
    "cox, Breslow": lambda c: cox(c, DESIGN, "breslow").ratios(),
    "firth": lambda c: (firth(c, DESIGN).coef, firth(c, DESIGN).covariance),
    "robust_covariance": lambda c: by_pattern(fitted(c)),
    "likelihood_ratio_test": lambda c: likelihood_ratio_test(fitted(c), "hospital"),
    "spline_ratios": lambda c: spline_ratios(bent(c), "dose", KNOTS, AT, 2.0),
    "bending_test": lambda c: bending_test(bent(c), "dose", KNOTS),
    "wald_test": lambda c: wald_test(fitted(c), "hospital"),
    "score_test": lambda c: score_test(fitted(c), "hospital"),
    "proportionality": lambda c: proportionality(fitted(c), "identity"),
    "split_at": by_window,
    "screened_hazard_ratios": lambda c: tuple(  # why there is no ratio may be told otherwise
        replace(one.ratio, note=None) for one in screened_hazard_ratios(c, UNIT, NAMES)
    ),
    "ratios_against_others": lambda c: tuple(one.ratio for one in ratios_against_others(c, UNIT, NAMES)),
}
ON_COUNTS = MODELS | {
    "proportionality, km": lambda c: proportionality(fitted(c)),  # its clock is that of all joints together
    "baseline_hazard": lambda c: baseline_hazard(fitted(c)),
    "adjusted_risk": lambda c: adjusted_risk(fitted(c), population(1)).at(DAYS),
    "adjusted_difference": lambda c: adjusted_difference(fitted(c), population(1), population(0), DAYS),
    "hazard_of": lambda c: standardised_ratios(c, UNIT, NAMES, hazard_of(c)),
    "rates_of": lambda c: standardised_ratios(c, UNIT, NAMES, rates_of(c, [3])),
    "model_hazard": lambda c: standardised_ratios(c, UNIT, NAMES, model_hazard(fitted(c)), fitted(c).hazards(DESIGN)),
}

# Figures in, figures out: no rows of joints. Where the order of units could matter, their own tests shuffle them.
OF_FIGURES = {
    *("binomial_limits", "wilson_limits", "poisson_limits", "mid_p_poisson_limits", "mid_p_odds_limits"),
    *("z_score", "risk_limits", "wald_ratio", "chi_square_test", "side_difference", "side_ratio", "risk_sides"),
    *("judged_by_ceiling", "judged_by_benchmark", "shares_of", "standardised_ratio", "published_rates", "unit_ratios"),
    *("funnel_lines", "funnel_points", "expected_false_flags", "overdispersion", "gamma_poisson", "normal_shrinkage"),
    *("gamma_poisson_of_groups", "falls", "largest_fall", "hidden_bounds"),
    *("benjamini_hochberg", "benjamini_yekutieli", "cusum", "outcome_weights", "outcome_cusum", "mean_run"),
    *("cusum_limit", "poisson_log_ratio", "max_sprt_limit", "maximised_test", "wald_bounds", "sequential_test"),
    *("smallest_count", "spline", "spline_knots", "days_in", "years_in", "categorical", "linear", "interaction"),
    *("counted_quantiles", "rate_p_above", "events_p_above", "more_for", "order_statistic", "share_within"),
}
# Rows of joints, dates or patients in, or counts of which nobody enters late: their own tests shuffle and split them,
# or find them equal to a function above.
OF_ROWS = {
    *("clustered_net_risk", "clustered_incidence", "clustered_square", "shared_covariance", "mean_influence"),
    *("pattern_counts", "dated_events", "calendar_table", "distinct_patterns"),
    *("split_clusters_at", "outside_hazard_ratios", "left_out_ratios"),
}
# Steps of the above, which no report calls by themselves.
STEPS = {
    *(
        "checked_shares",
        "refuse_others",
        "compared_groups",
        "group_test",
        "whole_numbers",
        "amounts",
        "checked_at_risk",
    ),
    *("at_risk_on", "checked_offset", "scaled_likelihood", "event_cells", "maximise", "uphill", "refuse_collinear"),
    *("product", "risk_sets", "thinned", "roots", "tops", "checked_units", "checked_observed"),
    *("window_ratios", "window_p", "window_of", "places_of", "room", "is_total"),
    *("checked_ratio", "together", "wald_of_columns"),
}

joints = st.lists(st.tuples(st.integers(0, 3), st.integers(0, 6), st.integers(0, 3)), min_size=4, max_size=24)
followed = st.lists(
    st.tuples(st.integers(0, LONE - 1), st.sampled_from([-1, -1, 0, 2]), st.integers(1, 6), st.sampled_from([0, 1, 1])),
    min_size=10,
    max_size=40,
)
Rows = list[tuple[int, ...]]


def table_of(rows: Iterable[tuple[int, ...]], reasons: int = 2) -> EventTable:
    """Rows of group, day, outcome and joints."""
    outcomes = ("censored", "died", *(f"reason {number + 1}" for number in range(reasons)))
    labels = (("one",), ("other",), ("one, b",), ("other, b",))
    return EventTable(labels, outcomes, *zip(*rows, strict=True))


def counts_of(rows: Rows) -> PatternCounts:
    """Rows of pattern, day before the first, days, event and joints."""
    pattern, start, length, event, many = np.array(rows).T
    late = start >= 0
    entered = Entries(pattern[late], start[late], many[late]) if late.any() else None
    return PatternCounts(LONE + 1, pattern, start + length, event, many, STRATUM, entered)


def split(rows: Rows, chance: random.Random) -> tuple[Rows, Rows]:
    """Counts of 5 in rows as they come; and the same in rows of 2 and 3, shuffled."""
    parts = [(*row, part) for row in rows for part in (2, 3)]
    chance.shuffle(parts)
    return [(*row, 5) for row in rows], parts


REFUSED = "refused"


@dataclass(frozen=True)
class Told:
    """A result in pieces that can be compared: numbers, and all else as text."""

    numbers: list[float]
    rest: list[str]


def told(ask: Callable[[Any], Any], of: Any) -> Told:
    """Ask, and take the answer to pieces; a refusal in words is an answer."""
    found = Told([], [])
    try:
        _take(ask(of), found)
    except (ModelError, CountError) as refusal:
        return Told([], [f"{REFUSED}: {refusal}"])
    return found


def without_words(found: Told) -> Told:
    """The same whatever a refusal says: it may count all joints, or find another reason first."""
    return Told([], [REFUSED]) if found.rest[:1] and found.rest[0].startswith(REFUSED) else found


def _take(part: Any, found: Told) -> None:
    if isinstance(part, PatternCounts | EventTable | Design):
        return
    if isinstance(part, np.ndarray):
        found.rest.append(f"{part.shape} {np.ma.getmaskarray(part).tolist()}")
        part = np.ma.compressed(part).tolist()
    if is_dataclass(part):
        part = [getattr(part, field.name) for field in fields(part)]
    if isinstance(part, list | tuple):
        for each in part:
            _take(each, found)
    elif isinstance(part, float | int):
        found.numbers.append(float(part))
    elif part is None or isinstance(part, str):
        found.rest.append(str(part))


def assert_alike(one: Told, other: Told, rtol: float = 0, atol: float = 0) -> None:
    assert one.rest == other.rest
    assert_allclose(one.numbers, other.numbers, rtol=rtol, atol=atol)


@pytest.mark.parametrize("name", ON_TABLES)
@settings(max_examples=10)
@given(rows=joints, chance=st.randoms())
def test_neither_order_nor_splitting_changes_a_bit_of_what_a_table_gives(
    name: str, rows: Rows, chance: random.Random
) -> None:
    one, other = (told(ON_TABLES[name], table_of(each)) for each in split(rows, chance))
    assert_alike(one, other)
    assert all(map(isfinite, one.numbers)), one


@pytest.mark.parametrize("name", ON_COUNTS)
@settings(max_examples=10)
@given(rows=followed, chance=st.randoms())
def test_neither_order_nor_splitting_changes_what_patterns_give(name: str, rows: Rows, chance: random.Random) -> None:
    one, other = (told(ON_COUNTS[name], counts_of(each)) for each in split(rows, chance))
    assert_alike(one, other, rtol=1e-6, atol=1e-8)
    assert all(map(isfinite, (*one.numbers, *other.numbers))), one


@pytest.mark.parametrize("name", ALL_CAUSE)
@settings(max_examples=10)
@given(rows=joints)
def test_merging_all_reasons_gives_the_all_cause_figure(name: str, rows: Rows) -> None:
    fine = table_of([(*row, 1) for row in rows])
    merged = table_of([(group, day, min(outcome, 2), 1) for group, day, outcome in rows], reasons=1)
    assert_alike(told(ALL_CAUSE[name], fine), told(ALL_CAUSE[name], merged), rtol=1e-12, atol=1e-14)


@settings(max_examples=25)
@given(rows=joints)
def test_the_incidence_of_merged_reasons_is_that_of_each_added_up(rows: Rows) -> None:
    fine = incidence_of(table_of([(*row, 1) for row in rows]))
    merged = incidence_of(table_of([(group, day, min(outcome, 2), 1) for group, day, outcome in rows], reasons=1))
    each = [[at.risk for at in fine.at(DAYS, cause)] for cause in (1, 2)]
    for first, second, at in zip(*each, merged.at(DAYS, 1), strict=True):
        assert (first is None) == (at.risk is None)
        assert first is None or abs(first + second - at.risk) < 1e-12


@settings(max_examples=40)
@given(rows=joints)
def test_the_parts_of_a_gap_add_up(rows: Rows) -> None:
    for view in ("implant", "patient"):
        gap = gap_by_reason(table_of([(*row, 1) for row in rows]), 0, 1, DAY, view)  # type: ignore[arg-type]
        if gap.whole.difference is not None:
            parts = [part.part.difference for part in gap.parts]
            assert abs(sum(parts) - gap.whole.difference) <= 1e-12  # type: ignore[arg-type]


@pytest.mark.parametrize("name", MODELS)
@settings(max_examples=10)
@given(rows=followed, alone=st.lists(st.tuples(st.integers(1, 6), st.integers(0, 1)), min_size=1, max_size=4))
def test_a_stratum_of_one_kind_adds_nothing(name: str, rows: Rows, alone: Rows) -> None:
    assume(any(event for *_, event in rows))  # a model of no event at all is refused as such
    before = [(*row, 1) for row in rows]
    after = [*before, *((LONE, -1, length, event, 1) for length, event in alone)]
    one, other = (without_words(told(MODELS[name], counts_of(each))) for each in (before, after))
    assert_alike(one, other, rtol=1e-6, atol=1e-7)


@pytest.mark.parametrize("test", [log_rank_test, gray_test])
@settings(max_examples=25)
@given(rows=joints, alone=st.lists(st.tuples(st.integers(0, 6), st.integers(0, 3)), min_size=1, max_size=5))
def test_a_stratum_with_one_group_adds_nothing_to_a_test(test: Callable[..., Any], rows: Rows, alone: Rows) -> None:
    two = [row for row in rows if row[0] < 2]
    assume({row[0] for row in two} == {0, 1})
    without, within = (
        table_of([(*row, 1) for row in two]),
        table_of([*((*row, 1) for row in two), *((2, *row, 1) for row in alone)]),
    )
    one, other = (without_words(told(lambda t: _figures(test(t, **STRATIFIED)), each)) for each in (without, within))
    assert_alike(one, other, rtol=1e-9, atol=1e-12)


def _figures(found: Any) -> tuple[float, float, int]:
    return found.statistic, found.p, found.df


def public_functions() -> set[str]:
    folder = Path(regdash.stats.__file__).parent
    trees = [ast.parse(path.read_text(encoding="utf-8")) for path in folder.glob("*.py")]
    names = {node.name for tree in trees for node in tree.body if isinstance(node, ast.FunctionDef)}
    return {name for name in names if not name.startswith("_")}


def test_every_function_of_the_statistics_is_on_one_of_the_lists() -> None:
    listed = {name.partition(",")[0] for name in (*ON_TABLES, *ON_COUNTS)} | {"standardised_ratios"}
    assert public_functions() - OF_FIGURES - OF_ROWS - STEPS == listed
    assert public_functions() >= OF_FIGURES | OF_ROWS | STEPS
