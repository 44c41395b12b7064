"""What sections on one unit of a screen ask with: the unit, the screen it is in, and its answers, each asked once."""

import shlex
from dataclasses import dataclass, replace
from functools import cached_property

from regdash.cohort import Cohort
from regdash.reports.model import ImplantReport
from regdash.reports.wording import adjusted_only_for, fields
from regdash.signals.explained_model import Explanation
from regdash.signals.history_model import HistoryReport, HistoryRow
from regdash.signals.model import ALL, CONSTRUCTS, IMPLANTS, LOOK_CLOSER, LOTS, SIZES, SignalRow, SignalsReport, Unit
from regdash.summary.asker import AnyHead, Asker, years_text
from regdash.summary.build import Told
from regdash.vocabulary import coded

PIECES = {SIZES: "size", LOTS: "lot"}


def kind_of(code: str) -> str:
    """
    Say what a code is screened as, by how codes are written.

    >>> kind_of("KT-010"), kind_of("KF-010/KT-010"), kind_of("KT-062 size 4"), kind_of("KT-075 lot L0002554")
    ('implants', 'constructs', 'sizes', 'lots')
    """
    for kind, word in PIECES.items():
        if f" {word} " in code:
            return kind
    return CONSTRUCTS if "/" in code else IMPLANTS


def implant_of(unit: Unit) -> str:
    """
    Name what can be explained: the unit itself, or the implant of a size or lot.

    >>> implant_of(Unit("sizes", "knee", "total", "tibial", "KT-062 size 4"))
    'KT-062'
    """
    word = PIECES.get(unit.kind)
    return unit.code.partition(f" {word} ")[0] if word else unit.code


def unit_words(unit: Unit) -> tuple[str, ...]:
    """
    Write the filter words that choose a unit's joints.

    >>> unit_words(Unit("sizes", "knee", "total", "tibial", "KT-062 size 4"))
    ('joint=knee', 'class=total', 'implant=KT-062', 'size=4', 'role=tibial')
    """
    within = (f"joint={unit.joint}", f"class={coded(unit.joint_class)}")
    if unit.kind == CONSTRUCTS:
        return (*within, f"construct={unit.code}")
    implant, word = implant_of(unit), PIECES.get(unit.kind)
    piece = (f"{word}={unit.code.partition(f' {word} ')[2]}",) if word else ()
    return (*within, f"implant={implant}", *piece, f"role={coded(unit.role)}")


@dataclass(kw_only=True)
class UnitAsker(Asker):
    """Asks for one unit; the cohort is that of the screen it is in."""

    unit: Unit
    cohort_screened: Cohort
    told: Told | None = None

    @property
    def is_inside(self) -> bool:
        """Whether the pack stays in the office."""
        return self.recipient.is_inside

    @property
    def made_by(self) -> str:
        """The command that makes the pack."""
        words = ("evidence", self.unit.code, *self.cohort_screened.words, "--role", self.unit.role)
        asked = f"regdash {shlex.join((*words, '--cut', self.cut.cut, '--for', self.recipient.kind))}"
        return f"{asked} --reviews-as-of {self.reviews.as_of} --out FOLDER"

    @cached_property
    def signals(self) -> SignalsReport:
        """The screen, its reviews, and the screen of the earlier cut, of the unit alone."""
        since = self.earlier.cut if self.earlier else None
        pinned = self.reviews.as_of
        asked = (self.unit.kind, self.cohort_screened)
        report = self.desk.signals(*asked, since=since, compared=since is not None, reviews_as_of=pinned)
        rows = tuple(row for row in report.rows if row.unit == self.unit)
        own = {row.screened for row in rows}
        screen = replace(report.screen, rows=tuple(row for row in report.screen.rows if row in own))
        return replace(report, screen=screen, rows=rows)

    @property
    def rows(self) -> tuple[SignalRow, ...]:
        """The unit, window by window; the first is all of follow-up."""
        return tuple(sorted(self.signals.rows, key=lambda row: row.screened.window != ALL))

    @property
    def seen_in(self) -> list[str]:
        """The windows in which it is a signal."""
        return [row.screened.window for row in self.rows if row.screened.signal == LOOK_CLOSER]

    @property
    def within(self) -> Cohort:
        """The joints of its class that were screened."""
        return self.cohort_screened.narrowed(*unit_words(self.unit)[:2])

    @property
    def own(self) -> Cohort:
        """Its joints."""
        return self.within.narrowed(*unit_words(self.unit)[2:])

    @property
    def is_whole(self) -> bool:
        """Whether the unit itself can be explained; a size or lot is told of with its implant."""
        return self.unit.kind not in PIECES

    @cached_property
    def page(self) -> ImplantReport:
        """Its implant or construct beside all others of the class."""
        years, reason_years = self.edition.years, self.edition.reason_years
        return self.desk.implant(implant_of(self.unit), self.within, years, reason_years)

    @property
    def page_command(self) -> tuple[str, ...]:
        """Arguments of the command that gives its page."""
        years = ("--years", years_text(self.edition.years), "--reason-years", f"{self.edition.reason_years:g}")
        return ("implant", implant_of(self.unit), *self.within.words, *years)

    @cached_property
    def explained(self) -> Explanation:
        """Where the figures of its implant or construct come from."""
        return self.desk.explained(implant_of(self.unit), self.within, reviews_as_of=self.reviews.as_of)

    @cached_property
    def history(self) -> HistoryReport:
        """The screens of every past quarter."""
        asked = (self.unit.kind, self.cohort_screened)
        return self.desk.history(*asked, progress=self._progress, reviews_as_of=self.reviews.as_of)

    def _progress(self, done: int, of: int) -> None:
        if self.told:
            self.told("replaying quarters", done, of)

    @property
    def past(self) -> HistoryRow | None:
        """Its quarters; None where no screen ever tested it."""
        classes = (self.unit.joint_class, f"{self.unit.joint_class} {self.unit.joint}")
        rows = self.history.of(self.unit.code, self.unit.role)
        return next((row for row in rows if row.joint_class in classes), None)

    @property
    def _adjusted(self) -> str:
        return fields([grouping.field.key for grouping in self.signals.screen.adjust])

    def noted(self, head: AnyHead) -> tuple[str, ...]:
        """Remember the method and the cautions of an answer; those with names or counts stay in the office."""
        if self.is_inside:
            return super().noted(head)
        self.methods.setdefault(head.measure, head.method)
        for caution in head.cautions:
            if caution in FIXED or caution == adjusted_only_for(self._adjusted):
                self.cautions.setdefault(caution)
        return ()


def _fixed() -> frozenset[str]:
    """The sentences that are the same in every answer, and so name nobody."""
    from regdash.reports import wording as reported
    from regdash.signals import explained_wording, wording

    texts = (value for module in (reported, wording, explained_wording) for value in vars(module).values())
    return frozenset(text for text in texts if isinstance(text, str) and " " in text)


FIXED = _fixed()
