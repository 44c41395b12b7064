"""Editions: which sections, cohorts and comparisons a summary holds, read from a file that an office edits."""

import hashlib
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from regdash.errors import SummaryError
from regdash.suggest import nearest

SHIPPED = Path(__file__).parent / "editions"
FOLDER = "editions"  # in the folder of a store
REQUESTS = "requests"
SECTIONS = (
    *("front", "intake", "activity", "risk", "reasons", "comparisons", "implants", "units", "deaths"),
    *("opening", "own-activity", "own-risk", "own-reasons", "own-records", "own-implants"),  # of one recipient
    *("public-opening", "public-operations", "public-risk", "public-reasons", "public-limits", "withheld"),
    *("decisions", REQUESTS),  # the office's own work
    *("methods", "cautions", "reproduction"),
)
EVIDENCE, EVIDENCE_OUTSIDE = "evidence", "evidence-maker"
_EVIDENCE = ("opening", "screening", "curves", "explanation", "history", "reviews", "withheld")
SECTIONS_OF = {  # of what is told of one unit of a screen; all other editions have those above
    EVIDENCE: (*_EVIDENCE, "joints", "methods", "cautions", "reproduction"),
    EVIDENCE_OUTSIDE: (*_EVIDENCE, "methods", "cautions", "reproduction"),
}
_SETTINGS = {
    "version": str,
    "title": str,
    "joints": list,
    "years": list,
    "reason_years": float,
    "horizon": float,
    "rows_on_paper": int,
    "sections": list,
}
_MORE = {  # settings that may be left out
    "withhold_counts_under": int,
    "protection_width": int,
    "least_joints": int,
    "least_hospitals": int,
    "list_own_joints": bool,
    "name_units": bool,
    "reading_age": int,
}
WITHHELD = "withheld"  # the section that lists what everybody's edition leaves out
LEAST_COUNT, LEAST_JOINTS, LEAST_HOSPITALS = 5, 500, 3  # where an edition that leaves the office does not say
_QUESTIONS = {
    "front": {"title": str, "filter": str, "years": float},
    "risk": {"title": str, "filter": str, "by": str, "view": str, "figure": bool},
    "reasons": {"title": str, "filter": str, "by": str, "years": list, "figure": bool},
    "comparisons": {
        "title": str,
        "filter": str,
        "by": str,
        "reference": str,
        "adjust": str,
        "windows": list,
        "gap_years": float,
    },
    "units": {"title": str, "filter": str, "kind": str, "years": float, "figure": bool},
}
UNITS = ("hospitals", "surgeons")
_IMPLANTS = {"screen": list, "pages": int, "explained": list, "explained_pages": int}
EXPLAINED = (  # parts of an explanation, as `regdash implant --section` names them
    *("windows", "excess", "first-revisions", "subgroups", "falls", "hospitals", "surgeons", "alike", "companions"),
    "nearby",
)
_SAID = {str: "a text", list: "a list", float: "a number", int: "a whole number", bool: "true or false"}


@dataclass(frozen=True)
class Question:
    """One question of a section; what its kind does not have keeps its default."""

    title: str
    filter: str = ""
    by: str = ""
    view: str = "implant"
    reference: str | None = None
    adjust: str = "age,sex"
    windows: tuple[float, ...] = ()
    gap_years: float | None = None
    years: tuple[float, ...] = ()
    figure: bool = True
    kind: str = "hospitals"


@dataclass(frozen=True)
class Edition:
    """One edition, as its file says it."""

    name: str
    text: str  # the file itself, byte for byte
    version: str
    title: str
    joints: tuple[str, ...]
    years: tuple[float, ...]
    reason_years: float
    horizon: float
    rows_on_paper: int
    sections: tuple[str, ...]
    questions: dict[str, tuple[Question, ...]]
    screens: tuple[str, ...]
    pages: int
    explained: tuple[str, ...]
    explained_pages: int
    withhold_counts_under: int = LEAST_COUNT  # counts of others from 1 up below this are withheld from the recipient
    protection_width: int = LEAST_COUNT - 1  # what is withheld cannot be told closer than this
    least_joints: int = LEAST_JOINTS  # of a group whose risk is told to everybody
    least_hospitals: int = LEAST_HOSPITALS  # that use an implant whose figures its maker sees
    list_own_joints: bool = False  # one by one, to who operated on them
    name_units: bool = True  # in the list of decisions; else only how many of which kind
    reading_age: int | None = None  # in years, stated where readers are patients

    @property
    def hash(self) -> str:
        """Twelve digits of the file's hash."""
        return hashlib.sha256(self.text.encode()).hexdigest()[:12]


def read_edition(store: Path, name: str) -> Edition:
    """
    Read an edition: the store's own file where there is one, else the one that comes with the program.

    Raises:
        SummaryError: the file cannot be read, or says what an edition cannot say.
    """
    own = store / FOLDER / f"{name}.toml"
    path = own if own.exists() else SHIPPED / f"{name}.toml"
    try:
        return edition_of(name, path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError) as fault:
        raise SummaryError(f"The edition {path} cannot be read: {fault}") from None
    except SummaryError as fault:
        raise SummaryError(f"{path}: {fault}") from None


def refuse_other_limits(edition: Edition, public: Edition) -> None:
    """
    Refuse an edition that lists what everybody's withholds by other limits than that one has.

    Raises:
        SummaryError: it is so.
    """
    for setting in ("withhold_counts_under", "protection_width"):
        own, theirs = getattr(edition, setting), getattr(public, setting)
        if own != theirs:
            raise SummaryError(
                f"{setting} is {own} in {edition.name}.toml and {theirs} in {public.name}.toml: the section {WITHHELD} "
                "would list what nobody withholds. Write the same in both."
            )


def edition_of(name: str, text: str) -> Edition:
    """
    Read an edition from the text of its file.

    Raises:
        SummaryError: it is not TOML, lacks a setting, or has one that there is not or that cannot be so.
    """
    try:
        said = tomllib.loads(text)
    except tomllib.TOMLDecodeError as fault:
        raise SummaryError(f"this is not TOML: {fault}") from None
    parts = {part: said.pop(part) for part in (*_QUESTIONS, "implants") if part in said}
    settings = _checked(said, {**_SETTINGS, **_MORE}, "the edition")
    if name in SECTIONS_OF:
        settings.setdefault("joints", [])  # the unit has its own
    for setting in _SETTINGS:
        if setting not in settings:
            raise SummaryError(f"the edition has no {setting}.")
    implants = _checked(parts.pop("implants", {}), _IMPLANTS, "[implants]")
    sections = _words(settings["sections"], SECTIONS_OF.get(name, SECTIONS), "sections")
    return Edition(
        name=name,
        text=text,
        version=settings["version"],
        title=settings["title"],
        joints=_words(settings["joints"], ("knee", "hip", "shoulder"), "joints"),
        years=_years(settings["years"], "years"),
        reason_years=_year(settings["reason_years"], "reason_years"),
        horizon=_year(settings["horizon"], "horizon"),
        rows_on_paper=max(int(settings["rows_on_paper"]), 1),
        sections=sections,
        questions={kind: _questions(kind, parts.get(kind, [])) for kind in _QUESTIONS},
        screens=_words(implants.get("screen", ["implants"]), ("implants", "constructs", "sizes", "lots"), "screen"),
        pages=int(implants.get("pages", 0)),
        explained=_words(implants.get("explained", []), EXPLAINED, "explained"),
        explained_pages=int(implants.get("explained_pages", 0)),
        **_withheld(settings),
    )


def _withheld(settings: dict[str, Any]) -> dict[str, Any]:
    """Read what an edition says of what its recipient must not see."""
    given = {name: settings[name] for name in _MORE if name in settings}
    least = given.get("withhold_counts_under", LEAST_COUNT)
    given.setdefault("protection_width", max(least - 1, 0))
    for name, value in given.items():
        if not isinstance(value, bool) and value < 0:
            raise SummaryError(f"{name} in the edition is a whole number from 0 up, not {value!r}.")
    return given


def _questions(kind: str, said: Any) -> tuple[Question, ...]:
    if not isinstance(said, list) or not all(isinstance(one, dict) for one in said):
        raise SummaryError(f"{kind} is written as [[{kind}]], once for each question.")
    return tuple(_question(kind, one) for one in said)


def _question(kind: str, said: dict[str, Any]) -> Question:
    where = f"[[{kind}]]"
    given = _checked(said, _QUESTIONS[kind], where)
    if not given.get("title"):
        raise SummaryError(f"a question under {where} has no title.")
    for name in ("windows", "years"):
        if name in given:
            several = given[name] if isinstance(given[name], list) else [given[name]]
            given[name] = _years(several, f"{name} of {given['title']}")
    if "gap_years" in given:
        given["gap_years"] = _year(given["gap_years"], f"gap_years of {given['title']}")
    _words([given.get("kind", UNITS[0])], UNITS, f"kind of {given['title']}")
    return Question(**given)


def _checked(said: Any, known: dict[str, type], where: str) -> dict[str, Any]:
    if not isinstance(said, dict):
        raise SummaryError(f'{where} is written with lines such as: title = "By class"')
    for name, value in said.items():
        if name not in known:
            raise SummaryError(f"{where} has {name}, which is no setting. {nearest(name, known, most=len(known))}")
        kind = known[name]
        fits = isinstance(value, (int, float) if kind is float else kind)
        if not fits or (isinstance(value, bool) and kind is not bool):
            raise SummaryError(f"{name} in {where} is {_SAID[kind]}, not {value!r}.")
    return dict(said)


def _words(said: list[Any], known: tuple[str, ...], where: str) -> tuple[str, ...]:
    for word in said:
        if word not in known:
            raise SummaryError(f"{where} has {word}. {nearest(str(word), known, most=len(known))}")
        if said.count(word) > 1:
            raise SummaryError(f"{where} has {word} twice.")
    return tuple(said)


def _years(said: list[Any], where: str) -> tuple[float, ...]:
    return tuple(_year(one, where) for one in said)


def _year(value: Any, where: str) -> float:
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not 0 < value <= 100:
        raise SummaryError(f"{where} says years, as in 10, not {value!r}.")
    return float(value)
