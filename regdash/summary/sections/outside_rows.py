"""Rows for who is not of the office: which go because they, or what is left of a total, would tell a small count."""

from collections.abc import Mapping, Sequence
from dataclasses import fields, replace
from typing import Any, TypeVar

from regdash.summary.disclosure import hidden_reasons, why_hidden
from regdash.summary.unit_asker import UnitAsker

Row = TypeVar("Row")


def hidden_parts(asker: UnitAsker, counts: Sequence[int | None], total: int | None) -> list[bool] | None:
    """
    Say which parts of a total go; what they lack of it is one more part, that is not told.

    Args:
        counts: of the parts; None where the policy withholds one.
        total: that is told, or that others tell; None where it is withheld.

    Returns:
        None where too little is left to hide a small part among: then that there are such parts is not told either.
    """
    known = [number for number in counts if number is not None]
    width, policy = asker.edition.protection_width, asker.others
    lacking = 0 if total is None or len(known) < len(counts) else total - sum(known)
    if lacking < 0:
        return None
    every = [*counts, lacking] if lacking else list(counts)
    hidden = hidden_reasons(policy, width, every, total)
    if total is not None and any(hidden):
        left = total - sum(number or 0 for number, goes in zip(every, hidden, strict=True) if not goes)
        if sum(hidden) == 1 or left - sum(hidden) < width:
            return None
    return hidden[: len(counts)]


def bare(asker: UnitAsker, row: Row, kept: Sequence[str]) -> Row:
    """Take every figure off a row but what names it, and say why; the office's list keeps that it went."""
    gone = {f.name: None for f in fields(row) if f.name not in (*kept, "withheld")}  # type: ignore[arg-type]
    return replace(row, **gone, withheld=why_hidden(asker.others))  # type: ignore[type-var]


def as_read(asker: UnitAsker, row: Row, decimals: Mapping[str, int]) -> Row:
    """
    Give figures as people read them: all their digits would tell the counts that they are made of. Where a small count
    of others is why one is missing, the same is said as of every other cause.
    """
    told: dict[str, Any] = {}
    for name, digits in decimals.items():
        value = getattr(row, name)
        told[name] = None if value is None else round(value, digits)
    small, why = asker.others.why_small(1), getattr(row, "withheld", None)
    if small and why and small in why:
        told["withheld"] = why_hidden(asker.others)
    return replace(row, **told)  # type: ignore[type-var]


def without(row: Row, *names: str) -> Row:
    """Take away figures that nobody outside gets."""
    return replace(row, **dict.fromkeys(names))  # type: ignore[type-var]


def brief(probability: float | None) -> float | None:
    """
    Give a probability two digits.

    >>> brief(0.000012345), brief(None)
    (1.2e-05, None)
    """
    return None if probability is None else float(f"{probability:.2g}")
