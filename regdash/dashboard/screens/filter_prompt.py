"""Editing the filter: words and values as they are typed, with how many joints each would keep."""

from collections.abc import Mapping, Sequence
from functools import cached_property

from textual import work
from textual.message import Message

from regdash import cohort as filters
from regdash.cohort import Cohort
from regdash.dashboard.questions import Questions
from regdash.dashboard.widgets.prompt import Candidate, Prompt
from regdash.errors import RegdashError
from regdash.fields import FIELDS


class FilterPrompt(Prompt[Cohort]):
    """Ask for a filter. Counts are asked for once a key and arrive when they do."""

    heading = "filter"
    takes_on_enter = True

    class Counted(Message):
        """How many joints each value of a key would keep."""

        def __init__(self, asked: tuple[str, str], counts: Mapping[str, int]) -> None:
            super().__init__()
            self.asked, self.counts = asked, counts

    def __init__(self, desk: Questions, cohort: Cohort, outcomes: bool = False) -> None:
        text = str(cohort)
        super().__init__(f"{text} " if text else "")
        self._desk = desk
        self._outcomes = outcomes
        self._counts: dict[tuple[str, str], Mapping[str, int]] = {}
        self._wanted: tuple[str, str] | None = None

    @cached_property
    def _named(self) -> Mapping[str, str]:
        """What @NAME stands for; read where somebody types one."""
        return self._desk.named

    def _named_in(self, text: str) -> Mapping[str, str]:
        return self._named if filters.NAME_SIGN in text else {}

    def candidates(self, text: str) -> Sequence[Candidate]:
        """List keys with their meaning, or the values of the key being written with their counts."""
        head = text[: len(text) - len(text.rsplit(" ", 1)[-1])]
        try:
            named = self._named_in(text)
        except RegdashError:
            named = {}  # why the names cannot be read is said on Enter
        words = filters.candidates(text, self._desk.known, outcomes=self._outcomes, named=named)
        counts = self._counts_for(head, words)
        listed = [Candidate(head + word, word, self._remark(word, counts)) for word in words]
        return listed

    def remark(self, text: str) -> str:
        """Print the filter back in its canonical order where it can be read."""
        try:
            cohort = self.finish(text)
        except RegdashError:
            return ""
        return f"reads as: {cohort}" if str(cohort) else "every joint"

    def finish(self, text: str) -> Cohort:
        """Read the filter."""
        named = self._named_in(text)
        return filters.parse(text, known=self._desk.known, outcomes=self._outcomes, named=named)

    def _remark(self, word: str, counts: Mapping[str, int]) -> str:
        if word.startswith(filters.NAME_SIGN):
            return self._named[word.removeprefix(filters.NAME_SIGN)]
        if word.endswith("="):
            return FIELDS[word[:-1].rstrip("!")].about
        value = word.partition("=")[2].rsplit(",", 1)[-1]
        return f"{counts[value]:>10,} joint{'' if counts[value] == 1 else 's'}" if value in counts else ""

    # Counts

    def _counts_for(self, head: str, words: Sequence[str]) -> Mapping[str, int]:
        if not words or words[0].endswith("=") or words[0].startswith(filters.NAME_SIGN):
            return {}
        key = words[0].partition("=")[0].rstrip("!")
        asked = (key, head.strip())
        if asked not in self._counts and asked != self._wanted:
            self._wanted = asked
            self._count(asked)
        return self._counts.get(asked, {})

    @work(thread=True, group="counts")
    def _count(self, asked: tuple[str, str]) -> None:
        key, head = asked
        try:
            others = filters.parse(head, outcomes=self._outcomes, named=self._named_in(head)).without(key)
            counts = dict(self._desk.values(key, others))
        except RegdashError:
            return  # the list is as good without counts; what is wrong with the filter is said on Enter
        self.post_message(self.Counted(asked, counts))

    def on_filter_prompt_counted(self, message: Counted) -> None:
        """Keep the counts and show them."""
        self._counts[message.asked] = message.counts
        self.relist()
