"""The commands on signals: which there are, and what became of them."""

from datetime import date
from pathlib import Path

import click
from click.shell_completion import CompletionItem

from regdash.cli import words as completing
from regdash.cli.family import Family
from regdash.cli.options import (
    Asked,
    CohortCommand,
    answering,
    asking,
    cohort_of,
    filter_argument,
    form_options,
    reviews_option,
    store_option,
)
from regdash.cli.place import existing
from regdash.cli.printing import Form, show
from regdash.cli.query import Words
from regdash.cli.screen import KINDS
from regdash.cli.signal_history import history

EVERY = "every"  # window, as decisions name it


class State(click.ParamType):
    """How far a review is."""

    name = "state"

    def convert(self, value: str, param: click.Parameter | None, ctx: click.Context | None) -> str:
        """Read under-review."""
        from regdash.errors import ReviewError
        from regdash.store.signal_reviews import state_named

        try:
            return state_named(value)
        except ReviewError as refusal:
            self.fail(str(refusal), param, ctx)

    def shell_complete(self, ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
        """List the states."""
        from regdash.store.signal_reviews import STATES
        from regdash.vocabulary import coded

        found = [coded(state) for state in STATES]
        return [CompletionItem(state) for state in found if state.startswith(incomplete)]


kind_option = click.option(
    "--kind", type=click.Choice(KINDS), default=KINDS[0], show_default=True, help="What is screened."
)


@click.group(cls=Family)
def signals() -> None:
    """
    List the signals of a data cut and say what became of them. A signal starts a review and shows no cause.

    \b
      regdash signals list joint=knee
      regdash signals list --kind constructs --since 2023-12-31 --csv
      regdash signals decide KT-015 under-review --why "asked the three hospitals for their records"
      regdash signals show KT-015
      regdash signals history joint=knee
    """


@signals.command("list", cls=CohortCommand)
@filter_argument
@kind_option
@click.option("--state", "states", type=State(), multiple=True, help="Reviews that are so far; may be repeated.")
@click.option(
    "--since",
    metavar="CUT",
    shell_complete=completing.complete_cut,
    help="The earlier data cut; that of the through-date before, if left out.",
)
@reviews_option
@answering
def list_signals(
    asked: Asked, words: Words, kind: str, states: tuple[str, ...], since: str | None, reviews_as_of: date | None
) -> None:
    """
    List signals, what was one in an earlier data cut, and what was decided on, with the cause of each change.

    \b
      regdash signals list joint=knee class=total
      regdash signals list --kind lots --state under-review --state watching
    """
    from regdash.output.signals_pages import listed_only

    with asked.signals_desk() as desk:
        report = desk.signals(kind, cohort_of(desk, words), since=since, reviews_as_of=reviews_as_of)
        asked.show(listed_only(report, states))


@signals.command(cls=CohortCommand)
@click.argument("code", shell_complete=completing.complete_implant)
@click.argument("state", type=State())
@filter_argument
@click.option("--why", required=True, metavar="TEXT", help="What the decision rests on.")
@kind_option
@click.option("--role", metavar="ROLE", help="The role, where the code stands for several.")
@click.option(
    "--window", default=EVERY, metavar="YEARS", help="One window, as in 1..5, or all for all of follow-up; else every."
)
@click.option(
    "--after",
    type=click.IntRange(min=0),
    metavar="N",
    help="The decision that you have read, 0 for none; refused where somebody has decided since.",
)
@asking
def decide(
    asked: Asked,
    code: str,
    state: str,
    words: Words,
    why: str,
    kind: str,
    role: str | None,
    window: str,
    after: int | None,
) -> None:
    """
    Move a review on: under-review, explained, confirmed, watching or closed.

    The decision keeps who took it, when and why, the data cut, the settings and the figures that it rests on; it is
    never changed. What is confirmed is in nobody's comparison group from then on.

    \b
      regdash signals decide KT-015 watching --why "two hospitals, one surgeon; see next quarter" --after 3
      regdash signals decide KT-015 explained --window 0..1 --why "a change of forms, see the minutes"
    """
    from regdash.output.decisions import decisions_of

    with asked.signals_desk() as desk:
        cohort = cohort_of(desk, words)
        review = desk.decide(desk.called(kind, cohort, code, role), cohort, state, why, window, after)
        asked.show(decisions_of([review], desk.policy))


@signals.command("show")
@click.argument("code", required=False, shell_complete=completing.complete_implant)
@click.option("--kind", type=click.Choice(KINDS), help="What is screened; any if left out.")
@store_option
@form_options
def show_life(code: str | None, kind: str | None, store: Path | None, form: Form) -> None:
    """
    List every decision on a code, oldest first, with who took it, when, why and on what; on all, without a code.

    \b
      regdash signals show KT-015
      regdash signals show --kind constructs --csv
    """
    from regdash.output.decisions import decisions_of
    from regdash.reports.policy_file import read_policy
    from regdash.store.signal_reviews import reviews_known

    place = existing(store)
    known = [one for one in reviews_known(place) if kind in (None, one.unit.kind)]
    taken = [one for one in known if code is None or one.unit.code.casefold() == code.casefold()]
    if code is not None and not taken:
        _refuse_unknown(place, code)
    show(decisions_of(taken, read_policy(place), code), form)


def _refuse_unknown(place: Path, code: str) -> None:
    """Refuse a code that the newest data cut lacks: that nobody decided anything on a typing error would reassure."""
    from regdash.errors import ReviewError
    from regdash.signals.desk import SignalsDesk
    from regdash.suggest import nearest

    desk = SignalsDesk(place)
    try:
        known, cut = [*desk.known["implant"], *desk.known["construct"]], desk.manifest.cut
    finally:
        desk.close()
    implant = code.split()[0]  # of a size or lot, which is written behind it
    if implant.casefold() not in {one.casefold() for one in known}:
        raise ReviewError(f"There is no implant or construct {implant} in data cut {cut}. {nearest(implant, known)}")


@signals.command("decided")
@click.argument("period", metavar="PERIOD")
@click.option("--without-codes", is_flag=True, help="Leave out which units they were.")
@reviews_option
@store_option
@form_options
def decided(period: str, without_codes: bool, reviews_as_of: date | None, store: Path | None, form: Form) -> None:
    """
    List the decisions of a year, quarter or month: which review moved from where to where. Nobody is named.

    \b
      regdash signals decided 2024Q4
      regdash signals decided 2024 --without-codes --csv
    """
    from regdash.output.moves import listed_moves, on_a_page
    from regdash.signals.decided import moves
    from regdash.store.signal_reviews import reviews_known
    from regdash.values import period as days_of

    first, last = days_of(period)
    known = reviews_known(existing(store), reviews_as_of)
    found = moves(known, first, last, not without_codes)
    facts = {"first": first.isoformat(), "last": last.isoformat(), "reviews": known.facts}
    listing = listed_moves(found, not without_codes, f" from {first} to {last}", **facts)
    show(on_a_page(listing) if form == "text" else listing, form)


signals.add_command(history)
