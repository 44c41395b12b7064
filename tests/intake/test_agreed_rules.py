"""
Every check that a registry office makes of what is submitted has its rule, or a mechanism of its own.

The list of checks is common practice of such offices, no published source for it as a whole.
"""

from regdash.store.rules import all_rules, every_rule

# What is checked: the rules that do it. Files as a whole (hash, schema, row counts, encoding), unlinked revisions and
# what is lost between two cuts are the work of intake, links and freeze, and tested there.
CHECKS = {
    "file of a closed period": {"counted-operations-changed"},
    "operation number": {"operation-number", "record-repeated", "row-repeated"},
    "pseudonym": {"patient-form", "pseudonym-collision", "patient-operations-implausible"},
    "joint, side, kind, class": {"joint-unknown", "side-missing", "kind-unknown", "class-missing", "class-other-joint"},
    "dates": {"date-unreadable", "date-after-receipt", "discharge-before-operation", "admission-after-operation"},
    "units": {"hospital-unknown", "hospital-inactive", "surgeon-unknown", "surgeon-inactive", "surgeon-missing"},
    "sex and age": {
        "sex-missing",
        "sex-differs",
        "birth-year-implausible",
        "birth-year-differs",
        "young-osteoarthritis",
    },
    "body": {
        "height-implausible",
        "weight-implausible",
        "height-weight-swapped",
        "bmi-disagrees",
        "bmi-implausible",
        "asa-missing",
        "asa-five-elective",
    },
    "diagnosis": {"diagnosis-missing", "diagnosis-other-joint", "icd10-malformed", "icd10-other-joint"},
    "empty cells": {"approach-missing", "prophylaxis-missing", "word-unknown"},
    "primary or revision": {"primary-with-reasons", "revision-without-reason", "revision-without-components"},
    "reasons": {
        "leading-reason-unclear",
        "reason-unknown",
        "progression-on-total",
        "dislocation-on-fixed",
        "wear-too-early",
        "infection-one-stage-cementless",
        "other-without-note",
    },
    "class and design": {"class-disagrees", "bearing-disagrees", "constraint-disagrees", "compartment-missing"},
    "fixation": {"cement-on-cementless", "cemented-without-cement"},
    "components": {
        "components-missing",
        "duplicate-position",
        "component-other-side",
        "sizes-unfit",
        "mixed-makers",
        "catalogue-number-unknown",
        "catalogue-other-joint",
        "component-off-market",
        "component-expired",
        "lot-missing",
        "lot-placeholder",
        "udi-check-digit",
        "udi-other-device",
        "serial-repeated",
        "removed-not-in-joint",
        "removed-before",
    },
    "technology and patella": {
        "technology-system-missing",
        "technology-system-unknown",
        "patella-already-resurfaced",
    },
    "the joint's operations": {
        "submitted-twice",
        "same-day-other-components",
        "both-sides-same-day",
        "second-primary",
        "second-partial",
        "side-conflict",
        "revision-before-primary",
        "revision-on-day-0",
        "second-stage-alone",
        "first-stage-open",
        "conversion-of-total",
    },
    "deaths and losses": {
        "operation-after-death",
        "death-soon-after",
        "death-before-birth",
        "two-dates",
        "death-dates-differ",
        "operation-after-loss",
    },
    "units over time": {
        "surgeon-day-full",
        "surgeon-in-two-regions",
        "reason-other-often",
        "month-unusual",
        "month-not-as-counted",
        "revisions-none",
        "field-often-empty",
        "digit-preferred",
        "bmi-repeated",
        "asa-always-same",
        "reports-late",
        "reports-later",
        "reason-mix-changed",
    },
}
# What hospitals must answer before the record counts, and what is never taken in.
HELD = CHECKS["primary or revision"] | {
    "side-missing",
    "birth-year-implausible",
    "diagnosis-other-joint",
    "compartment-missing",
    "patella-already-resurfaced",
    "components-missing",
    "duplicate-position",
    "component-other-side",
    "serial-repeated",
    "removed-before",
    "catalogue-number-unknown",
    "catalogue-other-joint",
    "second-primary",
    "side-conflict",
    "conversion-of-total",
    "operation-after-loss",
    "death-dates-differ",
    "pseudonym-collision",
    "patient-operations-implausible",
}


def test_every_check_has_its_rule():
    there = {rule.name for rule in every_rule()}
    assert set().union(*CHECKS.values()) - there == set()


def test_what_must_be_answered_is_held():
    severities = {rule.name: rule.severity for rule in all_rules()}
    assert {name: severities[name] for name in HELD} == dict.fromkeys(HELD, "hold")


def test_a_component_is_held_without_its_operation_where_only_its_number_is_wrong():
    held = {rule.name for rule in all_rules() if rule.relation == "component_facts" and rule.severity == "hold"}
    assert held == {"catalogue-number-unknown", "catalogue-other-joint", "operation-held"}
