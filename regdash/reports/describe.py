"""Who the joints of a cohort are, by group."""

from collections.abc import Sequence

from regdash.cohort import Cohort
from regdash.grouping import Grouping
from regdash.reports import wording
from regdash.reports.counted import count, head
from regdash.reports.model import DescribeReport, DescribeRow
from regdash.reports.policy import Policy
from regdash.stats.years import years_in
from regdash.store.cuts import Cut
from regdash.store.sqlfiles import statement


def describe_report(cut: Cut, policy: Policy, cohort: Cohort, by: Sequence[Grouping] = ()) -> DescribeReport:
    """
    Answer: who are they, where and when were they operated on, and what became of them?

    Raises:
        FilterError: an outcome word in the cohort, or more groups than anybody can read.
    """
    counted = count(cut, cohort, by)
    predicate = cohort.predicate()
    grouping = "".join(f"{g.sql()} as g{n}, " for n, g in enumerate(counted.by))
    found = cut.rows(statement("queries/describe", grouping=grouping, predicate=predicate.sql), **predicate.parameters)
    keys = len(counted.by)
    by_numbers = {row[:keys]: row[keys:] for row in found}
    rows = [_row(policy, group.label, *by_numbers[numbers]) for group, numbers in zip(counted.groups, counted.numbers)]
    return DescribeReport(head(counted, policy, "description", wording.DESCRIPTION, []), counted.groups, tuple(rows))


def _row(
    policy: Policy,
    group: str,
    joints: int,
    patients: int,
    hospitals: int,
    surgeons: int,
    first_date: str,
    last_date: str,
    mean_age: float,
    female: float | None,
    median_days: float,
    *ended: int,  # revised, died, lost
) -> DescribeRow:
    """Write one line; of few joints or patients nothing is told but that they are few."""
    small = policy.why_small(joints, patients)
    if small:
        return DescribeRow(group, policy.count(joints), *(None,) * 11, small)
    women = round((female or 0) * joints)
    why = policy.why_small(*ended, women, joints - women)
    shares = None if policy.why_small(women, joints - women) else female
    revised, died, lost = map(policy.count, ended)
    return DescribeRow(
        group=group,
        joints=joints,
        patients=patients,
        hospitals=hospitals,
        surgeons=surgeons,
        first_date=first_date,
        last_date=last_date,
        mean_age=mean_age,
        female=shares,
        median_follow_up=years_in(median_days),
        revised=revised,
        died=died,
        lost=lost,
        withheld=why,
    )
