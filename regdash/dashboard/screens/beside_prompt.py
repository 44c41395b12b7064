"""Putting a second cohort beside the filter's: its filter words, or the name of a saved one."""

from regdash.cohort import Cohort
from regdash.dashboard.asked import Asked
from regdash.dashboard.questions import Questions
from regdash.dashboard.screens.filter_prompt import FilterPrompt
from regdash.errors import FilterError


class BesidePrompt(FilterPrompt):
    """Ask for a second filter; without words there is one cohort again."""

    heading = "beside it"
    keys = "Tab takes · empty: none · Enter done · Escape leaves"

    def __init__(self, desk: Questions, asked: Asked) -> None:
        super().__init__(desk, asked.beside or asked.cohort)
        self._first_cohort = asked.cohort

    def remark(self, text: str) -> str:
        """Print the second cohort back."""
        return super().remark(text) if text.strip() else "no second cohort: groups as before"

    def finish(self, text: str) -> Cohort:
        """Read the second cohort, which must be another one."""
        cohort = super().finish(text)
        if cohort == self._first_cohort and cohort.conditions:
            raise FilterError("That is the filter itself. Change a word; @NAME stands for a saved cohort.")
        return cohort
