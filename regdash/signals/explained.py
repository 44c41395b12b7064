"""The explanation of one implant or construct: where its figures come from, part by part."""

from collections.abc import Collection, Sequence
from concurrent.futures import ThreadPoolExecutor

from regdash.cohort import Cohort
from regdash.errors import FilterError
from regdash.grouping import Grouping
from regdash.reports import wording as reported
from regdash.reports.counted import count, head
from regdash.reports.model import IMPLANT_VIEW, Head, LeftOut
from regdash.reports.policy import Policy
from regdash.reports.use import CONSTRUCT, use_of
from regdash.reports.windows_asked import checked_windows
from regdash.signals import explained_wording as wording
from regdash.signals import wording as screened
from regdash.signals.alike import alike_rows, companion_rows
from regdash.signals.excess import excess_rows
from regdash.signals.explained_model import Explanation
from regdash.signals.first_revisions import first_revision_rows
from regdash.signals.model import CONSTRUCTS, IMPLANTS, ReviewsUsed, Unit
from regdash.signals.nearby import nearby_rows
from regdash.signals.one_implant import OneImplant, one_implant
from regdash.signals.parts import subgroup_rows, window_rows
from regdash.signals.settings import ScreenSettings
from regdash.signals.units import withdrawn
from regdash.signals.users import user_rows
from regdash.stats.excess_by_cause import OthersHazard
from regdash.store.cuts import Cut, threads

MEASURE = "explanation of one {kind}"


def explanation(
    cut: Cut,
    policy: Policy,
    settings: ScreenSettings,
    code: str,
    cohort: Cohort,
    adjust: Sequence[Grouping],
    windows: Sequence[float],
    used: ReviewsUsed | None = None,
) -> Explanation:
    """
    Answer: why does one implant look as it does, beside all others of its class?

    Args:
        code: of an implant, or of a construct as in KF-001/KT-001; it is looked at in the class and role in which most
            joints of the cohort hold it.
        settings: they say who is in nobody's comparison group, as in a screen.
        adjust: fields that make the strata of hazard ratios and of what is expected.
        windows: whole years since implantation at which windows end.
        used: reviews; what stands confirmed in them is in nobody's comparison group, as the settings' own.

    Raises:
        FilterError: as `use_of`; no other implant to compare with; windows that do not follow each other.
    """
    use = use_of(cut, cohort, code)
    years = checked_windows(windows)
    kind = CONSTRUCTS if use.kind == CONSTRUCT else IMPLANTS
    used = used or ReviewsUsed()
    implant = one_implant(cut, use, adjust, _apart(cut, settings, used.confirmed(kind)))
    if implant.own.all():
        raise FilterError(f"No other joint of {use.within} can be compared with {use.code}. Widen the filter.")
    hazard = OthersHazard(implant.them)
    whole = implant.them.ratio(policy.level)
    _ = hazard.by_joint  # several parts want it at once
    with ThreadPoolExecutor(threads()) as workers:  # arithmetic on long arrays leaves the interpreter's lock
        left_out = workers.submit(user_rows, policy, implant, hazard, whole)
        alike = workers.submit(alike_rows, policy, implant)
        companions = workers.submit(companion_rows, policy, implant)
        in_windows = workers.submit(window_rows, policy, implant, years)
        # What asks the cut stays on this thread, where the question can be cancelled.
        about = _head(cut, policy, implant, hazard)
        subgroups, revised = subgroup_rows(policy, implant), first_revision_rows(policy, implant)
        nearby = nearby_rows(policy, implant)
    found, users = left_out.result()
    return Explanation(
        head=about,
        code=use.code,
        kind=use.kind,
        role=use.main.role,
        joint_class=use.main.joint_class,
        word=use.word,
        adjust=implant.adjust,
        windows=in_windows.result(),
        excess=excess_rows(policy, implant, hazard),
        at_first_revision=revised,
        subgroups=subgroups,
        falls=found,
        users=users,
        alike=alike.result(),
        companions=companions.result(),
        nearby=nearby,
        left_out=tuple(LeftOut(one.field, policy.count(one.joints or 0)) for one in implant.left_out),
        settings=settings.facts,
        reviews=used.facts(kind),
        decisions=used.reviews.life(Unit(kind, use.main.joint, use.main.joint_class, use.main.role, use.code)),
    )


def _apart(cut: Cut, settings: ScreenSettings, confirmed: Collection[str]) -> set[str]:
    return {*(withdrawn(cut) if settings.leave_out_withdrawn else ()), *settings.confirmed, *confirmed}


def _head(cut: Cut, policy: Policy, implant: OneImplant, hazard: OthersHazard) -> Head:
    use = implant.use
    counted = count(cut, use.within.narrowed(use.word))
    fields = reported.fields([one.field.key for one in implant.adjust])
    said = [screened.SIGNAL_STARTS_A_REVIEW, reported.adjusted_only_for(fields), wording.FALL_LOOKED_FOR]
    said += [wording.SUBGROUPS_MANY, wording.FIRST_REVISIONS_SHIFT, wording.NEARBY_IS_KNOWN]
    others = [code for code in implant.apart if code not in use.parts]
    said += [wording.apart(len(others), use.kind)] if others else []
    said += [wording.left_out(policy.said(hazard.left_out))] if hazard.left_out else []
    lacking = len(implant) - len(implant.them)
    if lacking:
        named = ", ".join(f"{policy.said(one.joints or 0)} have no {one.field}" for one in implant.left_out)
        said.append(reported.left_out(lacking, len(implant), named, policy.said))
    return head(
        counted, policy, MEASURE.format(kind=use.kind), wording.method(fields), said, view=IMPLANT_VIEW,
        not_by_chance=reported.adjusted_only_for(fields),
    )  # fmt: skip
