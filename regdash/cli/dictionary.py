"""The command that says what submissions hold: the data dictionary for people, as JSON, as CSV, and to take along."""

from pathlib import Path
from typing import Any

import click
from click.shell_completion import CompletionItem

from regdash.cli.options import form_options
from regdash.cli.printing import Form, emit, page_width, say, show


class TableName(click.ParamType):
    """A submitted table."""

    name = "table"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> str:
        """Read operations, or name the nearest."""
        from regdash.dictionary import TABLES
        from regdash.suggest import nearest

        name = str(value)
        if name not in TABLES:
            self.fail(f"There is no table {name}. {nearest(name, TABLES, len(TABLES))}", param, ctx)
        return name

    def shell_complete(self, ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
        """List the tables."""
        from regdash.dictionary.descriptors import SCHEMAS

        return [CompletionItem(name, help=s.title) for name, s in SCHEMAS.items() if name.startswith(incomplete)]


@click.command()
@click.argument("table", required=False, type=TableName())
@click.option(
    "--export",
    "folder",
    type=click.Path(path_type=Path, file_okay=False),
    metavar="DIR",
    help="Write datapackage.json and a Table Schema for each table into a folder.",
)
@form_options
def dictionary(table: str | None, folder: Path | None, form: Form) -> None:
    """
    Say what senders submit: tables, fields, codes and forms. --json gives the Table Schema of a table, or the whole
    Data Package; --csv a list of fields.

    \b
      regdash dictionary operations
      regdash dictionary --export described
    """
    if folder is not None:
        if table or form != "text":
            raise click.UsageError("--export writes everything, so it goes without TABLE, --json and --csv")
        _export(folder)
    elif form == "csv":
        _list_fields(table)
    else:
        emit(_descriptor(table) if form == "json" else _pages(table), "utf-8" if form == "json" else None)


def _export(folder: Path) -> None:
    from regdash.dictionary.descriptors import export_to
    from regdash.errors import InputError

    try:
        written = export_to(folder)
    except OSError as fault:
        raise InputError(f"The dictionary cannot be written to {folder}: {fault.strerror}.") from None
    say(f"{len(written)} files in {folder}.")


def _list_fields(table: str | None) -> None:
    from regdash.dictionary.descriptors import SCHEMAS
    from regdash.output.dictionary import field_list

    show(field_list([SCHEMAS[table]] if table else list(SCHEMAS.values())), "csv")


def _descriptor(table: str | None) -> str:
    """Give the Table Schema of a table, or the package with all of them in it."""
    import json

    from regdash.dictionary.descriptors import PACKAGE, SCHEMAS

    if table:
        found = SCHEMAS[table].descriptor
    else:
        resources = [one | {"schema": SCHEMAS[one["name"]].descriptor} for one in PACKAGE["resources"]]
        found = PACKAGE | {"resources": resources}
    return json.dumps(found, indent=2, ensure_ascii=False) + "\n"


def _pages(table: str | None) -> str:
    from regdash.dictionary.descriptors import SCHEMAS
    from regdash.output.dictionary import overview, table_page

    lines = table_page(SCHEMAS[table], page_width()) if table else overview(page_width())
    return "\n".join(lines) + "\n"
