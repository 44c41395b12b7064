"""
The fields that a filter or a grouping may name: what they mean, where they stand, which values they have.

The order here is the canonical order of printed filter words.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from regdash import vocabulary as words


@dataclass(frozen=True)
class Field:
    """One filter key."""

    key: str
    about: str
    kind: str  # "words" (a closed list), "code" (values of the cut), "whole", "decimal", "date"
    column: str
    enum: str = ""  # the column's ENUM type, so that a bound text is cast and not the column
    choices: tuple[str, ...] = ()
    example: str = ""
    component: bool = False  # stands in component_life, of the primary's components
    outcome: bool = False  # known only after implantation
    bands: tuple[int, ...] = ()  # lower edges of the default groups, after the first open one
    unit: str = ""  # written after a group of numbers, where the number alone does not say it


def _words(
    key: str,
    about: str,
    choices: tuple[str, ...],
    column: str = "",
    enum: str = "",
    *,
    shown: str = "",
    component: bool = False,
    outcome: bool = False,
) -> Field:
    column = column or key
    example = f"{key}={words.coded(shown or choices[0])}"
    enum = enum or f"{column}_words"
    return Field(key, about, "words", column, enum, choices, example, component=component, outcome=outcome)


def _code(key: str, about: str, column: str, enum: str, example: str, component: bool = False) -> Field:
    return Field(key, about, "code", column, enum, (), f"{key}={example}", component=component)


_JOINT_CLASSES = tuple(dict.fromkeys(c for classes in words.CLASSES.values() for c in classes))
_ROLES = tuple(dict.fromkeys(role for roles in words.ROLES.values() for role in roles))
_REASONS = tuple(
    dict.fromkeys(
        [group for groups in words.REASON_GROUPS.values() for group in groups]
        + [reason.detail for reasons in words.REASONS.values() for reason in reasons]
    )
)
_YES_NO = ("yes", "no")

_ALL = (
    _words("joint", "joint", words.JOINTS),
    _words("class", "class of the replacement", _JOINT_CLASSES),
    _words("compartment", "compartment of a partial knee", words.COMPARTMENTS),
    _words("bearing", "mobility of the bearing of a knee or hip", words.BEARINGS),
    _words(
        "constraint", "constraint design of a total knee", words.CONSTRAINTS, "constraint_design", "constraint_words"
    ),
    _words(
        "couple",
        "what slides on what in a hip",
        words.BEARING_COUPLES,
        "bearing_couple",
        shown="ceramic on ceramic",  # short enough for a column of help
    ),
    Field(
        "head",
        "diameter of the head of a hip, mm",
        "whole",
        "head_size",
        example="head=32..36",
        bands=(28, 32, 36, 40),
        unit="mm",
    ),
    _words("humeral", "humeral design of a shoulder", words.HUMERAL_DESIGNS, "humeral_design"),
    _words("fixation", "how the components are held to bone", words.FIXATIONS),
    _words("patella", "patella at the primary of a knee", words.PATELLAS),
    _words("approach", "surgical approach", words.APPROACHES),
    _words("technology", "technology assistance", words.TECHNOLOGIES),
    _words("prophylaxis", "chemical thromboprophylaxis", words.PROPHYLAXES),
    _words("diagnosis", "diagnosis at the primary", words.DIAGNOSES),
    _words("sex", "sex of the patient", words.SEXES),
    Field("age", "completed years at the primary", "whole", "age", example="age=50..59", bands=(50, 60, 70, 80)),
    _words("asa", "ASA physical status class", words.ASA_CLASSES),
    Field("bmi", "body mass index, kg/m²", "decimal", "bmi", example="bmi=30..35", bands=(25, 30, 35, 40)),
    Field("implanted", "date of the primary", "date", "implanted_date", example="implanted=2015..2018"),
    _code("hospital", "hospital of the primary", "hospital_id", "hospital_codes", "H012"),
    _code("region", "region of the hospital", "region", "region_codes", "R1"),
    _code("surgeon", "responsible surgeon of the primary", "surgeon_id", "surgeon_codes", "S0123"),
    Field(
        "volume",
        "surgeon's primaries of the class in the 365 days before",
        "whole",
        "surgeon_volume",
        example="volume=30..",
        bands=(10, 30),
    ),
    _code("construct", "the components that name the joint", "construct", "construct_codes", "KF-017/KT-017"),
    _code("implant", "an implant put in at the primary", "implant", "implant_codes", "KT-017", component=True),
    _words("role", "role of that implant", _ROLES, component=True),
    _code("maker", "maker of that implant", "maker", "maker_codes", "M03", component=True),
    Field(
        "catalogue",
        "catalogue number of that implant",
        "code",
        "catalogue_no",
        example="catalogue=KT017-5C",
        component=True,
    ),
    Field("size", "size of that implant", "code", "size", example="size=5", component=True),
    Field("lot", "lot of that implant", "code", "lot", example="lot=L2041", component=True),
    _words("ended", "how follow-up ended", words.ENDINGS, outcome=True),
    _words("reason", "leading reason of the first revision", _REASONS, "reason", "reason_words", outcome=True),
    _words("action", "what was done at the first revision", words.ACTIONS, outcome=True),
    Field("revised", "date of the first revision", "date", "revision_date", example="revised=2024", outcome=True),
    _words("stem", "a stem was used at the first revision", _YES_NO, "stem_used", "boolean", outcome=True),
    _words("augment", "an augment was used at the first revision", _YES_NO, "augment_used", "boolean", outcome=True),
    _words("graft", "bone graft was used at the first revision", _YES_NO, "graft_used", "boolean", outcome=True),
)
FIELDS = {field.key: field for field in _ALL}
OUTCOMES = tuple(field.key for field in _ALL if field.outcome)

_OF_JOINT: dict[str, Mapping[str, tuple[str, ...]]] = {
    **words.OF_JOINT,
    "class": words.CLASSES,
    "role": words.ROLES,
    "reason": {
        joint: (*words.REASON_GROUPS[joint], *(reason.detail for reason in reasons))
        for joint, reasons in words.REASONS.items()
    },
}


def choices_of(field: Field, joint: str | None) -> tuple[str, ...]:
    """
    List the words of a field that a joint can have; all of them where no joint is named.

    >>> choices_of(FIELDS["bearing"], "knee")
    ('fixed', 'mobile', 'one-piece', 'not recorded')
    """
    own = _OF_JOINT.get(field.key, {}).get(joint or "")
    return field.choices if own is None else tuple(choice for choice in field.choices if choice in own)
