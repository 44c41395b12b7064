"""Field lists: what an extract for a purpose holds and how coarse it is, read from a file that an office edits."""

import hashlib
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from regdash.errors import ExtractError
from regdash.extracts.coarseness import DAY, NONE, Coarseness, read_coarseness
from regdash.extracts.sources import COMPONENTS, JOINTS, SOURCES
from regdash.store.requests import KINDS
from regdash.suggest import nearest

SHIPPED = Path(__file__).parent / "lists"
FOLDER = "extracts"  # in the folder of a store
LEAST_K = 10
_SETTINGS: dict[str, type] = {
    "version": str,
    "title": str,
    "purpose": str,
    "recipients": list,
    "rows": str,
    "quasi_identifiers": list,
    "fields": dict,
}
_MORE: dict[str, type] = {"k": int, "least_hospitals": int, "one_maker": bool, "exact_dates": bool, "lots": bool}
_SAID = {str: "a text", list: "a list", int: "a whole number", bool: "true or false", dict: "a table"}


@dataclass(frozen=True)
class FieldList:
    """One list, as its file says it."""

    name: str
    text: str  # the file itself
    version: str
    title: str
    purpose: str
    recipients: tuple[str, ...]  # kinds of who asked that may get it
    rows: str  # JOINTS or COMPONENTS
    told: dict[str, Coarseness]  # fields in the order of the file, those that are none left out
    left_out: tuple[str, ...]  # named as none
    quasi_identifiers: tuple[str, ...]  # fields that others may know, over which patients are counted
    k: int = LEAST_K  # patients that share each combination of them, at the least
    least_hospitals: int = 0  # that use an implant or construct that is told
    one_maker: bool = False  # the filter names one maker, and rows are that maker's own
    exact_dates: bool = False
    lots: bool = False

    @property
    def hash(self) -> str:
        """Twelve digits of the file's hash."""
        return hashlib.sha256(self.text.encode()).hexdigest()[:12]


def list_names(store: Path) -> list[str]:
    """Name the lists of a store and those that come with the program."""
    return sorted({path.stem for folder in (SHIPPED, store / FOLDER) for path in folder.glob("*.toml")})


def read_list(store: Path, name: str) -> FieldList:
    """
    Read a list: the store's own file where there is one, else the one that comes with the program.

    Raises:
        ExtractError: there is none of that name, it cannot be read, or it says what a list cannot say.
    """
    names = list_names(store)
    if name not in names:
        raise ExtractError(f"There is no field list {name}. {nearest(name, names, most=len(names))}")
    own = store / FOLDER / f"{name}.toml"
    path = own if own.exists() else SHIPPED / f"{name}.toml"
    try:
        return list_of(name, path.read_bytes().decode("utf-8"))
    except (OSError, UnicodeDecodeError) as fault:
        raise ExtractError(f"The field list {path} cannot be read: {fault}") from None
    except ExtractError as fault:
        raise ExtractError(f"{path}: {fault}") from None


def list_of(name: str, text: str) -> FieldList:
    """
    Read a list from the text of its file.

    Raises:
        ExtractError: it is not TOML, lacks a setting, or has one that there is not or that cannot be so.
    """
    try:
        said = tomllib.loads(text)
    except tomllib.TOMLDecodeError as fault:
        raise ExtractError(f"this is not TOML: {fault}") from None
    settings = _checked(said)
    told = {name: _coarseness(name, settings, value) for name, value in settings["fields"].items()}
    found = FieldList(
        name=name,
        text=text,
        recipients=_among(settings["recipients"], KINDS, "recipients"),
        told={name: how for name, how in told.items() if how.way != NONE},
        left_out=tuple(name for name, how in told.items() if how.way == NONE),
        quasi_identifiers=tuple(settings["quasi_identifiers"]),
        **{key: settings[key] for key in ("version", "title", "purpose", "rows")},
        **{key: settings[key] for key in _MORE if key in settings},
    )
    _check_whole(found)
    return found


def _checked(said: dict[str, Any]) -> dict[str, Any]:
    known = _SETTINGS | _MORE
    for name, value in said.items():
        if name not in known:
            raise ExtractError(f"{name} is no setting. {nearest(name, known, most=len(known))}")
        kind = known[name]
        if not isinstance(value, kind) or (isinstance(value, bool) and kind is not bool):
            raise ExtractError(f"{name} is {_SAID[kind]}, not {value!r}.")
    for name in _SETTINGS:
        if not said.get(name):
            raise ExtractError(f"the list says no {name}.")
    _among([said["rows"]], (JOINTS, COMPONENTS), "rows")
    if said.get("k", LEAST_K) < 2 or said.get("least_hospitals", 0) < 0:
        raise ExtractError("k is a whole number from 2 up, and least_hospitals one from 0 up.")
    return said


def _coarseness(name: str, settings: dict[str, Any], said: Any) -> Coarseness:
    usable = [source.name for source in SOURCES.values() if source.of in (JOINTS, settings["rows"])]
    _among([name], tuple(usable), "[fields]")
    source = SOURCES[name]
    return read_coarseness(name, source.kind, source.words, said)


def _among(said: list[Any], known: tuple[str, ...], where: str) -> tuple[str, ...]:
    for word in said:
        if word not in known:
            raise ExtractError(f"{where} has {word}. {nearest(str(word), known, most=len(known))}")
    if len(set(said)) < len(said):
        raise ExtractError(f"{where} has something twice.")
    return tuple(said)


def _check_whole(found: FieldList) -> None:
    """Refuse a list whose parts do not fit each other."""
    if not found.told:
        raise ExtractError("the list tells no field.")
    _among(list(found.quasi_identifiers), tuple(found.told), "quasi_identifiers")
    for name in found.told:
        source = SOURCES[name]
        if source.is_known and name not in found.quasi_identifiers:
            raise ExtractError(f"others may know {name} of a patient: it stands under quasi_identifiers, or is none.")
        if source.is_outcome and name in found.quasi_identifiers:
            raise ExtractError(f"{name} is what is asked for, and no quasi-identifier.")
    _check_allowed(found)


def _check_allowed(found: FieldList) -> None:
    """Refuse what a list tells without saying that it may, or without what goes with it."""
    if "followed" in found.told and "implanted" not in found.told:
        raise ExtractError(
            "followed tells when a joint still in place was put in, so the list says how exactly implanted is told."
        )
    if "implanted" in found.told and found.told["implanted"].way == DAY and not found.exact_dates:
        raise ExtractError("implanted is told to the day only where the list says exact_dates = true.")
    if "lot" in found.told and not found.lots:
        raise ExtractError("lots are told only where the list says lots = true.")
    if found.one_maker and found.rows != COMPONENTS:
        raise ExtractError('a list for one maker has rows = "components": a joint holds those of others too.')
