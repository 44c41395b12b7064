"""
What the dashboard may ask, and of whom: anything that answers these questions. The program hands in a `Desk`,
tests hand in a double; the screens know no other way to an answer.
"""

from collections.abc import Mapping, Sequence
from typing import Any, Protocol

from regdash.cohort import Cohort
from regdash.grouping import Grouping
from regdash.reports.model import (
    CompareReport,
    DescribeReport,
    GapReport,
    ImplantReport,
    ImplantsReport,
    JointReport,
    JointsReport,
    ReasonsReport,
    RiskReport,
)
from regdash.reports.submitted_rows import FindingsReport, FoundRowsReport, ReceivedReport


class Manifest(Protocol):
    """What a data cut says of itself."""

    @property
    def cut(self) -> str: ...
    @property
    def known_as_of(self) -> str: ...
    @property
    def joints(self) -> int: ...
    @property
    def patients(self) -> int: ...
    @property
    def revisions(self) -> int: ...


class Questions(Protocol):
    """Every question may be asked on any thread, raises Cancelled when it is cancelled, and RegdashError otherwise."""

    @property
    def manifest(self) -> Manifest: ...
    @property
    def known(self) -> Mapping[str, Sequence[str]]: ...
    @property
    def first_joint(self) -> str | None: ...
    def describe(self, cohort: Cohort, by: tuple[Grouping, ...]) -> DescribeReport: ...
    def risk(
        self,
        cohort: Cohort,
        by: tuple[Grouping, ...],
        years: tuple[float, ...],
        view: str,
        *,
        endpoint: str = ...,
    ) -> RiskReport: ...
    def reasons(
        self, cohort: Cohort, by: tuple[Grouping, ...], years: float, *, endpoint: str = ...
    ) -> ReasonsReport: ...
    def compare(
        self,
        cohort: Cohort,
        by: tuple[Grouping, ...],
        adjust: tuple[Grouping, ...],
        windows: tuple[float, ...],
        *,
        endpoint: str = ...,
    ) -> CompareReport: ...
    def gap(
        self, cohort: Cohort, by: tuple[Grouping, ...], years: float, view: str, *, endpoint: str = ...
    ) -> GapReport: ...
    def implants(self, cohort: Cohort) -> ImplantsReport: ...
    def implant(
        self, code: str, cohort: Cohort | None, years: Sequence[float], reason_years: float
    ) -> ImplantReport: ...
    def joints(self, cohort: Cohort, offset: int, limit: int, order: str) -> JointsReport: ...
    def joint(self, joint_id: str) -> JointReport: ...
    def findings(self, cohort: Cohort) -> FindingsReport: ...
    def found_rows(
        self, cohort: Cohort, rule: str | None, file: str | None, offset: int, limit: int, order: str
    ) -> FoundRowsReport: ...
    def received(self, cohort: Cohort) -> ReceivedReport: ...
    def values(self, key: str, cohort: Cohort) -> Any: ...
    def cuts(self) -> Sequence[Manifest]: ...
    def cancel(self) -> None: ...
    def close(self) -> None: ...
