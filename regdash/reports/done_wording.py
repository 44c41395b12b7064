"""The sentences that travel with answers on what was done."""

from collections.abc import Callable

ACTIVITY = (
    "Operations counted in the year, quarter or month in which they were done. A primary is a joint of this data cut. "
    "A revision counts whoever did the primary; two stages within twelve months are one, at the date of the first. "
    "Burden is revisions over primaries and revisions, with exact binomial limits (Clopper & Pearson, Biometrika "
    "1934;26:404–413), as if this were a sample of such operations. Change is on the year before, or on the same "
    "quarter or month of it."
)
BEFORE = {"year": "the year before"}  # of other periods: the same of the year before
REVISIONS = (
    "Revisions that were done, whoever did the primary; two stages within twelve months are one, with the reason of "
    "the first and the extras of both. A share of a reason is of the revisions with a reason, that of what was done or "
    "used of all of the group; limits are exact (Clopper & Pearson, Biometrika 1934;26:404–413). {rates}"
)
RATES = (
    "Per 100 implant-years: first revisions that ended follow-up over the years that the group's joints were followed "
    "in the period, with exact Poisson limits (Garwood, Biometrika 1936;28:437–442)."
)
NO_RATES = "No rate is given: {why}."
NOT_RISKS = (
    "These are operations done, not risks: their number follows how many joints are in place and how long they have "
    "been. A share of reasons shifts with that; the rate per implant-year stands beside it."
)
NOT_THOSE_OF_RISKS = (
    "Revisions done are more than those that risks count, which are first revisions of joints that are followed."
)
LATEST_GROW = "The latest periods will grow: hospitals report late, and revisions later than primaries."
NO_DIFFERENCE_LIMITS = (
    "A difference of two shares stands without limits: read the limits of each. None is given that is only near."
)
PLACES = (
    "Hospital, region and surgeon are here those of the operation itself: a revision counts where it was done, "
    "wherever the primary was."
)
IMPLANTED = (
    "implanted chooses joints by the date of the primary, so revisions are of those joints alone, whenever they were "
    "done. {instead} chooses by the date of the operation itself."
)
NO_YEARS_OF_PLACES = "implant-years are those of the primary's hospital, and revisions are counted where they were done"
NO_YEARS_OF_GROUPS = "these groups have no implant-years of their own"
NO_YEARS = "no joint of the group was followed in the period"

Said = Callable[[int], str]


def before(per: str) -> str:
    """
    Name the period that one is compared with.

    >>> before("year"), before("quarter")
    ('the year before', 'the same quarter of the year before')
    """
    return BEFORE.get(per, f"the same {per} of the year before")


def held(count: int, of: str, said: Said) -> str:
    """
    Say how many revisions are held back and so not counted.

    >>> held(2, "in all", str)
    '2 revisions in all are held back until the hospital answers, and not among these.'
    """
    noun, verb = ("revision", "is") if count == 1 else ("revisions", "are")
    return f"{said(count)} {noun} {of} {verb} held back until the hospital answers, and not among these."


def are(count: int, said: Said, noun: str) -> str:
    """
    Count things.

    >>> are(1, str, "revision"), are(3, str, "revision")
    ('1 revision is', '3 revisions are')
    """
    return f"{said(count)} {noun} is" if count == 1 else f"{said(count)} {noun}s are"


def unlinked_apart(count: int, said: Said) -> str:
    """Say how many revisions have no primary here and stand by themselves."""
    return (
        f"{are(count, said, 'revision')} of joints without a primary here: what was put in is not known, so they "
        "stand in a group of their own, and the burden of the others is too low by them."
    )


def unlinked_left_out(count: int, words: str, said: Said) -> str:
    """Say how many revisions a filter cannot judge."""
    return (
        f"{are(count, said, 'further revision')} of joints without a primary here, and left out: whether they meet "
        f"{words} is not known."
    )


def uncounted(count: int, said: Said) -> str:
    """Say how many revisions came after the end of what is complete."""
    have = "has" if count == 1 else "have"
    plural = "" if count == 1 else "s"
    return (
        f"{said(count)} revision{plural} {have} a primary here and came after the end of what is complete for the "
        "joint: counted here, and in no risk yet."
    )


def second_stages(count: int, said: Said) -> str:
    """Say how many second stages are counted with their first."""
    return f"{are(count, said, 'second stage')} counted with the first, in the period of the first."
