"""The page of one implant or construct: its risk and reasons beside all others of its class, its sizes and users."""

from regdash.cohort import Cohort
from regdash.reports import reasons, risk, wording
from regdash.reports.counted import Counted, count_parts, head
from regdash.reports.event import Event
from regdash.reports.implants import implant_row
from regdash.reports.model import IMPLANT_VIEW, Group, ImplantReport, RateRow
from regdash.reports.policy import Policy
from regdash.reports.rates import rate_row
from regdash.reports.risk import checked_years
from regdash.reports.use import CONSTRUCT, IMPLANT, Use, use_of
from regdash.reports.windows import window_rows
from regdash.store.cuts import Cut
from regdash.store.sqlfiles import statement

ALL_OTHERS = "all others"
_HAS_IT = {
    IMPLANT: (
        "case when joint_no in (select joint_no from component_life "
        "where in_day = 0 and implant = try_cast($implant as implant_codes)) then 0 else 1 end"
    ),
    CONSTRUCT: "case when construct is not distinct from try_cast($implant as construct_codes) then 0 else 1 end",
}


def implant_report(
    cut: Cut,
    policy: Policy,
    code: str,
    cohort: Cohort | None = None,
    years: tuple[float, ...] = (1.0, 5.0, 10.0, 15.0),
    reason_years: float = 10.0,
) -> ImplantReport:
    """
    Answer: what is known of one implant, or of one construct?

    Args:
        code: of an implant, or of a construct as in KF-001/KT-001.
        cohort: joints to look among; None for every joint of the cut.

    Raises:
        FilterError: as `use_of`.
    """
    use = use_of(cut, cohort or Cohort(), code)
    counted = _beside_others(cut, use)
    return ImplantReport(
        head=head(counted, policy, f"one {use.kind}", wording.RATE_AGAINST_OTHERS, _cautions(policy, use)),
        row=implant_row(policy, use.main),
        risk=risk.assemble(counted, policy, Event(), IMPLANT_VIEW, checked_years(years)),
        reasons=reasons.assemble(counted, policy, checked_years([reason_years])[0]),
        sizes=_users(counted, policy, use, "used.size"),
        hospitals=_users(counted, policy, use, "chosen.hospital_id"),
        surgeons=_users(counted, policy, use, "chosen.surgeon_id"),
        windows=window_rows(policy, counted),
    )


def _beside_others(cut: Cut, use: Use) -> Counted:
    """Count two parts of its class: the joints with it, and all others."""
    groups = (
        Group(use.code, use.within.narrowed(use.word).words),
        Group(ALL_OTHERS, use.within.narrowed(use.word.replace("=", "!=", 1)).words),
    )
    return count_parts(cut, use.within, _HAS_IT[use.kind], {"implant": use.code}, groups)


def _users(counted: Counted, policy: Policy, use: Use, unit: str) -> tuple[RateRow, ...]:
    predicate = counted.cohort.predicate()
    query = statement(f"queries/{use.kind}_users", unit=unit, predicate=predicate.sql)
    found = counted.cut.rows(query, implant=use.code, **predicate.parameters)
    return tuple(rate_row(policy, label, joints, days, revisions) for label, joints, days, revisions in found)


def _cautions(policy: Policy, use: Use) -> list[str]:
    elsewhere = [f"{policy.said(c.joints)} as {c.role} in {c.joint_class} {c.joint}s" for c in use.elsewhere]
    said = [wording.SIGNAL_IS_NO_CAUSE, wording.RATE_AVERAGES, wording.WINDOWS]
    said[2:2] = [wording.OTHERS_MAY_LACK_ROLE] if use.kind == IMPLANT else []
    return said + ([f"It was also used elsewhere, not shown here: {'; '.join(elsewhere)}."] if elsewhere else [])
