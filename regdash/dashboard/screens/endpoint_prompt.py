"""Choosing what counts as the event: from the list of named endpoints, or by typing."""

from collections.abc import Sequence

from regdash import endpoints
from regdash.dashboard.widgets.prompt import Candidate, Prompt
from regdash.endpoints import ANY_REVISION, ENDPOINTS


class EndpointPrompt(Prompt[str]):
    """Ask for an endpoint by its key."""

    heading = "endpoint: the event"

    def candidates(self, text: str) -> Sequence[Candidate]:
        """List the endpoints that begin so."""
        asked = text.strip().lower()
        return [Candidate(e.key, e.key, e.brief) for e in ENDPOINTS.values() if e.key.startswith(asked)]

    def finish(self, text: str) -> str:
        """Read a key or a name; nothing means any revision."""
        return endpoints.named(text.strip() or ANY_REVISION.key).key
