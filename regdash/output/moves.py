"""Decisions of a period as a list: the same rows at the command line and in the summary."""

from collections.abc import Sequence
from dataclasses import fields, replace

from regdash.output.listing import Listing
from regdash.signals.decided import MEASURE, METHOD, UNITS, Move

_NAMES = {"joint_class": "class", "before": "from", "after": "to"}  # what Python cannot call so
COLUMNS = tuple(_NAMES.get(field.name, field.name) for field in fields(Move))
CODE = "code"


def listed_moves(moves: Sequence[Move], with_codes: bool, of: str = "", **facts: object) -> Listing:
    """
    List moves; without codes there is no column for them.

    Args:
        of: the period, in words.
    """
    columns = tuple(name for name in COLUMNS if with_codes or name != CODE)
    own = {name: field.name for name, field in zip(COLUMNS, fields(Move))}
    rows = [tuple(getattr(move, own[name]) for name in columns) for move in moves]
    many = f"{len(rows):,} decision{'' if len(rows) == 1 else 's'}{of}."
    return Listing(MEASURE, columns, rows, {"method": METHOD, **facts}, (many, UNITS), (CODE, "from", "to"))


def on_a_page(moves: Listing) -> Listing:
    """Set what moved first: the last columns are left out where the width is short."""
    first = [name for name in ("date", CODE, "from", "to") if name in moves.columns]
    columns = (*first, *(name for name in moves.columns if name not in first))
    places = [moves.columns.index(name) for name in columns]
    return replace(moves, columns=columns, rows=[tuple(row[place] for place in places) for row in moves.rows])
