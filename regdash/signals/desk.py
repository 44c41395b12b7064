"""Where screens are asked for: the desk of reports, with what this layer adds."""

from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from regdash import grouping
from regdash.cohort import Cohort
from regdash.grouping import Grouping
from regdash.reports.apart import by_joint, noted
from regdash.reports.desk import Desk
from regdash.reports.policy import Policy
from regdash.signals.model import ReviewsUsed, ScreenReport, SignalsReport
from regdash.signals.settings import ScreenSettings, read_settings
from regdash.store.signal_reviews import EVERY, SignalReview, reviews_known

if TYPE_CHECKING:
    from regdash.signals.explained_model import Explanation


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
        self.settings = settings or read_settings(store)
        super().__init__(store, cut, policy, withhold_counts_under)

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

    def decide(
        self,
        kind: str,
        cohort: Cohort,
        code: str,
        state: str,
        why: str,
        *,
        role: str | None = None,
        window: str = EVERY,
        after: int | None = None,
    ) -> SignalReview:
        """
        Move the review of a unit on, by the figures of this cut, as `signal_reviews.decide`.

        Args:
            after: the number of the decision that whoever decides has read, 0 for none; what stands now, if left out.

        Raises:
            FilterError: no such unit or window, or several units of that name.
            ReviewError: no such move, no reason, or somebody decided meanwhile.
        """
        from regdash.signals.deciding import decide_and_tell, rests_on, unit_called

        report = self.signals(kind, cohort, compared=False)
        unit = unit_called(report, code, role)
        if after is None:
            standing = report.screen.used.reviews.standing(unit, window)
            after = standing.number if standing else 0
        rests = rests_on(report, unit, window, self.manifest)
        return decide_and_tell(self._store, unit, window, state, why, rests, after)

    def _reviews(self, as_of: date | None = None) -> ReviewsUsed:
        return ReviewsUsed(reviews_known(self._store, as_of), as_of)
