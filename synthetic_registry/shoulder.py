"""
The numbers that shoulder registers are made from: tuned so that a register's own reverse shoulders come out at
about 2.1, 4.4 and 6.2 % revised at 1, 5 and 10 years and its anatomic ones at 1.5, 5.9 and 10.4 %. Common
practice in the trade, no published source; what is said to be ours has no source at all.
"""

from dataclasses import replace
from datetime import date

from synthetic_registry.knee import KNEE
from synthetic_registry.parameters import FormChange, Frailty, Parameters, PlantedImplant, ReRevision
from synthetic_registry.shoulder_classes import ANATOMIC, HEMI, REVERSE

SHOULDER = Parameters(
    joint="shoulder",
    roles={
        "humeral stem": "S",
        "stemless body": "B",
        "resurfacing head": "R",
        "one-piece glenoid": "G",
        "glenoid tray": "T",
        "baseplate": "P",
        "humeral head": "H",
        "humeral liner": "L",
        "glenoid liner": "I",
        "glenosphere": "O",
        "augment": "A",
        "screw": "W",
        "cement": "X",
    },
    small=("screw", "augment", "cement"),
    first_free=("cementless", "reverse hybrid"),
    other_free=("cementless", "hybrid"),
    bearing_places=(2, 3),
    blamed={"glenoid and humeral": -1, "glenoid": 1, "scapula": 1, "hume": 0},
    primaries=0.06,
    start=KNEE.start,
    intervals=KNEE.intervals,
    classes=(REVERSE, ANATOMIC, HEMI),
    structure=replace(
        KNEE.structure,
        class_users=0.9,
        growth=0.09,
        slump=(date(2013, 4, 1), date(2013, 9, 30), 0.7),
        right_side=0.58,
        both_sides=0.10,
        same_day=0.002,
        staged_gap=(2.0, 1.0),
        same_class=0.8,
        prior=(0.08, 4.0),
        approaches={"deltopectoral": 0.82, "deltoid-split": 0.10, "superior": 0.07, "other": 0.01},
    ),
    frailty=Frailty(
        hospital=0.15,
        surgeon=0.20,
        implant=0.20,
        poor_hospitals=(1, 1.8),
        poor_surgeons=(1, 2.2),
        poor_implants=(PlantedImplant("poor from the start", 0.08, 2006, 2020, factor=2.5),),
    ),
    death=replace(KNEE.death, first_year_by_diagnosis={"proximal humeral fracture": 1.5}),
    loss=KNEE.loss,
    re_revision=ReRevision(
        hazards=KNEE.re_revision.hazards,
        reasons={
            "reverse": {"instability": 0.4, "infection": 0.3, "loosening": 0.2, "fracture": 0.1},
            "anatomic": {"cuff failure": 0.5, "loosening": 0.3, "infection": 0.2},
            "hemi": {"erosion": 0.5, "cuff failure": 0.3, "infection": 0.2},
        },
        most=6,
        second_stage_happens=0.85,
        stage_gap=(49, 190),
        constrained=0.0,
        second_reason=0.22,
    ),
    reporting=replace(
        KNEE.reporting,
        form_change=FormChange(date(2016, 1, 1), "cuff failure", "instability", 0.4),
    ),
    dirt=KNEE.dirt,
    era=0.985,
    extras={"augment": 0.6, "graft": 0.5, "stem": 0.0},
    shared_patients=0.12,
)
