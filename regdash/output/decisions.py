"""Decisions on signals: for people one after the other, for programs everything that they say in rows."""

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Any

from regdash.output.people import Lines, page, wrapped
from regdash.output.record import Record, record_of
from regdash.output.table import labelled, safe
from regdash.output.wording import count, number, p_value, so_many, with_limits
from regdash.reports.policy import Policy
from regdash.signals.deciding import shown
from regdash.signals.model import SignalsReport
from regdash.signals.wording import DECISIONS_REST, SIGNAL_STARTS_A_REVIEW
from regdash.store.signal_reviews import EVERY, RestsOn, SignalReview, Unit

COLUMNS = (
    "number",
    *(field.name for field in fields(Unit)),
    *("window", "state", "why", "decided_by", "account", "decided_at"),
    *(field.name for field in fields(RestsOn)),
    "supersedes",
)
_NAMES = {"joint_class": "class"}  # what Python cannot call so
CAUTIONS = (SIGNAL_STARTS_A_REVIEW, DECISIONS_REST)
NOBODY = "Nobody has decided anything{on}."


@dataclass(frozen=True)
class Decisions:
    """Some decisions, unit by unit, and what is withheld of the figures that they rest on."""

    taken: tuple[SignalReview, ...]
    policy: Policy
    code: str | None = None  # that was asked for


@record_of.register
def _(decisions: Decisions) -> Record:
    said = [shown(decisions.policy, one) for one in decisions.taken]
    rows = [{_NAMES.get(name, name): one[name] for name in COLUMNS} for one in said]
    facts = {"measure": "decisions on signals", "cautions": list(CAUTIONS), "policy": decisions.policy.settings}
    return Record(facts, tuple(_NAMES.get(name, name) for name in COLUMNS), rows)


@page.register
def _(decisions: Decisions, width: int) -> Lines:
    lines = (
        []
        if decisions.taken
        else wrapped(NOBODY.format(on=f" on {safe(decisions.code)}" if decisions.code else ""), width)
    )
    before: Unit | None = None
    for one in decisions.taken:
        if one.unit != before:
            lines += [*([""] if lines else []), f"{one.unit}, {one.unit.kind}", ""]
        before = one.unit
        lines += labelled(paragraphs(one, decisions.policy), width)
    return [*lines, "", *(line for caution in CAUTIONS for line in wrapped(f"- {caution}", width, "  "))]


def paragraphs(review: SignalReview, policy: Policy) -> list[tuple[str, str]]:
    """Say one decision: what, by whom and when, why, and on what it rests."""
    window = "" if review.window == EVERY else f", years {review.window}"
    when = review.decided_at.replace("T", " ").replace("Z", " UTC")
    return [
        (f"{review.number}", f"{review.state}{window}: {review.decided_by}, {when}"),
        ("", f"because: {review.why}"),
        ("", f"rests on {_figures(shown(policy, review))}"),
    ]


def _figures(said: dict[str, Any]) -> str:
    """Say the figures, the cut and the settings of a decision."""
    cohort = said["cohort"] or "every joint"
    cut = f"data cut {said['cut']} of {cohort}, settings {said['settings_version']} ({said['settings_hash']})"
    if not said["figures_of"]:
        return f"{cut}; the screen had nothing of it"
    (ratio,) = with_limits([(said["hazard_ratio"], said["lower"], said["upper"])], 2)
    return (
        f"{cut}; years {said['figures_of']}: {so_many(said['joints'], 'joint')}, {count(said['revisions'])} revised, "
        f"{number(said['expected'], 1)} expected, ratio {ratio}, q {p_value(said['q'])}: {said['signal']}"
    )


def decisions_of(taken: Sequence[SignalReview], policy: Policy, code: str | None = None) -> Decisions:
    """Put decisions together, unit by unit, of each the oldest first; those on a code, where one was asked for."""
    first = {one.unit: -one.number for one in reversed(taken)}
    return Decisions(tuple(sorted(taken, key=lambda one: (-first[one.unit], one.number))), policy, code)


def life(report: SignalsReport, unit: Unit) -> list[tuple[str, str]]:
    """Say every decision on a unit, oldest first, as far as the policy of an answer shows its figures."""
    policy = Policy(withhold_counts_under=int(report.head.settings["withhold_counts_under"]))
    return [said for one in report.screen.used.reviews.life(unit) for said in paragraphs(one, policy)]
