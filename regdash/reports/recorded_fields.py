"""Which fields of a record apply to which operations, and when one is missing: in SQL, on rows of the cut's copies."""

from dataclasses import dataclass

ALWAYS = "true"
PRIMARY, REVISION = "kind = 'primary'", "kind = 'revision'"
LATER_FORM = "schema_version >= '2'"  # fields that came with the second form
LABELS = f"implanted_date >= date '2018-01-01' and {LATER_FORM}"  # read off device labels on forms since then
PUT_IN = "action = 'implanted' and role <> 'cement'"


@dataclass(frozen=True)
class RecordedField:
    """One field: its name in the submitted table, where it applies, and where it is missing."""

    name: str
    applies: str
    missing: str


def _word(name: str, applies: str, column: str = "") -> RecordedField:
    """A field with a list of words, of which `not recorded` is one; null where the form left it out."""
    column = column or name
    return RecordedField(name, applies, f"coalesce({column}::varchar, 'not recorded') = 'not recorded'")


def _value(name: str, applies: str) -> RecordedField:
    return RecordedField(name, applies, f"{name} is null")


def _text(name: str, applies: str) -> RecordedField:
    return RecordedField(name, applies, f"coalesce({name}, '') = ''")


_KNEE = f"{PRIMARY} and joint = 'knee'"
OF_OPERATIONS = (
    _word("sex", ALWAYS),
    _word("surgeon_id", ALWAYS),
    _word("class", PRIMARY),
    _word("compartment", f"{_KNEE} and class = 'partial'"),
    _word("bearing", f"{PRIMARY} and joint <> 'shoulder' and class <> 'hemi'"),
    _word("constraint", f"{_KNEE} and class = 'total'", "constraint_design"),
    _word("fixation", PRIMARY),
    _word("patella", f"{_KNEE} and class = 'total'"),
    _word("approach", PRIMARY),
    _word("technology", PRIMARY),
    _word("prophylaxis", PRIMARY),
    _word("diagnosis", PRIMARY),
    _word("asa", PRIMARY),
    _value("bmi", PRIMARY),
    _value("height_cm", f"{PRIMARY} and {LATER_FORM}"),
    _value("weight_kg", f"{PRIMARY} and {LATER_FORM}"),
    _text("icd10", f"{PRIMARY} and {LATER_FORM}"),
    _value("admission_date", LATER_FORM),
    _value("discharge_date", LATER_FORM),
    _text("technology_system", f"{PRIMARY} and {LATER_FORM} and technology in ('navigated', 'robot-assisted')"),
    _value("stage", REVISION),
    _word("action", REVISION),
    _value("stem_used", REVISION),
    _value("augment_used", REVISION),
    _value("graft_used", REVISION),
    RecordedField("reason", f"{REVISION} and coalesce(stage, 'single') <> 'second of two'", "not has_reason"),
)
OF_COMPONENTS = (
    _text("lot", PUT_IN),
    _text("serial", f"{PUT_IN} and {LABELS}"),
    _text("udi", f"{PUT_IN} and {LABELS}"),
    _value("expiry_date", f"{PUT_IN} and {LABELS}"),
)


def tallies(fields: tuple[RecordedField, ...]) -> str:
    """Say in SQL how often each field applies, and how often it is missing then, one after the other."""
    return ", ".join(
        f"count(*) filter (where {f.applies}), count(*) filter (where {f.applies} and {f.missing})" for f in fields
    )
