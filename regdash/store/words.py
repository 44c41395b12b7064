"""
The vocabulary as the database has it: the ENUM types of a data cut, and the text of submitted codes made words.
"""

from collections.abc import Iterable

from regdash import vocabulary
from regdash.vocabulary import NOT_RECORDED, coded


def _all(lists: Iterable[tuple[str, ...]]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(word for words in lists for word in words))


REASON_DETAILS = _all(tuple(reason.detail for reason in reasons) for reasons in vocabulary.REASONS.values())
CLASSES = _all(vocabulary.CLASSES.values())
ROLES = _all(vocabulary.ROLES.values())

# By the name that precedes `_words` in sql/schema.
WORDS = {
    "joint": vocabulary.JOINTS,
    "side": vocabulary.SIDES,
    "sex": vocabulary.SEXES,
    "kind": vocabulary.KINDS,
    "stage": vocabulary.STAGES,
    "class": CLASSES,
    "compartment": vocabulary.COMPARTMENTS,
    "bearing": vocabulary.BEARINGS,
    "constraint": vocabulary.CONSTRAINTS,
    "bearing_couple": vocabulary.BEARING_COUPLES,
    "humeral_design": vocabulary.HUMERAL_DESIGNS,
    "fixation": vocabulary.FIXATIONS,
    "material": vocabulary.MATERIALS,
    "patella": vocabulary.PATELLAS,
    "approach": vocabulary.APPROACHES,
    "technology": vocabulary.TECHNOLOGIES,
    "prophylaxis": vocabulary.PROPHYLAXES,
    "diagnosis": vocabulary.DIAGNOSES,
    "asa": vocabulary.ASA_CLASSES,
    "action": vocabulary.ACTIONS,
    "role": ROLES,
    "component_action": vocabulary.COMPONENT_ACTIONS,
    "loss": vocabulary.LOSSES,
    "ended": vocabulary.ENDINGS,
    "reason": REASON_DETAILS,
    "reason_group": _all(vocabulary.REASON_GROUPS.values()),
}


def quoted(text: str) -> str:
    """Write a text of ours as an SQL literal."""
    return "'" + text.replace("'", "''") + "'"


def word_of(column: str, name: str) -> str:
    """
    Write the expression that turns a submitted code into its word, null where there is none.

    An empty cell is "not recorded" where the list has that answer. Sexes may be digits of ISO/IEC 5218.
    """
    cases = []
    digits = vocabulary.SEX_CODES if name == "sex" else {}
    for word in WORDS[name]:
        codes = dict.fromkeys([coded(word), word] + ([""] if word == NOT_RECORDED else []))
        codes |= dict.fromkeys(digit for digit, meant in digits.items() if meant == word)
        cases += [f"when {quoted(code)} then {quoted(word)}" for code in codes]
    return f"case {column} {' '.join(cases)} end"
