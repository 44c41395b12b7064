"""
The numbers that hip registers are made from: tuned so that a register's own total hips come out at about
1.8, 3.2, 5.0 and 7.5 % revised at 1, 5, 10 and 15 years. Common practice in the trade, no published source;
what is said to be ours has no source at all.
"""

from dataclasses import replace
from datetime import date

from synthetic_registry.hip_classes import HEMI, RESURFACING, TOTAL
from synthetic_registry.knee import KNEE
from synthetic_registry.parameters import (
    FormChange,
    Frailty,
    Parameters,
    PlantedImplant,
    PlantedLot,
    ReRevision,
)

HIP = Parameters(
    joint="hip",
    roles={
        "femoral stem": "S",
        "resurfacing head": "R",
        "shell": "C",
        "one-piece cup": "O",
        "hemi head": "M",
        "head": "H",
        "liner": "L",
        "dual-mobility bearing": "D",
        "cage": "G",
        "augment": "A",
        "cable or plate": "B",
        "cement": "X",
    },
    small=("cage", "augment", "cable or plate", "cement"),
    first_free=("cementless", "reverse hybrid"),
    other_free=("cementless", "hybrid"),
    bearing_places=(2, 3),
    blamed={"stem and cup": -1, "stem": 0, "femur": 0, "cup": 1, "pelvis": 1, "acetabular": 1, "dislocation": 1},
    primaries=0.42,
    start=KNEE.start,
    intervals=KNEE.intervals,
    classes=(TOTAL, HEMI, RESURFACING),
    structure=replace(
        KNEE.structure,
        class_users=0.8,
        growth=0.035,
        months=(1.0, 1.0, 1.05, 1.0, 1.03, 1.02, 0.88, 0.86, 1.04, 1.07, 1.06, 0.87),
        slump=(date(2013, 4, 1), date(2013, 9, 30), 0.65),
        both_sides=0.22,
        same_day=0.015,
        staged_gap=(2.0, 1.0),
        prior=(0.13, 4.5),
        approaches={
            "posterior": 0.52,
            "direct lateral": 0.24,
            "anterolateral": 0.10,
            "direct anterior": 0.12,
            "trochanteric": 0.01,
            "other": 0.01,
        },
    ),
    frailty=Frailty(
        hospital=0.15,
        surgeon=0.20,
        implant=0.20,
        poor_hospitals=(1, 1.8),
        poor_surgeons=(2, 2.2),
        poor_implants=(
            PlantedImplant("poor stem", 0.035, 2003, 2016, factor=2.5, best_seller="other"),
            PlantedImplant(
                "poor cup after five years", 0.035, 2002, 2013, factor=3.0, from_day=1826, best_seller="first"
            ),
            PlantedImplant("poor in one size", 0.050, 2004, 2024, factor=3.0, one_size_only=True),
            PlantedImplant("only looks poor", 0.0, 2002, 2024, only_looks_poor=True),
        ),
        poor_lot=PlantedLot(date(2011, 1, 1), date(2013, 6, 30), 4.0, cementless=True),
    ),
    death=replace(KNEE.death, first_year_by_diagnosis={"femoral-neck fracture": 4.0}),
    loss=KNEE.loss,
    re_revision=ReRevision(
        hazards=KNEE.re_revision.hazards,
        reasons={
            "total": {
                "dislocation": 0.28,
                "infection": 0.28,
                "loosening": 0.22,
                "fracture": 0.12,
                "pain": 0.03,
                "other": 0.07,
            },
            "hemi": {"infection": 0.4, "dislocation": 0.4, "fracture": 0.1, "erosion": 0.1},
            "resurfacing": {"loosening": 0.5, "metal reaction": 0.5},
        },
        most=6,
        second_stage_happens=0.88,
        stage_gap=(49, 190),
        constrained=0.0,
        second_reason=0.24,
    ),
    reporting=replace(
        KNEE.reporting,
        form_change=FormChange(date(2016, 1, 1), "malposition", "dislocation", 0.7),
    ),
    dirt=KNEE.dirt,
    era=0.985,
    extras={"augment": 0.5, "graft": 0.6, "stem": 0.0},
    shared_patients=0.12,
)
