"""
How joints are grouped: `age:10,sex` ⇄ Grouping ⇄ SQL that gives each joint a small whole number,
and the label and filter word that each number stands for.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from regdash import fields, values, vocabulary
from regdash.cohort import Known
from regdash.errors import FilterError
from regdash.fields import Field
from regdash.suggest import nearest

UNKNOWN = -1  # the number of a group whose joints have no value of the field
MOST_GROUPS = 2_000


@dataclass(frozen=True)
class Grouping:
    """One field to group by; `width` is the size of a band, 0 for the field's own groups."""

    field: Field
    width: int = 0

    def __str__(self) -> str:
        return f"{self.field.key}:{self.width}" if self.width else self.field.key

    @property
    def banded(self) -> bool:
        """Whether the default bands of the field are used."""
        return not self.width and bool(self.field.bands)

    def sql(self) -> str:
        """Say in SQL which group a joint is in, as a whole number; UNKNOWN where it has no value."""
        column = self.field.column
        if self.field.enum and self.field.enum != "boolean":
            return f"coalesce(enum_code({column})::integer, {UNKNOWN})"
        if self.field.kind == "date":
            year = f"year({column})::integer"
            return f"({year} // {self.width} * {self.width})" if self.width else year
        if self.banded:
            edges = " ".join(f"when {column} < {edge} then {n}" for n, edge in enumerate(self.field.bands))
            return f"(case when {column} is null then {UNKNOWN} {edges} else {len(self.field.bands)} end)"
        width = self.width or 1
        return f"coalesce((floor({column} / {width}) * {width})::integer, {UNKNOWN})"

    def label(self, number: int, known: Known) -> str:
        """Name a group for people."""
        if number == UNKNOWN:
            return vocabulary.NOT_RECORDED
        if self.field.enum:
            return self._choices(known)[number]
        edges = _band(self.field, number) if self.banded else (number, number + (self.width or 1))
        return _band_label(self.field, *edges)

    def place(self, number: int, known: Known) -> tuple[bool, int | str]:
        """Sort key of a group: codes by name, other fields by number, not recorded last."""
        label = self.label(number, known)
        return label == vocabulary.NOT_RECORDED, label if self.field.kind == "code" else number

    def word(self, number: int, known: Known) -> str:
        """Write the filter word that keeps this group alone."""
        return f"{self.field.key}={self._value(number, known)}"

    @property
    def _whole(self) -> bool:
        return self.field.kind != "decimal"

    def _choices(self, known: Known) -> Sequence[str]:
        # The cut's own list first: its numbers are what the count gave, whatever the vocabulary has become since.
        return known.get(self.field.key) or self.field.choices

    def _value(self, number: int, known: Known) -> str:
        if number == UNKNOWN:
            return vocabulary.coded(vocabulary.NOT_RECORDED)
        if self.field.enum:
            return values.written(self._choices(known)[number], self.field)
        if self.banded:
            lower, upper = _band(self.field, number)
        else:
            lower, upper = number, number + (self.width or 1)
        if upper is not None and self._whole:
            upper -= 1
        return f"{lower}" if lower == upper else f"{'' if lower is None else lower}..{'' if upper is None else upper}"


def _band(field: Field, number: int) -> tuple[int | None, int | None]:
    """Lower edge, and the edge that the band stops short of."""
    edges = field.bands
    return (edges[number - 1] if number else None), (edges[number] if number < len(edges) else None)


def _band_label(field: Field, lower: int | None, upper: int | None) -> str:
    unit = f" {field.unit}" if field.unit else ""
    if lower is None:
        return f"under {upper}{unit}"
    if upper is None:
        return f"{lower}{unit} and over"
    if field.kind == "decimal":
        return f"{lower} to under {upper}{unit}"
    return f"{lower}–{upper - 1}{unit}" if upper - lower > 1 else f"{lower}{unit}"


def parse(text: str) -> tuple[Grouping, ...]:
    """
    Read a grouping: fields joined by commas, each with a band width where it is a number.

    Raises:
        FilterError: an unknown field, one that does not split joints into groups, or a bad width.
    """
    groupings = tuple(_grouping(part.strip()) for part in text.split(",") if part.strip())
    keys = [grouping.field.key for grouping in groupings]
    for key in keys:
        if keys.count(key) > 1:
            raise FilterError(f"{key} is named twice in the grouping {text}")
    return groupings


def _grouping(part: str) -> Grouping:
    key, colon, width = part.lower().partition(":")
    if key not in fields.FIELDS:
        usable = [f.key for f in fields.FIELDS.values() if not f.component and not f.outcome]
        raise FilterError(f"There is no field {key} to group by. {nearest(key, usable, most=30)}")
    field = fields.FIELDS[key]
    if field.outcome:
        raise FilterError(f"{key} is known only after implantation, so it cannot form groups that are then followed.")
    if field.component:
        raise FilterError(f"A joint holds several implants, so {key} does not split joints into groups. Use construct.")
    if not colon:
        return Grouping(field)
    if field.kind not in ("whole", "decimal", "date") or not width.isdigit() or not 0 < int(width) <= 1000:
        raise FilterError(f"{part} is not a grouping. A width goes with a number or a date, as in age:10")
    return Grouping(field, int(width))


def labelled(groupings: Sequence[Grouping], numbers: Sequence[int], known: Mapping[str, Sequence[str]]) -> str:
    """Name a group of several fields: "60–69, female"; "all" where nothing groups."""
    return ", ".join(g.label(n, known) for g, n in zip(groupings, numbers, strict=True)) or "all"
