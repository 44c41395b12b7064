"""The tests that stand under hazard ratios: do groups differ, and does the ratio last?"""

from collections.abc import Callable, Sequence
from functools import partial

from regdash.errors import ModelError
from regdash.reports.comparison import Comparison
from regdash.reports.model import TestRow
from regdash.reports.policy import Policy
from regdash.stats.chi_square import ChiSquareTest
from regdash.stats.cox import CoxFit
from regdash.stats.cox_tests import likelihood_ratio_test, wald_test
from regdash.stats.gray import gray_test
from regdash.stats.log_rank import log_rank_test
from regdash.stats.proportionality import proportionality

PROPORTIONALITY = "proportionality"
MOST_FOR_GRAY = 20  # groups; its covariance takes their number to the third power
MOST_STRATA = 200  # of a log-rank test; each is counted by itself
NOT_PENALISED = "not made with Firth's penalty"
NOT_ROBUST = "not made where limits are robust: a likelihood takes all joints as independent"
_INDEPENDENT = "; joints taken as independent"

Test = Callable[[], ChiSquareTest]


def tested_rows(policy: Policy, asked: Comparison, fit: CoxFit | None, fields: str) -> list[TestRow]:
    """
    Make the tests on the joints of the model; none that would give a small count away.

    Args:
        fit: of one ratio a group; None where it was penalised.
        fields: what is adjusted for, in words; empty where nothing is.
    """
    patterns, so = asked.patterns, _INDEPENDENT if asked.clusters else ""
    merged = patterns.merged(patterns.group, asked.labels)
    small = policy.why_small(*asked.events_by_group.tolist())
    about = f"do the groups' hazards of revision differ? not adjusted{so}"
    rows = [made("log-rank", about, partial(log_rank_test, merged), small)]
    if asked.covariates:
        rows.append(_stratified(asked, fields, small, so))
    many = f"not made for more than {MOST_FOR_GRAY} groups" if len(asked.labels) > MOST_FOR_GRAY else small
    about = f"do cumulative incidences differ, death competing? not adjusted{so}"
    rows.append(made("Gray", about, partial(gray_test, merged), many))
    about = f"do hazards differ, adjusted for {fields}?" if fields else "do hazards differ? not adjusted"
    return rows + _of_model(asked, fit, about, small)


def _of_model(asked: Comparison, fit: CoxFit | None, about: str, small: str | None) -> list[TestRow]:
    """Test the model's coefficients: by its likelihood, or where limits are robust by Wald's test."""
    refused, rows = NOT_PENALISED if fit is None else small, []
    if asked.clusters is not None:
        robustly = f"{about}; by the scatter of {asked.clusters.kind}s"
        rows.append(made("Wald", robustly, lambda: _robust(asked, _there(fit)), refused or _one_alone(asked)))
    other = NOT_ROBUST if asked.clusters else refused
    rows.append(made("likelihood ratio", about, lambda: likelihood_ratio_test(_there(fit), asked.term), other))
    about = f"does the ratio change with time since implantation?{_INDEPENDENT if asked.clusters else ''}"
    return [*rows, made(PROPORTIONALITY, about, lambda: _lasting(_there(fit), asked.term), refused)]


def _robust(asked: Comparison, fit: CoxFit) -> ChiSquareTest:
    return wald_test(fit, asked.term, covariance=asked.robust)


def _one_alone(asked: Comparison) -> str | None:
    """Say which group's joints are all of one cluster, so that their scatter cannot be told."""
    assert asked.clusters is not None
    alone = [label for label, is_alone in zip(asked.labels, asked.alone.tolist()) if is_alone]
    return f"all joints of {alone[0]} are of one {asked.clusters.kind}" if alone else None


def _stratified(asked: Comparison, fields: str, refused: str | None, so: str) -> TestRow:
    stratum, labels = asked.patterns.stratum()
    many = f"not made in more than {MOST_STRATA} strata" if len(labels) > MOST_STRATA else refused
    groups = [asked.labels[place] for place in asked.patterns.group.tolist()] if not many else []
    test = partial(log_rank_test, asked.patterns.table, compare=groups, stratum=stratum)
    about = f"do hazards differ among joints alike in {fields}?{so}"
    return made("log-rank, stratified", about, test, many)


def _there(fit: CoxFit | None) -> CoxFit:
    assert fit is not None
    return fit


def _lasting(fit: CoxFit, term: str) -> ChiSquareTest:
    return dict(proportionality(fit).terms)[term]


def made(name: str, asks: str, test: Test, refused: str | None = None) -> TestRow:
    """Make a test, or say why it is not made."""
    if refused is None:
        try:
            found = test()
        except ModelError as refusal:
            refused = str(refusal)
        else:
            return TestRow(name, asks, found.statistic, found.df, found.p)
    return TestRow(name, asks, None, None, None, refused)


def p_of(tests: Sequence[TestRow], name: str) -> float | None:
    """The p of a test; None where it was not made."""
    return next((row.p for row in tests if row.test == name), None)
