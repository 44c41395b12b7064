"""What a word of a statement may become: a view or table, a column of those that the statement names, a word of SQL."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING

from regdash.dashboard.widgets.prompt import Candidate

if TYPE_CHECKING:
    from regdash.reports.statements import Relation

WORD = re.compile(r"[A-Za-z_][A-Za-z0-9_]*(\.[A-Za-z0-9_]*)?\Z|\Z")
NAMED = re.compile(r"\b(?:from|join)\s+([a-z_][a-z0-9_]*)(?:\s+(?:as\s+)?([a-z_][a-z0-9_]*))?", re.IGNORECASE)
AFTER_FROM = re.compile(r"\b(?:from|join)\s+[a-z0-9_]*\Z", re.IGNORECASE)
SQL_WORDS = (
    *("select", "from", "where", "group by", "order by", "having", "limit", "join", "left join", "on", "as", "and"),
    *("or", "not", "in", "between", "is null", "is not null", "case when", "then", "else", "end", "with", "distinct"),
    *("count(*)", "sum(", "avg(", "min(", "max(", "median(", "filter (where", "union all", "describe", "summarize"),
)
QUOTE_OR_REMARK = re.compile(r"'(?:[^']|'')*'?|--[^\n]*")


def candidates(text: str, at: int, relations: Sequence[Relation]) -> list[Candidate]:
    """
    List what the word before a place in a statement may become.

    Args:
        at: place of the cursor in the text.

    Returns:
        Candidates with the whole new text; relations first where a relation is due, else columns, then words of SQL.
    """
    before, behind = text[:at], text[at:]
    if _within_quotes(before):
        return []
    word = WORD.search(before)
    typed = word[0] if word else ""
    start = before[: len(before) - len(typed)]
    prefix, dot, last = typed.rpartition(".")
    named = _named(text, relations)
    if dot:
        found = [
            (f"{prefix}.{column.name}", column.type, column.about)
            for relation in [named.get(prefix.lower())]
            if relation is not None
            for column in relation.columns
            if column.name.startswith(last.lower())
        ]
        return [_candidate(start, name, behind, f"{kind}: {about}") for name, kind, about in found]
    due = bool(AFTER_FROM.search(before))
    views = [_candidate(start, r.name, behind, f"{r.kind}: {r.about}") for r in relations if _fits(r.name, typed)]
    if due:
        return views
    if not typed:
        return []
    columns = {c.name: (r, c) for r in dict.fromkeys(named.values()) for c in r.columns if _fits(c.name, typed)}
    listed = [_candidate(start, name, behind, f"{r.name}: {c.about or c.type}") for name, (r, c) in columns.items()]
    words = [_candidate(start, each, behind, "SQL") for each in SQL_WORDS if _fits(each, typed) and each != typed]
    return [*listed, *(views if not named else []), *words]


def _fits(name: str, typed: str) -> bool:
    return name.startswith(typed.lower())


def _candidate(start: str, word: str, behind: str, remark: str) -> Candidate:
    return Candidate(start + word + behind, word, remark)


def _within_quotes(before: str) -> bool:
    """Whether the cursor stands in a quoted text or a remark, where nothing is completed."""
    quoted = list(QUOTE_OR_REMARK.finditer(before))
    if not quoted or quoted[-1].end() < len(before):
        return False
    found = quoted[-1][0]
    return found.startswith("--") or len(found) < 2 or found.count("'") % 2 == 1


def _named(text: str, relations: Sequence[Relation]) -> dict[str, Relation]:
    """The relations that a statement names, by name and by the other name it gives them."""
    known = {relation.name: relation for relation in relations}
    found: dict[str, Relation] = {}
    for name, other in NAMED.findall(text):
        relation = known.get(name.lower())
        if relation is not None:
            found[name.lower()] = relation
            if other:
                found[other.lower()] = relation
    return found
