"""
The fields that an extract may hold. What is not here never leaves as a row: pseudonyms, ids of joints, operations,
hospitals and surgeons, serial numbers, and whatever people wrote as free text.
"""

from dataclasses import dataclass

from regdash import fields

JOINTS, COMPONENTS = "joints", "components"  # what a row is


@dataclass(frozen=True)
class Source:
    """One field of the office."""

    name: str
    about: str  # what it means
    kind: str  # as `coarseness.ALLOWED`
    words: tuple[str, ...] = ()
    of: str = JOINTS  # COMPONENTS: only where rows are components
    is_known: bool = False  # others than the office may know it of a patient: it is always counted for k
    is_outcome: bool = False  # known only after implantation
    if_revised: bool = False  # blank unless the joint was revised within what is told


def _words(name: str, **more: bool) -> Source:
    known = fields.FIELDS[name]
    return Source(name, known.about, "words", known.choices, **more)  # type: ignore[arg-type]


_ENDED = "how that time ended: revised, died, lost (emigrated or opted out) or in place"
_ALL = (
    _words("joint", is_known=True),
    Source("side", "side of the body", "words", ("left", "right"), is_known=True),
    _words("class"),
    *(_words(name) for name in ("compartment", "bearing", "constraint", "couple")),
    Source("head", fields.FIELDS["head"].about, "whole"),
    _words("humeral"),
    Source("construct", fields.FIELDS["construct"].about, "code"),
    *(_words(name) for name in ("fixation", "patella", "approach", "technology", "prophylaxis", "diagnosis")),
    _words("sex", is_known=True),
    Source("age", fields.FIELDS["age"].about, "whole", is_known=True),
    _words("asa"),
    Source("bmi", fields.FIELDS["bmi"].about, "decimal"),
    Source("implanted", fields.FIELDS["implanted"].about, "date", is_known=True),
    Source("region", fields.FIELDS["region"].about, "code", is_known=True),
    Source("volume", fields.FIELDS["volume"].about, "whole"),
    Source("role", "role of the implant", "words", fields.FIELDS["role"].choices, of=COMPONENTS),
    Source("implant", "code of the implant: one device family in one role", "code", of=COMPONENTS),
    Source("maker", "code of its maker", "code", of=COMPONENTS),
    Source("catalogue", "catalogue number", "code", of=COMPONENTS),
    Source("size", "size from the catalogue", "code", of=COMPONENTS),
    Source(
        "lot",
        "lot number; blank where none is recorded, or what looks like none",
        "code",
        of=COMPONENTS,
    ),
    Source(
        "followed",
        "time from the primary to the first revision, death, loss or the end of what is told",
        "time",
        is_outcome=True,
    ),
    Source("ended", _ENDED, "words", fields.FIELDS["ended"].choices, is_outcome=True),
    Source(
        "reason",
        fields.FIELDS["reason"].about,
        "reason",
        fields.FIELDS["reason"].choices,
        is_outcome=True,
        if_revised=True,
    ),
    Source(
        "action",
        fields.FIELDS["action"].about,
        "words",
        fields.FIELDS["action"].choices,
        is_outcome=True,
        if_revised=True,
    ),
    *(
        Source(name, fields.FIELDS[name].about, "flag", is_outcome=True, if_revised=True)
        for name in ("stem", "augment", "graft")
    ),
)
SOURCES = {source.name: source for source in _ALL}
NEVER = (
    "Never in an extract: pseudonyms, numbers of joints and operations, hospitals, surgeons, serial numbers, and "
    "anything written as free text."
)
