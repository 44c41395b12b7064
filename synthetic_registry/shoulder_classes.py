"""
The classes of shoulder replacement, reverse, anatomic and hemi: who gets them, how they fail and what is done then.
"""

from synthetic_registry.parameters import (
    BONE_FIXED,
    PLAIN,
    Action,
    Effect,
    ImplantType,
    JointClass,
    Place,
    Trend,
)

# Events per 1,000 joint-years in the intervals 0-1/4, 1/4-1, 1-2, 2-5, 5-10 and 10+ years. "Fracture and other"
# and "erosion and wear" of the trade's table are shared out between their parts (ours).
REVERSE_HAZARDS = {
    "instability": (26, 6, 2, 0.9, 0.6, 0.5),
    "infection": (7, 4, 3, 1.6, 1, 0.8),
    "loosening": (2, 2, 1.6, 1.2, 1.1, 1.2),
    "fracture": (4, 1.5, 0.8, 0.7, 0.7, 0.7),
    "breakage": (0.7, 0.4, 0.3, 0.2, 0.2, 0.2),
    "pain": (0.3, 0.4, 0.3, 0.15, 0.1, 0.1),
    "other": (1.0, 0.4, 0.2, 0.15, 0.1, 0.1),
}
ANATOMIC_HAZARDS = {
    "cuff failure": (2, 4, 5, 4.5, 4, 4),
    "instability": (8, 6, 3.5, 1.5, 0.8, 0.6),
    "loosening": (0.8, 1.2, 2, 2.2, 3, 4),
    "infection": (2, 2.2, 1.8, 0.8, 0.5, 0.4),
    "erosion": (0.05, 0.1, 0.2, 0.3, 0.4, 0.5),
    "wear": (0.05, 0.1, 0.2, 0.3, 0.4, 0.7),
    "fracture": (1.2, 0.5, 0.3, 0.3, 0.3, 0.3),
    "other": (0.8, 1.0, 0.9, 0.6, 0.5, 0.5),
}
# Ours, no published source: the socket that was not replaced wears out and the cuff fails.
HEMI_HAZARDS = {
    "erosion": (0.2, 2, 6, 6, 4, 3),
    "cuff failure": (1, 4, 6, 4, 2.5, 2),
    "instability": (6, 4, 2, 1, 0.6, 0.5),
    "infection": (3, 2.5, 1.5, 0.8, 0.5, 0.4),
    "pain": (0.3, 2, 4, 2, 0.8, 0.5),
    "fracture": (1.5, 0.6, 0.4, 0.4, 0.4, 0.4),
    "other": (1, 0.8, 0.6, 0.4, 0.4, 0.4),
}
EVERY_REASON = tuple(dict.fromkeys((*REVERSE_HAZARDS, *ANATOMIC_HAZARDS, *HEMI_HAZARDS)))
AGE_BANDS = ("under 50", "50-59", "60-69", "70-79", "80 and over")
PATIENT_EFFECTS = (
    Effect("age_band", dict(zip(AGE_BANDS, (1.8, 1.5, 1.15, 0.9, 0.7))), EVERY_REASON),
    Effect("sex", {"male": 1.25}, EVERY_REASON),
    Effect("sex", {"male": 1.6}, ("infection",)),
    Effect("asa", {"III": 1.3, "IV": 1.3}, ("infection",)),
    Effect("bmi_band", {"40 and over": 1.8}, ("infection", "instability")),
    Effect("diagnosis", {"fracture sequelae": 1.5, "proximal humeral fracture": 1.3}, ("instability", "fracture")),
    Effect("volume_band", {"under 10": 1.2}, EVERY_REASON),
)

NONE_OF_KNEES = ("not applicable", "not applicable")
SPHERES = ("36", "38", "40", "42")
HUMERAL_HEADS = ("42", "46", "50", "54")
STEMS = {"cementless": Trend(0.75, 0.75), "hybrid": Trend(0.25, 0.25)}
BARE = {"cementless": Trend(1.0, 1.0)}
INFECTED = (
    Action("bearing exchange only", 0.3),
    Action("removal with spacer", 0.4, stage="first of two"),
    Action("all components exchanged", 0.25),
    Action("removal without replacement", 0.05),
)

REVERSE = JointClass(
    name="reverse",
    code="R",
    share=Trend(0.35, 0.80),
    age=(74, 7),
    bmi=(29, 5.5),
    female=0.66,
    asa={"I": 0.04, "II": 0.50, "III": 0.44, "IV": 0.02},
    diagnoses={
        "cuff-tear arthropathy": 0.40,
        "osteoarthritis": 0.30,
        "proximal humeral fracture": 0.20,
        "massive cuff tear": 0.04,
        "fracture sequelae": 0.03,
        "rheumatoid arthritis": 0.015,
        "instability arthropathy": 0.01,
        "other": 0.005,
    },
    implant_types=(
        ImplantType(
            *NONE_OF_KNEES, Trend(0.95, 0.85), ("humeral stem", "baseplate", "humeral liner", "glenosphere"), STEMS
        ),
        ImplantType(
            *NONE_OF_KNEES, Trend(0.05, 0.15), ("stemless body", "baseplate", "humeral liner", "glenosphere"), BARE
        ),
    ),
    bearing_is_a_habit=False,
    constructs=(300, 0.4, 8),
    fixations={},
    fixation_pull={},
    compartments={},
    patella_resurfaced=0.0,
    technologies={
        "patient-specific guides": Trend(0.0, 0.08, 2012, 2024),
        "navigated": Trend(0.0, 0.05, 2014, 2024),
        "robot-assisted": Trend(0.0, 0.01, 2020, 2024),
        "conventional": Trend(1.0, 0.86),
    },
    hazards=REVERSE_HAZARDS,
    effects=PATIENT_EFFECTS,
    details={
        "instability": {"instability": 1},
        "infection": {"infection": 1},
        "loosening": {"loosening, glenoid": 0.7, "loosening, humeral": 0.25, "loosening, glenoid and humeral": 0.05},
        "fracture": {"fracture, humerus": 0.6, "fracture, scapula": 0.4},
        "breakage": {"breakage, dissociation": 0.5, "breakage, glenoid or baseplate": 0.4, "breakage, component": 0.1},
        "pain": {"pain, unexplained": 1},
        "other": {"other": 1},
    },
    actions={
        "infection": INFECTED,
        "instability": (
            Action("bearing exchange only", 0.7),
            Action("one component exchanged", 0.2),
            Action("all components exchanged", 0.1),
        ),
        "": (
            Action("one component exchanged", 0.6),
            Action("all components exchanged", 0.25),
            Action("bearing exchange only", 0.15),
        ),
    },
    extras_used=0.2,
    extras_by_reason={"loosening": 1.5, "": 0.9},
    second_reasons={"instability": 0.4, "loosening": 0.3, "pain": 0.2, "other": 0.1},
    places=(
        Place(variants=BONE_FIXED),
        Place(sizes=("1", "2", "3", "4"), variants=BONE_FIXED),
        Place(sizes=SPHERES),
        Place(sizes=SPHERES),
    ),
    fourth_of="other",
    head_sizes={"36": Trend(0.4, 0.3), "38": Trend(0.2, 0.25), "40": Trend(0.1, 0.2), "42": Trend(0.3, 0.25)},
)

ANATOMIC = JointClass(
    name="anatomic",
    code="A",
    share=Trend(0.40, 0.15),
    age=(67, 9),
    bmi=(30, 5.5),
    female=0.54,
    asa={"I": 0.09, "II": 0.61, "III": 0.29, "IV": 0.01},
    diagnoses={
        "osteoarthritis": 0.92,
        "rheumatoid arthritis": 0.03,
        "post-traumatic arthritis": 0.02,
        "osteonecrosis": 0.015,
        "instability arthropathy": 0.01,
        "other": 0.005,
    },
    implant_types=(
        ImplantType(
            *NONE_OF_KNEES,
            Trend(0.65, 0.40),
            ("humeral stem", "one-piece glenoid", "", "humeral head"),
            {"reverse hybrid": Trend(0.7, 0.8), "cemented": Trend(0.3, 0.2)},
        ),
        ImplantType(
            *NONE_OF_KNEES,
            Trend(0.15, 0.40),
            ("stemless body", "one-piece glenoid", "", "humeral head"),
            {"reverse hybrid": Trend(1.0, 1.0)},
        ),
        ImplantType(
            *NONE_OF_KNEES, Trend(0.20, 0.20), ("humeral stem", "glenoid tray", "glenoid liner", "humeral head"), STEMS
        ),
    ),
    bearing_is_a_habit=False,
    constructs=(150, 0.35, 6),
    fixations={},
    fixation_pull={},
    compartments={},
    patella_resurfaced=0.0,
    technologies={
        "patient-specific guides": Trend(0.0, 0.05, 2012, 2024),
        "conventional": Trend(1.0, 0.95),
    },
    hazards=ANATOMIC_HAZARDS,
    effects=PATIENT_EFFECTS,
    details={
        "cuff failure": {"cuff failure": 1},
        "instability": {"instability": 1},
        "loosening": {"loosening, glenoid": 0.85, "loosening, humeral": 0.1, "loosening, glenoid and humeral": 0.05},
        "infection": {"infection": 1},
        "erosion": {"erosion, glenoid": 1},
        "wear": {"wear, bearing surface": 0.7, "wear, osteolysis": 0.3},
        "fracture": {"fracture, humerus": 1},
        "other": {"other": 1},
    },
    actions={
        "infection": INFECTED,
        "cuff failure": (Action("anatomic to reverse", 0.95, becomes="reverse"), Action("bearing exchange only", 0.05)),
        "": (
            Action("anatomic to reverse", 0.7, becomes="reverse"),
            Action("one component exchanged", 0.2),
            Action("bearing exchange only", 0.1),
        ),
    },
    extras_used=0.2,
    extras_by_reason={"loosening": 1.4, "": 0.9},
    second_reasons={"cuff failure": 0.5, "loosening": 0.3, "instability": 0.2},
    places=(
        Place(variants=BONE_FIXED),
        Place(sizes=("1", "2", "3", "4"), variants=BONE_FIXED),
        Place(sizes=HUMERAL_HEADS),
        Place(sizes=HUMERAL_HEADS),
    ),
    conversion="anatomic to reverse",
    head_sizes={"42": Trend(0.15, 0.15), "46": Trend(0.4, 0.4), "50": Trend(0.33, 0.33), "54": Trend(0.12, 0.12)},
)

HEMI = JointClass(
    name="hemi",
    code="D",
    share=Trend(0.25, 0.05),
    age=(68, 12),
    bmi=(28, 5.5),
    female=0.68,
    asa={"I": 0.08, "II": 0.52, "III": 0.38, "IV": 0.02},
    diagnoses={
        "proximal humeral fracture": 0.5,
        "osteoarthritis": 0.3,
        "osteonecrosis": 0.08,
        "rheumatoid arthritis": 0.06,
        "fracture sequelae": 0.03,
        "tumour": 0.01,
        "other": 0.02,
    },
    implant_types=(
        ImplantType(
            *NONE_OF_KNEES,
            Trend(0.75, 0.8),
            ("humeral stem", "humeral head", "", ""),
            {"cementless": Trend(0.4, 0.6), "cemented": Trend(0.6, 0.4)},
        ),
        ImplantType(*NONE_OF_KNEES, Trend(0.25, 0.2), ("resurfacing head", "", "", ""), BARE),
    ),
    bearing_is_a_habit=False,
    constructs=(80, 0.35, 4),
    fixations={},
    fixation_pull={},
    compartments={},
    patella_resurfaced=0.0,
    technologies={"conventional": Trend(1.0, 1.0)},
    hazards=HEMI_HAZARDS,
    effects=PATIENT_EFFECTS,
    details={
        "erosion": {"erosion, glenoid": 1},
        "cuff failure": {"cuff failure": 1},
        "instability": {"instability": 1},
        "infection": {"infection": 1},
        "pain": {"pain, unexplained": 1},
        "fracture": {"fracture, humerus": 1},
        "other": {"other": 1},
    },
    actions={
        "infection": (
            Action("removal with spacer", 0.5, stage="first of two", becomes="reverse"),
            Action("all components exchanged", 0.5),
        ),
        "": (Action("hemi to total", 0.9, becomes="reverse"), Action("all components exchanged", 0.1)),
    },
    extras_used=0.15,
    extras_by_reason={"": 1.0},
    second_reasons={"pain": 0.5, "cuff failure": 0.5},
    places=(
        Place(variants=BONE_FIXED),
        Place(sizes=HUMERAL_HEADS, variants=PLAIN),
        Place(sizes=()),
        Place(sizes=()),
    ),
    conversion="hemi to total",
)
