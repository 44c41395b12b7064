"""Where screens are asked for: the desk of reports, with what this layer adds."""

from collections.abc import Sequence
from datetime import date
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from regdash import grouping
from regdash.cohort import Cohort
from regdash.grouping import Grouping
from regdash.reports.apart import by_joint, noted
from regdash.reports.desk import Desk
from regdash.reports.policy import Policy
from regdash.reports.windows_asked import checked_windows
from regdash.signals.model import ReviewsUsed, ScreenReport, SignalsReport
from regdash.signals.settings import ScreenSettings, read_settings
from regdash.store.signal_reviews import EVERY, Reviews, SignalReview, Unit, reviews_known

if TYPE_CHECKING:
    from regdash.signals.explained_model import Explanation
    from regdash.signals.history import Replayable
    from regdash.signals.history_model import HistoryReport
    from regdash.signals.replay import Progress


class SignalsDesk(Desk):
    """A desk that screens too. The settings are those of the store unless others are given."""

    def __init__(
        self,
        store: Path,
        cut: str | None = None,
        policy: Policy | None = None,
        withhold_counts_under: int | None = None,
        settings: ScreenSettings | None = None,
    ) -> None:
        self._given = settings
        super().__init__(store, cut, policy, withhold_counts_under)

    @cached_property
    def settings(self) -> ScreenSettings:
        """
        The settings of screens, read when the first is asked for.

        Raises:
            PolicyError: those of the store cannot be.
        """
        return self._given or read_settings(self._store)

    def screen(
        self,
        kind: str,
        cohort: Cohort,
        adjust: Sequence[Grouping] | None = None,
        windows: Sequence[float] | None = None,
        reviews_as_of: date | None = None,
    ) -> ScreenReport:
        """
        Ask which implants, constructs, sizes or lots need a closer look, as `screen_report`.

        What reviews have confirmed by the end of a day, or so far, is in nobody's comparison group.
        """
        from regdash.signals.report import screen_report  # models take time to load, and few questions need them

        fields = grouping.parse(self.settings.adjust) if adjust is None else tuple(adjust)
        years = self.settings.windows if windows is None else tuple(windows)
        with self._asking() as cut:
            apart = by_joint(cut, cohort, ())
            used = self._reviews(reviews_as_of)
            return noted(screen_report(cut, self.policy, self.settings, kind, cohort, fields, years, apart, used), ())

    def explained(
        self,
        code: str,
        cohort: Cohort | None = None,
        adjust: Sequence[Grouping] | None = None,
        windows: Sequence[float] | None = None,
        reviews_as_of: date | None = None,
    ) -> "Explanation":
        """Ask why one implant or construct looks as it does, as `explanation`; compared as a screen compares it."""
        from regdash.signals.explained import explanation

        fields = grouping.parse(self.settings.adjust) if adjust is None else tuple(adjust)
        years = self.settings.windows if windows is None else tuple(windows)
        used = self._reviews(reviews_as_of)
        with self._asking() as cut:
            return explanation(cut, self.policy, self.settings, code, cohort or Cohort(), fields, years, used)

    def signals(
        self,
        kind: str,
        cohort: Cohort,
        *,
        since: str | None = None,
        compared: bool = True,
        reviews_as_of: date | None = None,
    ) -> SignalsReport:
        """Ask which signals there are, what became of them, and what is new since a cut, as `signals_report`."""
        from regdash.signals.reviewed import Asked, signals_report

        asked = Asked(self.policy, self.settings, kind, cohort, self._reviews(reviews_as_of))
        with self._asking() as cut:
            return signals_report(cut, asked, since, compared)

    def called(self, kind: str, cohort: Cohort, code: str, role: str | None = None) -> Unit:
        """
        Find the unit of a screen, or of what was decided, that a code stands for.

        Raises:
            FilterError: there is none, or there are several.
        """
        from regdash.signals.deciding import unit_called

        return unit_called(self.signals(kind, cohort, compared=False), code, role)

    def history(
        self,
        kind: str,
        cohort: Cohort,
        adjust: Sequence[Grouping] | None = None,
        windows: Sequence[float] | None = None,
        *,
        progress: "Progress | None" = None,
        again: bool = False,
        reviews_as_of: date | None = None,
    ) -> "HistoryReport":
        """
        Ask in which quarter each unit was first a signal, and whether it was seen again, as `history_report`.

        A replay is remembered in the store, and read where it was made before unless it is wanted `again`. Reviews
        count up to the end of a day, or all of them.
        """
        from regdash.signals.history import history_report

        asked = self._replayable(kind, cohort, adjust, windows, reviews_as_of)
        with self._asking() as cut:
            return noted(history_report(cut, asked, by_joint(cut, cohort, ()), progress, again), ())

    def remembered_history(self, kind: str, cohort: Cohort) -> "HistoryReport | None":
        """Give the answer of `history` where it was made before, at once; None where it was not."""
        from regdash.signals.history import remembered_history

        with self._asking() as cut:
            found = remembered_history(cut, self._replayable(kind, cohort), by_joint(cut, cohort, ()))
            return noted(found, ()) if found else None

    def _replayable(
        self,
        kind: str,
        cohort: Cohort,
        adjust: Sequence[Grouping] | None = None,
        windows: Sequence[float] | None = None,
        reviews_as_of: date | None = None,
    ) -> "Replayable":
        from regdash.signals.history import Replayable

        fields = grouping.parse(self.settings.adjust) if adjust is None else tuple(adjust)
        years = self.settings.windows if windows is None else tuple(windows)
        reviews = reviews_known(self._store, reviews_as_of)
        return Replayable(self.policy, self.settings, kind, cohort, fields, checked_windows(years), reviews)

    def decide(
        self, unit: Unit, cohort: Cohort, state: str, why: str, window: str = EVERY, after: int | None = None
    ) -> SignalReview:
        """
        Move the review of a unit on, by the figures of this cut, as `signal_reviews.decide`.

        Args:
            after: the number of the decision that whoever decides has read, 0 for none; what stands now, if left out.

        Raises:
            FilterError: no such window.
            ReviewError: no such move, no reason, or somebody decided meanwhile.
        """
        from regdash.signals.deciding import decide_and_tell, last_read, rests_on

        report = self.signals(unit.kind, cohort, compared=False)
        if after is None:
            _, after = last_read(report.screen.used.reviews, unit, window)
        rests = rests_on(report, unit, window, self.manifest)
        return decide_and_tell(self._store, unit, window, state, why, rests, after)

    def reviews(self, as_of: date | None = None) -> Reviews:
        """Read the decisions on signals up to the end of a day, or so far, as `reviews_known`."""
        return reviews_known(self._store, as_of)

    def _reviews(self, as_of: date | None = None) -> ReviewsUsed:
        return ReviewsUsed(reviews_known(self._store, as_of), as_of)
