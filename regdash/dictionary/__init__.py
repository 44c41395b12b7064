"""
The files that hospitals and other senders submit: which tables, which columns in which order, and what a cell may hold.

The description is the Data Package beside this file, one Table Schema a table. Intake validates by it, the generator
writes by it, `regdash dictionary` prints it. Its code lists are those of the vocabulary (see scripts/descriptors.py).
"""

import re
from dataclasses import dataclass

from regdash.dictionary.descriptors import PACKAGE, SCHEMAS

SCHEMA_VERSION: str = PACKAGE["version"]
ENVELOPE_NAME = "envelope.json"

# What an envelope must say. `files` maps each file to the rows its sender declares;
# `complete_through` is the date up to which the sender believes this feed to be complete.
ENVELOPE_FIELDS = ("schema", "kind", "sender", "id", "sequence", "received_date", "complete_through", "files")

# What an envelope may say besides. `patient_numbers`: whether patients are named by agreed pseudonyms (the default), by
# the sender's own numbers, or by a number that all senders share; intake turns numbers into pseudonyms.
# `reason_for_correction`: why what was sent before is corrected; it goes to the correction log of every cut.
OPTIONAL_FIELDS = ("patient_numbers", "reason_for_correction")
PATIENT_NUMBERS = ("pseudonyms", "own", "shared")

# The agreed form of a pseudonym: one that came as such, or the keyed hash of a number (see intake/pseudonyms.py).
PATIENT_FORM = re.compile(str(SCHEMAS["operations"].field("patient_id").constraints["pattern"]))
OFFICE = "office"  # sender of the feeds that no hospital sends

# Tables of each kind of submission, with their columns; and what tells two rows of one table apart.
TABLES = {name: schema.columns for name, schema in SCHEMAS.items()}
ROW_KEYS = {name: schema.primary_key for name, schema in SCHEMAS.items()}


@dataclass(frozen=True)
class Kind:
    """A kind of submission: which tables its folder must hold."""

    name: str
    tables: tuple[str, ...]


def _kinds() -> dict[str, Kind]:
    tables: dict[str, list[str]] = {}
    for resource in PACKAGE["resources"]:
        tables.setdefault(resource["submission"], []).append(resource["name"])
    return {name: Kind(name, tuple(of_kind)) for name, of_kind in tables.items()}


KINDS = _kinds()
