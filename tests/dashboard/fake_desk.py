"""
A desk without a database: every answer follows from plain formulas, so screens can be compared letter by letter.
It writes down what it was asked, and can be made to think until it is told to answer or is cancelled.
"""

import threading
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from regdash import endpoints, grouping
from regdash.cohort import Cohort
from regdash.errors import Cancelled, FilterError, ModelError
from regdash.grouping import Grouping
from regdash.reports.model import (
    IMPLANT_VIEW,
    PATIENT_VIEW,
    CompareReport,
    CompareRow,
    Curve,
    DescribeReport,
    DescribeRow,
    GapReport,
    GapRow,
    Group,
    Head,
    ImplantReport,
    ImplantRow,
    JointEvent,
    JointReport,
    JointsReport,
    LeftOut,
    RateRow,
    ReasonRow,
    ReasonsReport,
    RiskReport,
    RiskRow,
    ShareRow,
    TestRow,
)
from regdash.reports.mortality_model import MortalityReport
from regdash.store.cuts import Manifest
from tests.dashboard.fake_cuts import FakeCuts
from tests.dashboard.fake_done import FakeDone
from tests.dashboard.fake_explained import FakeExplained
from tests.dashboard.fake_links import FakeLinks
from tests.dashboard.fake_mortality import mortality_of
from tests.dashboard.fake_named import FakeNamed
from tests.dashboard.fake_records import FakeRecords
from tests.dashboard.fake_rows import FakeRows
from tests.dashboard.fake_signals import FakeSignals
from tests.dashboard.fake_smooth import FakeSmooth
from tests.dashboard.fake_sql import FakeSql
from tests.dashboard.fake_units import FakeUnits

CUT = "2024-12-31.1"
KNOWN = {
    "hospital": ("H001", "H002", "H012", "not recorded"),
    "region": ("R1", "not recorded"),
    "surgeon": ("S0001", "S0123", "not recorded"),
    "construct": ("KF-017/KT-017", "UF-004/UT-004", "not recorded"),
    "implant": ("KF-017", "KT-017", "UF-004", "UT-004", "not recorded"),
    "maker": ("M01", "M03", "not recorded"),
}
REASONS = {
    "total": (("infection", 0.0125), ("loosening", 0.0118), ("instability", 0.0072), ("pain", 0.0031)),
    "partial": (("progression of disease", 0.071), ("loosening", 0.048), ("bearing dislocation", 0.0083)),
}
COLUMNS = ("joint_id", "class", "construct", "sex", "age", "implanted_date", "hospital_id", "surgeon_id")
COLUMNS += ("followed_years", "ended", "reason", "action")
JOINTS = 1234
FEWEST = 40


@dataclass
class Thinking:
    """A question that waits; `answer` lets it go on."""

    asked: Cohort
    started: threading.Event = field(default_factory=threading.Event)
    ended: threading.Event = field(default_factory=threading.Event)
    cancelled: bool = False

    def answer(self) -> None:
        self.ended.set()


class FakeDesk(
    FakeDone,
    FakeNamed,
    FakeSignals,
    FakeRows,
    FakeRecords,
    FakeLinks,
    FakeCuts,
    FakeUnits,
    FakeSql,
    FakeExplained,
    FakeSmooth,
):
    """Answers every question of the dashboard."""

    def __init__(self, cut: str = CUT) -> None:
        self.cut = cut
        self.asked: list[tuple[str, Any]] = []
        self.endpoints: list[tuple[str, str]] = []
        self.uncompared = ""  # why no groups can be compared
        self.slow: set[str] = set()  # filters whose risk is thought about until it is answered or cancelled
        self.deaf: set[str] = set()  # slow ones that do not hear that they are cancelled
        self.thinking: dict[str, Thinking] = {}
        self.cancels = 0
        self.closed = False
        self.fault: Exception | None = None

    # What a desk says of itself

    @property
    def manifest(self) -> Manifest:
        return manifest(self.cut)

    @property
    def known(self) -> dict[str, tuple[str, ...]]:
        return KNOWN

    def cuts(self) -> list[Manifest]:
        return [manifest("2023-12-31.1"), manifest("2024-12-31.1")]

    def cancel(self) -> None:
        self.cancels += 1
        for name, question in self.thinking.items():
            if name not in self.deaf:
                question.cancelled = True
                question.ended.set()

    def close(self) -> None:
        self.closed = True

    # Questions

    def risk(
        self,
        cohort: Cohort,
        by: Sequence[Grouping] = (),
        years: Sequence[float] = (1.0, 5.0, 10.0, 15.0),
        view: str = IMPLANT_VIEW,
        endpoint: str = "any-revision",
        beside: Cohort | None = None,
    ) -> RiskReport:
        self._think("risk", cohort)
        self.endpoints.append(("risk", endpoint))
        groups = groups_of(cohort, by) if beside is None else two_groups(cohort, beside)
        rows = [risk_row(group.label, n, year, size(cohort, n)) for n, group in numbered(groups) for year in years]
        measure = "net revision risk" if view == IMPLANT_VIEW else "cumulative incidence of revision"
        curves = tuple(curve(group.label, n, size(cohort, n)) for n, group in numbered(groups))
        asked = replace(head(measure, view, cohort, by), endpoint=endpoints.named(endpoint).name)
        return RiskReport(asked, groups, tuple(years), tuple(rows), curves)

    def reasons(
        self,
        cohort: Cohort,
        by: Sequence[Grouping] = (),
        years: float = 10.0,
        endpoint: str = "any-revision",
        beside: Cohort | None = None,
    ) -> ReasonsReport:
        self._think("reasons", cohort)
        self.endpoints.append(("reasons", endpoint))
        groups = groups_of(cohort, by) if beside is None else two_groups(cohort, beside)
        rows = [row for n, group in numbered(groups) for row in reason_rows(group.label, n, years)]
        curves = tuple(
            (g.label, tuple(curve(reason, n, 9000, risk / 20) for reason, risk in reasons_of(n)))
            for n, g in numbered(groups)
        )
        asked = head("cumulative incidence of revision by reason", PATIENT_VIEW, cohort, by)
        return ReasonsReport(asked, groups, years, tuple(rows), curves)

    def mortality(
        self, cohort: Cohort, by: Sequence[Grouping], days: Sequence[int], beside: Cohort | None = None
    ) -> MortalityReport:
        self._think("mortality", cohort)
        self.asked.append(("mortality days", tuple(days)))
        groups = groups_of(cohort, by) if beside is None else two_groups(cohort, beside)
        curves = [curve(group.label, n, size(cohort, n), 0.01) for n, group in numbered(groups)]
        return mortality_of(cohort, by, days, beside, groups, curves)

    def compare(
        self,
        cohort: Cohort,
        by: Sequence[Grouping],
        adjust: Sequence[Grouping],
        windows: Sequence[float],
        endpoint: str = "any-revision",
    ) -> CompareReport:
        self._think("compare", cohort)
        self.endpoints.append(("compare", endpoint))
        self.asked.append(("adjust", ",".join(map(str, adjust))))
        groups = groups_of(cohort, by)
        if len(groups) < 2:
            raise FilterError("A comparison needs groups. Group by a field, as in class.")
        if self.uncompared:
            raise ModelError(self.uncompared)
        spans = [(0.0, None), *zip((0.0, *windows), (*windows, None))]
        rows = [ratio_row(group.label, groups[0].label, n, span) for n, group in numbered(groups)[1:] for span in spans]
        return CompareReport(
            head("hazard ratio of revision", IMPLANT_VIEW, cohort, by),
            groups,
            groups[0].label,
            tuple(adjust),
            tuple(windows),
            tuple(rows),
            TESTS,
            f"Cox's model of the hazard of revision in 90,000 joints: adjusted for {','.join(map(str, adjust))}.",
            90000,
            (LeftOut("sex", 6412),),
        )

    def gap(
        self, cohort: Cohort, by: Sequence[Grouping], years: float, view: str, endpoint: str = "any-revision"
    ) -> GapReport:
        self._think("gap", cohort)
        self.endpoints.append(("gap", endpoint))
        total, partial = groups_of(cohort, by)
        reasons = {**dict(REASONS["partial"]), **dict(REASONS["total"])}
        found = [
            (name, dict(REASONS["partial"]).get(name, 0.0), dict(REASONS["total"]).get(name, 0.0)) for name in reasons
        ]
        withheld = NO_SHARES if years < 2 else None
        rows = [gap_row(*each, 0.0919, withheld) for each in sorted(found, key=lambda one: -abs(one[1] - one[2]))]
        rows.append(gap_row("all reasons", 0.1273, 0.0346, 0.0927, withheld))
        shares = () if withheld else tuple(ShareRow(r.reason, r.share or 0, -0.1, 0.9, None) for r in rows[:-1])
        asked = head("difference in the risk of revision, by reason", view, cohort, by)
        return GapReport(asked, (partial, total), years, tuple(rows), shares, ())

    def describe(self, cohort: Cohort, by: Sequence[Grouping] = ()) -> DescribeReport:
        self._think("describe", cohort)
        if [grouping.field.key for grouping in by] == ["implanted"]:
            groups = tuple(Group(str(year), (f"implanted={year}",)) for year in range(2005, 2025))
        else:
            groups = groups_of(cohort, by)
        rows = tuple(describe_row(group.label, size(cohort, n) // (1 + n // 2)) for n, group in numbered(groups))
        return DescribeReport(head("description", "", cohort, by), groups, rows)

    def implant(
        self, code: str, cohort: Cohort | None = None, years: Sequence[float] = (1.0, 5.0), reason_years: float = 10.0
    ) -> ImplantReport:
        cohort = cohort or Cohort()
        self._think("implant", code)
        if code not in KNOWN["implant"]:
            raise FilterError(f"There is no implant {code}.")
        pair = grouping.parse("class")
        risk, reasons = self.risk(cohort, pair, years), self.reasons(cohort, pair, reason_years)
        names = {"total": code, "partial": "all others"}
        return ImplantReport(
            head("one implant", "", cohort, ()),
            implant_row(code, KNOWN["implant"].index(code)),
            renamed_risk(risk, names),
            renamed_reasons(reasons, names),
            tuple(rate_row(label, n) for n, label in enumerate(("5", "6", "7"))),
            tuple(rate_row(label, n) for n, label in enumerate(KNOWN["hospital"][:-1])),
            tuple(rate_row(label, n) for n, label in enumerate(KNOWN["surgeon"])),
            tuple(
                rate_row(f"{name}, {window}", n)
                for name in names.values()
                for n, window in enumerate(("0–1 years", "1–5 years", "5 years and later"))
            ),
        )

    def joints(self, cohort: Cohort, offset: int = 0, limit: int = 200, order: str = "implanted_date") -> JointsReport:
        self._think("joints", (str(cohort), offset, order))
        numbers = range(JOINTS - 1, -1, -1) if order.startswith("-") else range(JOINTS)
        rows = tuple(joint_values(n) for n in numbers[offset : offset + limit])
        return JointsReport(head("joints", "", cohort, ()), COLUMNS, rows, JOINTS, offset)

    linked_revisions: tuple[str, ...] = ("H012-0000077", "H002-0000078")

    def joint(self, joint_id: str) -> JointReport:
        self._think("joint", joint_id)
        events = (
            JointEvent(0, "2009-03-12", "primary partial knee, left", ("hospital H012, surgeon S0123",)),
            JointEvent(2272, "2015-06-01", "revision 1", ("reason: loosening, tibial", "action: partial to total")),
            JointEvent(4096, "2020-05-29", "patient died", ()),
        )
        facts = (("class", "partial"), ("bearing", "mobile"), ("age at the primary", "63"))
        return JointReport(head("one joint", "", Cohort(), ()), joint_id, facts, events, self.linked_revisions)

    def head_of(self, measure: str, view: str, cohort: Cohort) -> Head:
        return head(measure, view, cohort, ())

    first_joint: str | None = None
    lost_office: str | None = None

    def values(self, key: str, cohort: Cohort) -> dict[str, int]:
        self.asked.append(("values", (key, str(cohort))))
        return {"total": 88120, "partial": 8292} if key == "class" else {"female": 51000, "male": 45412}

    def _think(self, question: str, about: Any) -> None:
        self.asked.append((question, about))
        if self.fault is not None:
            raise self.fault
        name = str(about)
        if name in self.slow:
            self.thinking[name] = thought = Thinking(about)
            thought.started.set()
            thought.ended.wait(30)
            if thought.cancelled:
                raise Cancelled("The question was cancelled.")


def manifest(cut: str) -> Manifest:
    return Manifest(
        cut=cut,
        through_date=cut[:10],
        known_as_of="2025-02-09",
        complete_through={"deaths": "2024-12-31"},
        joints=96412,
        patients=81000,
        revisions=3900,
        rows={"follow_up": 96412},
        rule_set="1",
        catalogue="1",
        code_lists="1",
        software="test",
        content_hash="test",
    )


def size(cohort: Cohort, group: int) -> int:
    """Joints of a group: fewer for every word of the filter."""
    return (88120, 8292, 3000, 900, 39)[group % 5] // (1 + len(cohort.conditions))


def head(measure: str, view: str, cohort: Cohort, by: Sequence[Grouping]) -> Head:
    joints = sum(size(cohort, n) for n in range(2))
    return Head(
        measure=measure,
        view=view,
        endpoint="any revision",
        cohort=cohort,
        by=tuple(by),
        cut=CUT,
        joints=joints,
        patients=joints - 100,
        revisions=joints // 25,
        held_revisions=12,
        median_follow_up=7.2,
        method="Net revision risk is 1 − Kaplan–Meier (a source).",
        cautions=("Groups were not chosen by chance: patients differ.", "Nothing here is advice for one patient."),
        settings={"minimum_at_risk": FEWEST},
    )


def two_groups(cohort: Cohort, beside: Cohort) -> tuple[Group, ...]:
    return tuple(Group(str(one) or "every joint", one.words) for one in (cohort, beside))


def groups_of(cohort: Cohort, by: Sequence[Grouping]) -> tuple[Group, ...]:
    if not by:
        return (Group("all", ()),)
    if by[0].field.key == "class":
        kept = [c.values for c in cohort.conditions if c.key == "class"]
        labels = [label for label in ("total", "partial") if not kept or label in kept[0]]
        return tuple(Group(label, cohort.narrowed(f"class={label}").words) for label in labels)
    if by[0].field.key == "age":
        bands = ("..49", "50..59", "60..69", "70..79", "80..")
        return tuple(Group(f"age {band}", cohort.narrowed(f"age={band}").words) for band in bands)
    labels = [f"{by[0].field.key} {n}" for n in range(1, 31)]
    return tuple(Group(label, (*cohort.words, f"age={20 + n}")) for n, label in enumerate(labels))


def numbered(groups: Sequence[Group]) -> list[tuple[int, Group]]:
    """Number groups from 0; partial knees are group 1 also where they are alone."""
    return [(1 if group.label == "partial" else n, group) for n, group in enumerate(groups)]


def risk_at(group: int, years: float) -> float:
    return float((0.0037, 0.0124, 0.006, 0.008, 0.01)[group % 5] * years)


def at_risk(joints: int, years: float) -> int:
    return int(joints * 0.86**years)


def risk_row(label: str, group: int, years: float, joints: int) -> RiskRow:
    left, risk = at_risk(joints, years), risk_at(group, years)
    revised = int(joints * risk * 0.7)
    if left < FEWEST:
        return RiskRow(label, years, left, revised, None, None, None, f"fewer than {FEWEST} joints at risk")
    return RiskRow(label, years, left, revised, risk, risk * 0.92, risk * 1.09)


def ratio_row(label: str, reference: str, group: int, span: tuple[float, float | None]) -> CompareRow:
    start, end = span
    if start == 5 and group % 4 == 2:
        return CompareRow(label, reference, start, end, None, None, None, None, f"fewer than {FEWEST} joints")
    ratio = (1.0, 2.6, 0.7, 1.1, 0.9)[group % 5] * (1.0 if end is None and not start else 0.6 + start / 5)
    return CompareRow(label, reference, start, end, ratio, ratio * 0.8, ratio * 1.25, 0.0421)


TESTS = (
    TestRow("log-rank", "do the groups' hazards of revision differ? not adjusted", 78.27, 1, 1e-18),
    TestRow("log-rank, stratified", "do hazards differ among joints alike in age and sex?", 60.9, 1, 6e-15),
    TestRow(
        "Gray", "do cumulative incidences differ, death competing? not adjusted", None, None, None, "too many groups"
    ),
    TestRow("likelihood ratio", "do hazards differ, adjusted for age and sex?", 46.8, 1, 8e-12),
    TestRow("proportionality", "does the ratio change with time since implantation?", 12.59, 1, 0.0004),
)
NO_SHARES = "shares are withheld: the limits of the whole difference include 0"


def gap_row(reason: str, one: float, other: float, whole: float, withheld: str | None) -> GapRow:
    part = one - other
    share = None if withheld else part / whole
    return GapRow(reason, one, other, part, part - 0.004, part + 0.004, share, withheld)


def curve(label: str, group: int, joints: int, slope: float | None = None) -> Curve:
    years = [float(year) for year in range(21)]
    last = int(max((year for year in years if at_risk(joints, year) >= FEWEST), default=-1) * 365.25)
    days = np.arange(0, last + 1, 7)
    risk = days / 365.25 * (risk_at(group, 1) if slope is None else slope)
    counts = tuple((year, at_risk(joints, year)) for year in years)
    return Curve(label, days, risk, risk * 0.92, risk * 1.09, max(last, 0), counts)


def reasons_of(group: int) -> tuple[tuple[str, float], ...]:
    return REASONS["partial" if group % 2 else "total"]


def reason_rows(label: str, group: int, years: float) -> list[ReasonRow]:
    return [
        ReasonRow(label, reason, years, 1500, int(risk * 9000), 0.25, risk, risk * 0.8, risk * 1.2)
        for reason, risk in reasons_of(group)
    ]


def describe_row(label: str, joints: int) -> DescribeRow:
    return DescribeRow(
        label, joints, joints - 9, 24, 120, "2005-01-03", "2024-12-30", 67.4, 0.56, 7.2, joints // 25, 900, 12
    )


def implant_row(code: str, n: int) -> ImplantRow:
    few = n == 3
    shown = None if few else 0.4 + n / 10
    return ImplantRow(
        code=code,
        role="femoral" if "F" in code else "tibial",
        joint_class="total" if code.startswith("K") else "partial",
        joints=30 if few else 4000 - 900 * n,
        hospitals=20 - n,
        surgeons=80 - n,
        first_used="2006-02-01",
        last_used="2024-11-30",
        implant_years=210.0 if few else 28000.0 - 5000 * n,
        revisions=2 if few else 120 - 20 * n,
        expected=1.1 if few else 100.0,
        per_100_implant_years=shown,
        lower=shown and shown * 0.8,
        upper=shown and shown * 1.2,
        rate_ratio=shown and shown * 2,
        ratio_lower=shown and shown * 1.6,
        ratio_upper=shown and shown * 2.5,
        p=None if few else 0.01 * (n + 1) ** 3,
        withheld=f"fewer than {FEWEST} joints" if few else None,
    )


def rate_row(label: str, n: int) -> RateRow:
    if n == 2:
        return RateRow(label, 12, 80.0, 1, None, None, None, f"fewer than {FEWEST} joints")
    return RateRow(label, 800 - n, 6000.0, 30 + n, 0.5 + n / 10, 0.35, 0.71 + n / 10)


def joint_values(n: int) -> tuple[Any, ...]:
    return (
        f"P{n:09d}-KL",
        "partial",
        "UF-004/UT-004",
        "female" if n % 2 else "male",
        50 + n % 30,
        f"20{10 + n // 100:02d}-01-{1 + n % 28:02d}",
        "H012",
        "S0123",
        1.5,
        "revised",
        "loosening, tibial",
        None if n % 7 == 0 else "partial to total",
    )


def renamed_risk(report: RiskReport, names: dict[str, str]) -> RiskReport:
    return replace(
        report,
        groups=tuple(Group(names[group.label], group.words) for group in report.groups),
        rows=tuple(replace(row, group=names[row.group]) for row in report.rows),
        curves=tuple(replace(curve, group=names[curve.group]) for curve in report.curves),
    )


def renamed_reasons(report: ReasonsReport, names: dict[str, str]) -> ReasonsReport:
    """The total knees' reasons for the implant, and half as much of each for all others."""
    own = [replace(row, group=names["total"]) for row in report.rows if row.group == "total"]
    others = [replace(row, group=names["partial"], incidence=(row.incidence or 0) / 2) for row in own]
    return replace(
        report,
        groups=tuple(Group(names[group.label], group.words) for group in report.groups),
        rows=(*own, *others),
        curves=tuple((names[name], curves) for name, curves in report.curves),
    )
