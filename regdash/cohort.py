"""
The filter language: words such as `class=partial age=50..59` ⇄ a Cohort ⇄ a predicate with bound parameters.

A cohort word is known at implantation. What happened later (`fields.OUTCOMES`) would choose the
denominator by the result, so only lists of joints accept it; everything else refuses it by name.
"""

import re
import shlex
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from regdash import fields, values, vocabulary
from regdash.errors import FilterError
from regdash.fields import Field
from regdash.suggest import nearest
from regdash.values import Range, Value

# Values of a code field as the open data cut holds them, by key; without it codes are not checked.
Known = Mapping[str, Sequence[str]]
# Filter words of the cohorts that people gave a name, by name: `@name` stands for them.
Named = Mapping[str, str]
NAME_SIGN = "@"

_NEEDS_QUOTES = re.compile(r"[\s'\"\\]")
_WORD = re.compile(r"(?P<key>[^=!]*)(?P<sign>!?=)(?P<text>.*)", re.DOTALL)
SAY_INSTEAD = "A cohort is chosen by what was known at implantation"


@dataclass(frozen=True)
class Condition:
    """One word of a filter: a field, equal or not, and the values or ranges it may have."""

    key: str
    negated: bool
    values: tuple[Value | Range, ...]

    @property
    def field(self) -> Field:
        """The field that this condition is about."""
        return fields.FIELDS[self.key]

    def implies(self, other: "Condition") -> bool:
        """Whether every joint that meets this condition is seen at once to meet the other, on the same field."""
        if self.key != other.key or self.negated or self.field.component:
            return False
        if other.negated:
            # Not for reasons: a group and one of its details differ as words, and are not apart.
            return (
                self.field.kind in ("words", "code")
                and self.key != "reason"
                and not set(self.values) & set(other.values)
            )
        return all(any(values.within(v, wider) for wider in other.values) for v in self.values)

    def __str__(self) -> str:
        written = ",".join(values.written(value, self.field) for value in self.values)
        return f"{self.key}{'!=' if self.negated else '='}{written}"


@dataclass(frozen=True)
class Predicate:
    """A condition on `follow_up` in SQL, made of our own field list, and the parameters it binds."""

    sql: str
    parameters: dict[str, Any]


@dataclass(frozen=True)
class Cohort:
    """Joints that meet every condition; empty means every joint of the cut. Prints in one canonical order."""

    conditions: tuple[Condition, ...] = ()

    def __str__(self) -> str:
        return " ".join(shlex.quote(word) if _NEEDS_QUOTES.search(word) else word for word in self.words)

    @property
    def words(self) -> tuple[str, ...]:
        """The canonical filter words, one a condition."""
        return tuple(str(condition) for condition in self.conditions)

    @property
    def outcome_keys(self) -> tuple[str, ...]:
        """Keys of the conditions that were not known at implantation."""
        return tuple(condition.key for condition in self.conditions if condition.field.outcome)

    def having(self, *words: str, known: Known | None = None) -> "Cohort":
        """Add words; a word on the same key with the same sign replaces the earlier one."""
        added = parse(words, known=known, outcomes=True)
        taken = {(condition.key, condition.negated) for condition in added.conditions}
        kept = [condition for condition in self.conditions if (condition.key, condition.negated) not in taken]
        return _in_order([*kept, *added.conditions])

    def narrowed(self, *words: str, known: Known | None = None) -> "Cohort":
        """Keep the joints that meet these words too; earlier conditions that they imply are left out."""
        added = parse(words, known=known, outcomes=True).conditions
        kept = [earlier for earlier in self.conditions if not any(later.implies(earlier) for later in added)]
        return _in_order([*kept, *added])

    def without(self, key: str) -> "Cohort":
        """Drop every condition on a key."""
        return replace(self, conditions=tuple(c for c in self.conditions if c.key != key))

    def predicate(self, bound: Mapping[str, Any] | None = None) -> Predicate:
        """
        Say it in SQL. Component words of one filter speak of one and the same component.

        Args:
            bound: what the statement binds already; it is kept, and names in it are not taken.
        """
        parameters: dict[str, Any] = dict(bound or {})
        own = [c for c in self.conditions if not c.field.component]
        together = [c for c in self.conditions if c.field.component and not c.negated]
        apart = [c for c in self.conditions if c.field.component and c.negated]
        parts = [_said(condition, parameters) for condition in own]
        if together:
            parts.append(_component_test([_said(c, parameters) for c in together]))
        parts += ["not " + _component_test([_said(replace(c, negated=False), parameters)]) for c in apart]
        return Predicate(" and ".join(parts) or "true", parameters)

    def component_predicate(self, bound: Mapping[str, Any] | None = None) -> Predicate:
        """
        Say in SQL which components of `component_life` the words on components choose; every one, without such words.

        Args:
            bound: as in `predicate`.
        """
        parameters: dict[str, Any] = dict(bound or {})
        parts = [_said(c, parameters) for c in self.conditions if c.field.component and not c.negated]
        return Predicate(" and ".join(parts) or "true", parameters)


def either(first: Cohort, second: Cohort) -> Predicate:
    """Joints that are in one cohort or the other, or in both."""
    one = first.predicate()
    other = second.predicate(one.parameters)
    return Predicate(f"(({one.sql}) or ({other.sql}))", other.parameters)


def _component_test(parts: list[str]) -> str:
    return f"joint_no in (select joint_no from component_life where in_day = 0 and {' and '.join(parts)})"


def _said(condition: Condition, parameters: dict[str, Any]) -> str:
    """Say one condition in SQL and bind its values under names not yet taken."""

    def bind(value: Any) -> str:
        name = f"c{len(parameters)}"
        parameters[name] = value
        return f"${name}"

    field = condition.field
    tests = [values.test(field, value, bind) for value in condition.values]
    either = tests[0] if len(tests) == 1 else f"({' or '.join(tests)})"
    # `!=` keeps joints where the field is not recorded: they are not the value that was named.
    return f"({either}) is not true" if condition.negated else either


def _in_order(conditions: Iterable[Condition]) -> Cohort:
    order = {key: place for place, key in enumerate(fields.FIELDS)}
    return Cohort(tuple(sorted(dict.fromkeys(conditions), key=lambda c: (order[c.key], c.negated, str(c)))))


def split(text: str) -> tuple[str, ...]:
    """Split a line of filter words as a shell would: quotes may hold spaces."""
    try:
        return tuple(shlex.split(text))
    except ValueError:
        raise FilterError(f"The filter has a quote without its partner: {text}") from None


def parse(
    words: str | Iterable[str], *, known: Known | None = None, outcomes: bool = False, named: Named | None = None
) -> Cohort:
    """
    Read filter words.

    Args:
        words: one line, or the words of a command line.
        known: values of code fields in the open cut; a code that it lacks is refused.
        outcomes: accept words about what happened later (lists of joints only).
        named: what `@name` stands for; where it is left out, names are refused.

    Raises:
        FilterError: an unknown key, value or name (the nearest right ones are named), a bad range,
            or an outcome word where the denominator would be chosen by it.
    """
    parts = split(words) if isinstance(words, str) else tuple(words)
    if named is not None:
        parts = expanded(parts, named, known)
    cohort = _in_order(_condition(word, known or {}) for word in parts)
    if cohort.outcome_keys and not outcomes:
        raise FilterError(refusal(cohort.outcome_keys[0]))
    repeated = [c.key for c in cohort.conditions if c.field.component and not c.negated]
    for key in repeated:
        if repeated.count(key) > 1:
            raise FilterError(f"{key} is asked for twice, and no component is both. Either of them: {key}=a,b")
    return cohort


def expanded(words: Iterable[str], named: Named, known: Known | None = None) -> tuple[str, ...]:
    """
    Write the words of named cohorts in the place of their names.

    Raises:
        FilterError: no cohort has that name, or its words hold no longer.

    >>> expanded(["@young", "sex=male"], {"young": "age=..54 class=partial"})
    ('class=partial', 'age=..54', 'sex=male')
    """
    found: list[str] = []
    for word in words:
        found += _named_words(word, named, known) if word.startswith(NAME_SIGN) else [word]
    return tuple(found)


def _named_words(word: str, named: Named, known: Known | None) -> tuple[str, ...]:
    name = word.removeprefix(NAME_SIGN).lower()
    if name not in named:
        said = nearest(name, named) if named else "Nobody has saved any."
        raise FilterError(f"No cohort is named {name or NAME_SIGN}. {said}")
    try:
        return parse(named[name], known=known).words
    except FilterError as fault:
        raise FilterError(f"{NAME_SIGN}{name} was saved as {named[name]}, which holds no longer. {fault}") from None


def refusal(key: str) -> str:
    """Say why an outcome word cannot choose a cohort, and what to ask instead."""
    instead = "Ask for one reason with --reason" if key == "reason" else "List such joints with: regdash joints"
    return f"{key} is known only after implantation. {SAY_INSTEAD}. {instead}."


def _condition(word: str, known: Known) -> Condition:
    key, sign, text = _parts(word)
    if key not in fields.FIELDS:
        raise FilterError(f"There is no filter word {key}. {nearest(key, fields.FIELDS)}")
    field = fields.FIELDS[key]
    if not text:
        raise FilterError(f"{key} needs a value, as in {field.example}")
    parts = tuple(_value(field, part.strip(), known.get(key)) for part in text.split(","))
    return Condition(key, sign == "!=", tuple(dict.fromkeys(parts)))


def _parts(word: str) -> tuple[str, str, str]:
    match = _WORD.fullmatch(word)
    if word.startswith(NAME_SIGN):
        raise FilterError(f"{word} names a saved cohort, and no names are read here. Write its filter words.")
    if match is None:
        raise FilterError(f"{word} is not a filter word. Write key=value, as in class=partial")
    return match["key"].strip().lower(), match["sign"], match["text"].strip()


def _value(field: Field, text: str, known: Sequence[str] | None) -> Value | Range:
    if not text:
        raise FilterError(f"{field.key} has an empty value between its commas")
    choices = field.choices if field.choices else known
    if field.kind == "code" or (choices and field.kind == "words"):
        return _chosen(field, text, choices)
    return values.read(field, text)


def _chosen(field: Field, text: str, choices: Sequence[str] | None) -> str:
    if choices is None:
        return vocabulary.spoken(text.lower(), (vocabulary.NOT_RECORDED,)) or text
    for choice in choices:
        if text.casefold() in (vocabulary.coded(choice).casefold(), choice.casefold()):
            return choice
    written = [values.written(choice, field) for choice in choices]
    raise FilterError(f"{field.key} has no value {text}. {nearest(text, written)}")


def candidates(text: str, known: Known, outcomes: bool = False, named: Iterable[str] = ()) -> list[str]:
    """
    List what the last word of a half-written filter may become, whole words, in order.

    A joint that an earlier word names leaves only what it can have. After @ the names of cohorts are listed.

    >>> candidates("class=partial bear", {}), candidates("joint=hip bearing=c", {})
    (['bearing='], ['bearing=constrained'])
    """
    before, _, word = text.rpartition(" ")
    if word.startswith(NAME_SIGN):
        return [f"{NAME_SIGN}{name}" for name in named if name.startswith(word.removeprefix(NAME_SIGN).lower())]
    usable = [field for field in fields.FIELDS.values() if outcomes or not field.outcome]
    try:
        key, sign, rest = _parts(word)
    except FilterError:
        return [f"{field.key}=" for field in usable if field.key.startswith(word.lower())]
    field = next((f for f in usable if f.key == key), None)
    if field is None:
        return []
    head, _, last = rest.rpartition(",")
    start = f"{key}{sign}{head + ',' if head else ''}"
    own = fields.choices_of(field, _joint_named(before))
    choices = [values.written(choice, field) for choice in (own or known.get(key, ()))]
    return [start + choice for choice in choices if choice.casefold().startswith(last.casefold())]


def _joint_named(words: str) -> str | None:
    """The one joint that half-written filter words name, if they do."""
    named = [word.partition("=")[2].lower() for word in words.lower().split() if word.startswith("joint=")]
    return named[-1] if named and named[-1] in vocabulary.JOINTS else None


def period(text: str) -> tuple[date, date]:
    """First and last day of a date, month, quarter or year written in ISO 8601 or as 2015Q1."""
    return values.period(text)
