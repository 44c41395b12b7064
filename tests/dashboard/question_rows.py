"""The questions asked most, as DEVELOPERS.md has them: what is asked, which keys lead to the answer, which commands."""

import re
from dataclasses import dataclass
from pathlib import Path

PAGE = Path(__file__).parent.parent.parent / "DEVELOPERS.md"
HEADING = "## Which keys answer which question"
ROW = re.compile(r"\| (\d+) \| (.+?) \| (.+) \| (.+) \|")
QUOTED = re.compile(r"`([^`]+)`")


@dataclass(frozen=True)
class Question:
    """
    One row. Its keys stand in steps: after each one the screen has a part of the answer, and the commands of the
    same place have it too; the last commands go on where there are more steps.
    """

    number: int
    asked: str
    steps: tuple[tuple[str, ...], ...]
    commands: tuple[tuple[str, ...], ...]

    def commands_of(self, step: int) -> tuple[str, ...]:
        """The commands that answer what a step shows."""
        return self.commands[min(step, len(self.commands) - 1)]


def questions(page: Path = PAGE) -> dict[int, Question]:
    """Read the table, by number."""
    part = page.read_text(encoding="utf-8").partition(HEADING)[2].partition("\n## ")[0]
    rows = [ROW.fullmatch(line) for line in part.splitlines()]
    found = [Question(int(row[1]), row[2], _steps(row[3]), _steps(row[4])) for row in rows if row is not None]
    return {question.number: question for question in found}


def _steps(cell: str) -> tuple[tuple[str, ...], ...]:
    """What is quoted, up to each semicolon that stands in no quotes; a remark quotes nothing."""
    outside = QUOTED.sub(lambda quoted: quoted[0].replace(";", "\0"), cell)
    parts = [tuple(QUOTED.findall(part.replace("\0", ";"))) for part in outside.split(";")]
    return tuple(part for part in parts if part)
