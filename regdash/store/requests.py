"""
The register of requests: who asked the office for what, by when, and what became of it. Lines are only ever added.

Who asked is a kind, and where there is one a code such as M03: never a person. What is written is kept without
pseudonyms, and refused where it looks like a name, an address or a personal number; what does not look like one cannot
be told from other words.
"""

import hashlib
import json
import re
from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from regdash.errors import RequestError
from regdash.store.audit import append, author, without_patients
from regdash.store.office import now, office_rows, writing_office
from regdash.store.personal_numbers import refuse_personal
from regdash.store.sqlfiles import statement
from regdash.suggest import nearest

TABLE = "requests"
KINDS = ("maker", "researcher", "hospital", "surgeon", "authority", "patient", "press")
PATIENT = "patient"
RECEIVED, ANSWERED, CLOSED, MISTAKEN = "received", "answered", "closed", "mistaken"
OPEN, OVERDUE = "open", "overdue"
STATES = {
    OPEN: "received, and not answered so far",
    OVERDUE: "open, and past the day by which an answer was promised",
    ANSWERED: "answered; it may be answered again",
    CLOSED: "nothing more is done; whether it was answered stands beside",
    MISTAKEN: "entered by mistake, and counted nowhere",
}
MOST_CHARACTERS = 2_000  # of what is said
_CODE = re.compile(r"[A-Z]{1,4}-?[0-9]{1,8}")
_PERSONAL = (
    (re.compile(r"\b(?:Dr|Prof|Professor|Doctor|Mr|Mrs|Ms|Miss|Sir)\b\.?\s+[A-Z]"), "the name of a person"),
    (re.compile(r"[^\s@]+@[^\s@]+\.[^\s@]+"), "an address"),
)


@dataclass(frozen=True)
class RequestLine:
    """One line of the register."""

    number: int  # 1, 2, 3 … without gaps
    request: int
    act: str  # RECEIVED, ANSWERED, CLOSED or MISTAKEN
    kind: str  # one of KINDS
    code: str
    said: str
    day: str  # ISO 8601
    due: str | None
    given: str
    checksum: str
    written_by: str
    account: str
    written_at: str  # UTC, ISO 8601


@dataclass(frozen=True)
class Request:
    """One request, as its lines say."""

    lines: tuple[RequestLine, ...]

    @property
    def name(self) -> str:
        """As people write it: R012."""
        return name_of(self.lines[0].request)

    @property
    def kind(self) -> str:
        """Who asked."""
        return self.lines[0].kind

    @property
    def code(self) -> str:
        """The code of who asked; empty where there is none."""
        return self.lines[0].code

    @property
    def what(self) -> str:
        """What was asked for."""
        return self.lines[0].said

    @property
    def received(self) -> date:
        """The day on which it came."""
        return date.fromisoformat(self.lines[0].day)

    @property
    def due(self) -> date | None:
        """By when an answer is promised."""
        return date.fromisoformat(self.lines[0].due) if self.lines[0].due else None

    @property
    def is_mistaken(self) -> bool:
        """Whether it was entered by mistake."""
        return any(line.act == MISTAKEN for line in self.lines)

    def first(self, act: str) -> RequestLine | None:
        """The first line of an act."""
        return next((line for line in self.lines if line.act == act), None)

    def day_of(self, act: str) -> date | None:
        """The day of the first line of an act."""
        line = self.first(act)
        return date.fromisoformat(line.day) if line else None

    @property
    def days(self) -> int | None:
        """Whole days from the request to its first answer; None where there is none."""
        answered = self.day_of(ANSWERED)
        return (answered - self.received).days if answered else None

    def state(self, as_of: date) -> str:
        """How far it is at the end of a day: one of STATES."""
        if self.is_mistaken:
            return MISTAKEN
        for act in (CLOSED, ANSWERED):
            if (on := self.day_of(act)) and on <= as_of:
                return act
        return OVERDUE if self.due and self.due < as_of else OPEN


class Requests:
    """Every request that some lines of the register speak of, oldest first."""

    def __init__(self, lines: Iterable[RequestLine] = ()) -> None:
        self.lines = tuple(lines)
        of: dict[int, list[RequestLine]] = {}
        for line in self.lines:
            of.setdefault(line.request, []).append(line)
        self._of = {number: Request(tuple(own)) for number, own in of.items()}

    def __iter__(self) -> Iterator[Request]:
        return iter(self._of.values())

    def named(self, text: str) -> Request:
        """
        Find a request by its name.

        Raises:
            RequestError: there is none of that name.
        """
        found = re.fullmatch(r"[Rr]?0*([1-9]\d{0,8})", text.strip())
        number = int(found[1]) if found else 0
        if number not in self._of:
            said = f"The newest is {name_of(max(self._of))}." if self._of else "The register is empty."
            raise RequestError(f"There is no request {text.strip() or 'without a name'}. {said}")
        return self._of[number]

    @property
    def facts(self) -> dict[str, Any]:
        """Say which lines these are: their number, and a hash over all that they say."""
        told = json.dumps([asdict(line) for line in self.lines], sort_keys=True)
        return {"lines": len(self.lines), "hash": hashlib.sha256(told.encode()).hexdigest()[:12]}


def name_of(number: int) -> str:
    """
    Name a request.

    >>> name_of(12)
    'R012'
    """
    return f"R{number:03d}"


def requests_known(store: Path, lines: int | None = None) -> Requests:
    """
    Read the register, or its first lines.

    Raises:
        StoreError: the office file cannot be read.
    """
    return Requests(RequestLine(*row) for row in office_rows(store, TABLE, "office/requests", {"lines": lines}))


def add_request(
    store: Path, kind: str, what: str, received: date, due: date | None = None, code: str = ""
) -> RequestLine:
    """
    Write down that something was asked for.

    Raises:
        RequestError: no such kind, a code that cannot be, nothing said, a person named, or days that cannot be.
        StoreError: the office file cannot be written.
    """
    if kind not in KINDS:
        raise RequestError(f"{kind} is not who asks. {nearest(kind, KINDS, len(KINDS))}")
    said = _said(what)
    if not said:
        raise RequestError("A request says what is asked for, in a few words.")
    _refuse_later(received)
    if due and due < received:
        raise RequestError(f"It was received on {received}, so it cannot be due on {due}, before that.")
    row = {"request": None, "act": RECEIVED, "kind": kind, "code": _code(kind, code), "said": said}
    return _append(store, row | {"day": received.isoformat(), "due": due.isoformat() if due else None})


def answer_request(
    store: Path, name: str, on: date, note: str = "", given: str = "", checksum: str = ""
) -> RequestLine:
    """
    Write down that a request was answered, and with what.

    Raises:
        RequestError: there is no such request, it is closed, nothing is said of the answer, or a day that cannot be.
        StoreError: the office file cannot be written.
    """
    if not _said(note) and not given:
        raise RequestError("An answer says with what: --with FILE or folder, or --note TEXT.")
    return _move(store, name, ANSWERED, on, note, {"given": _said(given), "checksum": checksum})


def close_request(store: Path, name: str, on: date, why: str, mistaken: bool = False) -> RequestLine:
    """
    Write down that nothing more is done, or that a request was entered by mistake.

    Raises:
        RequestError: there is no such request, it is closed, no reason, or a day that cannot be.
        StoreError: the office file cannot be written.
    """
    if not _said(why):
        raise RequestError("A request is closed with a reason: why is nothing more done?")
    return _move(store, name, MISTAKEN if mistaken else CLOSED, on, why, {})


def refuse_closed(request: Request) -> None:
    """
    Refuse a request of which nothing more is done.

    Raises:
        RequestError: it is closed.
    """
    for act in (CLOSED, MISTAKEN):
        if line := request.first(act):
            said = "was closed" if act == CLOSED else "was entered by mistake, as was written down"
            raise RequestError(f"{request.name} {said} on {line.day}. Write a new one down: regdash requests add")


def _move(store: Path, name: str, act: str, on: date, said: str, more: dict[str, Any]) -> RequestLine:
    request = requests_known(store).named(name)
    refuse_closed(request)
    _refuse_later(on)
    if on < request.received:
        raise RequestError(f"{request.name} was received on {request.received}, and not {act} before that, on {on}.")
    row = {"request": request.lines[0].request, "act": act, "kind": request.kind, "code": request.code}
    return _append(store, row | {"said": _said(said), "day": on.isoformat(), "due": None} | more)


def _append(store: Path, row: dict[str, Any]) -> RequestLine:
    by, own_account = author()
    said = {"given": "", "checksum": "", "written_by": without_patients(by), "account": own_account}
    with writing_office(store) as office:
        if row["request"] is not None:  # somebody may have closed it since it was read
            rows = office.execute(statement("office/requests"), {"lines": None})
            refuse_closed(Requests(RequestLine(*one) for one in rows).named(name_of(row["request"])))
        office.execute(statement("office/append_request"), said | row | {"written_at": now()})
        *_, written = office.execute(statement("office/requests"), {"lines": None})
    line = RequestLine(*written)
    told = {"number": line.number, "act": line.act} | ({"checksum": line.checksum} if line.checksum else {})
    append(store, "request", name_of(line.request), details=told)
    return line


def _said(text: str) -> str:
    """Read a text as one line, without control characters and patients; refuse what looks like a person."""
    line = " ".join("".join(one if one.isprintable() else " " for one in without_patients(text)).split())
    if len(line) > MOST_CHARACTERS:
        raise RequestError(f"The text has {len(line):,} characters; at most {MOST_CHARACTERS:,} are kept.")
    for form, what in _PERSONAL:
        if found := form.search(line):
            # What was found is not said again: refusals stand in logs.
            at = len(line[: found.start()].split()) + 1
            raise RequestError(f"Word {at} of the text looks like {what}, and the register names nobody. Leave it out.")
    return refuse_personal(line)


def _code(kind: str, code: str) -> str:
    text = code.strip().upper()
    if not text:
        return ""
    if kind == PATIENT:
        raise RequestError("A patient who asks is not named, not even by a code. Leave --code out.")
    if not _CODE.fullmatch(text):
        raise RequestError("That is no code. Write letters and digits, as in M03 or H012; never a name.")
    return text


def _refuse_later(day: date) -> None:
    today = date.fromisoformat(now()[:10])
    if day > today + timedelta(days=1):  # it may be tomorrow already where somebody writes
        raise RequestError(f"{day} is still to come; today is {today} (UTC).")
