"""How the hazard of revision goes along a field of numbers: a curve of ratios to one value, with pointwise limits."""

from collections.abc import Sequence
from dataclasses import replace

from regdash.cohort import Cohort
from regdash.endpoints import ANY_REVISION, named
from regdash.errors import ModelError
from regdash.grouping import Grouping
from regdash.reports import smooth_wording, wording
from regdash.reports.compared_tests import PROPORTIONALITY, p_of
from regdash.reports.comparison import levels_said
from regdash.reports.counted import head
from regdash.reports.measured import VOLUME, Measured, measured
from regdash.reports.model import IMPLANT_VIEW, TestRow
from regdash.reports.patterns import Patterns, count_patterns
from regdash.reports.policy import Policy
from regdash.reports.resembling import FEW, checked_robust
from regdash.reports.smooth_model import SmoothReport
from regdash.reports.smooth_rows import SHOWN, along, curve_of, rows_of
from regdash.reports.smoothed import Smoothed, smoothed, tested_rows
from regdash.store.cuts import Cut

SMALL_P = 0.05
INDEPENDENT = "none"  # joints are independent, whatever the field
_ALIKE_IN = {VOLUME: "surgeon"}  # whose scatter limits come from where nothing else is asked


def smooth_report(
    cut: Cut,
    policy: Policy,
    cohort: Cohort,
    over: str,
    adjust: Sequence[Grouping] = (),
    reference: float | None = None,
    knots: int | None = None,
    at: Sequence[float] = (),
    endpoint: str = ANY_REVISION.key,
    robust: str | None = None,
) -> SmoothReport:
    """
    Answer: how does the hazard of revision go along a field of numbers, among joints that are alike in others?

    Args:
        over: volume, age, bmi or another field of numbers.
        adjust: fields that are held alike, in bands or words; `over` among them is left out.
        reference: the value whose hazard the others are divided by; left out, the median of the joints.
        knots: 3 to 5; left out, 4, or 3 where two of four would fall together.
        at: values to give ratios at; left out, round ones.
        endpoint: as `endpoints.named`.
        robust: "patient", "surgeon" or "hospital", whose joints may resemble each other; "none": joints are
            independent. Left out, surgeons where the field is their volume, and else none.

    Raises:
        FilterError: an outcome word in the cohort, no field of numbers, or a value or number of knots that cannot be.
        ModelError: no revisions, too few values, fields that say the same, or limits that cannot be robust.
    """
    field = measured(over)
    held = [grouping for grouping in adjust if grouping.field.key != field.field.key]
    kind = _cluster(field, robust, held)
    checked_robust(kind, (), held, penalised=False)
    patterns = count_patterns(cut, cohort, (), (field, *held), endpoint=named(endpoint), compete=True, cluster=kind)
    _refuse(patterns, policy)
    own = along(field, patterns, reference, knots)
    asked = smoothed(patterns, own)
    adjusted = wording.fields([covariate.key for covariate in asked.others])
    why = policy.why_no_curve(patterns.revisions, len(own.knots) - 1) or _too_few_alike(patterns)
    tests = tested_rows(asked, adjusted, why)
    written = head(
        patterns.counted,
        policy,
        "hazard ratio of revision",
        smooth_wording.METHOD.format(field=field.field.key, scale=field.scale, likeness=smooth_wording.likeness(kind)),
        _cautions(policy, asked, adjust, adjusted, tests),
        view=IMPLANT_VIEW,
    )
    return SmoothReport(
        head=replace(written, by=(field,)),
        over=field,
        reference=own.reference,
        named=reference is not None,
        knots=own.knots,
        knot_percentiles=own.percentiles,
        low=own.low,
        high=own.high,
        adjust=tuple(covariate.grouping for covariate in asked.others),
        rows=rows_of(policy, asked, at, why),
        curve=curve_of(policy, asked, why),
        tests=tests,
        model=_sentence(policy, asked),
        modelled=policy.count(patterns.joints),
        left_out=patterns.left_out_by(policy),
        robust=kind,
        clusters=None if patterns.clusters is None else policy.count(patterns.clusters.size),
    )


def _cluster(field: Measured, robust: str | None, held: Sequence[Grouping]) -> str | None:
    if robust is not None:
        return None if robust == INDEPENDENT else robust
    usual = _ALIKE_IN.get(field.field.key)
    return None if usual in [grouping.field.key for grouping in held] else usual


def _too_few_alike(patterns: Patterns) -> str | None:
    """Say why nothing is told by the scatter of so few: of 20, tests at 5 % see in a quarter what is not there."""
    clusters = patterns.clusters
    return None if clusters is None or clusters.size >= FEW else smooth_wording.few_alike(clusters.kind, FEW)


def _refuse(patterns: Patterns, policy: Policy) -> None:
    if not patterns.joints:
        why = f": {patterns.lacking(policy)}" if patterns.left_out else ""
        raise ModelError(f"No joint is left to model{why}. Widen the filter, or adjust for less.")
    if not patterns.revisions:
        raise ModelError(
            f"None of {wording.so_many(patterns.joints, 'joint', policy.said)} is revised, so there is no curve."
        )


def _cautions(
    policy: Policy, asked: Smoothed, adjust: Sequence[Grouping], adjusted: str, tests: Sequence[TestRow]
) -> list[str]:
    own, patterns = asked.along, asked.patterns
    key, changes = own.field.field.key, p_of(tests, PROPORTIONALITY)
    said = [smooth_wording.not_by_chance(key, adjusted)]
    said += asked.not_adjusted(adjust)
    said += [smooth_wording.CHANGES] if changes is not None and changes < SMALL_P else []
    said += patterns.cautions(policy)
    said += _of_volume(asked) if key == VOLUME else []
    said.append(smooth_wording.outside(own.low, own.high, SHOWN, key))
    return [*said, smooth_wording.NO_THRESHOLD, wording.RATIOS_CENSOR_DEATHS]


def _of_volume(asked: Smoothed) -> list[str]:
    said = [smooth_wording.VOLUME_IS_MISSING_EARLY]
    one_class = any(
        c.key == "class" and not c.negated and len(c.values) == 1 for c in asked.patterns.counted.cohort.conditions
    )
    if not one_class and "class" not in [covariate.key for covariate in asked.others]:
        said.append(smooth_wording.VOLUME_OF_CLASSES)
    return said + ([smooth_wording.VOLUME_IS_NOT_INDEPENDENT] if asked.patterns.clusters is None else [])


def _sentence(policy: Policy, asked: Smoothed) -> str:
    """Say the model in one sentence."""
    own, patterns = asked.along, asked.patterns
    held = "; ".join(map(levels_said, asked.others))
    by = ""
    if patterns.clusters is not None:
        by = (
            f"; limits by the scatter of {wording.so_many(patterns.clusters.size, patterns.clusters.kind, policy.said)}"
        )
    return (
        f"Cox's model of the hazard of revision in {wording.so_many(patterns.joints, 'joint', policy.said)}, "
        f"{policy.said(patterns.revisions)} of them revised: "
        f"{smooth_wording.spline(own.field.scale, own.knots, own.percentiles)}, against {own.reference:g}, "
        f"adjusted for {held or 'nothing'}{by}."
    )
