"""The command on rules: those in force in a store, what is asked of units, and letting new rules judge all rows."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from regdash.cli.audited import audited
from regdash.cli.options import cut_option, form_options, store_option
from regdash.cli.place import to_read, to_write
from regdash.cli.printing import Form, Steps, say, show

if TYPE_CHECKING:
    from regdash.output.listing import Listing

RULE_COLUMNS = ("rule", "version", "severity", "table", "starts", "rows_from", "text")
RULE_PAGE = ("rule", "severity", "text")
UNIT_COLUMNS = ("kind", "unit", "period", "rule", "detail", "figure", "usual", "text")
UNIT_PAGE = UNIT_COLUMNS[:-1]


@click.command()
@click.option("--units", is_flag=True, help="List what is asked of hospitals and surgeons instead, from a data cut.")
@click.option("--settings", is_flag=True, help="List the thresholds that rules judge by instead.")
@click.option("--apply", is_flag=True, help="Let new and changed rules judge rows that were accepted before them too.")
@store_option
@cut_option
@form_options
def rules(units: bool, settings: bool, apply: bool, store: Path | None, cut: str | None, form: Form) -> None:
    """
    List the rules that submitted rows are judged by, with what the hospital is told.

    A rule that comes with a new release judges what is received from then on. Rows that were accepted before stay so
    until it is applied to them.

    \b
      regdash rules --units
      regdash rules --apply
    """
    if units + settings + apply > 1:
        raise click.UsageError("--units, --settings and --apply are three things; choose one of them")
    if cut and not units:
        raise click.UsageError("--cut goes with --units; rules are listed as the store has them")
    if settings:
        show(_settings(), form)
    elif units:
        show(_units(to_read(store), cut, form), form)
    else:
        place = to_write(store)
        if apply:
            _apply(place)
        show(_rules(place, form), form)


def _apply(place: Path) -> None:
    from regdash.intake.receive import apply_new_rules

    with audited(place, "rules-applied") as act, Steps() as steps:
        taken = apply_new_rules(place, steps)
        act.details = {one.rule: one.rows for one in taken}
    for one in taken:
        say(f"Applied: {one.told(is_applied=True)}")
    say("The rules of this release judge all rows now. It shows in the next freeze.")


def _rules(place: Path, form: Form) -> "Listing":
    from regdash.output.listing import Listing
    from regdash.store.rule_book import rules_today

    found = rules_today(place)
    remarks = (f"{len(found):,} rules are in force. Versions, start dates and tables: --csv or --json.",)
    if form == "text":
        rows: list[tuple[Any, ...]] = [(r.name, r.severity, r.text) for _, r in found]
        return Listing("rules", RULE_PAGE, rows, remarks=remarks, wraps=("text",))
    rows = [(r.name, r.version, r.severity, table, r.starts, r.rows_from, r.text) for table, r in found]
    return Listing("rules", RULE_COLUMNS, rows)


def _settings() -> "Listing":
    from regdash.output.listing import Listing
    from regdash.store.rule_settings import SETTINGS

    rows = [(name, setting.value, setting.about) for name, setting in SETTINGS.items()]
    return Listing("thresholds of rules", ("setting", "value", "meaning"), rows, wraps=("meaning",))


def _units(place: Path, cut: str | None, form: Form) -> "Listing":
    from regdash.output.listing import Listing
    from regdash.store.rule_book import units_asked

    name, rows = units_asked(place, cut)
    columns = UNIT_PAGE if form == "text" else UNIT_COLUMNS
    remarks = (f"Data cut {name}. A figure is a question to a unit, not a fault of any row.",)
    shown = [figures_rounded(row) for row in rows] if form == "text" else rows
    return Listing("questions to units", columns, shown, {"cut": name}, remarks)


def figures_rounded(row: tuple[Any, ...]) -> tuple[Any, ...]:
    """A row for people, its figures in two decimals."""
    from regdash.output.wording import number

    *first, figure, usual = row[: len(UNIT_PAGE)]
    return (*first, *(None if value is None else number(value) for value in (figure, usual)))
