"""
The classes of hip replacement, total, hemi and resurfacing: who gets them, how they fail and what is done then.
"""

from synthetic_registry.parameters import (
    BONE_FIXED,
    CEMENTLESS,
    Action,
    Effect,
    ImplantType,
    JointClass,
    Place,
    Trend,
    Variant,
)

# Events per 1,000 joint-years in the intervals 0-1/4, 1/4-1, 1-2, 2-5, 5-10 and 10+ years. "All other" of the
# trade's table is shared out between malposition, pain, breakage and other (ours).
TOTAL_HAZARDS = {
    "infection": (11, 2.4, 1, 0.5, 0.4, 0.4),
    "dislocation": (12, 3, 1.2, 0.6, 0.5, 0.6),
    "fracture": (13, 1.2, 0.5, 0.5, 0.7, 1.1),
    "loosening": (2, 2, 1.4, 0.9, 1.1, 1.7),
    "wear": (0.05, 0.05, 0.05, 0.1, 0.35, 0.9),
    "metal reaction": (0, 0.02, 0.05, 0.15, 0.25, 0.3),
    "malposition": (1.2, 0.35, 0.2, 0.08, 0.05, 0.05),
    "pain": (0.1, 0.3, 0.3, 0.2, 0.12, 0.1),
    "breakage": (0.15, 0.05, 0.05, 0.07, 0.1, 0.15),
    "other": (0.8, 0.3, 0.25, 0.15, 0.13, 0.15),
}
# Ours, no published source: old and frail patients, few of whom live to see a late failure.
HEMI_HAZARDS = {
    "infection": (22, 3, 1, 0.5, 0.4, 0.4),
    "dislocation": (22, 2.5, 0.8, 0.4, 0.3, 0.3),
    "fracture": (12, 3, 2, 1.5, 1.5, 1.5),
    "loosening": (1, 1.5, 1.5, 1.2, 1.2, 1.5),
    "erosion": (0.5, 3, 4, 3, 2, 2),
    "pain": (0.5, 1.5, 1.5, 0.7, 0.3, 0.2),
    "other": (2, 0.8, 0.5, 0.4, 0.3, 0.3),
}
# Ours, no published source: neck fractures early, metal reaction late.
RESURFACING_HAZARDS = {
    "fracture": (18, 3, 1, 0.5, 0.3, 0.3),
    "loosening": (1.5, 3, 3, 2, 1.8, 2),
    "metal reaction": (0.1, 1, 2, 3.5, 4.5, 3.5),
    "infection": (3, 1.2, 0.6, 0.3, 0.2, 0.2),
    "dislocation": (0.5, 0.2, 0.1, 0.1, 0.1, 0.1),
    "pain": (0.3, 1.5, 1.8, 1.2, 0.7, 0.4),
    "malposition": (0.6, 0.4, 0.3, 0.1, 0.05, 0.05),
    "other": (0.5, 0.5, 0.4, 0.3, 0.3, 0.3),
}
EVERY_REASON = tuple(dict.fromkeys((*TOTAL_HAZARDS, *HEMI_HAZARDS, *RESURFACING_HAZARDS)))


def _but(*left_out: str) -> tuple[str, ...]:
    return tuple(reason for reason in EVERY_REASON if reason not in left_out)


AGE_BANDS = ("under 50", "50-59", "60-69", "70-79", "80 and over")
PATIENT_EFFECTS = (
    Effect("age_band", dict(zip(AGE_BANDS, (1.7, 1.4, 1.1, 0.9, 0.75))), _but("infection", "fracture", "dislocation")),
    Effect("age_band", dict(zip(AGE_BANDS, (1.2, 1.1, 1.0, 0.95, 0.95))), ("infection", "dislocation")),
    Effect("age_band", dict(zip(AGE_BANDS, (0.5, 0.7, 0.85, 1.15, 1.9))), ("fracture",)),
    Effect("sex", {"male": 1.1}, _but("infection", "loosening", "fracture")),
    Effect("sex", {"male": 1.6}, ("infection",)),
    Effect("asa", {"III": 1.5, "IV": 1.5}, ("infection", "dislocation")),
    Effect("bmi_band", {"40 and over": 2.5}, ("infection",)),
    Effect("diagnosis", {"femoral-neck fracture": 1.6, "developmental dysplasia": 1.3}, ("dislocation", "fracture")),
)
# What slides on what, and how large the head is: ours, no published source.
COUPLE_EFFECTS = (
    Effect("couple", {"metal on metal": 12.0}, ("metal reaction",)),
    Effect(
        "couple",
        {f"{head} on standard polyethylene": 3.0 for head in ("metal", "ceramic", "ceramicised metal")},
        ("wear",),
    ),
    Effect("head", {"28": 1.5, "32": 1.0, "36": 0.8, "40": 0.75}, ("dislocation",)),
    Effect("bearing", {"dual mobility": 0.35, "constrained": 0.8}, ("dislocation",)),
    Effect("fixation", {"cementless": 1.25, "hybrid": 0.9, "cemented": 0.7, "reverse hybrid": 0.8}, ("fracture",)),
    Effect("approach", {"posterior": 1.2}, ("dislocation",)),
)

HEADS = (Variant("M", material="metal"), Variant("K", material="ceramic"), Variant("Z", material="ceramicised metal"))
LINERS = (
    Variant("P", material="standard polyethylene"),
    Variant("Q", material="highly cross-linked polyethylene"),
    Variant("V", material="antioxidant polyethylene"),
    Variant("K", material="ceramic"),
    Variant("M", material="metal"),
)
HEAD_SIZES = ("28", "32", "36", "40")
OUTER = tuple(str(size) for size in range(46, 62, 2))
# A one-piece cup is cemented and slides itself; a shell is neither.
CUPS = (
    Variant("C", "cemented", "highly cross-linked polyethylene"),
    CEMENTLESS,
    Variant("P", "cemented", "standard polyethylene"),
)
CEMENTLESS_CUP = {"cementless": Trend(0.62, 0.66), "hybrid": Trend(0.38, 0.34)}
CEMENTED_CUP = {"reverse hybrid": Trend(0.06, 0.12), "cemented": Trend(0.94, 0.88)}

TOTAL = JointClass(
    name="total",
    code="H",
    share=Trend(0.85, 0.865),
    age=(68, 11),
    bmi=(28.5, 5),
    female=0.56,
    asa={"I": 0.13, "II": 0.58, "III": 0.28, "IV": 0.01},
    diagnoses={
        "osteoarthritis": 0.88,
        "femoral-neck fracture": 0.06,
        "osteonecrosis": 0.03,
        "developmental dysplasia": 0.015,
        "rheumatoid arthritis": 0.006,
        "post-traumatic arthritis": 0.003,
        "childhood hip disease": 0.003,
        "failed fracture fixation": 0.002,
        "other": 0.001,
    },
    implant_types=(
        ImplantType(
            "standard",
            "not applicable",
            Trend(0.75, 0.72),
            ("femoral stem", "shell", "liner", "head"),
            CEMENTLESS_CUP,
        ),
        ImplantType(
            "standard",
            "not applicable",
            Trend(0.24, 0.18),
            ("femoral stem", "one-piece cup", "", "head"),
            CEMENTED_CUP,
            ("28", "32"),
        ),
        ImplantType(
            "dual mobility",
            "not applicable",
            Trend(0.005, 0.09, 2005, 2024),
            ("femoral stem", "shell", "dual-mobility bearing", "head"),
            CEMENTLESS_CUP,
            ("28",),
        ),
        ImplantType(
            "constrained",
            "not applicable",
            Trend(0.005, 0.005),
            ("femoral stem", "shell", "liner", "head"),
            CEMENTLESS_CUP,
            ("28", "32"),
        ),
    ),
    bearing_is_a_habit=False,
    constructs=(1300, 0.5, 26),
    fixations={},
    fixation_pull={},
    compartments={},
    patella_resurfaced=0.0,
    technologies={
        "robot-assisted": Trend(0.0, 0.06, 2014, 2024),
        "navigated": Trend(0.01, 0.03),
        "conventional": Trend(0.99, 0.91),
    },
    hazards=TOTAL_HAZARDS,
    effects=(*PATIENT_EFFECTS, *COUPLE_EFFECTS),
    details={
        "infection": {"infection": 1},
        "dislocation": {"dislocation": 1},
        "fracture": {"fracture, periprosthetic femur": 0.93, "fracture, periprosthetic pelvis": 0.07},
        "loosening": {"loosening, stem": 0.45, "loosening, cup": 0.42, "loosening, stem and cup": 0.13},
        "wear": {"wear, bearing surface": 0.6, "wear, osteolysis": 0.4},
        "metal reaction": {"metal reaction, to debris": 0.75, "metal reaction, head-neck corrosion": 0.25},
        "malposition": {"malposition": 0.8, "malposition, leg-length difference": 0.2},
        "pain": {"pain, unexplained": 1},
        "breakage": {"breakage, stem": 0.4, "breakage, head": 0.25, "breakage, liner": 0.35},
        "other": {"other": 0.7, "other, soft-tissue impingement": 0.3},
    },
    actions={
        "infection": (
            Action("bearing exchange only", 0.5),
            Action("removal with spacer", 0.28, stage="first of two"),
            Action("all components exchanged", 0.2),
            Action("removal without replacement", 0.02),
        ),
        "dislocation": (
            Action("bearing exchange only", 0.4),
            Action("one component exchanged", 0.45),
            Action("all components exchanged", 0.15),
        ),
        "fracture": (Action("one component exchanged", 0.75), Action("all components exchanged", 0.25)),
        "loosening": (Action("one component exchanged", 0.75), Action("all components exchanged", 0.25)),
        "wear": (
            Action("bearing exchange only", 0.6),
            Action("one component exchanged", 0.3),
            Action("all components exchanged", 0.1),
        ),
        "": (
            Action("one component exchanged", 0.5),
            Action("all components exchanged", 0.25),
            Action("bearing exchange only", 0.25),
        ),
    },
    extras_used=0.45,
    extras_by_reason={"loosening": 1.3, "infection": 0.8, "": 1.0},
    second_reasons={"loosening": 0.3, "wear": 0.2, "pain": 0.2, "malposition": 0.1, "dislocation": 0.1, "other": 0.1},
    places=(
        Place(variants=BONE_FIXED),
        Place(sizes=OUTER, variants=CUPS),
        Place(sizes=HEAD_SIZES, variants=LINERS),
        Place(sizes=HEAD_SIZES, variants=HEADS),
    ),
    pairs_across=True,
    head_sizes={
        "28": Trend(0.75, 0.08),
        "32": Trend(0.20, 0.46),
        "36": Trend(0.04, 0.43),
        "40": Trend(0.01, 0.03),
    },
    couples={
        "metal on highly cross-linked polyethylene": Trend(0.34, 0.24),
        "ceramic on highly cross-linked polyethylene": Trend(0.08, 0.42),
        "metal on standard polyethylene": Trend(0.36, 0.04),
        "ceramic on standard polyethylene": Trend(0.08, 0.03),
        "ceramic on antioxidant polyethylene": Trend(0.0, 0.14, 2010, 2024),
        "ceramicised metal on highly cross-linked polyethylene": Trend(0.01, 0.05),
        "ceramic on ceramic": Trend(0.08, 0.06),
        "metal on metal": Trend(0.05, 0.0, 2006, 2013),
    },
)

HEMI = JointClass(
    name="hemi",
    code="E",
    share=Trend(0.13, 0.13),
    age=(82, 7),
    bmi=(24.5, 4),
    female=0.70,
    asa={"I": 0.02, "II": 0.25, "III": 0.6, "IV": 0.13},
    diagnoses={"femoral-neck fracture": 0.96, "tumour": 0.01, "failed fracture fixation": 0.02, "other": 0.01},
    implant_types=(
        ImplantType("not applicable", "not applicable", Trend(1.0, 1.0), ("femoral stem", "hemi head", "", "")),
    ),
    bearing_is_a_habit=False,
    constructs=(120, 0.4, 6),
    fixations={"cementless": Trend(0.30, 0.20), "cemented": Trend(0.70, 0.80)},
    fixation_pull={},
    compartments={},
    patella_resurfaced=0.0,
    technologies={"conventional": Trend(1.0, 1.0)},
    hazards=HEMI_HAZARDS,
    effects=PATIENT_EFFECTS,
    details={
        "infection": {"infection": 1},
        "dislocation": {"dislocation": 1},
        "fracture": {"fracture, periprosthetic femur": 1},
        "loosening": {"loosening, stem": 1},
        "erosion": {"erosion, acetabular": 1},
        "pain": {"pain, unexplained": 1},
        "other": {"other": 1},
    },
    actions={
        "infection": (
            Action("all components exchanged", 0.45),
            Action("removal with spacer", 0.35, stage="first of two", becomes="total"),
            Action("removal without replacement", 0.2),
        ),
        "erosion": (Action("hemi to total", 1.0, becomes="total"),),
        "": (Action("hemi to total", 0.6, becomes="total"), Action("all components exchanged", 0.4)),
    },
    extras_used=0.15,
    extras_by_reason={"": 1.0},
    second_reasons={"pain": 0.6, "loosening": 0.4},
    places=(
        Place(variants=BONE_FIXED),
        Place(sizes=tuple(str(size) for size in range(42, 58, 2)), variants=(Variant("A", material="metal"),)),
        Place(sizes=()),
        Place(sizes=()),
    ),
    conversion="hemi to total",
)

RESURFACING = JointClass(
    name="resurfacing",
    code="Z",
    share=Trend(0.02, 0.005),
    age=(54, 8),
    bmi=(27.5, 4),
    female=0.28,
    asa={"I": 0.45, "II": 0.5, "III": 0.05},
    diagnoses={"osteoarthritis": 0.94, "developmental dysplasia": 0.03, "osteonecrosis": 0.02, "other": 0.01},
    implant_types=(
        ImplantType("standard", "not applicable", Trend(1.0, 1.0), ("resurfacing head", "one-piece cup", "", "")),
    ),
    bearing_is_a_habit=False,
    constructs=(14, 0.3, 3),
    fixations={"cementless": Trend(0.05, 0.10), "hybrid": Trend(0.95, 0.90)},
    fixation_pull={},
    compartments={},
    patella_resurfaced=0.0,
    technologies={"conventional": Trend(1.0, 1.0)},
    hazards=RESURFACING_HAZARDS,
    effects=PATIENT_EFFECTS,
    details={
        "fracture": {"fracture, periprosthetic femur": 1},
        "loosening": {"loosening, stem": 0.5, "loosening, cup": 0.5},
        "metal reaction": {"metal reaction, to debris": 1},
        "infection": {"infection": 1},
        "dislocation": {"dislocation": 1},
        "pain": {"pain, unexplained": 1},
        "malposition": {"malposition": 1},
        "other": {"other": 1},
    },
    actions={
        "infection": (
            Action("removal with spacer", 0.5, stage="first of two", becomes="total"),
            Action("all components exchanged", 0.5, becomes="total"),
        ),
        "": (Action("all components exchanged", 1.0, becomes="total"),),
    },
    extras_used=0.1,
    extras_by_reason={"": 1.0},
    second_reasons={"pain": 0.6, "metal reaction": 0.4},
    places=(
        Place(
            sizes=tuple(str(size) for size in range(40, 56, 2)),
            variants=(Variant("C", "cemented", "metal"), Variant("U", "cementless", "metal")),
        ),
        Place(sizes=OUTER, variants=(Variant("C", "cemented", "metal"), Variant("U", "cementless", "metal"))),
        Place(sizes=()),
        Place(sizes=()),
    ),
    conversion="all components exchanged",
    couples={"metal on metal": Trend(1.0, 1.0)},
)
