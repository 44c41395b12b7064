"""Finding rows of a list: by conditions on its columns, or by the code that begins a row."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from regdash.dashboard import row_words, wording
from regdash.dashboard.row_words import RowFilter, RowWord
from regdash.dashboard.widgets.prompt import Candidate, Prompt
from regdash.errors import FilterError


class RowsPrompt(Prompt[RowFilter]):
    """Ask which rows are shown, with a count of them as it is typed."""

    heading = "rows: as in ratio>2 q<0.05 state=new; empty for all"
    keys = "Tab takes · Enter done"
    takes_on_enter = True

    def __init__(self, chosen: RowFilter, words: Sequence[RowWord], values: Sequence[Mapping[str, Any]]) -> None:
        text = str(chosen)
        super().__init__(f"{text} " if text else "")
        self._words = words
        self._values = values
        self._of = {word.key: {one.get(word.key) for one in values} for word in words if word.is_text}

    def candidates(self, text: str) -> Sequence[Candidate]:
        """List columns with their meaning, or the texts of the column being written."""
        found = row_words.candidates(text, self._words, self._of)
        return [Candidate(whole, whole.rsplit(" ", 1)[-1], about) for whole, about in found]

    def remark(self, text: str) -> str:
        """Count the rows that it would keep, where it can be read."""
        try:
            chosen = self.finish(text)
        except FilterError:
            return ""
        return f"{sum(map(chosen.keeps, self._values)):,} of {wording.so_many(len(self._values), 'row')}"

    def finish(self, text: str) -> RowFilter:
        """Read the conditions."""
        return row_words.parse(text, self._words)


class CodePrompt(Prompt[str]):
    """Ask for a code to jump to: those that begin with what is typed, then those that hold it."""

    heading = "go to a code"
    keys = "Enter goes to the first, or the marked one"

    def __init__(self, codes: Iterable[str], text: str = "") -> None:
        super().__init__(text)
        self._codes = sorted(set(codes))

    def candidates(self, text: str) -> Sequence[Candidate]:
        """List the codes."""
        return [Candidate(code, code) for code in self._matching(text)]

    def finish(self, text: str) -> str:
        """
        Take the first that matches.

        Raises:
            FilterError: none does.
        """
        found = self._matching(text)
        if not text.strip() or not found:
            raise FilterError(f"There is no code {text.strip()} among these rows.")
        return found[0]

    def _matching(self, text: str) -> list[str]:
        typed = text.strip().casefold()
        held = [code for code in self._codes if typed in code.casefold()]
        return sorted(held, key=lambda code: not code.casefold().startswith(typed))
