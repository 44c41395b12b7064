"""Choosing a grouping or a horizon: from a list, or by typing."""

from collections.abc import Sequence

from regdash import grouping
from regdash.dashboard import wording
from regdash.dashboard.asked import HORIZONS, LONGEST_HORIZON
from regdash.dashboard.widgets.prompt import Candidate, Prompt
from regdash.errors import FilterError
from regdash.fields import FIELDS
from regdash.grouping import Grouping

NO_GROUPS = "all"


class GroupingPrompt(Prompt[tuple[Grouping, ...]]):
    """Ask how joints are grouped: one field, several with commas, bands as in age:10."""

    heading = "group by, with bands as in age:10,sex"
    nothing, about_nothing = NO_GROUPS, "no groups: all joints together"

    def candidates(self, text: str) -> Sequence[Candidate]:
        """List the fields that begin with the part being typed."""
        head, comma, last = text.rpartition(",")
        usable = [field for field in FIELDS.values() if not field.component and not field.outcome]
        start = head + comma
        listed = [Candidate(start + f.key, f.key, f.about) for f in usable if f.key.startswith(last.strip().lower())]
        if not start and self.nothing.startswith(text.lower()):
            listed.append(Candidate(self.nothing, self.nothing, self.about_nothing))
        return listed

    def finish(self, text: str) -> tuple[Grouping, ...]:
        """Read the grouping."""
        return () if text.strip().lower() in ("", self.nothing) else grouping.parse(text)


class AdjustPrompt(GroupingPrompt):
    """Ask what is held alike where groups are compared."""

    heading = "adjust for, as in age,sex,asa"
    nothing, about_nothing = "none", "groups as they are"


class HorizonPrompt(Prompt[float]):
    """Ask up to how many years."""

    heading = "horizon: years since implantation"

    def candidates(self, text: str) -> Sequence[Candidate]:
        """List the usual horizons."""
        return [Candidate(f"{h:g}", wording.years(h)) for h in HORIZONS if f"{h:g}".startswith(text.strip())]

    def finish(self, text: str) -> float:
        """Read a number of years."""
        try:
            years = float(text)
        except ValueError:
            years = -1.0
        if not 0.25 <= years <= LONGEST_HORIZON:
            raise FilterError(f"{text or 'Nothing'} is not a horizon. Type years from 0.25 to {LONGEST_HORIZON:g}.")
        return years
