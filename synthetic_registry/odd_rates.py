"""
How often each odd kind of fault is put on a row that can carry it; the same for every joint.
Ours, no published source: rare enough that most rows are clean, often enough that each kind occurs.
"""

ODD = {
    # Of operations.
    "height-in-metres": 0.0008,
    "swapped-height-weight": 0.0008,
    "weight-in-pounds": 0.0008,
    "bmi-disagrees": 0.0008,
    "bmi-implausible": 0.0005,
    "malformed-icd10": 0.0010,
    "icd10-wrong-site": 0.0008,
    "birth-year-missing": 0.0002,
    "side-both": 0.0002,
    "asa-five": 0.0004,
    "diagnosis-other-joint": 0.0004,
    "class-missing": 0.0003,
    "word-unknown": 0.0003,
    "bearing-disagrees": 0.0008,
    "constraint-disagrees": 0.0008,
    "cement-on-cementless": 0.0015,
    "cemented-without": 0.0015,
    "compartment-missing": 0.003,
    "patella-already": 0.0003,
    "unknown-surgeon": 0.0003,
    "robot-without-system": 0.004,
    "system-not-there": 0.003,
    "discharge-first": 0.0005,
    "admission-late": 0.0005,
    "conversion-of-total": 0.005,
    # Of patients.
    "after-loss": 0.0003,
    "pseudonym-collision": 0.0003,
    "too-many-operations": 0.00005,
    # Of components.
    "placeholder-lot": 0.0010,
    "component-other-side": 0.0010,
    "sizes-unfit": 0.0006,
    "expired-component": 0.0012,
    "udi-check-digit": 0.0015,
    "udi-other-device": 0.0015,
    "repeated-serial": 0.0008,
    "removed-not-in-joint": 0.004,
    "removed-before": 0.05,
    "duplicate-position": 0.0003,
    "component-missing": 0.0003,
    "other-joints-component": 0.0003,
    "off-market": 0.0004,
    # Of revisions and their reasons.
    "reason-missing": 0.003,
    "components-missing": 0.003,
    "two-leading": 0.006,
    "reason-other-joint": 0.02,
    "progression-on-total": 0.005,
    "dislocation-on-fixed": 0.005,
    "early-wear": 0.006,
    "other-without-note": 0.03,
    # Of deaths in the feed.
    "death-two-dates": 0.0005,
}
