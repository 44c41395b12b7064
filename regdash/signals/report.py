"""The answer of a screen: which implants, constructs, sizes or lots should somebody look at more closely?"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from regdash.cohort import Cohort
from regdash.errors import FilterError
from regdash.grouping import Grouping
from regdash.reports import wording as reported
from regdash.reports.counted import count, head
from regdash.reports.model import IMPLANT_VIEW, LeftOut
from regdash.reports.policy import Policy
from regdash.reports.windows_asked import checked_windows
from regdash.signals import wording
from regdash.signals.joints import ScreenedJoints, joints_of, pools_of
from regdash.signals.model import CONSTRUCTS, KINDS, LOTS, SIZES, ReviewsUsed, ScreenReport, ScreenRow
from regdash.signals.pool import Pool, windows_of
from regdash.signals.screen import Finding, Screened, screen
from regdash.signals.settings import ScreenSettings
from regdash.signals.units import CONSTRUCT, Units, units_of, withdrawn
from regdash.store.cuts import Cut
from regdash.suggest import nearest

MEASURE = "screen of {kind}"
_APART_BY = ("joint", "class")  # a screen runs inside them anyway


def screen_report(
    cut: Cut,
    policy: Policy,
    settings: ScreenSettings,
    kind: str,
    cohort: Cohort,
    adjust: Sequence[Grouping],
    windows: Sequence[float],
    by: Sequence[Grouping] = (),
    used: ReviewsUsed | None = None,
) -> ScreenReport:
    """
    Answer: which units of a kind are revised more often than a stated ratio allows?

    Args:
        kind: one of `model.KINDS`.
        adjust: fields that make the strata of hazard ratios.
        windows: years since implantation at which one window ends and the next begins.
        by: the joint, where the cohort holds several; classes are then named with it.
        used: reviews; what stands confirmed in them is in nobody's comparison group, as the settings' own.

    Raises:
        FilterError: an unknown kind, an outcome word in the cohort, or windows that do not follow each other.
    """
    if kind not in KINDS:
        raise FilterError(f"There is no screen of {kind}. {nearest(kind, KINDS)}")
    windows = checked_windows(windows)
    unused = (*_APART_BY, CONSTRUCT) if kind == CONSTRUCTS else _APART_BY
    adjust = tuple(grouping for grouping in adjust if grouping.field.key not in unused)
    counted = count(cut, cohort, by)
    joints = joints_of(cut, cohort, adjust)
    used = used or ReviewsUsed()
    confirmed = {*settings.confirmed, *used.confirmed(kind)}
    out = confirmed | (withdrawn(cut) if settings.leave_out_withdrawn else set())
    pools = pools_of(joints, _named(units_of(cut, kind, (joints.joint_no, joints.construct)), confirmed), out)
    found = screen(pools, settings, windows_of(windows), policy.level)
    apart = _apart(pools, out)
    fields = reported.fields([grouping.field.key for grouping in adjust])
    method = wording.METHOD.format(
        unit=kind.removesuffix("s"),
        windows=wording.windows(windows),
        strata=wording.strata(fields),
        stated=settings.stated_ratio,
        correction=wording.CORRECTED[settings.correction],
    )
    cautions = _cautions(policy, settings, kind, found, pools, joints, (apart, confirmed), cut.known["implant"])
    by_people = sorted(apart.intersection(used.confirmed(kind)))
    cautions += [wording.by_reviews(by_people, used.as_of)] if by_people else []
    crude = reported.adjusted_only_for(fields)
    written = head(
        counted,
        policy,
        MEASURE.format(kind=kind),
        method,
        [*cautions, *([] if len(counted.groups) > 1 else [crude])],
        view=IMPLANT_VIEW,
        not_by_chance=crude,
    )
    return ScreenReport(
        head=written,
        kind=kind,
        settings=settings,
        adjust=adjust,
        windows=windows,
        rows=tuple(screen_row(policy, one) for one in found.findings),
        tests=found.tests,
        signals=len(found.signals),
        expected_false=found.expected_false,
        not_tested=found.not_tested,
        joints_apart=policy.count(_most_apart(pools)),
        apart=tuple(sorted(apart)),
        left_out=tuple(LeftOut(one.field, policy.count(one.joints or 0)) for one in joints.left_out),
        false_signals=_false_signals(found, settings),
        used=used,
    )


def screen_row(policy: Policy, one: Finding) -> ScreenRow:
    """Write one finding, as far as the policy shows it. Tests are exact at any number, so that their p is shown."""
    small = policy.why_small(one.joints, one.revised, one.others_revised)
    no_rate = policy.why_no_rate(one.joints)
    ratio = None if one.hazard is None else one.hazard.ratio
    few = None if one.hazard is None else policy.why_few_events(one.hazard.events)
    no_ratio = few or (_why_untested(one) if ratio is None else ratio.note)
    rate = not (small or no_rate)
    shown = ratio if not (small or no_ratio) else None
    return ScreenRow(
        code=one.code,
        role=one.role,
        joint_class=one.joint_class,
        window=one.window.label,
        joints=policy.count(one.joints),
        implant_years=None if policy.why_small(one.joints) else one.years,
        revisions=policy.count(one.revised),
        expected=None if small else one.expected,
        per_100_implant_years=one.per_100_years if rate else None,
        rate_ratio=one.rate_ratio if rate else None,
        rate_p=None if small else one.rate_p,
        hazard_ratio=shown.ratio if shown else None,
        lower=shown.lower if shown else None,
        upper=shown.upper if shown else None,
        p=None if small or one.hazard is None else one.hazard.p_higher,
        q=None if small else one.q,
        shrunk_hazard_ratio=None if small or one.drawn is None else one.drawn.ratio,
        probability=None if small or one.drawn is None else one.drawn.probability,
        signal=one.signal,
        withheld=small or no_rate or no_ratio,
    )


def _why_untested(one: Finding) -> str:
    alone = one.expected is None
    return f"not tested: {'nobody to compare with' if alone else 'too few joints or expected revisions'}"


def _named(units: Units, confirmed: set[str]) -> Units:
    """Let units be called by their own codes too, where one of them is confirmed that is no implant."""
    if confirmed.isdisjoint(units.codes):
        return units
    return replace(units, implants=tuple((*names, code) for names, code in zip(units.implants, units.codes)))


def _apart(pools: Sequence[Pool], named: set[str]) -> set[str]:
    """The implants and units left out of comparison groups that are there at all."""
    codes = [code for pool in pools for code, out in zip(pool.codes, pool.apart.tolist(), strict=True) if out]
    held = {word for code in codes for part in code.split("/") for word in part.split()[:1]}
    return held.union(codes) & named


def _most_apart(pools: Sequence[Pool]) -> int:
    """Joints that are in nobody's comparison group in one role or more, each once."""
    found = [pool.joint_no[np.logical_not(pool.inside)] for pool in pools if pool.apart.any()]
    seen = np.zeros(max((int(each.max(initial=-1)) for each in found), default=-1) + 1, dtype=bool)
    for each in found:
        seen[each] = True
    return int(np.count_nonzero(seen))


def _false_signals(found: Screened, settings: ScreenSettings) -> str:
    return wording.false_signals(found.tests, len(found.signals), found.expected_false, settings)


def _cautions(
    policy: Policy,
    settings: ScreenSettings,
    kind: str,
    found: Screened,
    pools: Sequence[Pool],
    joints: ScreenedJoints,
    left_out: tuple[set[str], set[str]],
    known: Sequence[str],
) -> list[str]:
    apart, named = left_out
    confirmed = len(apart & named)
    said = [
        wording.SIGNAL_STARTS_A_REVIEW,
        _false_signals(found, settings),
    ]
    said += [wording.not_tested(found.not_tested, kind, settings)] if found.not_tested else []
    out = policy.said(_most_apart(pools))
    told = wording.apart(out, len(apart) - confirmed, confirmed, kind) if apart else wording.none_apart(settings)
    said.append(told)
    unknown = sorted(set(settings.confirmed) - set(known))
    said += [wording.unknown(unknown)] if unknown else []
    said += [wording.PARTS_NOT_RECORDED.format(part=kind.removesuffix("s"))] if kind in (SIZES, LOTS) else []
    several = [f"{policy.said(p.several)} in the role {p.role}, {p.joint_class}" for p in pools if p.several]
    said += [wording.several(several)] if several else []
    lacking = int((joints.stratum < 0).sum())
    if lacking:
        fields = ", ".join(f"{policy.said(one.joints or 0)} have no {one.field}" for one in joints.left_out)
        said.append(reported.left_out(lacking, len(joints.day), fields, policy.said))
    return [*said, wording.SAME_JOINTS, wording.SCREENED_AGAIN, wording.RATES_ARE_CRUDE]
