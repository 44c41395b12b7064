"""What was done, from plain formulas, for a desk without a database."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from regdash.cohort import Cohort
from regdash.grouping import Grouping
from regdash.reports.done_groups import NO_PRIMARY
from regdash.reports.done_model import (
    ActivityReport,
    ActivityRow,
    DoneHead,
    RevisionListReport,
    RevisionReasonRow,
    RevisionsReport,
    RevisionWorkRow,
)
from regdash.reports.model import Group

HEAD = DoneHead(
    measure="operations done",
    cohort=Cohort(),
    by=(),
    cut="2024-12-31.1",
    primaries=96412,
    revisions=4921,
    unlinked=386,
    held_revisions=12,
    method="Operations counted in the year in which they were done (a source).",
    cautions=("The latest periods will grow: hospitals report late.", "Nothing here is advice for one patient."),
    settings={"confidence_level": 0.95},
)
YEARS = range(2005, 2025)
REASONS = (("infection", 61, 18), ("loosening", 58, 20), ("not recorded", 4, 0))
COLUMNS = ("operation_id", "joint_id", "done_date", "class", "sequence", "years_since", "reason", "action", "stem")
COLUMNS += ("augment", "graft", "hospital_id", "surgeon_id")
REVISIONS = 417


class FakeDone:
    """Answers the questions on what was done."""

    def _think(self, question: str, about: Any) -> None:
        raise NotImplementedError

    def activity(self, cohort: Cohort, by: Sequence[Grouping] = (), per: str = "year") -> ActivityReport:
        self._think("activity", (str(cohort), ",".join(map(str, by)), per))
        names = ("all",) if not by else ("total", "partial", NO_PRIMARY)
        groups = [
            Group(name, cohort.narrowed(*([] if name in ("all", NO_PRIMARY) else [f"class={name}"])).words)
            for name in names
        ]
        periods = [
            f"{year}{part}" for year in YEARS for part in {"year": ("",), "quarter": ("Q1", "Q2")}.get(per, ("-01",))
        ]
        rows = [
            _activity_row(name, n, period, place)
            for n, name in enumerate(names)
            for place, period in enumerate(periods)
        ]
        return ActivityReport(replace(HEAD, cohort=cohort, by=tuple(by)), per, tuple(groups), tuple(rows))

    def revisions(self, cohort: Cohort, by: Sequence[Grouping] = ()) -> RevisionsReport:
        self._think("revisions", (str(cohort), ",".join(map(str, by))))
        periods = [str(c).partition("=")[2].split(",") for c in cohort.conditions if c.key == "revised" and by]
        groups = tuple(Group(one, (*cohort.words, f"revised={one}")) for one in (periods[0] if periods else ["all"]))
        rows = [_reason_row(group.label, n, *reason) for n, group in enumerate(groups) for reason in REASONS]
        work = [_work_row(group.label, n, kind, what) for n, group in enumerate(groups) for kind, what in WORK]
        return RevisionsReport(
            replace(HEAD, measure="revisions done", cohort=cohort, primaries=None), groups, tuple(rows), tuple(work)
        )

    def revision_list(
        self, cohort: Cohort, offset: int = 0, limit: int = 200, order: str = "done_date"
    ) -> RevisionListReport:
        self._think("revision_list", (str(cohort), offset, order))
        rows = tuple(_listed(n) for n in range(REVISIONS)[offset : offset + limit])
        head = replace(HEAD, measure="revisions", cohort=cohort, primaries=None, revisions=REVISIONS)
        return RevisionListReport(head, COLUMNS, rows, REVISIONS, offset)


def _activity_row(name: str, group: int, period: str, place: int) -> ActivityRow:
    primaries = 0 if name == NO_PRIMARY else (2900 + 180 * place) // (1 + 9 * group)
    revisions = (104 + 13 * place) // (1 + 3 * group)
    burden = revisions / (primaries + revisions) if primaries else None
    limits = (0.9 * burden, 1.1 * burden) if burden else (None, None)
    why = None if primaries else "the primaries of these revisions are not here"
    changes = (0.062, -0.031) if place else (None, None)
    counts = (revisions - revisions // 8, revisions // 8, revisions // 12, 2)
    return ActivityRow(name, period, primaries, changes[0], revisions, changes[1], *counts, burden, *limits, None, why)


def _reason_row(group: str, n: int, reason: str, revisions: int, fewer: int) -> RevisionReasonRow:
    own = revisions - n * fewer
    share = None if reason == "not recorded" else own / 130
    limits = (0.8 * share, 1.25 * share) if share else (None, None)
    why = "shares are of revisions with a reason" if share is None else None
    rate = own / 900
    return RevisionReasonRow(
        group, reason, own, 130, share, *limits, None, own - 3, 9e4, rate, 0.8 * rate, 1.2 * rate, None, why
    )


WORK = (("done", "one component exchanged"), ("done", "partial to total"), ("used", "a stem"), ("used", "any of these"))


def _work_row(group: str, n: int, kind: str, what: str) -> RevisionWorkRow:
    own = len(what) + n
    return RevisionWorkRow(group, kind, what, own, 130, own / 130, own / 200, own / 90)


def _listed(n: int) -> tuple[Any, ...]:
    joint = None if n == 1 else f"P{n:09d}-KL"
    since = None if n == 1 else round(0.5 + n / 50, 2)
    known = (None, None) if n == 1 else ("partial", 1)
    yes = ("yes" if n % 2 else "no", "no", "no")
    return (
        f"H012-{n:07d}",
        joint,
        f"2024-{1 + n % 12:02d}-03",
        *known,
        since,
        "loosening, tibial",
        "partial to total",
        *yes,
        "H012",
        "S0123",
    )
