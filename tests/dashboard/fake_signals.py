"""The part of the double that answers questions about signals, and keeps what is decided on them."""

from dataclasses import replace
from typing import Any

from regdash import grouping
from regdash.cohort import Cohort
from regdash.errors import ReviewError
from regdash.reports.model import IMPLANT_VIEW, Head
from regdash.reports.policy import Policy
from regdash.signals.history_model import HistoryReport, HistoryRow
from regdash.signals.model import (
    ALL,
    FIRST_SEEN,
    LOOK_CLOSER,
    NOT_SEEN,
    NOTHING_UNUSUAL,
    SEEN_AGAIN,
    TOO_FEW,
    Moved,
    ReviewsUsed,
    ScreenReport,
    ScreenRow,
    SignalRow,
    SignalsReport,
)
from regdash.signals.settings import read_settings
from regdash.signals.wording import SIGNAL_STARTS_A_REVIEW
from regdash.store.signal_reviews import EVERY, RestsOn, Reviews, SignalReview, Unit

# Code, role, class; window, joints, revised, expected, ratio; q, label; how it is seen, and why.
ROWS = (
    ("KF-017", "femoral", "total", ALL, 4000, 120, 60.0, 1.96, 0.0001, LOOK_CLOSER, FIRST_SEEN, "new events"),
    ("KT-017", "tibial", "total", ALL, 3100, 90, 55.0, 1.63, 0.0204, LOOK_CLOSER, SEEN_AGAIN, "late events"),
    ("UF-004", "femoral", "partial", ALL, 2200, 60, 55.0, 1.08, 0.7413, NOTHING_UNUSUAL, NOT_SEEN, "corrections"),
    ("UT-004", "tibial", "partial", ALL, 30, 2, 0.6, None, None, TOO_FEW, None, ""),
    ("KF-017", "femoral", "total", "0..1", 4000, 31, 20.0, 1.52, 0.2102, TOO_FEW, None, ""),
)
FIRST = {"KF-017": "2024Q3", "KT-017": "2021Q3"}  # quarters of the first signal
NOT_TESTED = "not tested: too few joints or expected revisions"
MOVED = "44 to 52 revised (+6 new events, +2 late events); expected 27.8 to 29.1; q 0.0702 to 0.0001"


class FakeSignals:
    """Answers the questions about signals."""

    reviews: tuple[SignalReview, ...] = ()
    earlier: str | None = "2023-12-31.1"
    meanwhile: str | None = None  # what every decision is refused with
    remembered: HistoryReport | None = None

    def _think(self, question: str, about: Any) -> None:
        raise NotImplementedError

    def signals(self, kind: str, cohort: Cohort, *, compared: bool = True) -> SignalsReport:
        self._think("signals", cohort if kind == "implants" else f"{kind} {cohort}".strip())
        known, earlier = Reviews(self.reviews), self.earlier if compared else None
        rows = tuple(_row(kind, known, given, earlier is not None) for given in ROWS)
        found = self._screen(kind, cohort, tuple(row.screened for row in rows))
        return SignalsReport(replace(found, used=ReviewsUsed(known)), found.head, rows, earlier)

    def _screen(self, kind: str, cohort: Cohort, rows: tuple[ScreenRow, ...]) -> ScreenReport:
        settings, adjust = read_settings(), grouping.parse("age,sex")
        said = {"cautions": (SIGNAL_STARTS_A_REVIEW, "Another."), "settings": Policy().settings}
        head = replace(self.head_of(f"signals of {kind}", IMPLANT_VIEW, cohort), **said)
        return ScreenReport(head, kind, settings, adjust, (1.0, 5.0), rows, 4, 2, 0.1, 1, 0, (), ())

    def head_of(self, measure: str, view: str, cohort: Cohort) -> Head:
        raise NotImplementedError

    def history_of(self, kind: str, cohort: Cohort) -> HistoryReport:
        """What the quarters before were, as if they had been screened."""
        quarters = tuple(f"{year}Q{number}" for year in range(2019, 2025) for number in range(1, 5))
        head, settings = self.head_of(f"screen of {kind}, quarter by quarter", IMPLANT_VIEW, cohort), read_settings()
        head = replace(head, cautions=(SIGNAL_STARTS_A_REVIEW, "Another."))
        late = ("KF-017", "femoral", "total", None, "--" + "." * 20 + "##", "2024Q3", "all", 5.5, 3800, 101)
        gone = ("KT-017", "tibial", "total", None, "....##" + "." * 18, "2020Q1", "0..1", 1.0, 40, 9)
        never = ("UF-004", "femoral", "partial", None, "." * 24, None, None, None, None, None)
        rows = tuple(HistoryRow(*row) for row in (late, gone, never))
        return HistoryReport(head, kind, settings, (), (), 1, quarters, (3,) * 24, (1,) * 24, rows, 2, False)

    def history_steps(self, progress: Any) -> None:
        """Take a while, quarter by quarter."""
        for done in range(1, 25):
            progress(done, 24)
            self._think("quarter", done)

    def history(self, kind: str, cohort: Cohort, *, progress: Any) -> HistoryReport:
        self._think("history", cohort if kind == "implants" else f"{kind} {cohort}".strip())
        self.history_steps(progress)
        return self.history_of(kind, cohort)

    def remembered_history(self, kind: str, cohort: Cohort) -> HistoryReport | None:
        return self.remembered

    def remember_history(self) -> None:
        """Let the quarters before have been screened once."""
        head, settings = self.head_of("screen", IMPLANT_VIEW, Cohort()), read_settings()
        states = {"KF-017": "--" + "." * 20 + "##", "KT-017": "." * 10 + "#" * 14, "UF-004": "." * 24}
        rows = tuple(
            HistoryRow(code, role, joint_class, None, states[code], FIRST.get(code), None, None, None, None)
            for code, role, joint_class, window, *_ in ROWS
            if code in states and window == ALL
        )
        self.remembered = HistoryReport(head, "implants", settings, (), (), 1, (), (), (), rows, 0, True)

    def decide(
        self, unit: Unit, cohort: Cohort, state: str, why: str, window: str = EVERY, after: int | None = None
    ) -> SignalReview:
        self._think("decide", (unit.code, state, why, window, after))
        if self.meanwhile:
            raise ReviewError(self.meanwhile)
        rests = RestsOn("2024-12-31.1", "test", str(cohort), "1", "abc", ALL, LOOK_CLOSER, 4000, 28000.0, 120, 60.0)
        number, at = len(self.reviews) + 1, "2025-02-10T09:30:00Z"
        review = SignalReview(number, unit, window, state, why, "analyst 2", "a2", at, rests, after or None)
        self.reviews += (review,)
        return review


def _row(kind: str, known: Reviews, given: tuple[Any, ...], compared: bool) -> SignalRow:
    code, role, joint_class, window, joints, revised, expected, ratio, q, label, seen, cause = given
    code += {"constructs": "/XX-001", "sizes": " size 5", "lots": " lot L001"}.get(kind, "")
    unit = Unit(kind, "knee", joint_class, role, code)
    limits = (None, None) if ratio is None else (ratio * 0.8, ratio * 1.25)
    rate = None if ratio is None else revised / joints * 14
    screened = ScreenRow(
        *(code, role, joint_class, window, joints, joints * 7.0, revised, expected, rate, revised / expected),
        *(0.01, ratio, *limits, 0.01, q, ratio and 1 + ratio / 2, 0.93, label),
        withheld=NOT_TESTED if ratio is None else None,
    )
    moved = Moved(cause, MOVED, {"new_events": 6}) if seen else None
    how = (None, seen, moved) if compared else (None, None, None)
    return SignalRow(unit, screened, known.standing(unit, window), known.state(unit, window), *how)
