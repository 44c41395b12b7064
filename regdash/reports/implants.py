"""Every implant of a cohort against all others of its class."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from regdash.cohort import Cohort
from regdash.grouping import Grouping
from regdash.reports import wording
from regdash.reports.counted import count, head
from regdash.reports.model import ImplantRow, ImplantsReport
from regdash.reports.policy import Policy
from regdash.stats.poisson import rate_ratio, revision_rate
from regdash.stats.years import years_in
from regdash.store.cuts import Cut
from regdash.store.sqlfiles import statement

SMALL_P = 0.05


@dataclass(frozen=True)
class ImplantCounts:
    """Counts of one implant in one role and class, beside all joints of the class; columns of `queries/implants`."""

    joint: str
    joint_class: str
    role: str
    implant: str
    joints: int
    hospitals: int
    surgeons: int
    first_used: str
    last_used: str
    days: int
    revisions: int
    class_days: int
    class_revisions: int


def implants_report(cut: Cut, policy: Policy, cohort: Cohort, by: Sequence[Grouping] = ()) -> ImplantsReport:
    """
    Answer: which implants are revised more often than all others of their class?

    Rows come by rising p, most striking first; none is left out for being small.

    Args:
        by: the joint, where the cohort holds several; classes are then named with it.

    Raises:
        FilterError: an outcome word in the cohort.
    """
    counted = count(cut, cohort, by)
    found = implant_counts(cut, cohort)
    if by:
        found = [replace(counts, joint_class=f"{counts.joint_class} {counts.joint}") for counts in found]
    rows = [implant_row(policy, counts) for counts in found]
    rows.sort(key=lambda row: (row.p is None, row.p, row.code, row.role))
    tested = sum(row.p is not None for row in rows)
    cautions = [
        wording.MANY_TESTS,
        wording.SIGNAL_IS_NO_CAUSE,
        wording.RATE_AVERAGES,
        wording.OTHERS_MAY_LACK_ROLE,
        wording.by_chance(tested, SMALL_P),
    ]
    written = head(counted, policy, "revisions per 100 implant-years", wording.RATE_AGAINST_OTHERS, cautions)
    return ImplantsReport(written, tuple(rows), tested, SMALL_P * tested)


def implant_counts(cut: Cut, cohort: Cohort, code: str | None = None) -> list[ImplantCounts]:
    """Count each implant of a cohort's primaries, or one, beside its class."""
    predicate = cohort.predicate()
    which, parameters = "true", predicate.parameters
    if code is not None:
        which, parameters = "implant = try_cast($implant as implant_codes)", {**parameters, "implant": code}
    query = statement("queries/implants", predicate=predicate.sql, which=which)
    return [ImplantCounts(*row) for row in cut.rows(query, **parameters)]


def implant_row(policy: Policy, counts: ImplantCounts) -> ImplantRow:
    """Compare one implant with all others of its class, its own joints left out of theirs."""
    years = years_in(float(counts.days))
    other_years = years_in(float(counts.class_days - counts.days))
    other_revisions = counts.class_revisions - counts.revisions
    rate = revision_rate(counts.revisions, years, policy.level)
    ratio = rate_ratio(counts.revisions, years, other_revisions, other_years, policy.level)
    small = policy.why_small(counts.joints, counts.revisions, other_revisions)
    why = small or policy.why_no_rate(counts.joints) or rate.note
    few = policy.why_small(counts.joints)
    shown: dict[str, Any] = {
        "per_100_implant_years": rate.per_100_years,
        "lower": rate.lower,
        "upper": rate.upper,
        "rate_ratio": ratio.ratio,
        "ratio_lower": ratio.lower,
        "ratio_upper": ratio.upper,
    }
    return ImplantRow(
        code=counts.implant,
        role=counts.role,
        joint_class=counts.joint_class,
        joints=policy.count(counts.joints),
        hospitals=None if few else counts.hospitals,
        surgeons=None if few else counts.surgeons,
        first_used=None if few else counts.first_used,
        last_used=None if few else counts.last_used,
        implant_years=None if few else years,
        revisions=policy.count(counts.revisions),
        expected=other_revisions / other_years * years if other_years and not small else None,
        p=None if small else ratio.p_higher,  # exact at any number of joints
        withheld=why,
        **(dict.fromkeys(shown) if why else shown),
    )
