"""How figures of a pack were withheld, and from whom."""

from regdash.summary.document import Bullets, Paragraph, Section
from regdash.summary.sections.front import policy_in_words
from regdash.summary.sections.opening import withheld_in_words
from regdash.summary.unit_asker import UnitAsker

OUTSIDE = (
    "Counts of others stand nowhere; of windows after the first, how many joints reached them stands nowhere.",
    "Where parts add up to a total that is told (windows, reasons, groups), others are withheld beside a small part, "
    "so that what is withheld can be any number of an interval at least {width} wide.",
    "Where too little is left to hide a small part among, no part of that total is listed.",
    "Figures that would tell a withheld count go with it; what stays has no more digits than people read.",
    "Nothing is told of a unit that fewer than {hospitals} hospitals or surgeons use, or nearly all of which one uses.",
    "Of hospitals and surgeons there is a range of ratios at most; of people's decisions, the state and the day.",
    "Not looked for: what follows from two packs, or from a pack and another edition that this recipient has.",
)


def section(asker: UnitAsker) -> Section:
    """Say it in words, without any count."""
    if asker.is_inside:
        said = (
            f"Withheld, each with its reason beside it: {policy_in_words(asker.desk.policy)}. A figure that is "
            "withheld is neither 0 nor missing. The form for a maker or an authority withholds more: --for maker."
        )
        return Section("withheld", "How figures were withheld", (Paragraph(said),))
    edition = asker.edition
    how = tuple(one.format(width=edition.protection_width, hospitals=edition.least_hospitals) for one in OUTSIDE)
    said = f"Withheld: {withheld_in_words(asker)}."
    return Section("withheld", "How figures were withheld", (Paragraph(said), Bullets(how)))
