"""The statements that a question was answered with, with their values written in, so that they can be asked again."""

import re
from collections.abc import Mapping
from datetime import date
from typing import Any

MOST_KEPT = 100  # of one thread, until they are taken
_BOUND = re.compile(r"\$([a-z_][a-z0-9_]*)")


class AskedSql:
    """Statements in the order in which they were first asked."""

    def __init__(self) -> None:
        self.found: dict[tuple[str, str], str] = {}

    def note(self, sql: str, parameters: Mapping[str, Any]) -> None:
        """Keep one."""
        if len(self.found) < MOST_KEPT:
            self.found.setdefault((sql, repr(parameters)), with_values(sql, parameters))

    def update(self, other: "AskedSql") -> None:
        """Keep those of another."""
        for key, written in other.found.items():
            if len(self.found) < MOST_KEPT:
                self.found.setdefault(key, written)


def with_values(sql: str, parameters: Mapping[str, Any]) -> str:
    """
    Write a statement with the values that it binds.

    >>> with_values("select * from follow_up where sex = $c0 and age <= $c1", {"c0": "male", "c1": 54})
    "select * from follow_up where sex = 'male' and age <= 54"
    """
    return _BOUND.sub(lambda name: _literal(parameters[name[1]]) if name[1] in parameters else name[0], sql)


def _literal(value: Any) -> str:
    if value is None or isinstance(value, bool):
        return {None: "null", True: "true", False: "false"}[value]
    if isinstance(value, (list, tuple)):
        return f"[{', '.join(map(_literal, value))}]"
    if isinstance(value, date):
        return f"date '{value.isoformat()[:10]}'"
    if isinstance(value, str):
        return "'" + value.replace("'", "''") + "'"
    return str(value)
