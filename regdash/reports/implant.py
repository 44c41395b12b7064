"""The page of one implant: its risk and reasons beside all others of its class, its sizes and its users."""

from regdash.cohort import Cohort
from regdash.errors import FilterError
from regdash.reports import reasons, risk, wording
from regdash.reports.counted import Counted, count_parts, head, refuse_outcomes
from regdash.reports.event import Event
from regdash.reports.implants import ImplantCounts, implant_counts, implant_row
from regdash.reports.model import IMPLANT_VIEW, Group, ImplantReport, RateRow
from regdash.reports.policy import Policy
from regdash.reports.rates import rate_row
from regdash.reports.risk import checked_years
from regdash.reports.windows import window_rows
from regdash.store.cuts import Cut
from regdash.store.sqlfiles import statement
from regdash.suggest import nearest

ALL_OTHERS = "all others"
_HAS_IT = (
    "case when joint_no in (select joint_no from component_life "
    "where in_day = 0 and implant = try_cast($implant as implant_codes)) then 0 else 1 end"
)


def implant_report(
    cut: Cut,
    policy: Policy,
    code: str,
    cohort: Cohort | None = None,
    years: tuple[float, ...] = (1.0, 5.0, 10.0, 15.0),
    reason_years: float = 10.0,
) -> ImplantReport:
    """
    Answer: what is known of one implant?

    Args:
        cohort: joints to look among; None for every joint of the cut.

    Raises:
        FilterError: the cut knows no such implant, none of the cohort's primaries used it, the cohort is chosen
            by another component, or by an outcome.
    """
    code = known_code(cut, code)
    cohort = _among(cohort or Cohort(), code)
    refuse_outcomes(cohort)
    found = implant_counts(cut, cohort, code)
    if not found:
        raise FilterError(f"No primary of {str(cohort) or 'this data cut'} used {code}. Widen the filter.")
    main = max(found, key=lambda counts: counts.joints)
    counted = _beside_others(cut, cohort, main)
    return ImplantReport(
        head=head(counted, policy, "one implant", wording.RATE_AGAINST_OTHERS, _cautions(policy, found, main)),
        row=implant_row(policy, main),
        risk=risk.assemble(counted, policy, Event(), IMPLANT_VIEW, checked_years(years)),
        reasons=reasons.assemble(counted, policy, *checked_years([reason_years])),
        sizes=_users(counted, policy, code, "used.size"),
        hospitals=_users(counted, policy, code, "chosen.hospital_id"),
        surgeons=_users(counted, policy, code, "chosen.surgeon_id"),
        windows=window_rows(policy, counted),
    )


def known_code(cut: Cut, code: str) -> str:
    """Find an implant as the cut writes it, or refuse it and name the nearest."""
    codes = cut.known["implant"]
    for there in codes:
        if there.casefold() == code.strip().casefold():
            return there
    raise FilterError(f"There is no implant {code} in data cut {cut.name}. {nearest(code, codes)}")


def _among(cohort: Cohort, code: str) -> Cohort:
    """Leave out a word that chose the implant itself; others on components would speak of another one than it."""
    for condition in cohort.conditions:
        if condition.field.component and not condition.negated:
            if (condition.key, condition.values) != ("implant", (code,)):
                raise FilterError(f"{condition} chooses joints by another component than {code}. Leave it out.")
            cohort = cohort.without("implant")
    return cohort


def _beside_others(cut: Cut, cohort: Cohort, main: ImplantCounts) -> Counted:
    """Count two parts of the implant's class: the joints with it, and all others."""
    within = cohort.narrowed(f"joint={main.joint}", f"class={main.joint_class}")
    groups = (
        Group(main.implant, within.narrowed(f"implant={main.implant}").words),
        Group(ALL_OTHERS, within.narrowed(f"implant!={main.implant}").words),
    )
    return count_parts(cut, within, _HAS_IT, {"implant": main.implant}, groups)


def _users(counted: Counted, policy: Policy, code: str, unit: str) -> tuple[RateRow, ...]:
    predicate = counted.cohort.predicate()
    query = statement("queries/implant_users", unit=unit, predicate=predicate.sql)
    found = counted.cut.rows(query, implant=code, **predicate.parameters)
    return tuple(rate_row(policy, label, joints, days, revisions) for label, joints, days, revisions in found)


def _cautions(policy: Policy, found: list[ImplantCounts], main: ImplantCounts) -> list[str]:
    elsewhere = [f"{policy.said(c.joints)} as {c.role} in {c.joint_class} {c.joint}s" for c in found if c is not main]
    said = [wording.SIGNAL_IS_NO_CAUSE, wording.RATE_AVERAGES, wording.OTHERS_MAY_LACK_ROLE, wording.WINDOWS]
    return said + ([f"It was also used elsewhere, not shown here: {'; '.join(elsewhere)}."] if elsewhere else [])
