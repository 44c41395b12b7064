"""
The named endpoints: what each kind of revision is to the question asked, and on which clock it runs.

A revision is the event; or it ends follow-up otherwise, and then competes in the patient view and censors in the
implant view, as death does; or it leaves the matter open and censors in both; or it is ignored, and follow-up goes on
past it. What kind it is, a data cut says by the flags of `revision_episodes`.

On the day of a death an event or a competing revision counts before it, since the implant failed in a living patient,
and the death before a revision that censors; a revision that is ignored changes nothing on its day. A joint has one
revision a day, since intake holds a second; were there two, the event would count, then what competes.
"""

from dataclasses import dataclass

from regdash.errors import FilterError
from regdash.suggest import nearest
from regdash.vocabulary import MATERIAL_ROLES, PLACES, ROLES, coded

EVENT, COMPETES, CENSORS, IGNORED = "event", "competes", "censors", "ignored"

JOINT_CLOCK = "joint"  # from the primary
COMPONENT_CLOCK = "component"  # from the primary, which put it in, to its own removal
REVISION_CLOCK = "revision"  # from the first revision, once it is settled what was done


@dataclass(frozen=True)
class Rule:
    """What a revision is to an endpoint where a flag of `revision_episodes` is set."""

    flag: str
    treatment: str


@dataclass(frozen=True)
class Endpoint:
    """One endpoint: the first rule whose flag is set decides on a revision, else `otherwise` does."""

    key: str  # as it is typed
    name: str  # as it is printed
    brief: str  # the event in a few words
    about: str  # sentences for those who read a figure
    rules: tuple[Rule, ...] = ()
    otherwise: str = EVENT
    clock: str = JOINT_CLOCK
    role: str = ""  # of the component that is followed on its own clock
    classes: tuple[str, ...] = ()  # of the primaries that are followed; all where empty

    @property
    def competes(self) -> bool:
        """Whether a revision may end follow-up that is not the event, and compete with it."""
        return COMPETES in (self.otherwise, *(rule.treatment for rule in self.rules))

    @property
    def follows_all_joints(self) -> bool:
        """Whether every joint of a cohort is followed, and not only those that can have the event."""
        return not self.classes and self.clock == JOINT_CLOCK


_COMPONENTS = ("femoral", "tibial", "patellar")  # roles that are no nouns
_ONCE = tuple(role for places in PLACES.values() for roles in places for role in roles)
_PARTS = tuple(
    role for role in dict.fromkeys(role for roles in ROLES.values() for role in roles) if role not in MATERIAL_ROLES
)


def _part(role: str) -> str:
    """
    Name a component of a role: `the` where a joint has one at a time.

    >>> _part("tibial"), _part("glenosphere"), _part("augment")
    ('the tibial component', 'the glenosphere', 'an augment')
    """
    if role in _COMPONENTS:
        return f"the {role} component"
    article = "the" if role in _ONCE else "an" if role[0] in "aeiou" else "a"
    return f"{article} {role}"


def _removed(role: str) -> Endpoint:
    part = _part(role)
    return Endpoint(
        key=f"removed:{coded(role)}",
        name=f"removal of {part}",
        brief=f"{part} of the primary comes out",
        about=f"The event is that {part} of the primary comes out. Joints whose primary put none in are not followed, "
        "revisions that leave it in do not end follow-up, and components put in later are not followed.",
        clock=COMPONENT_CLOCK,
        role=role,
    )


ANY_REVISION = Endpoint(
    "any-revision",
    "any revision",
    "the first revision, whatever it is",
    "The event is the first revision of the joint, whatever it is.",
)

_ALL = (
    ANY_REVISION,
    Endpoint(
        "aseptic",
        "aseptic revision",
        "a first revision for anything but infection",
        "The event is a first revision whose leading reason is not infection. A first revision for infection ends "
        "follow-up: it censors in the implant view and competes in the patient view.",
        (Rule("septic", COMPETES),),
    ),
    Endpoint(
        "major",
        "major revision",
        "the first revision that removes a component fixed to bone",
        "The event is the first revision that removes a component fixed to bone: femoral, tibial, patellar, humeral or "
        "glenoid component, cup, stem or augment, and not a bearing, a head or a liner alone. Follow-up goes on past "
        "revisions that leave them all in.",
        (Rule("bone_fixed_removed", EVENT),),
        IGNORED,
    ),
    Endpoint(
        "partial-to-total",
        "partial-to-total conversion",
        "a partial primary becomes a total",
        "Followed are partial primaries, patellofemoral ones too. The event is the first revision that puts in a "
        "total, in one stage or two. A joint that is left without components competes, from the first stage, and "
        "censors while its second may still come; follow-up goes on past revisions that leave a partial in.",
        (Rule("to_total", EVENT), Rule("stage_open", CENSORS), Rule("emptied", COMPETES)),
        IGNORED,
        classes=("partial", "patellofemoral"),
    ),
    Endpoint(
        "hemi-to-total",
        "hemi-to-total conversion",
        "a hemi primary becomes a total",
        "Followed are hemi primaries. The event is the first revision that puts in a total, which for a shoulder is an "
        "anatomic or a reverse one, in one stage or two. A joint that is left without components competes, from the "
        "first stage, and censors while its second may still come; follow-up goes on past revisions that leave a hemi "
        "in.",
        (Rule("to_total", EVENT), Rule("stage_open", CENSORS), Rule("emptied", COMPETES)),
        IGNORED,
        classes=("hemi",),
    ),
    Endpoint(
        "anatomic-to-reverse",
        "anatomic-to-reverse conversion",
        "an anatomic primary becomes a reverse one",
        "Followed are anatomic primaries. The event is the first revision that puts in a reverse shoulder, in one "
        "stage or two. A joint that is left without components competes, from the first stage, and censors while its "
        "second may still come; follow-up goes on past revisions that leave an anatomic one in.",
        (Rule("to_reverse", EVENT), Rule("stage_open", CENSORS), Rule("emptied", COMPETES)),
        IGNORED,
        classes=("anatomic",),
    ),
    Endpoint(
        "without-bearing-exchange",
        "revision other than bearing exchange",
        "the first revision that does more than exchange bearing inserts, heads or liners",
        "The event is the first revision that does more than exchange what can be exchanged while all that is fixed to "
        "bone stays: bearing inserts, heads and liners. Follow-up goes on past those that do not.",
        (Rule("bearing_only", IGNORED),),
    ),
    Endpoint(
        "without-later-patella",
        "revision other than later patella resurfacing",
        "the first revision that does more than add a patellar component",
        "The event is the first revision that does more than put in a patellar component where there was none. "
        "Follow-up goes on past those that do not.",
        (Rule("patella_added_only", IGNORED),),
    ),
    Endpoint(
        "re-revision",
        "re-revision",
        "the next revision of a joint revised once, years since the first",
        "Followed are joints that were revised once, to their next revision. Years are since the first revision: since "
        "its operation, or since reimplantation where there were two stages. While a first stage is open the clock "
        "stands at 0: a death competes there, a next revision is an event there, and the end of follow-up censors "
        "there. It starts at reimplantation, or else when the twelve months for it are over. Cohort words speak of "
        "the primary.",
        clock=REVISION_CLOCK,
    ),
    *map(_removed, _PARTS),
)
ENDPOINTS = {endpoint.key: endpoint for endpoint in _ALL}


def named(text: str) -> Endpoint:
    """
    Find an endpoint by its key, or by its name as an answer prints it.

    Raises:
        FilterError: there is no such endpoint; the nearest are named.

    >>> named("major").name, named("removal of the tibial component").key
    ('major revision', 'removed:tibial')
    """
    asked = coded(text.strip().lower())
    for endpoint in _ALL:
        if asked in (endpoint.key, coded(endpoint.name)):
            return endpoint
    raise FilterError(f"There is no endpoint {text}. {nearest(asked, ENDPOINTS, most=20)}")
