"""Revisions per 100 implant-years by group."""

from collections.abc import Sequence

from regdash import endpoints
from regdash.cohort import Cohort
from regdash.endpoints import ANY_REVISION
from regdash.grouping import Grouping
from regdash.reports import wording
from regdash.reports.counted import count, head
from regdash.reports.model import RateRow, RatesReport
from regdash.reports.policy import Policy
from regdash.stats.poisson import revision_rate
from regdash.stats.years import years_in
from regdash.store.cuts import Cut


def rates_report(
    cut: Cut, policy: Policy, cohort: Cohort, by: Sequence[Grouping] = (), endpoint: str = ANY_REVISION.key
) -> RatesReport:
    """
    Answer: how many revisions are there per 100 implant-years, by group?

    Args:
        endpoint: key or name of the endpoint, as `endpoints.named`; its events are the revisions, and years are those
            of its clock.

    Raises:
        FilterError: an outcome word in the cohort, or an unknown endpoint.
    """
    counted = count(cut, cohort, by, endpoint=endpoints.named(endpoint))
    rows = []
    for number, group in enumerate(counted.groups):
        counts = counted.table.of(number)
        rows.append(rate_row(policy, group.label, counts.joints, counts.implant_days, int(counts.revised.sum())))
    method = wording.RATE if counted.endpoint == ANY_REVISION else wording.RATE_OF_ENDPOINT
    written = head(counted, policy, "revisions per 100 implant-years", method, [wording.RATE_AVERAGES])
    return RatesReport(written, counted.groups, tuple(rows))


def rate_row(policy: Policy, label: str, joints: int, days: int, revisions: int) -> RateRow:
    """Write one line, its rate withheld where the policy says so; `days` are those in follow-up of all joints."""
    rate = revision_rate(revisions, years_in(float(days)), policy.level)
    why = policy.why_no_rate(joints, revisions) or rate.note
    shown = (None, None, None) if why else (rate.per_100_years, rate.lower, rate.upper)
    followed = None if policy.why_small(joints) else rate.years
    return RateRow(label, policy.count(joints), followed, policy.count(revisions), *shown, why)
