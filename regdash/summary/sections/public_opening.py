"""The opening for patients and everybody: what this is, and that it speaks of many people and not of one."""

from regdash.summary.asker import Asker
from regdash.summary.document import Bullets, Facts, Paragraph, Section, Warned
from regdash.summary.plain import MONTHS, day

ADVICE = (
    "This page is not advice for you. It tells what happened to many people. Your surgeon knows you and your health. "
    "Please speak with your surgeon or another doctor before you decide anything."
)
WHAT = (
    "A worn joint can be replaced with a new one. Sometimes the new joint has to be mended or changed later. We call "
    "this a second operation. We keep a list of these operations. This page tells what the list shows."
)
SMALL = (
    "Some numbers are left out. Very small numbers could tell you something about one person. We leave them out, and "
    "we leave out others that would give them away."
)


def section(asker: Asker) -> Section:
    """Say what the page is."""
    age = asker.edition.reading_age
    quarter = f"{MONTHS[asker.quarter.number]} {asker.quarter.year}"
    facts = Facts(
        (
            ("months", quarter),
            ("known on", day(asker.cut.known_as_of)),
            *([("reading age", f"{age} years")] if age else []),
        )
    )
    words = Bullets(
        (
            "Replaced: a worn joint is taken out and a new one is put in.",
            "Second operation: a part of the new joint is added, changed or taken out.",
            "Total: all of the joint is new. Partial: one side of the knee is new. Kneecap: only that part is new.",
            "Half: one of the two sides of the joint is new. New surface: most of the bone stays, with a new cover.",
            "Same shape: a new shoulder like your own. Turned round: the ball sits where the socket was.",
        )
    )
    blocks = (Warned(ADVICE), Paragraph(WHAT), facts, words, Paragraph(SMALL))
    return Section("public-opening", "What this page is", blocks)
