"""Groups compared like for like: adjusted hazard ratios, tests, and the model in a sentence."""

from collections.abc import Sequence

from regdash.cohort import Cohort
from regdash.endpoints import ANY_REVISION, named
from regdash.errors import FilterError, ModelError
from regdash.grouping import Grouping
from regdash.reports import wording
from regdash.reports.compared_tests import PROPORTIONALITY, p_of, tested_rows
from regdash.reports.comparison import Comparison, comparison, levels_said, overall_rows, window_rows
from regdash.reports.counted import head
from regdash.reports.model import IMPLANT_VIEW, CompareReport, CompareRow, TestRow
from regdash.reports.patterns import Patterns, count_patterns
from regdash.reports.policy import Policy
from regdash.reports.reference import reference_of
from regdash.reports.resembling import FEW, checked_robust
from regdash.reports.windows_asked import checked_windows
from regdash.store.cuts import Cut

MOST_GROUPS = 100
SMALL_P = 0.05


def compare_report(
    cut: Cut,
    policy: Policy,
    cohort: Cohort,
    by: Sequence[Grouping],
    adjust: Sequence[Grouping] = (),
    windows: Sequence[float] = (),
    reference: str | None = None,
    penalised: bool = False,
    endpoint: str = ANY_REVISION.key,
    robust: str | None = None,
) -> CompareReport:
    """
    Answer: how do groups' hazards of revision compare, among joints that are alike in some fields?

    Args:
        by: makes the groups; two of them at least.
        adjust: fields that are held alike, in bands or words. One that makes the groups too, or has one value among
            these joints, is left out.
        windows: years since implantation at which one window ends and the next begins.
        reference: the group that all others are compared with, as `reference_of`; left out, the largest.
        penalised: keep ratios finite where a group has no revisions (Firth).
        endpoint: key or name of the endpoint, as `endpoints.named`; windows are of its clock.
        robust: "patient", "surgeon" or "hospital", whose joints may resemble each other: limits and the test of the
            ratios are by their scatter. Left out, joints are independent.

    Raises:
        FilterError: an outcome word in the cohort, no groups, an unknown reference, window or endpoint, or limits
            that are to be robust by what makes the groups.
        ModelError: one group, no revisions, fields that say the same, or limits that cannot be robust.
    """
    by, windows = tuple(by), checked_windows(windows)
    own = {g.field.key for g in by}
    fields = [g for g in adjust if g.field.key not in own]
    checked_robust(robust, by, fields, penalised)
    # Revisions that compete are no events to a hazard, whichever way they are counted; to Gray's test they compete.
    patterns = count_patterns(cut, cohort, by, fields, endpoint=named(endpoint), compete=True, cluster=robust)
    _refuse(patterns, policy)
    place = reference_of(patterns.counted, patterns.numbers, patterns.joints_by_group.tolist(), reference)
    asked = comparison(patterns, ",".join(map(str, by)), place, penalised)
    adjusted = wording.fields([covariate.key for covariate in asked.covariates])
    fit = None if penalised else asked.fit
    rows = overall_rows(policy, asked, fit)
    rows += window_rows(policy, asked, windows) if windows else []
    tests = tested_rows(policy, asked, fit, adjusted)
    written = head(
        patterns.counted,
        policy,
        "hazard ratio of revision",
        wording.HAZARD_RATIO.format(likeness=wording.likeness(robust)) + (wording.FIRTH if penalised else ""),
        [*_not_adjusted(adjust, own, asked), *_cautions(policy, asked, rows, tests)],
        view=IMPLANT_VIEW,
        not_by_chance=wording.adjusted_only_for(adjusted),
    )
    return CompareReport(
        head=written,
        groups=patterns.groups,
        reference=asked.labels[place],
        adjust=tuple(covariate.grouping for covariate in asked.covariates),
        windows=windows,
        rows=tuple(_in_order(rows, asked)),
        tests=tuple(tests),
        model=_sentence(policy, asked, windows),
        modelled=policy.count(patterns.joints),
        left_out=patterns.left_out_by(policy),
        robust=robust,
        clusters=None if patterns.clusters is None else policy.count(patterns.clusters.size),
    )


def _refuse(patterns: Patterns, policy: Policy) -> None:
    """Refuse what cannot be compared, in one line."""
    labels = [group.label for group in patterns.groups]
    if not patterns.counted.by:
        raise FilterError("A comparison needs groups. Group by a field, as in class.")
    if not labels:
        why = f": {patterns.lacking(policy)}" if patterns.left_out else ""
        raise ModelError(f"No joint is left to compare{why}. Widen the filter, or adjust for less.")
    if len(labels) == 1:
        raise ModelError(
            f"All joints that can be compared are of one group ({labels[0]}), and a comparison needs two. "
            "Group by another field, or widen the filter."
        )
    if len(labels) > MOST_GROUPS:
        raise FilterError(
            f"There are {len(labels):,} groups, more than the {MOST_GROUPS} that can be compared with one. Filter "
            "first, or group by less."
        )
    if not patterns.revisions:
        joints = wording.so_many(patterns.joints, "joint", policy.said)
        raise ModelError(f"None of {joints} is revised, so there is nothing to compare.")


def _in_order(rows: list[CompareRow], asked: Comparison) -> list[CompareRow]:
    """Each group's ratio for all of follow-up, then window by window."""
    place = {label: number for number, label in enumerate(asked.labels)}
    return sorted(rows, key=lambda row: (place[row.group], row.from_years > 0 or row.to_years is not None))


def _cautions(policy: Policy, asked: Comparison, rows: list[CompareRow], tests: list[TestRow]) -> list[str]:
    changes = p_of(tests, PROPORTIONALITY)
    said = []
    if changes is not None:
        said.append(wording.RATIO_CHANGES if changes < SMALL_P else wording.RATIO_ON_AVERAGE)
    said += asked.patterns.cautions(policy)
    said += _few_clusters(policy, asked)
    said += [wording.many_ratios(len(rows))] if len(rows) > 1 else []
    return [*said, wording.RATIOS_CENSOR_DEATHS]


def _not_adjusted(adjust: Sequence[Grouping], own: set[str], asked: Comparison) -> list[str]:
    """Say which fields were named and say nothing: those that make the groups, and those that are alike in all."""
    there = {covariate.grouping.field.key for covariate in asked.covariates}
    keys = [grouping.field.key for grouping in adjust]
    made, alike = [key for key in keys if key in own], [key for key in keys if key not in own and key not in there]
    said = [wording.not_adjusted(made, "makes the groups")] if made else []
    return said + ([wording.not_adjusted(alike, "is alike in all joints")] if alike else [])


def _few_clusters(policy: Policy, asked: Comparison) -> list[str]:
    if asked.clusters is None:
        return []
    by_group = asked.clusters.reaching(asked.patterns.group, len(asked.labels), [])[:, 0]
    place = int(by_group.argmin())
    fewest, group = int(by_group[place]), asked.labels[place]
    return [wording.few_clusters(fewest, asked.clusters.kind, group, FEW, policy.said)] if fewest < FEW else []


def _sentence(policy: Policy, asked: Comparison, windows: tuple[float, ...]) -> str:
    """Say the model in one sentence."""
    patterns = asked.patterns
    held = "; ".join(map(levels_said, asked.covariates))
    adjusted = f"adjusted for {held}" if held else "adjusted for nothing"
    split = "; and a ratio for each window since implantation, the adjustment alike in all" if windows else ""
    by = ""
    if asked.clusters is not None:
        by = f"; limits by the scatter of {wording.so_many(asked.clusters.size, asked.clusters.kind, policy.said)}"
    return (
        f"Cox's model of the hazard of revision in {wording.so_many(patterns.joints, 'joint', policy.said)}, "
        f"{policy.said(patterns.revisions)} of them revised: "
        f"{asked.term} against {asked.labels[asked.reference]}, {adjusted}{split}{by}."
    )
