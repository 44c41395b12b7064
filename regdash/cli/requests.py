"""The commands on the register of requests: what the office was asked for, and what became of it."""

from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from regdash.cli import words as completing
from regdash.cli.family import Family
from regdash.cli.options import Day, form_options, store_option
from regdash.cli.place import existing
from regdash.cli.printing import Form, show

if TYPE_CHECKING:
    from regdash.output.listing import Listing
    from regdash.store.requests import Request, RequestLine

KINDS = ("maker", "researcher", "hospital", "surgeon", "authority", "patient", "press")
STATES = ("open", "overdue", "answered", "closed", "mistaken")
COLUMNS = (
    *("request", "state", "kind", "code", "received", "due", "answered", "days"),
    *("what", "given", "checksum", "closed", "why_closed"),
)
PAGE = ("request", "state", "asked by", "what", "received", "due", "days")
TIMES_PAGE = ("kind", "received", "answered", "median", "90th", "longest", "closed", "open", "overdue")
NONE = "The register has none of these. Write one down: regdash requests add KIND TEXT"
UP_TO = "Lines of the register up to this number, so that a past answer can be made again; all if left out."

name_argument = click.argument("request", metavar="REQUEST", shell_complete=completing.complete_request)
on_option = click.option("--on", type=Day(), metavar="DATE", help="The day; today if left out (UTC).")
lines_option = click.option("--up-to-line", "lines", type=click.IntRange(min=0), metavar="N", help=UP_TO)


@click.group(cls=Family)
def requests() -> None:
    """
    Keep the register of requests: who asked for what, by when, and what became of it. Nobody is named in it.

    \b
      regdash requests add maker "all our knees, risk by year" --code M03 --due 2025-03-31
      regdash requests list --state overdue
      regdash requests answer R012 --with extracts/R012
      regdash requests close R013 --why "withdrawn by who asked"
      regdash requests times 2024Q4
    """


@requests.command("add")
@click.argument("kind", type=click.Choice(KINDS), metavar="KIND")
@click.argument("what", metavar="TEXT")
@click.option("--code", default="", metavar="CODE", help="Of who asked, as M03 or H012. Never a person's name.")
@click.option("--received", type=Day(), metavar="DATE", help="The day on which it came; today if left out (UTC).")
@click.option("--due", type=Day(), metavar="DATE", help="By when an answer is promised.")
@store_option
@form_options
def add(
    kind: str, what: str, code: str, received: date | None, due: date | None, store: Path | None, form: Form
) -> None:
    """
    Write a request down. It gets the next number. Names, addresses and personal numbers are refused where they look so.

    \b
      regdash requests add researcher "partial knees by bearing, for a thesis" --received 2025-01-14 --due 2025-02-28
    """
    from regdash.store.requests import add_request

    place = existing(store)
    _show_one(place, add_request(place, kind, what, received or _today(), due, code), form)


@requests.command("list")
@click.option("--state", "states", type=click.Choice(STATES), multiple=True, help="Only these; may be repeated.")
@click.option("--kind", "kinds", type=click.Choice(KINDS), multiple=True, help="Only these; may be repeated.")
@click.option("--as-of", type=Day(), metavar="DATE", help="States at the end of that day; today if left out (UTC).")
@store_option
@form_options
def list_requests(
    states: tuple[str, ...], kinds: tuple[str, ...], as_of: date | None, store: Path | None, form: Form
) -> None:
    """
    List requests, oldest first, with their state and the days to the first answer.

    \b
      regdash requests list --state open --state overdue
      regdash requests list --kind maker --csv
    """
    from regdash.store.requests import requests_known

    day = as_of or _today()
    known = [one for one in requests_known(existing(store)) if one.received <= day]
    found = [one for one in known if one.state(day) in (states or STATES) and one.kind in (kinds or KINDS)]
    show(_listing(found, day, form), form)


@requests.command("show")
@name_argument
@store_option
@form_options
def show_request(request: str, store: Path | None, form: Form) -> None:
    """
    Tell everything that was written down of one request, oldest first, with who wrote it and when.

    \b
      regdash requests show R012
    """
    from dataclasses import fields

    from regdash.output.listing import Listing
    from regdash.store.requests import RequestLine, requests_known

    found = requests_known(existing(store)).named(request)
    every = tuple(field.name for field in fields(RequestLine) if field.name != "request")
    columns = ("day", "act", "said", "given", "written_by", "written_at") if form == "text" else every
    rows = [tuple(getattr(line, name) for name in columns) for line in found.lines]
    asked = f"{found.kind} {found.code}".rstrip()
    due = f", due {found.due}" if found.due else ""
    days = f", first answered after {_so_many(found.days, 'day')}" if found.days is not None else ""
    facts = {"request": found.name, "state": found.state(_today())}
    remarks = (f"{found.name}, asked by: {asked}; {facts['state']}{due}{days}.",)
    show(Listing("one request", columns, rows, facts, remarks, ("said", "given")), form)


@requests.command("answer")
@name_argument
@click.option(
    "--with",
    "given",
    type=click.Path(path_type=Path, exists=True),
    metavar="PATH",
    help="What went out: an extract, a summary, evidence; its name and checksum are kept.",
)
@click.option("--note", default="", metavar="TEXT", help="What was answered, where it was no file.")
@on_option
@store_option
@form_options
def answer(request: str, given: Path | None, note: str, on: date | None, store: Path | None, form: Form) -> None:
    """
    Write down that a request was answered. It may be answered again; its time runs to the first answer.

    \b
      regdash requests answer R012 --with extracts/R012
      regdash requests answer R014 --note "no figure of one patient is told; see everybody's edition"
    """
    from regdash.store.checksums import checksum_of, refuse_changed
    from regdash.store.requests import answer_request

    place = existing(store)
    if given:
        refuse_changed(given.expanduser())
    name = given.expanduser().absolute().name if given else ""
    checksum = checksum_of(given.expanduser()) if given else ""
    _show_one(place, answer_request(place, request, on or _today(), note, name, checksum), form)


@requests.command("close")
@name_argument
@click.option("--why", required=True, metavar="TEXT", help="Why nothing more is done.")
@click.option("--mistake", is_flag=True, help="It was entered by mistake, and counts nowhere.")
@on_option
@store_option
@form_options
def close(request: str, why: str, mistake: bool, on: date | None, store: Path | None, form: Form) -> None:
    """
    Write down that nothing more is done on a request, answered or not.

    \b
      regdash requests close R013 --why "withdrawn by who asked"
    """
    from regdash.store.requests import close_request

    place = existing(store)
    _show_one(place, close_request(place, request, on or _today(), why, mistake), form)


@requests.command("times")
@click.argument("period", metavar="PERIOD")
@lines_option
@store_option
@form_options
def times(period: str, lines: int | None, store: Path | None, form: Form) -> None:
    """
    Count the requests of a year, quarter or month by kind, with the days that answers took.

    \b
      regdash requests times 2024Q4
    """
    from dataclasses import astuple, fields

    from regdash.output.listing import Listing
    from regdash.reports.requests_served import MEASURE, METHOD, ServedRow, served
    from regdash.store.requests import requests_known
    from regdash.values import period as days_of

    first, last = days_of(period)
    known = requests_known(existing(store), lines)
    columns = TIMES_PAGE if form == "text" else tuple(field.name for field in fields(ServedRow))
    rows = [astuple(row) for row in served(tuple(known), first, last)]
    facts = {"first": first.isoformat(), "last": last.isoformat(), "register": known.facts, "method": METHOD}
    show(
        Listing(
            MEASURE, columns, rows, facts, (f"{first} to {last}; median, 90th centile and longest in days. {METHOD}",)
        ),
        form,
    )


def _show_one(store: Path, line: "RequestLine", form: Form) -> None:
    from regdash.store.requests import name_of, requests_known

    show(_listing([requests_known(store).named(name_of(line.request))], _today(), form), form)


def _listing(found: "list[Request]", day: date, form: Form) -> "Listing":
    from regdash.output.listing import Listing

    columns = PAGE if form == "text" else COLUMNS
    rows = [tuple(_told(one, day)[name] for name in columns) for one in found]
    remarks = (f"{_so_many(len(rows), 'request')}, as of {day}.",) if rows else (NONE,)
    return Listing("requests", columns, rows, {"as_of": day.isoformat()}, remarks, ("what",))


def _told(one: "Request", day: date) -> dict[str, Any]:
    """Say one request as a flat row; days of what has not happened by then are not said."""
    from regdash.store.requests import ANSWERED, CLOSED, MISTAKEN

    answered, closed = one.first(ANSWERED), one.first(CLOSED) or one.first(MISTAKEN)
    answered = answered if answered and answered.day <= day.isoformat() else None
    closed = closed if closed and closed.day <= day.isoformat() else None
    return {
        "request": one.name,
        "state": one.state(day),
        "kind": one.kind,
        "code": one.code or None,
        "asked by": f"{one.kind} {one.code}".rstrip(),
        "received": one.received.isoformat(),
        "due": one.due.isoformat() if one.due else None,
        "answered": answered.day if answered else None,
        "days": one.days if answered else None,
        "what": one.what,
        "given": answered.given or None if answered else None,
        "checksum": answered.checksum or None if answered else None,
        "closed": closed.day if closed else None,
        "why_closed": closed.said if closed else None,
    }


def _so_many(number: int, noun: str) -> str:
    return f"{number:,} {noun}{'' if number == 1 else 's'}"


def _today() -> date:
    return datetime.now(UTC).date()
