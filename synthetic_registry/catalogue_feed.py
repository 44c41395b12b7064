"""
The catalogue as the office receives it: entries as they come and go, and which of them go together.
"""

from collections.abc import Callable

import numpy as np

from regdash import vocabulary as words
from synthetic_registry.catalogue import Catalogue, Entry
from synthetic_registry.implants import SIZE_STEPS
from synthetic_registry.labels import all_gtins
from synthetic_registry.several import Several


def catalogue_rows(several: Several) -> Callable[[int], list[list[tuple]]]:
    """Prepare the rows of every year: new or withdrawn entries, and pairs of implants that are new."""
    start = several.days.start.year
    joints = [catalogue.parameters.joint for catalogue in several.catalogues]
    numbered = [
        (entry, number, joints[limb])
        for entry, number, limb in zip(several.entries, all_gtins(several).to_list(), several.entry_limb.tolist())
        if entry.used
    ]
    entries: dict[int, list[tuple[Entry, str, str]]] = {}
    for found in numbered:
        entry = found[0]
        entries.setdefault(max(entry.introduced, 0), []).append(found)
        if entry.withdrawn > max(entry.introduced, 0):
            entries.setdefault(entry.withdrawn, []).append(found)
    pairs: dict[int, list[tuple]] = {}
    for catalogue in several.catalogues:
        for year, row in _pairs(catalogue):
            pairs.setdefault(year, []).append(row)

    def of_year(year: int) -> list[list[tuple]]:
        rows = [_row(entry, number, joint, start, year) for entry, number, joint in entries.get(year, [])]
        return [rows, pairs.get(year, [])]

    return of_year


def _row(entry: Entry, number: str, joint: str, start: int, year: int) -> tuple:
    withdrawn = f"{start + entry.withdrawn - 1}-12-31" if entry.withdrawn <= year else ""
    return (
        entry.catalogue_no,
        number,
        entry.maker,
        entry.implant,
        words.coded(entry.role),
        joint,
        words.coded(entry.class_name),
        words.coded(entry.bearing),
        words.coded(entry.constraint),
        entry.fixation,
        words.coded(entry.material),
        entry.size,
        entry.side,
        f"{start + entry.introduced}-01-01",
        withdrawn,
    )


def _pairs(catalogue: Catalogue) -> list[tuple[int, tuple[str, str, str]]]:
    """List which implants go together, by how many sizes they may differ, and from which year."""
    implants, found = catalogue.implants, {}
    constructs, families = implants.constructs, implants.families
    knee = catalogue.parameters.joint == "knee"
    kinds = catalogue.parameters.classes
    for first, other, kind in zip(
        constructs.first.tolist(), constructs.other.tolist(), kinds_of(constructs.joint_class, kinds)
    ):
        year = max(0, int(families.launch[first]), int(families.launch[other]))
        fourth = other if kind.fourth_of == "other" else first
        liner, head = catalogue.implant_code(other, 2), catalogue.implant_code(fourth, 3)
        if knee and kind.name != "patellofemoral":
            pair = (catalogue.implant_code(first, 0), catalogue.implant_code(other, 1))
            found[pair] = (year, str(SIZE_STEPS))
            if liner:
                found[(pair[1], liner)] = (year, "0")
        elif head and liner:
            found.setdefault((head, liner), (year, "0"))
    return [(year, (*pair, steps)) for pair, (year, steps) in found.items()]


def kinds_of(joint_class: np.ndarray, kinds: tuple) -> list:
    """Find the class of each construct."""
    return [kinds[place] for place in joint_class.tolist()]
