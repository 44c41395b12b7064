"""The front of a pack of evidence: which unit, which screen, what decides its figures, and what was not looked at."""

import regdash
from regdash.output.signal_sheets import screen_facts
from regdash.output.wording import cohort_in_words
from regdash.reports.wording import fields
from regdash.signals.history_strip import in_words
from regdash.signals.model import ALL, LOOK_CLOSER
from regdash.signals.wording import DECISIONS_REST, NOT_IN_SCREEN, SIGNAL_STARTS_A_REVIEW
from regdash.summary import sentences
from regdash.summary.document import Block, Bullets, Facts, Paragraph, Section, Warned
from regdash.summary.sections.front import REVIEW, completed, policy_in_words
from regdash.summary.sections.opening import withheld_in_words
from regdash.summary.unit_asker import UnitAsker

NOT_PROOF = f"A signal is no proof. {SIGNAL_STARTS_A_REVIEW}"
NO_NAMES = (
    "This form is for a maker or an authority. The unit stands against all others of its class taken together: no "
    "hospital, no surgeon, no patient and no other implant is named here, and none can be told apart."
)
INSIDE = (
    "This form stays in the office: it names hospitals and surgeons by code, and may list revised joints one by one. "
    "For a maker or an authority there is another: --for maker."
)
LOOKED_AT = {
    "screening": "how often it is revised beside all others of its class and role, crude and adjusted, in windows "
    "since implantation, with the share of false signals held over everything tested",
    "curves": "its risk of revision over time and the recorded reasons, beside all others of the class",
    "explanation": "where its revisions come from: {parts}",
    "history": "the screen of every past quarter, with what was known then",
    "reviews": "what people decided on it, and what moved since the data cut before",
    "joints": "its revised joints, one by one",
}
LOOKED_AT_OUTSIDE = {
    "curves": "its risk of revision over time, beside all others of the class",
    "reviews": "how far its review is",
}
PARTS = {
    "excess": "excess by reason",
    "first-revisions": "what was done at first revisions",
    "subgroups": "sex, age and time of implantation",
    "windows": "time since implantation",
    "falls": "whether one hospital or surgeon makes the ratio",
    "hospitals": "the ratio without each hospital",
    "surgeons": "the ratio without each surgeon",
    "alike": "the same surgeon, hospital or companion held alike",
    "companions": "each companion",
    "nearby": "faults of data near its joints",
}
NOT_LOOKED_AT = (
    "records of patients, images, and components that were taken out: the register holds forms, not charts",
    "what forms do not ask: other illnesses, activity, the quality of bone, how an operation went",
    "joints that were not revised: pain, function, and revisions that were refused or postponed",
    "revisions that nobody reported, or that could not be joined to their primary",
    "how the implant is made and what changed in it, other registers, and what its maker or an authority knows",
)


def section(asker: UnitAsker) -> Section:
    """Open the pack."""
    form = INSIDE if asker.is_inside else NO_NAMES
    blocks = (Warned(NOT_PROOF), Paragraph(_found(asker)), Paragraph(form), Facts(tuple(_facts(asker))))
    return Section("opening", "At a glance", blocks, (_looked(asker),))


def _found(asker: UnitAsker) -> str:
    """Say plainly whether it is a signal."""
    unit, windows = asker.unit, asker.seen_in
    if windows:
        where = sentences.several([WHERE.get(window, f"in years {window} since implantation") for window in windows])
        return f"{unit} is a signal in this screen: {where}."
    asked = "The pack was made because somebody asked for it"
    if all(row.screened.withheld == NOT_IN_SCREEN for row in asker.rows):
        return f"{unit} is not in this screen: it has fewer joints than the screen tells of, or none. {asked}."
    return (
        f"{unit} is no signal in this screen. {asked}; its figures are those of the screen all the same. That it is no "
        "signal does not show that nothing is wrong."
    )


WHERE = {ALL: "over all of follow-up"}


def _facts(asker: UnitAsker) -> list[tuple[str, str]]:
    cut, unit, screen = asker.cut, asker.unit, asker.signals.screen
    adjusted = fields([grouping.field.key for grouping in screen.adjust])
    told = dict(screen_facts(screen))
    which = f"of {unit.kind}: {cohort_in_words(asker.cohort_screened)}; alike in {adjusted or 'nothing'}"
    return [
        ("unit", f"{unit.code}: {unit.role}, {unit.joint_class} {unit.joint}"),
        ("screen", which),
        ("thresholds", told["settings"]),
        ("signals", told["signals"]),
        ("data cut", f"{cut.cut}: events through {cut.through_date}, as known on {cut.known_as_of}"),
        ("content hash", f"{cut.content_hash} (format {cut.hash_format})"),
        ("operations complete", completed(cut.complete_through.get("operations"))),
        ("deaths complete", completed(cut.complete_through.get("deaths"))),
        *_seen(asker),
        ("review", _review(asker)),
        ("reviews", f"as of {asker.reviews.as_of}"),
        ("software", f"regdash {regdash.__version__}; cut made by {cut.software}"),
        ("edition", f"{asker.edition.name}, version {asker.edition.version}, hash {asker.edition.hash}"),
        ("withheld", policy_in_words(asker.desk.policy) if asker.is_inside else withheld_in_words(asker)),
        ("decisions", DECISIONS_REST if asker.is_inside else REVIEW),
    ]


def _seen(asker: UnitAsker) -> list[tuple[str, str]]:
    """Say when it was first a signal, and whether the data cut before saw it."""
    facts = []
    if "history" in asker.edition.sections:
        past = asker.past
        said = in_words(past, asker.history.quarters) if past else "no screen of a past quarter has tested it"
        facts.append(("by quarter", said))
    report = asker.signals
    if report.earlier is None:
        return [*facts, ("since the cut before", "there is none of an earlier quarter")]
    seen = [f"{_window(row.screened.window)}: {row.seen}" for row in asker.rows if row.seen]
    return [*facts, (f"since {report.earlier}", "; ".join(seen) or "a signal in neither")]


def _window(window: str) -> str:
    return "all of follow-up" if window == ALL else f"years {window}"


def _review(asker: UnitAsker) -> str:
    """Say how far reviews are, window by window where they differ."""
    states = {row.screened.window: row.state for row in asker.rows}
    signals = [row.screened.window for row in asker.rows if row.screened.signal == LOOK_CLOSER]
    of = {window: state for window, state in states.items() if not signals or window in signals} or states
    if len(set(of.values())) == 1:
        return next(iter(of.values()))
    return "; ".join(f"{_window(window)}: {state}" for window, state in of.items())


def _looked(asker: UnitAsker) -> Section:
    """Say what was looked at, what this edition leaves out, and what a register cannot see."""
    there = [key for key in asker.edition.sections if key in LOOKED_AT]
    parts = sentences.several([PARTS[part] for part in asker.edition.explained])
    known = LOOKED_AT if asker.is_inside else {**LOOKED_AT, **LOOKED_AT_OUTSIDE}
    told = {key: said.format(parts=parts or "nothing") for key, said in known.items()}
    left_out = [told[key] for key in LOOKED_AT if key not in there and (asker.is_inside or key != "joints")]
    blocks: list[Block] = [
        Paragraph("Looked at:"),
        Bullets(tuple(told[key] for key in there)),
        Paragraph("Not looked at, since a register does not hold it:"),
        Bullets(NOT_LOOKED_AT),
    ]
    if left_out:
        blocks += [Paragraph("Left out by the edition of this pack:"), Bullets(tuple(left_out))]
    return Section("looked-at", "What was looked at, and what was not", tuple(blocks))
