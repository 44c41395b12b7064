"""The options and arguments that many commands share, and what they are read into."""

import functools
import math
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from regdash.cli import words
from regdash.cli.ending import interruptible
from regdash.cli.place import tell_lost_office, to_read
from regdash.cli.printing import Form, show

if TYPE_CHECKING:
    from regdash.cohort import Cohort
    from regdash.grouping import Grouping
    from regdash.reports.desk import Desk
    from regdash.signals.desk import SignalsDesk

Command = Callable[..., Any]
AnyDesk = TypeVar("AnyDesk", bound="Desk")


@dataclass(frozen=True)
class Asked:
    """Where a question is asked, and in which form its answer is wanted."""

    store: Path | None
    cut: str | None
    form: Form
    withhold_counts_under: int | None = None

    @contextmanager
    def desk(self) -> Iterator["Desk"]:
        """Open the desk on the data cut."""
        from regdash.reports.desk import Desk

        with self._opened(
            Desk(to_read(self.store), self.cut, withhold_counts_under=self.withhold_counts_under)
        ) as desk:
            yield desk

    @contextmanager
    def signals_desk(self) -> Iterator["SignalsDesk"]:
        """Open the desk that screens too."""
        from regdash.signals.desk import SignalsDesk

        desk = SignalsDesk(to_read(self.store), self.cut, withhold_counts_under=self.withhold_counts_under)
        with self._opened(desk) as opened:
            yield opened

    @contextmanager
    def _opened(self, desk: "AnyDesk") -> Iterator["AnyDesk"]:
        tell_lost_office(to_read(self.store))
        try:
            with interruptible(desk.cancel):
                yield desk
        finally:
            desk.close()

    def note_export(self, what: str, cut: str, rows: int, **more: Any) -> None:
        """Write down that rows leave the program, where the answer is no page for people; before they do."""
        from regdash.cli.audited import note_export

        note_export(to_read(self.store), self.form, what, cut, rows, **more)

    def show(self, report: Any) -> None:
        """Print the answer."""
        show(report, self.form)


def cohort_of(desk: "Desk", words: tuple[str, ...], outcomes: bool = False) -> "Cohort":
    """Read filter words against the codes of the cut."""
    from regdash import cohort

    named = desk.named if any(word.startswith(cohort.NAME_SIGN) for word in words) else {}
    return cohort.parse(words, known=desk.known, outcomes=outcomes, named=named)


def beside_of(desk: "Desk", text: str | None) -> "Cohort | None":
    """Read the filter words of a second cohort; None where there is none."""
    from regdash import cohort

    return None if text is None else cohort_of(desk, cohort.split(text))


def by_of(text: str) -> tuple["Grouping", ...]:
    """Read a grouping."""
    from regdash import grouping

    return grouping.parse(text)


class CohortCommand(click.Command):
    """A command on a cohort; its help lists the words that choose one."""

    outcomes = False

    def format_epilog(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the filter words, with an example of each."""
        from regdash import fields

        usable = [field for field in fields.FIELDS.values() if self.outcomes or not field.outcome]
        with formatter.section("Filter words (a,b is either; != is not; lo..hi is a range; @NAME is a saved cohort)"):
            formatter.write_dl([(field.example, field.about) for field in usable])


class JointsCommand(CohortCommand):
    """A list of joints, which may also be chosen by what happened to them."""

    outcomes = True


class Years(click.ParamType):
    """Times since implantation in years, joined by commas."""

    name = "years"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> tuple[float, ...]:
        """Read 1,5,10."""
        try:
            years = tuple(float(part) for part in str(value).split(","))
        except ValueError:
            years = ()
        if not years or not all(0 < year < math.inf for year in years):
            self.fail(f"{value} does not say years. Write numbers above 0, as in 1,5,10,15.", param, ctx)
        return years


class Year(Years):
    """One time since implantation in years."""

    name = "year"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Read 10."""
        try:
            year = float(value)
        except ValueError:
            year = math.nan
        if not 0 < year < math.inf:
            self.fail(f"{value} does not say a year. Write a number above 0, as in 10.", param, ctx)
        return year


class CalendarYears(click.ParamType):
    """Years of the calendar, joined by commas."""

    name = "years"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> tuple[int, ...]:
        """Read 2010,2015."""
        parts = str(value).split(",")
        if not all(len(part) == len("2010") and part.isascii() and part.isdecimal() and int(part) for part in parts):
            self.fail(f"{value} does not say years of the calendar. Write them as in 2010,2015.", param, ctx)
        return tuple(map(int, parts))


class Percent(click.ParamType):
    """A percentage, read as a proportion."""

    name = "percent"

    def __init__(self, most: float = math.inf) -> None:
        self._most = most  # in percent, itself left out

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Read 5 or 5%."""
        try:
            percent = float(str(value).removesuffix("%"))
        except ValueError:
            percent = math.nan
        least = 0 if self._most == math.inf else math.ulp(0.0)
        if not least <= percent < self._most:
            between = "of 0 or more" if least == 0 else f"between 0 and {self._most:g}"
            self.fail(f"{value} does not say a percentage {between}. Write a number, as in 5.", param, ctx)
        return percent / 100


class MissingFrom(click.ParamType):
    """Where revisions are missing: everywhere alike, or in so many hospitals."""

    name = "where"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> int | None:
        """Read all, or worst:3."""
        kind, _, number = str(value).partition(":")
        if value == "all":
            return None
        if kind != "worst" or not (number.isascii() and number.isdecimal() and int(number)):
            self.fail(f"{value} does not say where. Write all, or worst:3 for three hospitals.", param, ctx)
        return int(number)


class Endpoint(click.ParamType):
    """A named endpoint."""

    name = "endpoint"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> str:
        """Read aseptic or removed:tibial, or the name that an answer prints."""
        from regdash import endpoints
        from regdash.errors import FilterError

        try:
            return endpoints.named(str(value)).key
        except FilterError as refusal:
            self.fail(str(refusal), param, ctx)


class EndpointCommand(CohortCommand):
    """A command on a cohort whose event may be chosen; its help lists the endpoints."""

    def format_epilog(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the endpoints, then the filter words."""
        from regdash import endpoints

        with formatter.section("Endpoints"):
            formatter.write_dl([(endpoint.key, endpoint.brief) for endpoint in endpoints.ENDPOINTS.values()])
        super().format_epilog(ctx, formatter)


class Day(click.ParamType):
    """A date in ISO 8601."""

    name = "date"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> date:
        """Read 2024-12-31."""
        try:
            if len(str(value)) != len("2024-12-31"):
                raise ValueError
            return date.fromisoformat(str(value))
        except ValueError:
            self.fail(f"{value} is not a date. Write it as 2024-12-31.", param, ctx)


store_option = click.option(
    "--store",
    type=click.Path(path_type=Path, file_okay=False),
    envvar="REGDASH_STORE",
    metavar="DIR",
    help="Folder of the store; else REGDASH_STORE, else the platform's data folder.",
)
cut_option = click.option(
    "--cut",
    metavar="DATE[.N]",
    shell_complete=words.complete_cut,
    help="Data cut; the newest if left out.",
)
_json_option = click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
_csv_option = click.option("--csv", "as_csv", is_flag=True, help="Print the rows as CSV.")

filter_argument = click.argument("words", nargs=-1, metavar="[FILTER]...", shell_complete=words.complete_filter)
by_option = click.option(
    "--by",
    default="",
    metavar="FIELD[:WIDTH],...",
    shell_complete=words.complete_by,
    help="Fields to group by, as in class or age:10,sex.",
)

endpoint_option = click.option(
    "--endpoint",
    type=Endpoint(),
    default="any-revision",
    show_default=True,
    metavar="ENDPOINT",
    shell_complete=words.complete_endpoint,
    help="The event, and its clock: aseptic, major, re-revision, removed:tibial…",
)

beside_option = click.option(
    "--beside",
    metavar="'FILTER ...'",
    help="A second cohort, in one argument: the two are then the groups, as in --beside 'class=total @young-men'.",
)

reviews_option = click.option(
    "--reviews-as-of",
    type=Day(),
    metavar="DATE",
    help="Reviews up to the end of that day (UTC), so that a past screen can be made again; all, if left out.",
)

reference_option = click.option(
    "--reference",
    metavar="GROUP",
    help="The group that the others are compared with, as in partial; the largest if left out.",
)


def form_options(command: Command) -> Command:
    """Give a command --json and --csv, and pass it the `form` that was chosen."""

    @functools.wraps(command)
    def formed(*args: Any, as_json: bool, as_csv: bool, **options: Any) -> Any:
        if as_json and as_csv:
            raise click.UsageError("--json and --csv are two forms of one answer; choose one of them")
        return command(*args, form="json" if as_json else "csv" if as_csv else "text", **options)

    return _json_option(_csv_option(formed))


def _refuse_bytes(*values: Any) -> None:
    """Refuse an argument that was no text: the shell hands on any bytes, the database wants characters."""
    texts = [text for value in values for text in (value if isinstance(value, tuple) else (value,))]
    for text in texts:
        try:
            str(text).encode()
        except UnicodeEncodeError:
            raise click.UsageError(f"{text!a} is not text in the encoding of this terminal") from None


withhold_option = click.option(
    "--withhold-counts-under",
    type=click.IntRange(min=2),
    metavar="K",
    help="Withhold counts of 1 to K-1 and what gives them away, for what leaves the office.",
)


def asking(command: Command) -> Command:
    """Give a command --store, --cut, --json and --csv, and pass it what was `Asked` first."""

    @functools.wraps(command)
    def asked(
        *args: Any,
        store: Path | None,
        cut: str | None,
        form: Form,
        withhold_counts_under: int | None = None,
        **options: Any,
    ) -> Any:
        _refuse_bytes(cut, *options.values())
        return command(Asked(store, cut, form, withhold_counts_under), *args, **options)

    return store_option(cut_option(form_options(asked)))


def answering(command: Command) -> Command:
    """Give a command what `asking` does, and --withhold-counts-under: its answer is a report."""
    return withhold_option(asking(command))
