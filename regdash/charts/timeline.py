"""One joint's life as a line of events."""

import textwrap
from collections.abc import Sequence

from rich.text import Text

from regdash.reports.model import JointEvent
from regdash.stats.years import years_in


def timeline(events: Sequence[JointEvent], width: int) -> Text:
    """
    Write events one under the other, with the time that passed between them, wrapped to a width.

    A filled dot is something done to the joint, a ring the end of its follow-up.
    """
    lines = []
    for n, event in enumerate(events):
        if n:
            passed = event.day - events[n - 1].day
            lines.append(Text(f"│ {_span(passed)}" if passed else "│", style="dim"))
        done = event.what.startswith(("primary ", "revision "))
        lines.append(Text(f"{'●' if done else '○'} {event.date}  ").append(event.what, style="bold"))
        side = " " if n == len(events) - 1 else "│"
        for detail in event.details:
            wrapped = textwrap.wrap(detail, max(20, width - 4)) or [""]
            lines += [Text(f"{side} {'  ' if k else ''}{part}") for k, part in enumerate(wrapped)]
    return Text("\n").join(lines)


def _span(days: int) -> str:
    if days < 100:
        return f"{days} day{'' if days == 1 else 's'} later"
    return f"{years_in(days):.1f} years later"
