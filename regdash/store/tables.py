"""
The store's tables of versions: what tells two records apart, and what two versions of one may differ in.
"""

from dataclasses import dataclass

# Rows of a submission are numbered from 1 in each file; a version's number holds both.
VERSIONS_PER_SUBMISSION = 1_000_000_000


@dataclass(frozen=True)
class Feed:
    """A table whose rows are records by themselves."""

    name: str  # of the file, without .csv
    key: tuple[str, ...]
    content: tuple[str, ...]
    kept_in: str = ""  # the store's table, where it is not called as the file

    @property
    def table(self) -> str:
        """The store's table."""
        return self.kept_in or self.name

    @property
    def key_list(self) -> str:
        """The key's columns, for a query."""
        return ", ".join(self.key)

    @property
    def content_row(self) -> str:
        """All that a version says, as one value that can be compared."""
        return "row(" + ", ".join(self.content) + ")"

    @property
    def columns(self) -> str:
        """Every column that is not of the store's own making."""
        return ", ".join(self.key + self.content)


FEEDS = (
    Feed(
        "catalogue",
        ("catalogue_no",),
        (
            "gtin",
            "maker",
            "implant",
            "role",
            "joint",
            "class",
            "bearing",
            "constraint_design",
            "fixation",
            "material",
            "size",
            "side",
            "introduced_date",
            "withdrawn_date",
        ),
    ),
    Feed("pairs", ("implant", "paired_implant"), ("size_steps",), kept_in="catalogue_pairs"),
    Feed("hospitals", ("hospital_id",), ("region", "active_from", "active_to")),
    Feed("surgeons", ("surgeon_id",), ("active_from", "active_to")),
    Feed("systems", ("hospital_id", "technology_system"), ("active_from", "active_to"), kept_in="hospital_systems"),
    Feed("deaths", ("patient_id",), ("death_date",)),
    Feed("losses", ("patient_id",), ("loss_date", "loss")),
    Feed("admin_counts", ("hospital_id", "joint", "kind", "month"), ("operations",)),
)

OPERATION_COLUMNS = (
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
    "constraint_design",
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
)
