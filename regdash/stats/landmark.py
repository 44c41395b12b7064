"""Risk given that a joint was still followed, and unrevised, at a landmark."""

import numpy as np

from regdash.errors import CountError
from regdash.stats.events import Entries, EventTable


def given_unrevised(table: EventTable, day: int) -> EventTable:
    """
    Keep the joints that are in follow-up after a day, and let them enter at its end.

    Whatever is estimated from the new table is conditional on being unrevised (and alive, and followed) at the
    end of that day: Kaplan and Meier's net risk F becomes (F(t) - F(day)) / (1 - F(day)). Who enters later, as in a
    calendar window, still does.

    Args:
        day: whole days since implantation.

    Raises:
        CountError: a day below 0.

    >>> table = EventTable((("total",),), ("censored", "died", "wear"), [0, 0, 0], [5, 9, 30], [2, 2, 0], [1, 2, 6])
    >>> later = given_unrevised(table, 5).of(0)
    >>> later.days.tolist(), later.entered.tolist(), later.at_risk.tolist()
    ([5, 9, 30], [8, 0, 0], [0, 8, 6])
    """
    if day < 0:
        raise CountError(f"A landmark is a whole day from 0 up, not {day}.")
    stay = table.day > day
    group, joints = table.group[stay], table.joints[stay]
    entering = np.bincount(group, joints, len(table.groups)).astype(np.int64)
    entries = Entries(np.flatnonzero(entering), np.full(np.count_nonzero(entering), day), entering[entering > 0])
    if table.entered is not None:
        late = table.entered.day > day
        later = Entries(table.entered.group[late], table.entered.day[late], table.entered.joints[late])
        entering -= np.bincount(later.group, later.joints, len(table.groups)).astype(np.int64)
        here = np.flatnonzero(entering)
        entries = Entries(
            np.concatenate([here, later.group]),
            np.concatenate([np.full(len(here), day), later.day]),
            np.concatenate([entering[here], later.joints]),
        )
    return EventTable(table.groups, table.outcomes, group, table.day[stay], table.outcome[stay], joints, entries)
