"""The joints of one hospital or surgeon beside those of all others: their risk of revision."""

from __future__ import annotations

from typing import TYPE_CHECKING

from regdash.dashboard import wording
from regdash.dashboard.asked import Asked, reading_years
from regdash.dashboard.screens.risk import RiskScreen
from regdash.reports.model import IMPLANT_VIEW, ReasonsReport, RiskReport

if TYPE_CHECKING:
    from regdash.dashboard.questions import Questions


class UnitScreen(RiskScreen):
    """How the primaries of one unit last; as the place on risk, with two groups."""

    WITHOUT = ("group", "mortality")
    BESIDE = SIDE_BY_SIDE = False

    def __init__(self, kind: str, code: str, within: tuple[str, ...], trail: tuple[str, ...]) -> None:
        super().__init__(within, trail)
        self.kind, self.code = kind, code

    def fetch(self, desk: Questions, asked: Asked) -> RiskReport:
        """Ask for the risk of both groups at every time that may be read."""
        times = reading_years(asked.years)
        return desk.unit_risk(self.kind, self.code, asked.cohort, times, asked.view, endpoint=asked.endpoint)

    def fetch_more(self, desk: Questions, asked: Asked) -> ReasonsReport | None:
        """Reasons are one level down."""
        return None

    def says_how(self, asked: Asked) -> str:
        """Say what stands beside what."""
        return f"beside all others · {wording.years(asked.years)} · {asked.view} view{asked.endpoint_mark}"

    def command(self) -> str:
        """The same question at the command line."""
        asked = self.asked or self.question
        view = "" if asked.view == IMPLANT_VIEW else f" --view {asked.view}"
        words = wording.words_for_shell(asked.cohort.words)
        code = wording.words_for_shell([self.code])
        command = f"regdash units {self.kind} {words} --code {code} --years {self.time:g}{view}{asked.endpoint_option}"
        return command.replace("  ", " ")
