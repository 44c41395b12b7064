"""Revisions per 100 implant-years by group."""

from collections.abc import Sequence
from typing import Any

from regdash import endpoints
from regdash.cohort import Cohort
from regdash.endpoints import ANY_REVISION
from regdash.grouping import Grouping
from regdash.reports import wording
from regdash.reports.counted import Counted, count, head
from regdash.reports.model import RateRow, RatesReport
from regdash.reports.policy import Policy
from regdash.reports.windows_asked import checked_windows
from regdash.stats.poisson import RevisionRate, revision_rate
from regdash.stats.years import years_in
from regdash.store.cuts import Cut

MEASURE = "revisions per 100 implant-years"


def rates_report(
    cut: Cut,
    policy: Policy,
    cohort: Cohort,
    by: Sequence[Grouping] = (),
    endpoint: str = ANY_REVISION.key,
    windows: Sequence[float] = (),
    calendar: Sequence[int] = (),
) -> RatesReport:
    """
    Answer: how many revisions are there per 100 implant-years, by group?

    Args:
        endpoint: key or name of the endpoint, as `endpoints.named`; its events are the revisions, and years are those
            of its clock.
        windows, calendar: as `window_rates.windowed_rows`; where either is there, the report has a row a window.

    Raises:
        FilterError: an outcome word in the cohort, an unknown endpoint, or windows that do not follow each other.
    """
    counted = count(cut, cohort, by, endpoint=endpoints.named(endpoint))
    if windows or calendar:
        return _in_windows(policy, counted, checked_windows(windows), calendar)
    rows = []
    for number, group in enumerate(counted.groups):
        counts = counted.table.of(number)
        rows.append(rate_row(policy, group.label, counts.joints, counts.implant_days, int(counts.revised.sum())))
    written = head(counted, policy, MEASURE, _method(counted), [wording.RATE_AVERAGES])
    return RatesReport(written, counted.groups, tuple(rows))


def _method(counted: Counted) -> str:
    return wording.RATE if counted.endpoint == ANY_REVISION else wording.RATE_OF_ENDPOINT


def _in_windows(policy: Policy, counted: Counted, windows: Sequence[float], calendar: Sequence[int]) -> RatesReport:
    from regdash.reports.window_rates import windowed_rows  # few questions need windows

    rows = windowed_rows(policy, counted, windows, calendar)
    cautions = [wording.WINDOWS, wording.RATE_AVERAGES]
    return RatesReport(head(counted, policy, MEASURE, _method(counted), cautions), counted.groups, (), rows)


def rate_row(policy: Policy, label: str, joints: int, days: int, revisions: int) -> RateRow:
    """Write one line, its rate withheld where the policy says so; `days` are those in follow-up of all joints."""
    rate = revision_rate(revisions, years_in(float(days)), policy.level)
    return RateRow(label, *shown_rate(policy, joints, rate))


def shown_rate(policy: Policy, joints: int, rate: RevisionRate) -> tuple[Any, ...]:
    """Give joints, years, revisions, the rate with its limits, and why it is withheld where it is."""
    why = policy.why_no_rate(joints, rate.revised) or rate.note
    shown = (None, None, None) if why else (rate.per_100_years, rate.lower, rate.upper)
    followed = None if policy.why_small(joints) else rate.years
    return (policy.count(joints), followed, policy.count(rate.revised), *shown, why)
