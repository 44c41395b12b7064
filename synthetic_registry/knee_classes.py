"""
The classes of knee replacement, total, partial and patellofemoral: who gets them, how they fail and what is
done then.
"""

from synthetic_registry.parameters import (
    BONE_FIXED,
    SIDED,
    Action,
    Effect,
    ImplantType,
    JointClass,
    Place,
    Trend,
)

THREE = ("femoral", "tibial", "bearing insert", "")
KNEE_PLACES = (Place(variants=SIDED), Place(variants=BONE_FIXED), Place(), Place(sizes=()))

# Events per 1,000 joint-years in the intervals 0-1/4, 1/4-1, 1-2, 2-5, 5-10 and 10+ years.
TOTAL_HAZARDS = {
    "infection": (10, 3.3, 2.2, 1.0, 0.55, 0.45),
    "loosening": (0.3, 0.9, 1.8, 1.2, 0.9, 1.0),
    "instability": (0.8, 1.0, 1.2, 0.65, 0.4, 0.35),
    "patellofemoral": (0.1, 0.45, 1.0, 0.45, 0.15, 0.1),
    "pain": (0.05, 0.4, 1.0, 0.4, 0.1, 0.05),
    "stiffness": (0.3, 0.65, 0.55, 0.15, 0.05, 0.02),
    "fracture": (0.9, 0.15, 0.15, 0.15, 0.2, 0.3),
    "wear": (0.02, 0.02, 0.05, 0.07, 0.17, 0.4),
    "malalignment": (0.3, 0.35, 0.3, 0.1, 0.03, 0.02),
    "other": (0.4, 0.3, 0.3, 0.15, 0.12, 0.12),
}
PARTIAL_HAZARDS = {
    "progression of disease": (0.1, 1.2, 4.0, 5.6, 6.3, 8.4),
    "loosening": (1.2, 4.8, 6.2, 3.8, 2.8, 3.0),
    "pain": (0.1, 1.2, 2.8, 1.4, 0.6, 0.4),
    "infection": (4.0, 1.2, 0.8, 0.45, 0.35, 0.35),
    "bearing dislocation": (3.0, 1.2, 0.7, 0.45, 0.35, 0.35),
    "instability": (0.3, 0.6, 0.6, 0.45, 0.3, 0.3),
    "fracture": (4.0, 0.5, 0.3, 0.25, 0.25, 0.3),
    "wear": (0.02, 0.05, 0.15, 0.35, 0.7, 1.4),
    "malalignment": (0.4, 0.6, 0.5, 0.2, 0.1, 0.05),
    "other": (1.0, 0.9, 0.8, 0.5, 0.5, 0.6),
}
EVERY_REASON = tuple(dict.fromkeys((*TOTAL_HAZARDS, *PARTIAL_HAZARDS)))


def _but(*left_out: str) -> tuple[str, ...]:
    return tuple(reason for reason in EVERY_REASON if reason not in left_out)


PATIENT_EFFECTS = (
    Effect(
        "age_band",
        {"under 50": 2.2, "50-59": 1.7, "60-69": 1.15, "70-79": 0.85, "80 and over": 0.6},
        _but("infection", "fracture"),
    ),
    # Weaker for infection (the square roots), reversed for fracture.
    Effect(
        "age_band",
        {"under 50": 1.48, "50-59": 1.30, "60-69": 1.07, "70-79": 0.92, "80 and over": 0.77},
        ("infection",),
    ),
    Effect(
        "age_band", {"under 50": 0.6, "50-59": 0.75, "60-69": 0.9, "70-79": 1.15, "80 and over": 1.7}, ("fracture",)
    ),
    Effect("sex", {"male": 1.1}, _but("infection", "loosening")),
    Effect("sex", {"male": 1.7}, ("infection",)),
    Effect("asa", {"III": 1.5, "IV": 1.5}, ("infection",)),
    Effect("bmi_band", {"40 and over": 2.5}, ("infection",)),
    Effect("diagnosis", {"rheumatoid arthritis": 0.9, "other inflammatory arthritis": 0.9}, EVERY_REASON),
)

TOTAL = JointClass(
    name="total",
    code="K",
    share=Trend(0.93, 0.90),
    age=(69, 9),
    bmi=(31, 5.5),
    female=0.57,
    asa={"I": 0.08, "II": 0.63, "III": 0.28, "IV": 0.01},
    diagnoses={
        "osteoarthritis": 0.95,
        "rheumatoid arthritis": 0.02,
        "other inflammatory arthritis": 0.007,
        "post-traumatic arthritis": 0.014,
        "osteonecrosis": 0.005,
        "acute fracture": 0.001,
        "tumour": 0.0005,
        "haemophilic arthropathy": 0.0005,
        "other": 0.002,
    },
    implant_types=(
        ImplantType("fixed", "cruciate-retaining", Trend(0.605, 0.575), THREE),
        ImplantType("fixed", "posterior-stabilised", Trend(0.27, 0.25), THREE),
        ImplantType("mobile", "cruciate-retaining", Trend(0.08, 0.04), THREE),
        ImplantType("fixed", "medial-stabilised", Trend(0.02, 0.11), THREE),
        ImplantType("fixed", "condylar-constrained", Trend(0.01, 0.01), THREE),
        ImplantType("one-piece", "cruciate-retaining", Trend(0.01, 0.01), ("femoral", "tibial", "", "")),
        ImplantType("fixed", "hinged", Trend(0.005, 0.005), THREE),
    ),
    bearing_is_a_habit=False,
    constructs=(220, 0.4, 18),
    fixations={
        "cementless": Trend(0.05, 0.17),
        "hybrid": Trend(0.05, 0.05),
        "reverse hybrid": Trend(0.003, 0.003),
        "cemented": Trend(0.897, 0.777),
    },
    fixation_pull={},
    compartments={},
    patella_resurfaced=0.58,
    technologies={
        "robot-assisted": Trend(0.0, 0.28, 2014, 2024),
        "navigated": Trend(0.04, 0.13, 2002, 2012),
        "patient-specific guides": Trend(0.0, 0.03, 2009, 2015),
        "conventional": Trend(0.96, 0.56),
    },
    hazards=TOTAL_HAZARDS,
    effects=(*PATIENT_EFFECTS, Effect("technology", {"robot-assisted": 0.95}, EVERY_REASON)),
    details={
        "infection": {"infection": 1},
        "loosening": {
            "loosening, tibial": 0.56,
            "loosening, femoral": 0.18,
            "loosening, patellar": 0.05,
            "loosening, several components": 0.21,
        },
        "instability": {"instability": 1},
        "patellofemoral": {"patellofemoral, pain or maltracking": 0.7, "patellofemoral, erosion": 0.3},
        "pain": {"pain, unexplained": 1},
        "stiffness": {"stiffness": 1},
        "fracture": {"fracture, periprosthetic": 1},
        "wear": {"wear, bearing surface": 0.65, "wear, osteolysis": 0.25, "wear, component breakage": 0.1},
        "malalignment": {"malalignment": 1},
        "other": {
            "other": 0.5,
            "other, extensor failure": 0.25,
            "other, component size": 0.15,
            "other, suspected hypersensitivity": 0.1,
        },
    },
    actions={
        "infection": (
            Action("bearing exchange only", 0.45),
            Action("removal with spacer", 0.35, stage="first of two"),
            Action("all components exchanged", 0.18),
            Action("removal without replacement", 0.02),
        ),
        "loosening": (Action("all components exchanged", 0.68), Action("one component exchanged", 0.32)),
        "instability": (
            Action("bearing exchange only", 0.42),
            Action("all components exchanged", 0.42),
            Action("one component exchanged", 0.16),
        ),
        "patellofemoral": (Action("component added", 0.85), Action("one component exchanged", 0.15)),
        "pain": (
            Action("component added", 0.4),
            Action("all components exchanged", 0.4),
            Action("bearing exchange only", 0.2),
        ),
        "wear": (Action("bearing exchange only", 0.5), Action("all components exchanged", 0.5)),
        "": (
            Action("all components exchanged", 0.6),
            Action("one component exchanged", 0.25),
            Action("bearing exchange only", 0.15),
        ),
    },
    extras_used=0.78,
    extras_by_reason={"infection": 1.1, "loosening": 1.05, "fracture": 1.15, "": 0.9},
    second_reasons={
        "loosening": 0.2,
        "instability": 0.2,
        "pain": 0.2,
        "malalignment": 0.15,
        "stiffness": 0.1,
        "wear": 0.05,
        "other": 0.1,
    },
    places=KNEE_PLACES,
    sided=0.4,
)

PARTIAL = JointClass(
    name="partial",
    code="U",
    share=Trend(0.07, 0.10),
    age=(65, 9),
    bmi=(30, 5),
    female=0.47,
    asa={"I": 0.13, "II": 0.67, "III": 0.195, "IV": 0.005},
    diagnoses={"osteoarthritis": 0.98, "osteonecrosis": 0.015, "post-traumatic arthritis": 0.003, "other": 0.002},
    implant_types=(
        ImplantType("mobile", "not applicable", Trend(0.62, 0.50), THREE),
        ImplantType("fixed", "not applicable", Trend(0.38, 0.50), THREE),
    ),
    bearing_is_a_habit=True,
    constructs=(40, 0.3, 6),
    fixations={"cementless": Trend(0.10, 0.40), "cemented": Trend(0.90, 0.60)},
    fixation_pull={"cementless": 1.5},
    compartments={"mobile": {"medial": 0.97, "lateral": 0.03}, "fixed": {"medial": 0.88, "lateral": 0.12}},
    patella_resurfaced=0.0,
    technologies={
        "robot-assisted": Trend(0.0, 0.43, 2013, 2024),
        "navigated": Trend(0.02, 0.04),
        "patient-specific guides": Trend(0.0, 0.02, 2009, 2015),
        "conventional": Trend(0.98, 0.51),
    },
    hazards=PARTIAL_HAZARDS,
    effects=(
        *PATIENT_EFFECTS,
        Effect("bearing", {"mobile": 1.8, "fixed": 0.0}, ("bearing dislocation",)),
        Effect("bearing", {"mobile": 0.5, "fixed": 1.6}, ("wear",)),
        # In the long run fixed bearings do better than mobile ones.
        Effect("bearing", {"mobile": 1.12, "fixed": 0.86}, ("progression of disease", "loosening", "pain")),
        Effect("fixation", {"cementless": 0.4}, ("loosening",)),
        Effect("technology", {"robot-assisted": 0.6}, ("loosening",)),
        Effect("technology", {"robot-assisted": 1.1}, ("infection",)),
        Effect("volume_band", {"under 10": 1.5, "10-29": 1.15}, EVERY_REASON),
    ),
    details={
        "progression of disease": {"progression of disease": 1},
        "loosening": {
            "loosening, tibial": 0.55,
            "loosening, femoral": 0.27,
            "loosening, several components": 0.18,
        },
        "pain": {"pain, unexplained": 1},
        "infection": {"infection": 1},
        "bearing dislocation": {"bearing dislocation": 1},
        "instability": {"instability": 1},
        "fracture": {"fracture, tibial subsidence": 0.55, "fracture, periprosthetic": 0.45},
        "wear": {"wear, bearing surface": 0.85, "wear, component breakage": 0.1, "wear, osteolysis": 0.05},
        "malalignment": {"malalignment": 1},
        "other": {
            "other": 0.65,
            "other, component size": 0.2,
            "other, suspected hypersensitivity": 0.15,
        },
    },
    actions={
        "progression of disease": (
            Action("partial to total", 0.87, becomes="total"),
            Action("component added", 0.13),
        ),
        "loosening": (
            Action("partial to total", 0.82, becomes="total"),
            Action("one component exchanged", 0.18),
        ),
        "infection": (
            Action("bearing exchange only", 0.4),
            Action("removal with spacer", 0.3, stage="first of two", becomes="total"),
            Action("partial to total", 0.3, becomes="total"),
        ),
        "bearing dislocation": (
            Action("bearing exchange only", 0.68),
            Action("partial to total", 0.32, becomes="total"),
        ),
        "wear": (Action("bearing exchange only", 0.35), Action("partial to total", 0.65, becomes="total")),
        "": (
            Action("partial to total", 0.82, becomes="total"),
            Action("one component exchanged", 0.1),
            Action("bearing exchange only", 0.08),
        ),
    },
    extras_used=0.47,
    extras_by_reason={"progression of disease": 0.8, "loosening": 1.15, "fracture": 1.4, "infection": 1.3, "": 1.0},
    second_reasons={"loosening": 0.25, "pain": 0.3, "progression of disease": 0.25, "instability": 0.1, "other": 0.1},
    places=KNEE_PLACES,
    sided=0.4,
    conversion="partial to total",
)

# Rare: 3 to 5 % of what is not total. Hazards are ours, no published source: disease progresses beside it
# nearly as often as beside other partial devices, and maltracking and pain come early.
PATELLOFEMORAL_HAZARDS = {
    "progression of disease": (0.1, 2.0, 6.0, 8.0, 9.0, 10.0),
    "pain": (0.3, 2.5, 4.5, 2.5, 1.0, 0.6),
    "patellofemoral": (1.0, 3.0, 4.0, 2.0, 1.0, 0.8),
    "loosening": (0.3, 0.8, 1.2, 1.0, 1.0, 1.2),
    "infection": (3.0, 1.0, 0.7, 0.4, 0.3, 0.3),
    "stiffness": (0.5, 1.0, 0.6, 0.2, 0.1, 0.05),
    "other": (0.6, 0.8, 0.8, 0.5, 0.5, 0.5),
}

PATELLOFEMORAL = JointClass(
    name="patellofemoral",
    code="P",
    share=Trend(0.0025, 0.0045),
    age=(58, 10),
    bmi=(29.5, 5),
    female=0.75,
    asa={"I": 0.2, "II": 0.65, "III": 0.15},
    diagnoses={"osteoarthritis": 0.97, "post-traumatic arthritis": 0.02, "other": 0.01},
    implant_types=(ImplantType("not applicable", "not applicable", Trend(1.0, 1.0), ("femoral", "patellar", "", "")),),
    bearing_is_a_habit=False,
    constructs=(12, 0.3, 2),
    fixations={"cemented": Trend(1.0, 1.0)},
    fixation_pull={},
    compartments={},
    patella_resurfaced=1.0,
    technologies={
        "robot-assisted": Trend(0.0, 0.2, 2015, 2024),
        "conventional": Trend(1.0, 0.8),
    },
    hazards=PATELLOFEMORAL_HAZARDS,
    effects=PATIENT_EFFECTS,
    details={
        "progression of disease": {"progression of disease": 1},
        "pain": {"pain, unexplained": 1},
        "patellofemoral": {"patellofemoral, pain or maltracking": 1},
        "loosening": {"loosening, femoral": 0.6, "loosening, patellar": 0.4},
        "infection": {"infection": 1},
        "stiffness": {"stiffness": 1},
        "other": {"other": 1},
    },
    actions={
        "infection": (
            Action("removal with spacer", 0.4, stage="first of two", becomes="total"),
            Action("partial to total", 0.6, becomes="total"),
        ),
        "patellofemoral": (
            Action("one component exchanged", 0.3),
            Action("partial to total", 0.7, becomes="total"),
        ),
        "": (Action("partial to total", 0.95, becomes="total"), Action("one component exchanged", 0.05)),
    },
    extras_used=0.2,
    extras_by_reason={"": 1.0},
    second_reasons={"pain": 0.5, "progression of disease": 0.5},
    places=(Place(variants=BONE_FIXED), Place(variants=BONE_FIXED), Place(sizes=()), Place(sizes=())),
    conversion="partial to total",
)
