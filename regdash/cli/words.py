"""What an unfinished argument may become: filter words, groupings, cuts and codes, for shells that complete."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

import click
from click.shell_completion import CompletionItem

from regdash.errors import RegdashError

Items = list[CompletionItem]
Complete = Callable[[click.Context, click.Parameter, str], Items]


def filters(outcomes: bool) -> Complete:
    """Complete filter words; codes are looked up in the cut, words are not."""

    def complete(ctx: click.Context, param: click.Parameter, incomplete: str) -> Items:
        from regdash import cohort, fields

        if incomplete.startswith(cohort.NAME_SIGN):
            named = _named(ctx)
            found = cohort.candidates(incomplete, {}, named=named)
            return [CompletionItem(name, help=named[name.removeprefix(cohort.NAME_SIGN)]) for name in found]
        key = incomplete.partition("=")[0].rstrip("!")
        field = fields.FIELDS.get(key)
        known = _codes(ctx) if field and field.kind == "code" and field.enum else {}
        line = " ".join((*(ctx.params.get("words") or ()), incomplete))
        return [CompletionItem(found, help=_about(found)) for found in cohort.candidates(line, known, outcomes)]

    return complete


complete_filter = filters(outcomes=False)
complete_joint_filter = filters(outcomes=True)


def _about(found: str) -> str | None:
    from regdash import fields

    return fields.FIELDS[found[:-1]].about if found.endswith("=") else None


def complete_by(ctx: click.Context, param: click.Parameter, incomplete: str) -> Items:
    """Complete the last field of a grouping."""
    from regdash import fields

    before, comma, last = incomplete.rpartition(",")
    usable = [f for f in fields.FIELDS.values() if not f.outcome and not f.component]
    return [CompletionItem(before + comma + f.key, help=f.about) for f in usable if f.key.startswith(last)]


def complete_measured(ctx: click.Context, param: click.Parameter, incomplete: str) -> Items:
    """Complete a field of numbers."""
    from regdash.reports.measured import MEASURED

    return _starting(incomplete, MEASURED)


def complete_reason(ctx: click.Context, param: click.Parameter, incomplete: str) -> Items:
    """Complete a reason, by group or in detail."""
    from regdash import fields, vocabulary

    return _starting(incomplete, map(vocabulary.coded, fields.FIELDS["reason"].choices))


def complete_endpoint(ctx: click.Context, param: click.Parameter, incomplete: str) -> Items:
    """Complete the key of an endpoint."""
    from regdash import endpoints

    return _starting(incomplete, endpoints.ENDPOINTS)


def complete_rule(ctx: click.Context, param: click.Parameter, incomplete: str) -> Items:
    """Complete the name of a rule that holds rows back."""
    from regdash.store.held import WITHHOLDING
    from regdash.store.rules import all_rules

    return _starting(incomplete, sorted({rule.name for rule in all_rules() if rule.severity in WITHHOLDING}))


def complete_cut(ctx: click.Context, param: click.Parameter, incomplete: str) -> Items:
    """Complete the name of a cut; the newest first."""
    from regdash.store.cuts import list_cuts

    try:
        return _starting(incomplete, [manifest.cut for manifest in reversed(list_cuts(_store(ctx)))])
    except RegdashError:
        return []


def complete_unit(ctx: click.Context, param: click.Parameter, incomplete: str) -> Items:
    """Complete the code of a hospital or of a surgeon, as the command line has named one of them."""
    kind = "surgeon" if "surgeons" in (ctx.params.get("kind"), *ctx.args) else "hospital"
    return _starting(incomplete, _codes(ctx).get(kind, ()))


def complete_implant(ctx: click.Context, param: click.Parameter, incomplete: str) -> Items:
    """Complete the code of an implant or a construct."""
    codes = _codes(ctx)
    return _starting(incomplete, (*codes.get("implant", ()), *codes.get("construct", ())))


def complete_name(ctx: click.Context, param: click.Parameter, incomplete: str) -> Items:
    """Complete the name of a saved cohort."""
    return _starting(incomplete, _named(ctx))


def complete_list(ctx: click.Context, param: click.Parameter, incomplete: str) -> Items:
    """Complete the name of a field list of extracts."""
    from regdash.extracts.field_list import list_names

    try:
        return _starting(incomplete, list_names(_store(ctx)))
    except RegdashError:
        return []


def complete_request(ctx: click.Context, param: click.Parameter, incomplete: str) -> Items:
    """Complete a request that may still be answered, with what was asked."""
    from regdash.store.requests import CLOSED, MISTAKEN, requests_known

    try:
        known = [one for one in requests_known(_store(ctx)) if not (one.first(CLOSED) or one.first(MISTAKEN))]
    except RegdashError:
        return []
    return [CompletionItem(one.name, help=one.what) for one in known if one.name.startswith(incomplete.upper())]


def _named(ctx: click.Context) -> Mapping[str, str]:
    """Read the filter words of saved cohorts, by name; none where they cannot be read."""
    from regdash.store.named_cohorts import named_cohorts

    try:
        return {name: saved.words for name, saved in named_cohorts(_store(ctx)).items()}
    except RegdashError:
        return {}


def _starting(incomplete: str, choices: Iterable[str]) -> Items:
    return [CompletionItem(choice) for choice in choices if choice.casefold().startswith(incomplete.casefold())]


def _store(ctx: click.Context) -> Path:
    from regdash.cli.place import to_read

    return to_read(ctx.params.get("store"))


def _codes(ctx: click.Context) -> Mapping[str, Sequence[str]]:
    """Read the codes of the cut; none where it cannot be opened, since a shell has nowhere to say why."""
    from regdash.store.cuts import Cut

    chosen: Any = ctx.params.get("cut")
    try:
        cut = Cut(_store(ctx), chosen)
    except RegdashError:
        return {}
    try:
        return cut.known
    finally:
        cut.close()
