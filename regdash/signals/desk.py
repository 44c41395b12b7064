"""Where screens are asked for: the desk of reports, with what this layer adds."""

from collections.abc import Sequence
from pathlib import Path

from regdash import grouping
from regdash.cohort import Cohort
from regdash.grouping import Grouping
from regdash.reports.apart import by_joint, noted
from regdash.reports.desk import Desk
from regdash.reports.policy import Policy
from regdash.signals.model import ScreenReport
from regdash.signals.settings import ScreenSettings, read_settings


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
    ) -> ScreenReport:
        """Ask which implants, constructs, sizes or lots need a closer look, as `screen_report`."""
        from regdash.signals.report import screen_report  # models take time to load, and few questions need them

        fields = grouping.parse(self.settings.adjust) if adjust is None else tuple(adjust)
        years = self.settings.windows if windows is None else tuple(windows)
        with self._asking() as cut:
            apart = by_joint(cut, cohort, ())
            return noted(screen_report(cut, self.policy, self.settings, kind, cohort, fields, years, apart), ())
