"""
The list of everything that was put wrong on purpose: one row a fault.
"""

from dataclasses import dataclass

import numpy as np

# Each kind, and the rules by which intake should find it where what was submitted reveals it.
RULES = {
    "missing": "",  # by the field, see MISSING_RULES
    "no-leading-reason": "leading-reason-unclear",
    "unknown-catalogue-no": "catalogue-number-unknown",
    "impossible-date": "date-unreadable date-after-receipt",
    "wrong-side": "side-conflict second-primary second-partial revision-before-primary component-other-side",
    "revision-as-primary": "primary-with-reasons second-primary second-partial same-day-other-components",
    "after-death": "operation-after-death surgeon-inactive",
    "missed-link": "",
    "false-link": "birth-year-differs sex-differs pseudonym-collision",
    "sent-again": "",
    "second-id": "submitted-twice",
    "corrected-later": "",
    "not-sent": "",
    "under-reported": "",
    "form-change": "",
    "height-in-metres": "height-implausible",
    "swapped-height-weight": "height-weight-swapped",
    "weight-in-pounds": "bmi-disagrees height-weight-swapped",
    "bmi-disagrees": "bmi-disagrees",
    "bmi-implausible": "bmi-implausible",
    "malformed-icd10": "icd10-malformed",
    "icd10-wrong-site": "icd10-other-joint",
    "birth-year-missing": "birth-year-implausible",
    "side-both": "side-missing",
    "asa-five": "asa-five-elective",
    "diagnosis-other-joint": "diagnosis-other-joint",
    "class-missing": "class-missing",
    "word-unknown": "word-unknown",
    "bearing-disagrees": "bearing-disagrees",
    "constraint-disagrees": "constraint-disagrees",
    "cement-on-cementless": "cement-on-cementless",
    "cemented-without": "cemented-without-cement",
    "compartment-missing": "compartment-missing",
    "patella-already": "patella-already-resurfaced",
    "unknown-surgeon": "surgeon-unknown",
    "robot-without-system": "technology-system-missing",
    "system-not-there": "technology-system-unknown",
    "discharge-first": "discharge-before-operation",
    "admission-late": "admission-after-operation",
    "conversion-of-total": "conversion-of-total",
    "after-loss": "operation-after-loss surgeon-inactive",
    "pseudonym-collision": "pseudonym-collision birth-year-differs",
    "too-many-operations": "patient-operations-implausible second-primary second-partial",
    "placeholder-lot": "lot-placeholder",
    "component-other-side": "component-other-side",
    "sizes-unfit": "sizes-unfit",
    "expired-component": "component-expired",
    "udi-check-digit": "udi-check-digit",
    "udi-other-device": "udi-other-device",
    "repeated-serial": "serial-repeated",
    "removed-not-in-joint": "removed-not-in-joint",
    "removed-before": "removed-before",
    "duplicate-position": "duplicate-position",
    "component-missing": "components-missing",
    "other-joints-component": "catalogue-other-joint",
    "off-market": "component-off-market",
    "reason-missing": "revision-without-reason",
    "components-missing": "revision-without-components",
    "two-leading": "leading-reason-unclear",
    "reason-other-joint": "reason-unknown",
    "progression-on-total": "progression-on-total",
    "dislocation-on-fixed": "dislocation-on-fixed",
    "early-wear": "wear-too-early",
    "other-without-note": "other-without-note",
    "death-two-dates": "death-dates-differ two-dates",
}
MISSING_RULES = {
    "sex": "sex-missing",
    "surgeon_id": "surgeon-missing",
    "asa": "asa-missing",
    "approach": "approach-missing",
    "prophylaxis": "prophylaxis-missing",
    "lot": "lot-missing",
}
OF_PRIMARIES = ("approach", "prophylaxis")  # fields whose absence is found on primaries only
KINDS = tuple(RULES)
# ELSEWHERE: not by its own record, but by another one of the same patient, which contradicts it.
REVEALED = ("no", "yes", "elsewhere")
ELSEWHERE = 2
TABLES = ("operations", "components", "reasons", "deaths")


@dataclass(frozen=True)
class Faults:
    """One entry a fault; rows of a table are named by the operation's place among all records and a line number."""

    kind: np.ndarray  # position in KINDS
    table: np.ndarray  # position in TABLES
    record: np.ndarray
    line_no: np.ndarray  # 0 in operations
    field: np.ndarray  # column, as text; empty where it is the whole row
    revealed: np.ndarray  # position in REVEALED: whether what was submitted can reveal the fault

    def __len__(self) -> int:
        return len(self.kind)

    def of_kind(self, kind: str) -> "Faults":
        """Choose the faults of one kind."""
        return self._at(np.flatnonzero(self.kind == KINDS.index(kind)))

    def _at(self, at: np.ndarray) -> "Faults":
        return Faults(
            self.kind[at], self.table[at], self.record[at], self.line_no[at], self.field[at], self.revealed[at]
        )

    def copied(self, copy: np.ndarray) -> "Faults":
        """List the faults of records once more for their copies; `copy` holds each record's copy, or -1."""
        at = np.flatnonzero(copy[self.record] >= 0)
        record = copy[self.record[at]]
        return Faults(self.kind[at], self.table[at], record, self.line_no[at], self.field[at], self.revealed[at])


def faults(
    kind: str,
    record: np.ndarray,
    revealed: np.ndarray | bool,
    field: str | np.ndarray = "",
    table: str = "operations",
    line_no: np.ndarray | int = 0,
) -> Faults:
    """List faults of one kind."""
    count = len(record)
    return Faults(
        kind=np.full(count, KINDS.index(kind), np.uint8),
        table=np.full(count, TABLES.index(table), np.uint8),
        record=record.astype(np.int64),
        line_no=np.broadcast_to(line_no, count).astype(np.uint8),
        field=np.broadcast_to(field, count).astype("U20"),
        revealed=np.broadcast_to(revealed, count).astype(np.uint8),
    )


def all_faults(parts: list[Faults]) -> Faults:
    """Put lists of faults together, record by record."""
    none = faults("missing", np.zeros(0, np.int64), False)
    columns = {
        name: np.concatenate([getattr(part, name) for part in (*parts, none)])
        for name in ("kind", "table", "record", "line_no", "field", "revealed")
    }
    order = np.lexsort((columns["kind"], columns["line_no"], columns["table"], columns["record"]))
    return Faults(**{name: values[order] for name, values in columns.items()})
