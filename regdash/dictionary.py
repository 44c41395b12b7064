"""
The files that hospitals and other senders submit: which tables, which columns, in which order.

A submission is a folder with `envelope.json` and the CSV files it names (RFC 4180, UTF-8, a header
line with exactly these columns). Intake validates against this; the generator writes by it.
"""

import re
from dataclasses import dataclass

SCHEMA_VERSION = "2"
ENVELOPE_NAME = "envelope.json"

# What an envelope must say. `files` maps each CSV file to the rows its sender declares;
# `complete_through` is the date up to which the sender believes this feed to be complete.
ENVELOPE_FIELDS = ("schema", "kind", "sender", "id", "sequence", "received_date", "complete_through", "files")

# What an envelope may say besides. `patient_numbers`: whether patients are named by agreed pseudonyms (the default), by
# the sender's own numbers, or by a number that all senders share; intake turns numbers into pseudonyms.
OPTIONAL_FIELDS = ("patient_numbers",)
PATIENT_NUMBERS = ("pseudonyms", "own", "shared")

# The agreed form of a pseudonym: one that came as such, or the keyed hash of a number (see intake/pseudonyms.py).
PATIENT_FORM = re.compile(r"(?:P[0-9]{9}|Q[A-Z2-7]{16})")
OFFICE = "office"  # sender of the feeds that no hospital sends

# Tables of each kind of submission, with their columns.
TABLES = {
    "operations": (
        "operation_id",
        "patient_id",
        "birth_year",
        "sex",
        "joint",
        "side",
        "operation_date",
        "hospital_id",
        "surgeon_id",
        "kind",
        "stage",
        "class",
        "compartment",
        "bearing",
        "constraint",
        "fixation",
        "patella",
        "approach",
        "technology",
        "prophylaxis",
        "diagnosis",
        "asa",
        "bmi",
        "height_cm",
        "weight_kg",
        "icd10",
        "admission_date",
        "discharge_date",
        "technology_system",
        "action",
        "stem_used",
        "augment_used",
        "graft_used",
    ),
    "components": (
        "operation_id",
        "line_no",
        "role",
        "action",
        "catalogue_no",
        "lot",
        "serial",
        "expiry_date",
        "udi",
    ),
    "reasons": ("operation_id", "line_no", "reason", "leads", "note"),
    "catalogue": (
        "catalogue_no",
        "gtin",
        "maker",
        "implant",
        "role",
        "joint",
        "class",
        "bearing",
        "constraint",
        "fixation",
        "material",
        "size",
        "side",
        "introduced_date",
        "withdrawn_date",
    ),
    "pairs": ("implant", "paired_implant", "size_steps"),
    "hospitals": ("hospital_id", "region", "active_from", "active_to"),
    "surgeons": ("surgeon_id", "active_from", "active_to"),
    "systems": ("hospital_id", "technology_system", "active_from", "active_to"),
    "deaths": ("patient_id", "death_date"),
    "losses": ("patient_id", "loss_date", "loss"),
    "admin_counts": ("hospital_id", "joint", "kind", "month", "operations"),
}


@dataclass(frozen=True)
class Kind:
    """A kind of submission: which tables its folder must hold, as `<table>.csv`."""

    name: str
    tables: tuple[str, ...]


KINDS = {
    kind.name: kind
    for kind in (
        Kind("operations", ("operations", "components", "reasons")),
        Kind("catalogue", ("catalogue", "pairs")),
        Kind("units", ("hospitals", "surgeons", "systems")),
        Kind("deaths", ("deaths",)),
        Kind("losses", ("losses",)),
        Kind("admin_counts", ("admin_counts",)),
    )
}
