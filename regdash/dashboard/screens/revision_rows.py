"""The revisions themselves: a list as long as it is, whoever did the primary; Enter opens the joint's life."""

from __future__ import annotations

from typing import TYPE_CHECKING

from regdash.dashboard import wording
from regdash.dashboard.asked import Asked
from regdash.dashboard.screens.done_place import DonePlace
from regdash.dashboard.screens.joints import JointsScreen

if TYPE_CHECKING:
    from regdash.dashboard.questions import Questions
    from regdash.reports.done_model import RevisionListReport


class RevisionRowsScreen(DonePlace, JointsScreen):
    """A list of revisions, chosen by what was done at them too."""

    ENTER = "the joint's life"
    EXPORTS = "revisions"
    LISTS = "revisions"
    FIRST_COLUMNS = ("joint_id", "done_date", "years_since", "reason", "action", "class", "stem", "augment", "graft")

    def __init__(self, within: tuple[str, ...] = (), trail: tuple[str, ...] = ()) -> None:
        super().__init__(within, trail)
        self.order = "done_date"

    def page_of(self, desk: Questions, asked: Asked, offset: int, limit: int) -> RevisionListReport:
        """Ask for some of them."""
        return desk.revision_list(asked.cohort, offset, limit, self.order)

    def says_how(self, asked: Asked) -> str:
        """Say the order."""
        return JointsScreen.says_how(self, asked)

    def command(self) -> str:
        """The same question at the command line."""
        asked = self.asked or self.question
        words = wording.words_for_shell(asked.cohort.words)
        return f"regdash revisions {words} --list --order {self.order}".replace("  ", " ")

    def open_joint(self, joint_id: str | None) -> None:
        """Open the life of the joint, where the revision has one."""
        if joint_id is None:
            self.say("This revision has no primary here, so there is no joint to open. 7 quality, links says why.")
        super().open_joint(joint_id)
