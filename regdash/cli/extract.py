"""The command that makes an extract: rows for somebody who asked, with what is needed to read them."""

from dataclasses import fields as fields_of
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from regdash.cli import words as completing
from regdash.cli.audited import audited
from regdash.cli.ending import interruptible
from regdash.cli.options import CohortCommand, cohort_of, cut_option, filter_argument, form_options, store_option
from regdash.cli.place import to_read
from regdash.cli.printing import Form, show
from regdash.cli.query import Words

if TYPE_CHECKING:
    from regdash.cohort import Cohort
    from regdash.extracts.desk import ExtractsDesk
    from regdash.extracts.field_list import FieldList
    from regdash.extracts.model import Extract, Wanted
    from regdash.output.listing import Listing
    from regdash.store.audit import AuditLine

DATA = ("both", "csv", "parquet")
PAGE = ("list", "classes", "smallest", "small classes", "their rows", "their patients")


@click.command(cls=CohortCommand)
@click.argument("name", metavar="LIST", shell_complete=completing.complete_list)
@filter_argument
@click.option("--out", type=click.Path(path_type=Path), metavar="DIR", help="A new or empty folder; else only told.")
@click.option(
    "--request",
    metavar="REQUEST",
    shell_complete=completing.complete_request,
    help="The request that it answers, as R012.",
)
@click.option("--because", default="", metavar="TEXT", help="Why it is made without a request; in the audit trail.")
@click.option(
    "--k", type=click.IntRange(min=2), metavar="K", help="Patients alike at the least; more than the list says."
)
@click.option("--suppress", is_flag=True, help="Leave out rows of which fewer than k patients are alike, and say so.")
@click.option("--data", type=click.Choice(DATA), default=DATA[0], show_default=True, help="Files of rows.")
@cut_option
@store_option
@form_options
def extract(
    name: str,
    words: Words,
    out: Path | None,
    request: str | None,
    because: str,
    k: int | None,
    suppress: bool,
    data: str,
    cut: str | None,
    store: Path | None,
    form: Form,
) -> None:
    """
    Make an extract for a request: data, dictionary, a page about it, checksums. Never a pseudonym or an exact day.

    LIST is a field list: joints-for-research, own-implants, or a store's own in its folder extracts. It says which
    fields are told and how coarse, and over which of them patients must be alike. Without --out nothing is written, and
    the rows of which too few are alike are counted, and what each change of the list would do to that. A filter is no
    finer than the list, and names no hospital and no surgeon.

    \b
      regdash extract joints-for-research joint=knee class=partial
      regdash extract joints-for-research joint=knee class=total --request R012 --suppress --out extracts/R012
      regdash extract own-implants maker=M03 --request R013 --suppress --out extracts/R013
    """
    from regdash.extracts.chosen import refuse_finer
    from regdash.extracts.desk import ExtractsDesk
    from regdash.extracts.field_list import read_list
    from regdash.extracts.model import FORMS, Wanted

    place = to_read(store)
    wanted_fields = read_list(place, name)
    folder = _folder(out, request, because)
    desk = ExtractsDesk(place, cut)
    try:
        with interruptible(desk.cancel):
            cohort = cohort_of(desk, words)
            least = desk.k_at_least(wanted_fields.k, k or 0)
            refuse_finer(wanted_fields, cohort)
            asked = _request(place, request, wanted_fields, cohort)
            forms = FORMS if data == DATA[0] else (data,)
            wanted = Wanted(wanted_fields, cohort, least, suppress, forms, asked)
            if folder is None:
                show(_told(desk, wanted, form), form)
                return
            show(_written(desk, place, wanted, folder, because, form), form)
    finally:
        desk.close()


def _folder(out: Path | None, request: str | None, because: str) -> Path | None:
    """Give the folder, where rows are to leave: that takes a request, or a reason."""
    from regdash.store.personal_numbers import refuse_personal
    from regdash.summary.output import refuse_filled

    if request and because.strip():
        raise click.UsageError("--request names what is answered, --because why there is none; say one of them")
    if out is None:
        return None
    if not request and not because.strip():
        raise click.UsageError("Rows leave for a request: --request R012. Where there is none say why: --because TEXT")
    refuse_personal(because)
    folder = out.expanduser().absolute()
    refuse_filled(folder)
    return folder


def _request(place: Path, name: str | None, fields: "FieldList", cohort: "Cohort") -> str:
    """
    Find the request, and refuse one that the list does not serve.

    Raises:
        ExtractError: who asked may not get this list, or these rows.
        RequestError: there is no such request, or it is closed.
    """
    from regdash.errors import ExtractError
    from regdash.store.requests import refuse_closed, requests_known

    maker = _one_maker(cohort) if fields.one_maker else ""
    if not name:
        return ""
    request = requests_known(place).named(name)
    refuse_closed(request)
    if request.kind not in fields.recipients:
        may = " or ".join(fields.recipients)
        raise ExtractError(f"{request.name} was asked by a {request.kind}, and {fields.name} is for {may}.")
    if maker and request.code and request.code != maker:
        raise ExtractError(f"{request.name} was asked by {request.code}, and the filter names the maker {maker}.")
    return request.name


def _one_maker(cohort: "Cohort") -> str:
    """
    Give the one maker that a filter names.

    Raises:
        ExtractError: it names none, or several.
    """
    from regdash.errors import ExtractError

    named = [c.values for c in cohort.conditions if c.key == "maker" and not c.negated]
    if len(named) != 1 or len(named[0]) != 1:
        raise ExtractError("This list is for one maker's own implants: name it in the filter, as in maker=M03.")
    return str(named[0][0])


def _told(desk: "ExtractsDesk", wanted: "Wanted", form: Form) -> "Listing":
    """Tell how many rows are too few alike, and what each change of the list does to that."""
    from dataclasses import astuple

    from regdash.extracts.classes import Alike
    from regdash.output.listing import Listing

    found = desk.alike(wanted)
    every = found[0]
    columns = PAGE if form == "text" else tuple(field.name for field in fields_of(Alike))
    shown = [(one.change, *astuple(one)[3:]) if form == "text" else astuple(one) for one in found]
    share = f" ({every.rows_under / every.rows:.1%})" if every.rows else ""
    same = ", ".join(wanted.fields.quasi_identifiers)
    remarks = (
        f"{every.rows:,} rows of {every.patients:,} patients; {every.rows_under:,} rows{share} are in classes of fewer "
        f"than k = {wanted.k} patients. A class is every row with the same {same}.",
        "Nothing was written. Name a folder with --out DIR, and the request that is answered with --request.",
    )
    return Listing("rows alike", columns, shown, {"k": wanted.k, "cut": desk.manifest.cut}, remarks)


def _written(desk: "ExtractsDesk", place: Path, wanted: "Wanted", folder: Path, because: str, form: Form) -> "Listing":
    """Make the folder, write that down, and list its files."""
    from regdash.output.listing import Listing
    from regdash.store.checksums import checksum_of

    before = _made_for(place, wanted.request)
    with audited(place, "export", desk.manifest.cut, because.strip()) as act:
        made = desk.extract(wanted)
        _write(folder, made)
        counted = made.counted
        act.details = {
            "of": f"extract {wanted.fields.name}",
            "filter": str(wanted.cohort),
            "rows": counted.after.rows,
            "k": wanted.k,
            "left_out": counted.under_k.rows + counted.few_users.rows,
            "form": "files",
            "request": wanted.request or None,
            "checksum": checksum_of(folder),
        }
    rows = [(name, len(content)) for name, content in sorted(made.files.items())]
    facts = {**act.details, "cut": desk.manifest.cut, "patients": counted.after.patients}
    return Listing("extract", ("file", "bytes"), rows, facts, tuple(_said(made, wanted, folder, before)))


def _write(folder: Path, made: "Extract") -> None:
    """
    Write all files, or none.

    Raises:
        SummaryError: the folder cannot be written.
    """
    import json

    from regdash.extracts.make import RECORD
    from regdash.summary.output import write

    files = dict(made.files)
    write(folder, files, json.loads(files.pop(RECORD)))


def _said(made: "Extract", wanted: "Wanted", folder: Path, before: "list[AuditLine]") -> list[str]:
    """Tell the office what went out and what did not."""
    counted = made.counted
    after, left, few = counted.after, counted.under_k, counted.few_users
    said = [
        f"{after.rows:,} rows of {after.patients:,} patients in {after.classes:,} classes, the smallest of "
        f"{after.smallest} patients (k = {wanted.k})."
    ]
    if left.rows:
        said.append(
            f"Left out: {left.rows:,} rows of {left.patients:,} patients, {left.revised:,} of them revised, of small "
            "classes or beside them. A risk of what stays is not that of the register; the page says so."
        )
    if few.rows:
        said.append(f"Left out too: {few.rows:,} rows of implants of which one hospital's would be told.")
    if counted.endings and counted.endings.all_same:
        same, revised = counted.endings.all_same, counted.endings.all_revised
        said.append(
            f"In {same:,} classes all rows ended alike, in {revised:,} all in a revision: who knows that somebody is "
            "in one knows how it ended."
        )
    found, ended = counted.found_by_time
    if found:
        said.append(
            f"{found:,} of {ended:,} rows that ended in a revision, a death or a loss share their time with fewer than "
            f"{wanted.k} patients alike: who knows that day may find the row. Coarser times have fewer such rows."
        )
    if counted.lots_hidden:
        said.append(f"{counted.lots_hidden:,} lots look like none and are blank.")
    said += _earlier(before)
    answer = f" Once it went out: regdash requests answer {wanted.request} --with {folder}" if wanted.request else ""
    return [*said, f"To make it again and compare: regdash verify {folder}.{answer}"]


def _made_for(place: Path, request: str) -> "list[AuditLine]":
    """Find the extracts that were made for a request before."""
    from regdash.store.audit import audit_lines

    if not request:
        return []
    lines = audit_lines(place, what="export")
    return [one for one in lines if one.outcome == "done" and _details(one).get("request") == request]


def _details(line: "AuditLine") -> dict[str, Any]:
    import json

    return dict(json.loads(line.details))


def _earlier(before: "list[AuditLine]") -> list[str]:
    """Say that more than one extract was made, since nobody counts what several tell together."""
    if not before:
        return []
    last = _details(before[-1])
    many = f"{len(before):,} extract{' was' if len(before) == 1 else 's were'} made for this request before"
    asked = f"{last.get('filter') or 'every joint'}, {last.get('rows', 0):,} rows"
    return [f"{many}, the last on {before[-1].at[:10]} ({asked}): what they tell together is not counted."]
