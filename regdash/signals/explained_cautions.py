"""How the figures of one implant and their explanation may mislead: one list for both, each caution once."""

from regdash.reports import wording as reported
from regdash.reports.model import ImplantReport
from regdash.signals import explained_wording as wording
from regdash.signals import wording as screened
from regdash.signals.explained_model import Explanation

# What the explanation says in a fuller form, or what speaks of a list that stands on neither.
_SAID_BETTER = (reported.NOT_CHOSEN_BY_CHANCE, reported.SIGNAL_IS_NO_CAUSE, reported.WINDOWS)

# What speaks of some parts alone.
_OF_PARTS = {
    wording.FALL_LOOKED_FOR: ("falls", "hospitals", "surgeons"),
    wording.SUBGROUPS_MANY: ("subgroups",),
    wording.FIRST_REVISIONS_SHIFT: ("first-revisions",),
    wording.NEARBY_IS_KNOWN: ("nearby",),
}


def cautions_of_part(explained: Explanation, part: str) -> list[str]:
    """List the cautions of one part of an explanation, by the name that programs call it."""
    return [one for one in explained.head.cautions if part in _OF_PARTS.get(one, (part,))]


def cautions_of_page(report: ImplantReport, explained: Explanation) -> list[str]:
    """List the cautions of a page, what weighs most first; decisions on it, where there are any, have their own."""
    return _told_once(report, explained, _SAID_BETTER)


def cautions_of_answer(report: ImplantReport, explained: Explanation) -> list[str]:
    """List the cautions of all that programs get, rates by window among it, which a page leaves out."""
    return _told_once(report, explained, tuple(one for one in _SAID_BETTER if one != reported.WINDOWS))


def _told_once(report: ImplantReport, explained: Explanation, left_out: tuple[str, ...]) -> list[str]:
    own, every = explained.head.held_revisions, report.head.held_revisions
    told, rest = list(explained.head.cautions), list(report.head.cautions)
    rest = [one for one in rest if not one.endswith(reported.HELD_BACK)]
    if own is not None and every is not None:
        told = [one for one in told if not one.endswith(reported.HELD_BACK)]
        told[2:2] = [wording.held(own, every, explained.code)] if every else []
    told += [one for one in rest if one not in (*told, *left_out)]
    told += [screened.DECISIONS_REST] if explained.decisions else []
    last = reported.NOT_FOR_ONE_PATIENT
    return [*(one for one in told if one != last), last]
