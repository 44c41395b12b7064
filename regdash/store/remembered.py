"""
Answers a data cut has given before. A cut never changes, so an answer stays right; two who ask the same at
once wait for one count. The oldest go where all together would weigh too much, so that memory stays small.
"""

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import dataclass
from typing import Any, TypeVar

from regdash.store.asked_sql import AskedSql

Answer = TypeVar("Answer")
MOST_KEPT = 500  # answers
HEAVIEST_KEPT = 1_000_000  # numbers in one answer; a count holds three such columns, some 24 megabytes
HEAVIEST_IN_ALL = 4 * HEAVIEST_KEPT


@dataclass(frozen=True)
class _Kept:
    """An answer, the statements that it took, and how many numbers are in it."""

    answer: Any
    sql: AskedSql
    weight: int


class Remembered:
    """The last answers, by what was asked."""

    def __init__(self, asked_sql: Callable[[], AskedSql | None] = lambda: None) -> None:
        self._asked_sql = asked_sql  # where the question under way notes its statements
        self._kept: OrderedDict[Hashable, _Kept] = OrderedDict()
        self._weight = 0
        self._making: dict[Hashable, threading.Lock] = {}
        self._guard = threading.Lock()

    def get(self, asked: Hashable, make: Callable[[], Answer], weight: Callable[[Answer], int]) -> Answer:
        """Give the answer kept, or make it; it is kept unless too many numbers are in it."""
        with self._guard:
            making = self._making.setdefault(asked, threading.Lock())
        with making:  # a question that is cancelled raises here, and the next in line makes the answer itself
            with self._guard:
                if asked in self._kept:
                    self._kept.move_to_end(asked)
                    found = self._kept[asked]
                    if noted := self._asked_sql():
                        noted.update(found.sql)
                    answer: Answer = found.answer
                    return answer
            answer, sql = self._made(make)
            self._keep(asked, _Kept(answer, sql, weight(answer)))
            return answer

    def _made(self, make: Callable[[], Answer]) -> tuple[Answer, AskedSql]:
        """Make an answer, and list the statements that it took: they are those of whoever is given it later."""
        noted, own = self._asked_sql(), AskedSql()
        if noted is None:
            return make(), own
        before, noted.found = noted.found, own.found
        try:
            return make(), own
        finally:
            noted.found = before
            noted.update(own)

    def _keep(self, asked: Hashable, kept: _Kept) -> None:
        with self._guard:
            if kept.weight <= HEAVIEST_KEPT:
                self._kept[asked] = kept
                self._weight += kept.weight
            while len(self._kept) > MOST_KEPT or self._weight > HEAVIEST_IN_ALL:
                self._weight -= self._kept.popitem(last=False)[1].weight
            for old in [key for key, lock in self._making.items() if key not in self._kept and not lock.locked()]:
                del self._making[old]

    def forget(self) -> None:
        """Keep nothing of what was answered so far, as measurements need."""
        with self._guard:
            self._kept.clear()
            self._weight = 0
