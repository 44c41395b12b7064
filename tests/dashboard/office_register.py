"""
A small office: three kinds of joints with every third knee a partial one, so that rare groups have figures; dirt and
delay as in the demo; frozen at the end of two years. Its screen states a ratio of 1, so that its signals come and go.
"""

from dataclasses import replace
from datetime import date
from pathlib import Path

from regdash.intake.receive import receive
from regdash.store.freeze import freeze
from synthetic_registry import make
from synthetic_registry.knee import KNEE
from synthetic_registry.knee_classes import PARTIAL
from synthetic_registry.parameters import Trend
from synthetic_registry.simulation import parameters_of

JOINTS, SEED = 16_000, 1
EARLIER, LATER = "2023-12-31.1", "2024-12-31.1"
SCREENING = 'version = "t"\nstated_ratio = 1\nq = 0.2\n'


def make_office(folder: Path) -> Path:
    """Make the files, take them in, freeze both cuts, and give the store."""
    classes = tuple(replace(own, share=Trend(0.3, 0.3)) if own is PARTIAL else own for own in KNEE.classes)
    parameters = (replace(KNEE, classes=classes), *parameters_of(("hip", "shoulder")))
    made, store = make(folder / "sent", JOINTS, SEED, parameters=parameters), folder / "store"
    receive(store, [made.out])
    (store / "screening.toml").write_text(SCREENING, encoding="utf-8")
    for cut in (EARLIER, LATER):
        freeze(store, date.fromisoformat(cut.partition(".")[0]))
    return store
