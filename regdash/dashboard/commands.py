"""The command palette: every key's action by name."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Iterator

from textual.command import DiscoveryHit, Hit, Hits, Provider

from regdash.dashboard.place import PLACES, Place

ACTIONS = (
    ("filter", "Edit the filter"),
    ("named", "Look at a cohort that has a name, or give the present filter one"),
    ("beside", "Put a second cohort beside the filter's"),
    ("group", "Group by fields or bands"),
    ("horizon", "Choose the horizon in years"),
    ("view", "Change between implant view and patient view"),
    ("endpoint", "Choose what counts as a revision"),
    ("adjust", "Adjust for fields"),
    ("curve", "Draw the hazard along volume, age or body mass index"),
    ("field", "Draw it along the next field"),
    ("mortality", "Show mortality after the operation, or go back to the risk of revision"),
    ("gap", "Split the difference between two groups into reasons"),
    ("changes", "Say what moved from this data cut to the open one"),
    ("done", "Count operations by when they were done"),
    ("order", "Order the list by the chosen column"),
    ("decide", "Move the review of the signal under the cursor on"),
    ("kind", "List implants, constructs, sizes or lots"),
    ("rows", "Find rows of the list by its columns"),
    ("jump", "Go to a code in the list"),
    ("explain", "Explain these figures: method, counts, cautions, command"),
    ("write", "Write out the list, the figures, the chart or the command: to the clipboard or a file"),
    ("statement", "Write a statement in SQL"),
    ("undo", "Undo the last filter, grouping, horizon, view, endpoint or adjustment"),
    ("redo", "Redo what was undone"),
    ("again", "Ask the same question again"),
    ("stop", "Cancel the running question"),
    ("keys", "Show the keys of this place"),
    ("back", "Go back to where this was opened"),
    ("ask_to_quit", "Quit"),
)


class Commands(Provider):
    """What can be done in the place in front."""

    def _found(self) -> Iterator[tuple[str, str]]:
        place = self.screen
        if isinstance(place, Place):
            yield from ((f"screen.go('{name}')", f"Go to {name}") for name in PLACES)
            yield from ((f"screen.{action}", text) for action, text in ACTIONS if _there(place, action))

    async def discover(self) -> Hits:
        """List everything before anything is typed."""
        for action, text in self._found():
            yield DiscoveryHit(text, self._run(action))

    async def search(self, query: str) -> Hits:
        """List what matches the typed text."""
        matcher = self.matcher(query)
        for action, text in self._found():
            if (score := matcher.match(text)) > 0:
                yield Hit(score, matcher.highlight(text), self._run(action))

    def _run(self, action: str) -> Callable[[], Awaitable[None]]:
        async def run() -> None:
            await self.app.run_action(action, self.screen)

        return run


def _there(place: Place, action: str) -> bool:
    """Whether a place has an action, and it means something there."""
    return hasattr(place, f"action_{action}") and place.means(action)
