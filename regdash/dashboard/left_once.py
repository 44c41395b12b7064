"""Screens that are left once: keys that were typed faster than they were answered take nothing else away."""

from __future__ import annotations

from typing import TypeVar

from textual.await_complete import AwaitComplete
from textual.screen import ModalScreen, Screen

Answer = TypeVar("Answer")


class LeftOnce(Screen[Answer]):
    """A screen; where it lies in front no more, leaving it again would take the screen that does."""

    def dismiss(self, result: Answer | None = None) -> AwaitComplete:
        """Leave the screen with its answer, unless it was left."""
        return super().dismiss(result) if self.is_active else AwaitComplete()


class Laid(LeftOnce[Answer], ModalScreen[Answer]):
    """A screen that is laid over another."""
