"""The command on links: how many revisions have a primary, which could have one, and what people decide."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from regdash.cli.audited import note_export
from regdash.cli.family import Family
from regdash.cli.options import cut_option, form_options, store_option
from regdash.cli.place import to_read
from regdash.cli.printing import Form, say, show
from regdash.reports.wording import so_many

if TYPE_CHECKING:
    from regdash.output.listing import Listing
    from regdash.store.link_decisions import LinkDecision
    from regdash.store.links import Candidate, LinkShare

SHOWN = 40  # candidates that a person sees at once
BY, UNLINKED_BY = "hospital,year", "year,hospital,class"
REVIEW = (
    "revision_id",
    "hospital",
    "revision_date",
    "primary_id",
    "primary_date",
    "method",
    "confidence",
    "agrees",
    "is_held",
)
REVIEW_PAGE = ("revision", "primary", "method", "confidence", "held", "the same")
DECISIONS = (
    "number",
    "revision_id",
    "primary_id",
    "decision",
    "why",
    "decided_by",
    "decided_at",
    "superseded_by",
)
HELD_REMAIN = "Revisions that are held are not among them; each risk says how many there are."
NEXT_CUT = "It counts from the next freeze on."
ACCEPT_IT = (
    "Accept one with: regdash links accept REVISION PRIMARY --why TEXT. "
    "Where the revision is held, only its hospital can mend it."
)


@click.group(cls=Family, invoke_without_command=True)
@click.option("--review", is_flag=True, help="List primaries that revisions without one could belong to.")
@click.option("--unlinked", is_flag=True, help="Count revisions without a primary, by why they have none.")
@click.option(
    "--by",
    metavar="FIELD,...",
    help=f"Count by hospital, year, joint, method or confidence, {BY} if left out; with --unlinked by class too.",
)
@click.option("--hospital", metavar="CODE", help="Revisions of one hospital.")
@click.option("--limit", type=click.IntRange(min=0), help=f"Candidates at most; {SHOWN} for people, else all.")
@store_option
@cut_option
@form_options
@click.pass_context
def links(
    context: click.Context,
    review: bool,
    unlinked: bool,
    by: str | None,
    hospital: str | None,
    limit: int | None,
    store: Path | None,
    cut: str | None,
    form: Form,
) -> None:
    """
    Say how many revisions have a primary, and by what method they were joined to it.

    A revision has the primary of its patient, joint and side: certain. Where there is none, or a held one contests it,
    --review lists primaries that it could have: likely, or possible; until then it counts in no risk. A person accepts
    one, or undoes any link; that is kept, with who, when and why, and counts from the next freeze on.

    \b
      regdash links --by hospital,year
      regdash links --by method
      regdash links --review --hospital H012
      regdash links --unlinked --by class
      regdash links accept H012-0000345 H001-0000123 --why "same serial number, seen on the label"
      regdash links undo H012-0000345 --why "the hospital says it is another patient"
      regdash links decisions
    """
    context.obj = store
    if context.invoked_subcommand:
        return
    if review and (unlinked or by):
        raise click.UsageError("--review lists single revisions, so it goes without --unlinked and --by")
    place = to_read(store)
    if review:
        _show_review(place, cut, hospital, limit, form)
    else:
        _show_shares(place, cut, by, hospital, unlinked, form)


def _show_shares(
    place: Path, cut: str | None, by: str | None, hospital: str | None, unlinked: bool, form: Form
) -> None:
    from regdash.output.listing import Listing
    from regdash.store.links import link_shares

    fields = tuple((by or (UNLINKED_BY if unlinked else BY)).split(","))
    if "class" in fields and not unlinked:
        raise click.UsageError("class says why a revision has no primary, so it goes with --unlinked")
    name, shares = link_shares(place, cut, fields, hospital, unlinked=unlinked)
    facts = _facts(name, shares)
    if unlinked:
        rows = [(*one.group, one.revisions) for one in shares]
        without = so_many(sum(one.revisions for one in shares), "revision")
        remarks = (f"{without} without a primary, data cut {name}. {HELD_REMAIN}",)
        show(Listing("unlinked revisions", (*fields, "revisions"), rows, facts, remarks), form)
        return
    told = [(*one.group, one.revisions, one.linked, one.by_decision, _share(one.share, form)) for one in shares]
    revisions, linked = sum(one.revisions for one in shares), sum(one.linked for one in shares)
    share = f" ({linked / revisions:.1%})" if revisions else ""
    remarks = (f"{linked:,} of {so_many(revisions, 'revision')} linked{share}, data cut {name}. {HELD_REMAIN}",)
    columns = (*fields, "revisions", "linked", "by_decision", "linked_share")
    if form == "text":
        columns = (*fields, "revisions", "linked", "by decision", "linked, %")
    show(Listing("linked revisions", columns, told, facts, remarks), form)


def _facts(name: str, shares: "list[LinkShare]") -> dict[str, str | int]:
    counts = {field: sum(getattr(one, field) for one in shares) for field in ("revisions", "linked", "by_decision")}
    return {"cut": name, **counts}


def _share(share: float, form: Form) -> float | str:
    return f"{100 * share:.1f}" if form == "text" else share


def _show_review(place: Path, cut: str | None, hospital: str | None, limit: int | None, form: Form) -> None:
    from regdash.output.listing import Listing
    from regdash.store.links import candidates

    name, found = candidates(place, cut, hospital)
    shown = found[: SHOWN if limit is None and form == "text" else limit]
    note_export(place, form, "link candidates", name, len(shown))
    columns = REVIEW_PAGE if form == "text" else REVIEW
    rows = [_on_page(one) if form == "text" else tuple(getattr(one, column) for column in REVIEW) for one in shown]
    remarks = (f"{len(shown):,} of {len(found):,} candidates, data cut {name}. {ACCEPT_IT}",)
    listed = Listing("link candidates", columns, rows, {"cut": name, "total": len(found)}, remarks, ("the same",))
    show(listed, form)


def _on_page(one: "Candidate") -> tuple[str, ...]:
    held = "yes" if one.is_held else "no"
    return (one.revision_id, one.primary_id, one.method, one.confidence, held, one.agrees)


@links.command()
@click.argument("revision_id")
@click.argument("primary_id")
@click.option("--why", required=True, metavar="TEXT", help="What the decision rests on.")
@store_option
@form_options
@click.pass_obj
def accept(above: Path | None, revision_id: str, primary_id: str, why: str, store: Path | None, form: Form) -> None:
    """Join a revision to a primary; both are named by their operation numbers."""
    from regdash.reports.link_review import accept_link

    decision = accept_link(to_read(store or above), revision_id, primary_id, why)
    show(_listed([decision]), form)
    say(NEXT_CUT)


@links.command()
@click.argument("revision_id")
@click.option("--why", required=True, metavar="TEXT", help="What the decision rests on.")
@store_option
@form_options
@click.pass_obj
def undo(above: Path | None, revision_id: str, why: str, store: Path | None, form: Form) -> None:
    """Take a revision from its primary, whoever joined them: it counts in no risk then."""
    from regdash.reports.link_review import undo_link

    decision = undo_link(to_read(store or above), revision_id, why)
    show(_listed([decision]), form)
    say(NEXT_CUT)


@links.command()
@store_option
@form_options
@click.pass_obj
def decisions(above: Path | None, store: Path | None, form: Form) -> None:
    """List every decision taken on a link, with who took it, when and why."""
    from regdash.store.link_decisions import decisions_known

    show(_listed(decisions_known(to_read(store or above))), form)


def _listed(taken: "list[LinkDecision]") -> "Listing":
    from regdash.output.listing import Listing

    rows = [tuple(getattr(one, column) for column in DECISIONS) for one in taken]
    return Listing("decisions on links", DECISIONS, rows, wraps=("why",))
