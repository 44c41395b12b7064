"""
Where a session stood when its connection dropped, kept for the next start.

Kept are the store, the place and the question: filter words, grouping, horizon, view, endpoint, adjustment. What was
opened on the way down (a joint, a record) is not, so that nothing of one patient lies in the file.
"""

from __future__ import annotations

import json
import os
import sys
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from regdash import cohort, grouping
from regdash.dashboard.asked import Asked
from regdash.errors import RegdashError

NAME = "last-place.json"


def state_folder() -> Path:
    """The platform's folder for what a program remembers of a person's sessions."""
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Application Support" / "regdash"
    named = Path(os.environ.get("XDG_STATE_HOME", ""))
    # A relative path there is to be ignored (XDG Base Directory Specification).
    return (named if named.is_absolute() else Path.home() / ".local" / "state") / "regdash"


@dataclass(frozen=True)
class LastPlace:
    """A place, and what was asked there."""

    place: str
    asked: Asked

    def __str__(self) -> str:
        """Say where it is: risk, class=partial by sex."""
        return f"{self.place}, {str(self.asked.cohort) or 'every joint'} by {self.asked.by_text}"


@dataclass(frozen=True)
class Keeper:
    """Keeps the last place of one person in one store."""

    store: Path
    folder: Path

    def keep(self, last: LastPlace) -> None:
        """Write it down; a folder that cannot be written keeps nobody from leaving."""
        asked = last.asked
        said = {
            "store": str(self.store.absolute()),
            "place": last.place,
            "filter": list(asked.cohort.words),
            "by": ",".join(map(str, asked.by)),
            "years": asked.years,
            "view": asked.view,
            "adjust": ",".join(map(str, asked.adjust)),
            "endpoint": asked.endpoint,
            "beside": None if asked.beside is None else list(asked.beside.words),
        }
        aside = self.folder / f"{NAME}.{os.getpid()}"
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            aside.touch(mode=0o600)
            aside.write_text(json.dumps(said, indent=1), encoding="utf-8")
            aside.replace(self.folder / NAME)
        except OSError:
            with suppress(OSError):
                aside.unlink()

    def kept(self) -> LastPlace | None:
        """What was kept of this store; None where there is nothing, or nothing that this release can read."""
        try:
            said = json.loads((self.folder / NAME).read_text(encoding="utf-8"))
            if said["store"] != str(self.store.absolute()):
                return None
            asked = Asked(
                cohort.parse(said["filter"]),
                grouping.parse(said["by"]) if said["by"] else (),
                float(said["years"]),
                str(said["view"]),
                grouping.parse(said["adjust"]) if said["adjust"] else (),
                str(said["endpoint"]),
                cohort.parse(said["beside"]) if said.get("beside") else None,
            )
            return LastPlace(str(said["place"]), asked)
        except (OSError, ValueError, KeyError, TypeError, RegdashError):
            return None

    def forget(self) -> None:
        """Take it away once it has been offered."""
        if self.kept() is not None:
            (self.folder / NAME).unlink(missing_ok=True)
