"""
What a synthetic register is made from: the shape of its parameters, as plain data without code.

Numbers of one joint stand in files of their own (`knee`, `knee_classes`); the simulation reads nothing
but these fields. A register of several joints is made from several of these.
"""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from datetime import date
from typing import Any

# Shares by word; they need not add up to 1, their proportions count.
Shares = Mapping[str, float]

DAYS_A_YEAR = 365.25


@dataclass(frozen=True)
class Trend:
    """A share that moves evenly from the first day of one year to the first day of another, and stays."""

    start: float
    end: float
    from_year: int = 2002
    to_year: int = 2024


@dataclass(frozen=True)
class Effect:
    """What the words of one covariate multiply hazards by; a word that is not named multiplies by 1."""

    covariate: str
    factors: Shares
    reasons: tuple[str, ...]  # the groups of reasons it acts on


@dataclass(frozen=True)
class Variant:
    """A way in which a component is made, with the letter that ends its catalogue number."""

    letter: str
    fixation: str = ""
    material: str = ""
    side: str = ""  # fits this side only


CEMENTED, CEMENTLESS = Variant("C", "cemented"), Variant("U", "cementless")
BONE_FIXED = (CEMENTED, CEMENTLESS)
# The same for one side each; the first two are of families that fit both.
SIDED = (
    *BONE_FIXED,
    Variant("CL", "cemented", side="left"),
    Variant("UL", "cementless", side="left"),
    Variant("CR", "cemented", side="right"),
    Variant("UR", "cementless", side="right"),
)
PLAIN = (Variant("A"),)
EIGHT = tuple(str(size) for size in range(1, 9))


@dataclass(frozen=True)
class Place:
    """A place for a component in a joint: the sizes and variants that every family makes for it."""

    sizes: tuple[str, ...] = EIGHT
    variants: tuple[Variant, ...] = PLAIN


@dataclass(frozen=True)
class ImplantType:
    """Implants of one bearing and constraint design, with their share of the class through the years."""

    bearing: str
    constraint: str
    share: Trend
    # Roles of the family's own components in the places of `JointClass.places`; empty: none there.
    roles: tuple[str, str, str, str]
    fixations: Mapping[str, Trend] = field(default_factory=dict)  # where not those of the class; the first by habit
    head_sizes: tuple[str, ...] = ()  # where not all of the class's


@dataclass(frozen=True)
class Action:
    """Something done at a revision: how often, and the class that the joint has afterwards."""

    name: str
    share: float
    stage: str = "single"
    becomes: str | None = None  # None: the class stays


@dataclass(frozen=True)
class JointClass:
    """One class of a joint: who gets it, which implants, how it fails and what is done then."""

    name: str
    code: str  # first letter of its implants' codes
    share: Trend  # of the joint's primaries; the first class takes what the others leave
    age: tuple[float, float]  # mean and SD, years
    bmi: tuple[float, float]  # mean and SD, kg per square metre
    female: float
    asa: Shares
    diagnoses: Shares
    implant_types: tuple[ImplantType, ...]
    bearing_is_a_habit: bool  # surgeons lean to one bearing; else it comes with the implant they like
    constructs: tuple[float, float, int]  # number in a million joints, power of size, least number
    fixations: Mapping[str, Trend]
    fixation_pull: Shares  # words of fixation favoured with a mobile bearing, on the log-odds scale
    compartments: Mapping[str, Shares]  # by bearing
    patella_resurfaced: float
    technologies: Mapping[str, Trend]
    hazards: Mapping[str, tuple[float, ...]]  # events per 1,000 joint-years by group of reasons and interval
    effects: tuple[Effect, ...]
    details: Mapping[str, Shares]  # details of each group of reasons
    actions: Mapping[str, tuple[Action, ...]]  # by group of reasons; "" for the rest
    extras_used: float  # share of the first revisions with new bone-fixed components that use any extra
    extras_by_reason: Shares  # the same, relative to each other, by group of reasons; "" for the rest
    second_reasons: Shares  # groups recorded beside the leading one
    # The two places that name a construct, the bearing's, and the fourth: head or glenosphere (nothing: by maker).
    places: tuple[Place, ...] = (Place(variants=SIDED), Place(variants=BONE_FIXED), Place(), Place())
    sided: float = 0.0  # share of its families whose first component fits one side only
    conversion: str = ""  # what making it the first class is called
    fourth_of: str = "first"  # whose family makes the fourth component: that of the first or of the "other"
    pairs_across: bool = False  # first components go with any family of the class, whatever its bearing
    head_sizes: Mapping[str, Trend] = field(
        default_factory=dict
    )  # of the bearing and fourth place, where joints differ
    couples: Mapping[str, Trend] = field(default_factory=dict)  # what slides on what


@dataclass(frozen=True)
class Death:
    """Gompertz hazard of death, as log-linear in age, from the patient's last primary."""

    hazard_at_65: Shares  # deaths per person-year, by sex
    growth: float  # log hazard per year of age
    first_year: float  # factor in the year after a primary
    asa: Shares  # factors
    first_year_by_diagnosis: Shares = field(default_factory=dict)  # in the place of `first_year`


@dataclass(frozen=True)
class PlantedImplant:
    """An implant whose truth is known. `share` is of its class over the whole register."""

    kind: str
    share: float
    from_year: int
    to_year: int
    factor: float = 1.0
    from_day: int = 0  # the factor acts from this day after implantation
    one_size_only: bool = False
    only_looks_poor: bool = False  # nearly all of it is used by the first poor surgeon
    best_seller: str = ""  # "other" or "first": that component is of the most used family, and is not poor


@dataclass(frozen=True)
class PlantedLot:
    """A poor lot of the second component, middle size, of the most used construct of the first class."""

    first_day: date
    last_day: date
    factor: float
    cementless: bool


@dataclass(frozen=True)
class FormChange:
    """From a day on, forms have another list of reasons, and a share of one reason is written as another."""

    day: date
    reason: str
    written: str
    share: float


@dataclass(frozen=True)
class Structure:
    """Hospitals, surgeons, patients and the calendar."""

    hospitals: tuple[float, float, int]  # number in a million joints, power of size, least number
    surgeons: tuple[float, float, float]  # number in a million joints, power of size, least number a hospital
    hospital_volume_sd: float  # of the log
    surgeon_volume_sd: float
    late_hospitals: float  # share that join in the first ten years
    surgeon_hospitals: tuple[float, ...]  # shares of surgeons in one, two, three hospitals
    class_users: float  # share of surgeons who use the lesser class at all
    growth: float  # of operations, a year
    weekdays: tuple[float, ...]  # Monday first
    months: tuple[float, ...]
    slump: tuple[date, date, float]  # from, to, share of the operations that went ahead
    rebound: tuple[date, date, float]
    right_side: float
    both_sides: float  # share of patients with both joints done in the register
    same_day: float  # share of joints done on the same day as the other side
    staged_gap: tuple[float, float]  # median years between the sides, SD of the log
    same_class: float  # share of second sides that get the class of the first
    same_surgeon: float
    elsewhere: float  # share of revisions at another hospital than the operation before
    same_reviser: float  # of the revisions at the same hospital, share by the same surgeon
    prior: tuple[float, float]  # joints before the register's start: share of all joints, mean years before
    zipf: float  # exponent of the constructs' use
    makers: int
    regions: int
    approaches: Shares
    prophylaxes: Mapping[str, Trend]
    habit: float  # share of operations in which a surgeon or hospital keeps to its usual approach or prophylaxis


@dataclass(frozen=True)
class Frailty:
    """SD of the log of what each unit multiplies all hazards by, and the planted units."""

    hospital: float
    surgeon: float
    implant: float
    poor_hospitals: tuple[int, float]  # how many, factor
    poor_surgeons: tuple[int, float]
    poor_implants: tuple[PlantedImplant, ...]
    poor_lot: PlantedLot | None = None


@dataclass(frozen=True)
class ReRevision:
    """Revision after revision: one hazard for every class, and the two stages of an infected joint."""

    hazards: tuple[float, ...]  # events per 1,000 joint-years by interval since the revision
    reasons: Mapping[str, Shares]  # groups of reasons by class
    most: int  # revisions of one joint
    second_stage_happens: float
    stage_gap: tuple[int, int]  # days
    constrained: float  # share of new total constructs with a design that gives more constraint
    second_reason: float  # share of revisions with a second reason beside the leading one


@dataclass(frozen=True)
class Reporting:
    """When a row reaches the register."""

    lag: Mapping[str, float]  # median days by kind of operation
    lag_sd: float  # of the log
    longest_lag: int
    submitted: tuple[int, int]  # days after the quarter's end
    batching_hospitals: int  # they send every second quarter
    feed_lag: tuple[int, int]  # days after the quarter's end, deaths and losses
    under_reported: float  # share of its revisions that one hospital never sends
    body_size_from: int  # year since which most hospitals write height and weight
    cement_from: int  # year since which cement is a component on the form
    labels_from: int  # year since which some hospitals read devices' labels
    form_change: FormChange | None = None


@dataclass(frozen=True)
class Dirt:
    """Faults put in on purpose. Each rate is a share of what its comment names."""

    missing: Mapping[str, Trend]  # of operations, by column; clustered by hospital
    missing_lot: float  # of components
    missing_mark: float  # of revisions: no reason is marked as leading
    clustering: float  # SD of the log of a hospital's factor
    wrong_side: float  # of operations
    revision_as_primary: float  # of revisions
    reasons_kept: float  # of those: share that still carry their reasons
    sent_again: float  # of operations: the same rows in a later submission
    second_id: float  # of operations: the same operation under another id
    impossible_date: float  # of operations
    unknown_catalogue_no: float  # of implanted components
    after_death: float  # of operations; put on revisions of patients who died
    missed_link: float  # of revisions: a pseudonym that nobody has
    missed_link_worst: float  # the same in one hospital
    false_link: float  # of revisions: another patient's pseudonym
    corrected: float  # of operations: sent with a wrong field, and right within a year
    # All other kinds: of the rows on which each can be put, see `dirty_fields` and `dirty_components`.
    odd: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Parameters:
    """Everything a register of one joint is made from."""

    joint: str
    roles: Mapping[str, str]  # letters of the components' roles
    small: tuple[str, ...]  # roles whose components fit every family of a maker; the first one goes in or not
    first_free: tuple[str, ...]  # fixations with the first naming component without cement
    other_free: tuple[str, ...]  # the same of the second
    bearing_places: tuple[int, ...]  # places that a bearing exchange renews
    blamed: Mapping[str, int]  # words in a reason's detail, and the place that each blames; the first found counts
    primaries: float  # among those of all joints in a register of several
    start: date
    intervals: tuple[float, ...]  # years since implantation at which hazards change; 0 first
    classes: tuple[JointClass, ...]
    structure: Structure
    frailty: Frailty
    death: Death
    loss: Mapping[str, float]  # per person-year, by kind of loss
    re_revision: ReRevision
    reporting: Reporting
    dirt: Dirt
    era: float  # factor on all hazards for each calendar year of implantation
    extras: Shares  # which extras, given that any is used
    shared_patients: float = 0.0  # of its patients, share that also have a joint of an earlier kind in the register

    def stream(self, part: str) -> str:
        """Name the random stream of one part of the work; knees are what all registers began with."""
        return part if self.joint == "knee" else f"{self.joint}, {part}"

    def plain(self) -> dict[str, Any]:
        """The same as dictionaries, lists and numbers, for a file that a person reads."""
        return asdict(self)

    def class_named(self, name: str) -> JointClass:
        """Find a class by its word."""
        return next(found for found in self.classes if found.name == name)
