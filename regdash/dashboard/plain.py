"""The places as text: for each the commands that print what its screen shows."""

from __future__ import annotations

import shlex
from typing import cast

from regdash.cohort import Cohort
from regdash.dashboard.app import Dashboard
from regdash.dashboard.asked import Asked, reading_years
from regdash.dashboard.place import Place
from regdash.dashboard.quality_lists import SECTIONS
from regdash.errors import RegdashError


def commands_of(place: str, asked: Asked) -> list[list[str]]:
    """
    The arguments of the commands that answer a place's question, without the program's name.

    Raises:
        RegdashError: the place answers what is typed there.
    """
    if place == "sql":
        raise RegdashError('The place sql answers a statement. As text: regdash sql "SELECT …"')
    if place == "quality":
        return _quality(asked.cohort)
    screen = cast("type[Place]", Dashboard.MODES[place])()
    screen.asked = asked
    arguments = shlex.split(screen.command())[1:]
    if place == "risk":  # a curve is read by its cursor; as text it is every value that the cursor reads
        arguments[arguments.index("--years") + 1] = ",".join(f"{years:g}" for years in reading_years(asked.years))
    if place == "register":  # what was done by year stands beside who the joints are
        return [arguments, ["activity", *asked.cohort.words]]
    return [arguments]


def _quality(cohort: Cohort) -> list[list[str]]:
    said = [section.command(section.followed(cohort), section.groupings[0], None) for section in SECTIONS]
    return [shlex.split(command)[1:] for command in dict.fromkeys(said)]
