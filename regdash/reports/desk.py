"""Where questions are asked: one data cut, one policy, and a method for each question."""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from regdash import grouping
from regdash.cohort import Cohort
from regdash.endpoints import ANY_REVISION
from regdash.grouping import Grouping
from regdash.reports.apart import by_joint, first_joint, noted, require_one_joint
from regdash.reports.describe import describe_report
from regdash.reports.done_desk import DoneDesk
from regdash.reports.estimated import AT_LEAST, How
from regdash.reports.field_values import value_counts
from regdash.reports.implant import implant_report
from regdash.reports.implants import implants_report
from regdash.reports.joint import joint_report
from regdash.reports.joints import DEFAULT_ORDER, PAGE, joints_report
from regdash.reports.model import (
    IMPLANT_VIEW,
    CompareReport,
    DescribeReport,
    GapReport,
    ImplantReport,
    ImplantsReport,
    JointReport,
    JointsReport,
    RatesReport,
    ReasonsReport,
    RiskReport,
)
from regdash.reports.mortality import DEFAULT_DAYS, mortality_report
from regdash.reports.mortality_model import MortalityReport
from regdash.reports.policy import Policy
from regdash.reports.policy_file import read_policy
from regdash.reports.rates import rates_report
from regdash.reports.reasons import reasons_report, weight_of
from regdash.reports.records_desk import RecordsDesk
from regdash.reports.risk import risk_report
from regdash.reports.rows_desk import RowsDesk
from regdash.reports.units_desk import UnitsDesk
from regdash.reports.written_desk import WrittenDesk
from regdash.store.cuts import Cut, Manifest, list_cuts

if TYPE_CHECKING:  # models take time to load
    from regdash.reports.smooth_model import SmoothReport

DEFAULT_YEARS = (1.0, 5.0, 10.0, 15.0)
DEFAULT_REASON_YEARS = 10.0
DEFAULT_ADJUST = grouping.parse("age,sex")


class Desk(DoneDesk, RecordsDesk, RowsDesk, UnitsDesk, WrittenDesk):
    """
    Every question on one data cut. Any thread may ask; `cancel`, from another thread, ends what is under way
    and makes it raise Cancelled. Joints are never mixed: see `apart`. The policy is that of the
    store unless another is given.
    """

    def __init__(
        self,
        store: Path,
        cut: str | None = None,
        policy: Policy | None = None,
        withhold_counts_under: int | None = None,
    ) -> None:
        self.policy = (policy or read_policy(store)).at_least(withhold_counts_under)
        self._store = store
        self._cut = Cut(store, cut)

    @property
    def manifest(self) -> Manifest:
        """What the data cut was made from."""
        return self._cut.manifest

    @property
    def known(self) -> Mapping[str, Sequence[str]]:
        """Values of the listed fields in this cut, for `cohort.parse`."""
        return self._cut.known

    @property
    def first_joint(self) -> str | None:
        """The joint to look at first, where the cut holds several; None where it holds one."""
        with self._asking() as cut:
            return first_joint(cut)

    def forget(self) -> None:
        """Keep no count made so far, so that the next question is counted afresh; for measurements."""
        self._cut.remembered.forget()

    def cuts(self) -> list[Manifest]:
        """List the data cuts of the store, newest last."""
        return list_cuts(self._store)

    def risk(
        self,
        cohort: Cohort,
        by: Sequence[Grouping] = (),
        years: Sequence[float] = DEFAULT_YEARS,
        view: str = IMPLANT_VIEW,
        reason: str | None = None,
        endpoint: str = ANY_REVISION.key,
        *,
        difference: bool = False,
        reference: str | None = None,
        given_unrevised: float | None = None,
        standardise: Sequence[Grouping] = (),
        ceiling: float | None = None,
        margin: float | None = None,
        at_least: int = AT_LEAST,
        cluster: str | None = None,
        missing: float | None = None,
        missing_from_worst: int | None = None,
        beside: Cohort | None = None,
    ) -> RiskReport:
        """Ask which proportion is revised by so many years, as `risk_report`; for the rest see `How`."""
        asked = (difference, reference, given_unrevised, tuple(standardise), ceiling, margin, at_least, cluster)
        how = How(*asked, missing, missing_from_worst)
        with self._asking() as cut:
            apart = tuple(by) if beside is not None else by_joint(cut, cohort, by)
            found = risk_report(cut, self.policy, cohort, apart, years, view, reason, endpoint, how, beside)
            return noted(found, by)

    def compare(
        self,
        cohort: Cohort,
        by: Sequence[Grouping],
        adjust: Sequence[Grouping] = DEFAULT_ADJUST,
        windows: Sequence[float] = (),
        reference: str | None = None,
        penalised: bool = False,
        endpoint: str = ANY_REVISION.key,
        robust: str | None = None,
    ) -> CompareReport:
        """Ask how groups compare among joints that are alike, as `compare_report`."""
        from regdash.reports.compare import compare_report  # models take time to load, and few questions need them

        with self._asking() as cut:
            require_one_joint(cut, cohort, by)
            fields = (adjust, windows, reference, penalised, endpoint, robust)
            return compare_report(cut, self.policy, cohort, by, *fields)

    def smooth(
        self,
        cohort: Cohort,
        over: str,
        adjust: Sequence[Grouping] = DEFAULT_ADJUST,
        reference: float | None = None,
        knots: int | None = None,
        at: Sequence[float] = (),
        endpoint: str = ANY_REVISION.key,
        robust: str | None = None,
    ) -> "SmoothReport":
        """Ask how the hazard goes along a field of numbers, as `smooth_report`."""
        from regdash.reports.smooth import smooth_report

        with self._asking() as cut:
            require_one_joint(cut, cohort, ())
            return smooth_report(cut, self.policy, cohort, over, adjust, reference, knots, at, endpoint, robust)

    def gap(
        self,
        cohort: Cohort,
        by: Sequence[Grouping],
        years: float = DEFAULT_REASON_YEARS,
        view: str = IMPLANT_VIEW,
        detail: bool = False,
        reference: str | None = None,
        endpoint: str = ANY_REVISION.key,
    ) -> GapReport:
        """Ask what each reason adds to the difference between two groups, as `gap_report`."""
        from regdash.reports.gap import gap_report

        with self._asking() as cut:
            require_one_joint(cut, cohort, by)
            return gap_report(cut, self.policy, cohort, by, years, view, detail, reference, endpoint)

    def reasons(
        self,
        cohort: Cohort,
        by: Sequence[Grouping] = (),
        years: float = DEFAULT_REASON_YEARS,
        detail: bool = False,
        endpoint: str = ANY_REVISION.key,
        *,
        beside: Cohort | None = None,
    ) -> ReasonsReport:
        """Ask why joints are revised, as `reasons_report`."""
        with self._asking() as cut:
            apart = tuple(by) if beside is not None else by_joint(cut, cohort, by)
            asked = (cohort, tuple(apart), years, detail, endpoint, beside)
            # Most of it is arithmetic, and two places of the dashboard ask the same.
            found = cut.remembered.get(("reasons", *asked), lambda: reasons_report(cut, self.policy, *asked), weight_of)
            return noted(found, by)

    def rates(
        self,
        cohort: Cohort,
        by: Sequence[Grouping] = (),
        endpoint: str = ANY_REVISION.key,
        windows: Sequence[float] = (),
        calendar: Sequence[int] = (),
    ) -> RatesReport:
        """Ask for revisions per 100 implant-years, as `rates_report`."""
        with self._asking() as cut:
            return noted(
                rates_report(cut, self.policy, cohort, by_joint(cut, cohort, by), endpoint, windows, calendar), by
            )

    def describe(self, cohort: Cohort, by: Sequence[Grouping] = ()) -> DescribeReport:
        """Ask who the joints are, as `describe_report`."""
        with self._asking() as cut:
            return noted(describe_report(cut, self.policy, cohort, by_joint(cut, cohort, by)), by)

    def mortality(
        self,
        cohort: Cohort,
        by: Sequence[Grouping] = (),
        days: Sequence[int] = DEFAULT_DAYS,
        *,
        beside: Cohort | None = None,
    ) -> MortalityReport:
        """Ask of which proportion of operations the patient has died by so many days, as `mortality_report`."""
        with self._asking() as cut:
            apart = tuple(by) if beside is not None else by_joint(cut, cohort, by)
            return noted(mortality_report(cut, self.policy, cohort, apart, days, beside), by)

    def implants(self, cohort: Cohort) -> ImplantsReport:
        """Ask how each implant does against all others of its class, as `implants_report`."""
        with self._asking() as cut:
            return noted(implants_report(cut, self.policy, cohort, by_joint(cut, cohort, ())), ())

    def implant(
        self,
        code: str,
        cohort: Cohort | None = None,
        years: Sequence[float] = DEFAULT_YEARS,
        reason_years: float = DEFAULT_REASON_YEARS,
    ) -> ImplantReport:
        """Ask for everything on one implant, as `implant_report`."""
        with self._asking() as cut:
            return implant_report(cut, self.policy, code, cohort, tuple(years), reason_years)

    def joints(
        self, cohort: Cohort, offset: int = 0, limit: int | None = PAGE, order: str = DEFAULT_ORDER
    ) -> JointsReport:
        """List joints, as `joints_report`."""
        with self._asking() as cut:
            return joints_report(cut, self.policy, cohort, offset, limit, order)

    def joint(self, joint_id: str) -> JointReport:
        """Ask for one joint's life, as `joint_report`."""
        with self._asking() as cut:
            return joint_report(cut, self.policy, joint_id)

    def values(self, key: str, cohort: Cohort) -> dict[str, int]:
        """Count joints by the values of a field, as `value_counts`."""
        with self._asking() as cut:
            return value_counts(cut, self.policy, key, cohort)

    def take_asked_sql(self) -> tuple[str, ...]:
        """List the statements that this thread's questions were answered with since this was last asked."""
        return self._cut.take_asked_sql()

    def cancel(self) -> None:
        """End every question under way; each raises Cancelled in its own thread."""
        self._cut.cancel()

    def close(self) -> None:
        """End what is under way and close the data cut."""
        self._cut.close()

    @contextmanager
    def _asking(self) -> Iterator[Cut]:
        with self._cut.asking():
            yield self._cut
