"""
Cohorts that people gave a name: kept in the office file, only ever added to. Of several lines of one name the last
stands; one that removes the name says so. As text a cohort is one line, `name: filter words`.
"""

import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from regdash.errors import FilterError
from regdash.store.acts import written_down
from regdash.store.audit import author, without_patients
from regdash.store.office import now, office_rows, writing_office
from regdash.store.personal_numbers import refuse_personal
from regdash.store.sqlfiles import statement
from regdash.suggest import nearest

TABLE = "named_cohorts"
SAVED, REMOVED = "cohort-saved", "cohort-removed"  # acts of the audit trail
REMARK = "#"  # a line that begins so says nothing
LONGEST = 40
FEW = 4  # names that an act is told with
_NAME = re.compile(r"[a-z0-9](?:[a-z0-9-]*[a-z0-9])?")


@dataclass(frozen=True)
class NamedCohort:
    """One line: a name was given to filter words, or taken away."""

    number: int  # 1, 2, 3 … without gaps
    name: str
    words: str  # canonical filter words
    removed: bool
    note: str  # what it is for
    saved_by: str  # REGDASH_USER, else the account
    account: str
    saved_at: str  # UTC, ISO 8601


def cohort_lines(store: Path) -> tuple[NamedCohort, ...]:
    """
    Read every line, oldest first.

    Raises:
        StoreError: the office file cannot be read.
    """
    rows = office_rows(store, TABLE, "office/named_cohorts", {})
    return tuple(NamedCohort(row[0], row[1], row[2], bool(row[3]), *row[4:]) for row in rows)


def named_cohorts(store: Path) -> dict[str, NamedCohort]:
    """Read what stands, by name and in its order; what was removed is left out."""
    last = {line.name: line for line in cohort_lines(store)}
    return {name: last[name] for name in sorted(last) if not last[name].removed}


def checked_name(text: str) -> str:
    """
    Read a name.

    Raises:
        FilterError: it cannot be one.

    >>> checked_name("@Young-Men")
    'young-men'
    """
    name = text.strip().removeprefix("@").lower()
    if not _NAME.fullmatch(name) or len(name) > LONGEST:
        raise FilterError(
            f"{text.strip() or 'Nothing'} cannot be a name. Write letters a to z, digits and hyphens, "
            f"{LONGEST} at most, as in young-men."
        )
    return name


def save_cohorts(store: Path, cohorts: Mapping[str, str], note: str = "") -> tuple[NamedCohort, ...]:
    """
    Give names to filter words, all of them or none; what a name stood for before is superseded.

    Args:
        cohorts: canonical filter words by name.

    Returns:
        What stands of these names. What says the same as before is not written again.

    Raises:
        FilterError: a name that cannot be one.
        InputError: the note holds what looks like a person's number.
        StoreError: the office file cannot be written.
    """
    wanted = {checked_name(name): words for name, words in cohorts.items()}
    before = named_cohorts(store)
    said = without_patients(refuse_personal(note.strip()))
    _append(
        store,
        [
            (name, words, False, said)
            for name, words in wanted.items()
            if name not in before or before[name].words != words or (said and before[name].note != said)
        ],
    )
    after = named_cohorts(store)
    return tuple(after[name] for name in wanted)


def remove_cohort(store: Path, name: str, note: str = "") -> NamedCohort:
    """
    Take a name away; its lines stay.

    Raises:
        FilterError: nothing has that name; the nearest is named.
        StoreError: the office file cannot be written.
    """
    standing = cohort_named(named_cohorts(store), name)
    _append(store, [(standing.name, standing.words, True, without_patients(refuse_personal(note.strip())))])
    return cohort_lines(store)[-1]


def save_and_tell(store: Path, cohorts: Mapping[str, str], note: str = "") -> tuple[NamedCohort, ...]:
    """Give names, as `save_cohorts`, and write that down in the audit trail; a refusal too."""
    with written_down(store, SAVED, _subject(cohorts), note) as act:
        saved = save_cohorts(store, cohorts, note)
        act.details = {"lines": [one.number for one in saved], "words": {one.name: one.words for one in saved}}
    return saved


def remove_and_tell(store: Path, name: str, note: str = "") -> NamedCohort:
    """Take a name away, as `remove_cohort`, and write that down in the audit trail; a refusal too."""
    with written_down(store, REMOVED, _subject([name]), note) as act:
        gone = remove_cohort(store, name, note)
        act.details = {"lines": [gone.number], "words": {gone.name: gone.words}}
    return gone


def _subject(names: Collection[str]) -> str:
    """Name a few cohorts, or say how many they are."""
    told = [name.strip().removeprefix("@").lower() for name in names]
    return ", ".join(told) if len(told) <= FEW else f"{len(told):,} cohorts"


def cohort_named(known: Mapping[str, NamedCohort], name: str) -> NamedCohort:
    """
    Find what a name stands for.

    Raises:
        FilterError: nothing has that name; the nearest is named.
    """
    wanted = checked_name(name)
    if wanted not in known:
        said = nearest(wanted, known) if known else "Nobody has saved any."
        raise FilterError(f"No cohort is named {wanted}. {said}")
    return known[wanted]


def _append(store: Path, lines: Sequence[tuple[str, str, bool, str]]) -> None:
    if not lines:
        return
    by, own_account = author()
    said = {"saved_by": without_patients(by), "account": own_account, "saved_at": now()}
    with writing_office(store) as office:
        for name, words, removed, note in lines:
            row = {"name": name, "words": words, "removed": int(removed), "note": note} | said
            office.execute(statement("office/append_named_cohort"), row)


def as_lines(cohorts: Iterable[NamedCohort]) -> str:
    """Write cohorts as text, one a line."""
    return "".join(f"{cohort.name}: {cohort.words}\n" for cohort in cohorts)


def read_lines(text: str) -> dict[str, str]:
    """
    Read cohorts from text, one a line; empty lines and those that begin with # say nothing.

    Raises:
        FilterError: a line without a name, or a name that comes twice, with the number of the line.

    >>> read_lines("# of the committee\\nyoung: age=..54\\n")
    {'young': 'age=..54'}
    """
    found: dict[str, str] = {}
    for number, line in enumerate(text.splitlines(), 1):
        if not line.strip() or line.lstrip().startswith(REMARK):
            continue
        name, colon, words = line.partition(":")
        try:
            if not colon or not words.strip():
                raise FilterError("Write a name, a colon and filter words, as in young-men: age=..54 sex=male.")
            name = checked_name(name)
            if name in found:
                raise FilterError(f"{name} comes twice.")
        except FilterError as fault:
            raise FilterError(f"Line {number}: {fault}") from None
        found[name] = words.strip()
    return found
