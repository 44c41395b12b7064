"""The sentences that explain one implant: what was found, how, and how it may mislead; never a verdict."""

from collections.abc import Mapping, Sequence
from typing import Any

from regdash.reports.use import IMPLANT
from regdash.reports.wording import HELD_BACK, so_many
from regdash.signals.explained_model import UNITS
from regdash.stats.largest_fall import DRAWS, SEED, LargestFall

METHOD = (
    "Hazard ratios: Cox (1972), {strata}, Efron's ties, Wald limits, its joints against all others of its class with "
    "another implant in its role. Expected revisions: the others' hazard of each reason on each day (Nelson, 1969; "
    "Aalen, 1978) over the follow-up of its own joints, {alike}; reasons add up because their hazards do. Limits of "
    "the excess are exact for what was seen (Garwood, 1936) and take what is expected as known. Users: all joints of "
    "one are left out in turn; by chance, its revisions fall on users with what is expected of each one's joints, in "
    "{draws:,} draws (seed {seed}); where users differ, each draw gives them factors from the gamma distribution that "
    "fits their joints with other implants (Clayton & Kaldor, 1987). Shares at first revision: Clopper & Pearson "
    "(1934). Joints of one patient are counted as independent."
)
FALL_LOOKED_FOR = (
    "One user was looked for without whom the ratio falls most: one of many always stands out, as far as the drawn "
    "range."
)
SUBGROUPS_MANY = "Subgroups are many and small: some differ by chance alone, and none was tested."
FIRST_REVISIONS_SHIFT = "Shares at first revision depend on the mix of reasons, and on how long joints are followed."
NEARBY_IS_KNOWN = "Faults nearby are those that rules find; a revision that nobody sent is in none of them."
TAKEN_OUT_UNLINKED = "took it out: revisions without a primary"
PUT_IN_UNLINKED = "put it in: revisions without a primary"
_OF = {
    "joints": "of joints",
    "revisions": "of first revisions",
    "unlinked": "of revisions of the joint without a primary",
}


def method(fields: str) -> str:
    """Say how everything was made."""
    strata = f"stratified by {fields}" if fields else "without strata"
    alike = f"alike in {fields}" if fields else "whoever they are of"
    return METHOD.format(strata=strata, alike=alike, draws=DRAWS, seed=SEED)


def fall(
    unit: str,
    users: int,
    has: Mapping[str, Any],
    drawn: Sequence[LargestFall],
    level: float,
    most: tuple[str, int] | None = None,
) -> str:
    """
    Say what was found when each user was left out: a sentence without a verdict.

    Args:
        has: the user without whom the ratio falls most, its joints and revisions, those of all, and the ratios.
        drawn: by chance alone, and where users differ; one where they do not.
        most: the user with most of its joints and how many these are, where that is another one and they are half.
    """
    change = f"{abs(has['fall']):.0%} {'lower' if has['fall'] >= 0 else 'higher'}".replace("%", " %")
    limits = "" if has["lower"] is None else f" ({has['lower']:.2f} to {has['upper']:.2f})"
    said = (
        f"Without {unit} {has['user']} the ratio is {has['ratio_without']:.2f}{limits} instead of {has['ratio']:.2f}, "
        f"{change}: {has['joints']:,} of {_its(has['all_joints'], 'joint')} and {has['revisions']:,} of "
        f"{_its(has['all_revisions'], 'revision')} are theirs. Where its {users:,} {unit}s are exchangeable the "
        f"largest fall is {_range(drawn[0])} in {100 * level:g} % of {drawn[0].draws:,} draws"
    )
    more = f" {most[1]:,} of its joints are of {unit} {most[0]}." if most else ""
    if len(drawn) == 1:
        known = f"{said}; a fall as large comes in {_part(drawn[0])} of them."
        return f"{known} Elsewhere {unit}s do not differ beyond chance.{more}"
    return (
        f"{said}, and {_range(drawn[1])} where they differ as much as with other implants; a fall as large comes in "
        f"{_part(drawn[0])} and {_part(drawn[1])} of draws.{more}"
    )


def _its(count: int, noun: str) -> str:
    return f"its {so_many(count, noun)}"


def _range(found: LargestFall) -> str:
    return f"{100 * found.lower:.0f} to {100 * found.upper:.0f} %"


def _part(found: LargestFall) -> str:
    least = 1 / found.draws
    return f"fewer than {100 * least:g} %" if found.as_large <= least else f"{100 * found.as_large:.1f} %"


def few_left(least: int) -> str:
    """Say why there is no ratio without one user."""
    return f"fewer than {least} of its revisions are left without one of them"


def too_few_left(unit: str, name: str, own: tuple[int, int], every: tuple[int, int]) -> str:
    """Say that one user has nearly all: `own` joints and revisions of `every` one."""
    left = every[1] - own[1]
    are = "is" if left == 1 else "are"
    return (
        f"Without {unit} {name} {left:,} of {_its(every[1], 'revision')} {are} left, too few for a ratio: {own[0]:,} "
        f"of {_its(every[0], 'joint')} and {own[1]:,} of its revisions are theirs. What is the implant's and what the "
        f"{unit}'s can hardly be told apart."
    )


def no_fall(unit: str, why: str) -> str:
    """Say why leaving out users one by one says nothing."""
    return f"What one {unit} does to the ratio is not told: {why}."


def never_apart(code: str, name: str) -> str:
    """Say why a ratio cannot be adjusted for something."""
    thing = name if name in UNITS else f"{name} component"
    return f"{code} and its {thing} are never apart: no other joint that is like its own in the rest has the same one"


def only_with(companion: str, code: str) -> str:
    """Say why an implant and one companion cannot be told apart."""
    return f"{companion} is used with {code} alone: the two cannot be told apart"


def of_what(name: str) -> str:
    """Say what a share is of."""
    return _OF[name]


def hospital(joints: str) -> str:
    """Say what a hospital's line counts."""
    return f"revisions sent, of those its own counts have; {joints} of the joints are its own"


def apart(implants: int, kind: str) -> str:
    """Say whose joints are in no comparison group."""
    noun = "implant that is" if implants == 1 else "implants that are"
    role = " in its role" if kind == IMPLANT else ""
    return f"Joints with {implants:,} {noun} withdrawn or confirmed{role} are in no comparison group, as in a screen."


def held(own: int, every: int, code: str) -> str:
    """
    Say of what revisions are held back.

    >>> held(1, 27, "KT-001")[:60]
    '1 revision of KT-001 and 26 of all others are held back unti'
    """
    return f"{own:,} revision{'' if own == 1 else 's'} of {code} and {every - own:,} of all others are {HELD_BACK}"


def left_out(events: str) -> str:
    """Say which revisions no reason's excess counts."""
    return f"{events} of its revisions came on days on which nobody else alike is followed: they are in no excess."
