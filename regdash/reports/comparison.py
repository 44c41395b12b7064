"""Hazard ratios of groups as a model gives them, over all follow-up and window by window."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from regdash.errors import ModelError
from regdash.reports import wording
from regdash.reports.model import CompareRow
from regdash.reports.patterns import Covariate, Patterns
from regdash.reports.policy import Policy
from regdash.reports.resembling import Clusters
from regdash.stats.cox import CoxFit, HazardRatio, cox
from regdash.stats.cox_counts import PatternCounts, pattern_counts
from regdash.stats.design import Design, categorical
from regdash.stats.events import Entries
from regdash.stats.firth import firth
from regdash.stats.split_clusters import RowClusters, split_clusters_at
from regdash.stats.time_split import SplitCounts, split_at
from regdash.stats.years import days_in

LISTED_LEVELS = 8  # of a field, in a sentence


@dataclass(frozen=True)
class Window:
    """Years since implantation from after one time up to and including another; None: to the end of follow-up."""

    start: float
    end: float | None

    @property
    def label(self) -> str:
        """Name it as tables do."""
        return f"{self.start:g} years and later" if self.end is None else f"{self.start:g}–{self.end:g} years"


ALWAYS = Window(0.0, None)


@dataclass(frozen=True, eq=False)
class Comparison:
    """Groups, one of them the reference, and what is adjusted for."""

    patterns: Patterns
    term: str  # what the groups are called together
    reference: int  # place of the reference among the groups
    covariates: tuple[Covariate, ...]  # those that differ between joints
    counts: PatternCounts
    groups: Design  # a column for each group but the reference
    others: tuple[Design, ...]
    penalised: bool

    @property
    def labels(self) -> tuple[str, ...]:
        """What the groups are called."""
        return tuple(group.label for group in self.patterns.groups)

    @property
    def events_by_group(self) -> np.ndarray:
        """(groups,) revisions of each group."""
        return np.bincount(self.patterns.group, self.counts.events_by_pattern(), len(self.labels)).astype(np.int64)

    @property
    def compared(self) -> list[int]:
        """Places of the groups that have a ratio."""
        return [place for place in range(len(self.labels)) if place != self.reference]

    def column(self, place: int) -> str:
        """The name of a group's column."""
        return f"{self.term}={self.labels[place]}"

    @property
    def clusters(self) -> Clusters | None:
        """Whose scatter limits come from; None: joints are independent."""
        return self.patterns.clusters

    @cached_property
    def fit(self) -> CoxFit:
        """One ratio a group for all of follow-up."""
        return cox(self.counts, self.groups.beside(*self.others))

    @cached_property
    def robust(self) -> np.ndarray | None:
        """(K, K) robust covariance of the fit's coefficients; None where joints are independent."""
        return None if self.clusters is None else self.clusters.covariance(self.fit, self.clusters.rows)

    @cached_property
    def alone(self) -> np.ndarray:
        """(groups,) bool, as `alone_in_windows`, over all of follow-up."""
        return alone_in_windows(self, [])[:, 0]

    def ratios(
        self, counts: PatternCounts, design: Design, level: float, rows: RowClusters | None = None
    ) -> dict[str, HazardRatio]:
        """Fit a model, and name the ratio of each of its columns; `rows` are the clusters of its counts."""
        if self.penalised:
            return _by_name(firth(counts, design).ratios(level))
        fit = cox(counts, design)
        robust = None if self.clusters is None or rows is None else self.clusters.covariance(fit, rows)
        return _by_name(fit.ratios(level, robust))


def comparison(patterns: Patterns, term: str, reference: int, penalised: bool) -> Comparison:
    """
    Lay a model out. A covariate with one level only says nothing, and is left out.

    Raises:
        ModelError: the reference has no event to compare with.
    """
    clusters = patterns.clusters
    counts = pattern_counts(patterns.table) if clusters is None else clusters.counts(len(patterns.group))
    events = counts.events_by_pattern()
    labels = [group.label for group in patterns.groups]
    if not penalised and not events[patterns.group == reference].any():
        joints = wording.so_many(int(patterns.joints_by_group[reference]), "joint")
        raise ModelError(
            f"None of the {joints} of the reference ({labels[reference]}) is revised, so no ratio to it exists. Choose "
            "another reference."
        )
    covariates = tuple(covariate for covariate in patterns.covariates if len(covariate.labels) > 1)
    others = tuple(columns_of(covariate, events) for covariate in covariates)
    groups = categorical(term, patterns.group, labels, labels[reference])
    return Comparison(patterns, term, reference, covariates, counts, groups, others, penalised)


def columns_of(covariate: Covariate, events: np.ndarray) -> Design:
    """The level with the most events is what the others are compared with; ratios of groups do not depend on it."""
    most = int(np.argmax(np.bincount(covariate.level, events, len(covariate.labels))))
    return categorical(covariate.key, covariate.level, covariate.labels, covariate.labels[most])


def levels_said(covariate: Covariate) -> str:
    """Name a field that is adjusted for, with its levels where they are few."""
    if len(covariate.labels) > LISTED_LEVELS:
        return f"{covariate.key} ({len(covariate.labels)} levels)"
    return f"{covariate.key} ({', '.join(covariate.labels)})"


def overall_rows(policy: Policy, asked: Comparison, fit: CoxFit | None) -> list[CompareRow]:
    """Write one ratio a group, for all of follow-up."""
    design = asked.groups.beside(*asked.others)
    if fit is None:
        ratios = asked.ratios(asked.counts, design, policy.level)
    else:
        ratios = _by_name(fit.ratios(policy.level, asked.robust))
    joints, revised = asked.patterns.joints_by_group, asked.events_by_group
    return [
        _row(policy, asked, place, ALWAYS, joints, revised, asked.alone, ratios.get(asked.column(place)))
        for place in asked.compared
    ]


def alone_in_windows(asked: Comparison, cuts: Sequence[float]) -> np.ndarray:
    """(groups, windows) bool: all joints of a group that reach a window are of one cluster, which shows no scatter."""
    groups = len(asked.labels)
    if asked.clusters is None:
        return np.zeros((groups, len(cuts) + 1), dtype=bool)
    return asked.clusters.reaching(asked.patterns.group, groups, [days_in(years) for years in cuts]) == 1


def window_rows(policy: Policy, asked: Comparison, cuts: Sequence[float]) -> list[CompareRow]:
    """
    Write a ratio for each group and window; what is adjusted for counts alike in all of them.

    A window in which the reference, or everybody else, has no revision tells no ratio, and its joints are left out.
    """
    windows = [Window(start, end) for start, end in zip((0.0, *cuts), (*cuts, None))]
    reaching, revised = _by_window(asked.patterns, cuts)
    alone = alone_in_windows(asked, cuts)
    of_reference = revised[asked.reference]
    can_tell = asked.penalised | ((of_reference > 0) & (revised.sum(axis=0) > of_reference))
    ratios, refused = _split_ratios(policy, asked, cuts, can_tell & (revised.sum(axis=0) > 0))
    rows = []
    for place in asked.compared:
        for number, window in enumerate(windows):
            nothing = f"no revisions in the reference ({asked.labels[asked.reference]})"
            why = nothing if not of_reference[number] and not asked.penalised else refused
            found = ratios.get(f"{asked.column(place)}, {number}")
            counts = (reaching[:, number], revised[:, number], alone[:, number])
            rows.append(_row(policy, asked, place, window, *counts, found, why))
    return rows


def _split_ratios(
    policy: Policy, asked: Comparison, cuts: Sequence[float], usable: np.ndarray
) -> tuple[Mapping[str, HazardRatio], str | None]:
    """Fit a ratio for each group and usable window; or say why that cannot be done."""
    if not usable.any():
        return {}, None
    days = [days_in(years) for years in cuts]
    split, rows = _within(*_split(asked, days), usable)
    groups = split.by_window(asked.groups)
    joints = groups.matrix.T @ split.counts.by_pattern()
    design = groups.only(joints > 0).beside(*(split.constant(other) for other in asked.others))
    try:
        return asked.ratios(split.counts, design, policy.level, rows), None
    except ModelError as refusal:  # the ratios for all of follow-up stand nevertheless
        return {}, f"no ratios by window: {refusal}"


def _split(asked: Comparison, days: Sequence[int]) -> tuple[SplitCounts, RowClusters | None]:
    labels = [str(number) for number in range(len(days) + 1)]
    if asked.clusters is None:
        return split_at(asked.counts, days, labels), None
    return split_clusters_at(asked.counts, asked.clusters.number, days, labels)


def _within(
    split: SplitCounts, clusters: RowClusters | None, usable: np.ndarray
) -> tuple[SplitCounts, RowClusters | None]:
    """Leave out the windows that are not usable."""
    kept = usable[split.window]
    if kept.all():
        return split, clusters
    number, counts, entered = np.cumsum(kept) - 1, split.counts, split.counts.entered
    assert entered is not None
    rows, late = kept[counts.pattern], kept[entered.group]
    within = PatternCounts(
        int(kept.sum()),
        number[counts.pattern[rows]],
        counts.day[rows],
        counts.event[rows],
        counts.weights[rows],
        entered=Entries(number[entered.group[late]], entered.day[late], entered.joints[late]),
    )
    left = None if clusters is None else clusters.only(rows, late)
    return SplitCounts(within, split.pattern[kept], split.window[kept], split.labels), left


def _by_window(patterns: Patterns, cuts: Sequence[float]) -> tuple[np.ndarray, np.ndarray]:
    """(groups, windows) joints followed into each window, and those revised in it."""
    counts = pattern_counts(patterns.table)
    windows = len(cuts) + 1
    place = np.searchsorted([days_in(years) for years in cuts], counts.day, side="left")
    cell, size = patterns.group[counts.pattern] * windows + place, len(patterns.numbers) * windows
    ended, revised = (
        np.bincount(cell, n, size).reshape(-1, windows) for n in (counts.weights, counts.event * counts.weights)
    )
    return np.cumsum(ended[:, ::-1], axis=1)[:, ::-1].astype(np.int64), revised.astype(np.int64)


def _by_name(ratios: Iterable[HazardRatio]) -> dict[str, HazardRatio]:
    return {ratio.name: ratio for ratio in ratios}


def _row(
    policy: Policy,
    asked: Comparison,
    place: int,
    window: Window,
    joints: np.ndarray,
    revised: np.ndarray,
    alone: np.ndarray,
    found: HazardRatio | None,
    why: str | None = None,
) -> CompareRow:
    """
    Write one line, its ratio withheld where the policy says so.

    Args:
        joints, revised: (groups,) those that may be compared, and the revisions among them.
        alone: (groups,) bool, as `alone_in_windows`.
        why: there is no ratio, where it is not that the group has no revisions.
    """
    own, reference = int(joints[place]), asked.labels[asked.reference]
    events = (int(revised[place]), int(revised[asked.reference]))
    too_few = _too_few(policy, own, int(joints[asked.reference]), reference)
    too_few = too_few or _too_few_events(policy, asked, *events, reference)
    too_few = too_few or _alone(asked, place, alone)
    if too_few or found is None or found.ratio is None:
        withheld = too_few or why or f"no revisions among its {wording.so_many(own, 'joint', policy.said)}"
        return CompareRow(asked.labels[place], reference, window.start, window.end, *(None,) * 4, withheld)
    shown = (found.ratio, found.lower, found.upper, found.p)
    return CompareRow(asked.labels[place], reference, window.start, window.end, *shown)


def _too_few(policy: Policy, own: int, of_reference: int, reference: str) -> str | None:
    if not own:
        return "nobody is followed so long"
    if not of_reference:
        return f"nobody of the reference ({reference}) is followed so long"
    too_few = policy.why_no_rate(of_reference)
    return policy.why_no_rate(own) or (f"{too_few} in the reference ({reference})" if too_few else None)


def _too_few_events(policy: Policy, asked: Comparison, own: int, of_reference: int, reference: str) -> str | None:
    """Limits of a penalised ratio are made for few events, and only what a small count would be told by is withheld."""
    why = policy.why_small if asked.penalised else policy.why_few_events
    too_few = why(of_reference)
    return why(own) or (f"{too_few} in the reference ({reference})" if too_few else None)


def _alone(asked: Comparison, place: int, alone: np.ndarray) -> str | None:
    """Say why limits cannot be robust: the joints of one side are all of one cluster."""
    for side in (place, asked.reference):
        if asked.clusters is not None and alone[side]:
            kind = asked.clusters.kind
            return f"all joints of {asked.labels[side]} are of one {kind}, which shows no scatter of {kind}s"
    return None
