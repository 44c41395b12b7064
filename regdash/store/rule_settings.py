"""
The thresholds that rules judge by, in one place; a rule writes `{name}` in its predicate or its text.

Limits of single fields (height, weight, body mass index) stand in the data dictionary instead.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from regdash import vocabulary


@dataclass(frozen=True)
class Setting:
    """A threshold: its value and what it means."""

    value: int | float
    about: str


# Common practice of registry offices; no published source for the list as a whole.
SETTINGS = {
    "bmi_difference": Setting(1, "body mass index given and worked out may differ by so much, kg per square metre"),
    "early_wear_days": Setting(365, "wear that leads to a revision within so many days of the primary is too early"),
    "death_soon_days": Setting(2, "a death within so many days of an operation is confirmed"),
    "stage_months": Setting(12, "a second stage follows its first within so many months"),
    "primaries_per_joint": Setting(2, "primaries that a patient can have of one joint, both sides together"),
    "revisions_in_window": Setting(8, "revisions that a patient can have within the window, all joints together"),
    "revision_window_days": Setting(730, "window in which a patient's revisions are counted, days"),
    "surgeon_day": Setting(12, "operations of a surgeon in one day above which the codes are asked about"),
    "unit_primaries": Setting(200, "primaries of a hospital in a year above which no revision at all is asked about"),
    "unit_rows": Setting(50, "rows of a unit in a year below which its shares are not judged"),
    "missing_times": Setting(3, "a hospital may leave a field empty so many times as often as the usual hospital"),
    "missing_least": Setting(0.05, "share of empty cells below which nothing is asked"),
    "other_share": Setting(0.10, "share of revisions with the reason other above which a hospital is asked"),
    "lag_days": Setting(90, "median days from operation to receipt above which a hospital is asked"),
    "lag_times": Setting(1.5, "days to receipt may grow so many times from one year to the next"),
    "month_change": Setting(0.5, "a month's count may differ from the hospital's usual by this share"),
    "month_least": Setting(20, "usual operations in a month below which its count is not judged"),
    "count_percent": Setting(20, "a month may differ from the hospital's administrative count by so many percent"),
    "same_in_a_row": Setting(6, "patients in a row with one body mass index from which a unit is asked"),
    "digit_share": Setting(0.5, "share of body mass indices with one last digit above which a surgeon is asked"),
    "same_share": Setting(0.98, "share of one ASA class above which a surgeon is asked"),
    "code_change": Setting(0.15, "a reason's share of revisions may move by so much from one year to the next"),
    "code_rows": Setting(40, "revisions of a hospital in each of two years below which its mix is not judged"),
}


def _list(words: tuple[str, ...]) -> str:
    return ", ".join("'" + word.replace("'", "''") + "'" for word in words)


def _of_joint(column: str, words: Mapping[str, tuple[str, ...]], joint: str = "joint") -> str:
    cases = " ".join(f"when '{name}' then {column} in ({_list(words[name])})" for name in vocabulary.JOINTS)
    return f"case {joint} {cases} else true end"


_REASONS = {joint: tuple(reason.detail for reason in reasons) for joint, reasons in vocabulary.REASONS.items()}

# Conditions on words of the vocabulary: that a word is in the list of the row's joint.
CONDITIONS = {
    "diagnosis_of_joint": _of_joint("diagnosis", vocabulary.OF_JOINT["diagnosis"]),
    "approach_of_joint": _of_joint("approach", vocabulary.OF_JOINT["approach"]),
    "class_of_joint": _of_joint("class", vocabulary.CLASSES),
    "reason_of_joint": _of_joint("reason", _REASONS, "parent_joint"),
}


def setting_values() -> dict[str, int | float]:
    """Give the thresholds by name, as statements bind them."""
    return {name: setting.value for name, setting in SETTINGS.items()}


def with_settings(text: str) -> str:
    """
    Put thresholds and conditions in the places that a text has for them.

    >>> with_settings("within {death_soon_days} days")
    'within 2 days'
    """
    for name, setting in SETTINGS.items():
        text = text.replace("{" + name + "}", str(setting.value))
    for name, condition in CONDITIONS.items():
        text = text.replace("{" + name + "}", condition)
    return text
