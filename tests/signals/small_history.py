"""Four joints whose records came late, in parts, or had to be put right; all invented."""

from datetime import date
from pathlib import Path

from regdash.intake.receive import receive
from regdash.store.freeze import freeze
from tests.intake.small_register import SmallRegister, primary, revision


def small_history(folder: Path) -> Path:
    """Make a store with a cut of 2010: a late primary, a revision and a death that came later, a side put right."""
    register = SmallRegister(folder / "in")
    register.catalogue()
    register.units()
    first = [primary(f"H001-{n}", n, "2010-01-10") for n in (1, 2, 3)]
    register.operations("2010-02-01", first, complete="2010-01-31")
    late = primary("H001-4", 4, "2010-01-15")
    # The side of the third is put right, and the weight of the second, which no screen reads.
    register.operations(
        "2010-08-01",
        [late, first[1] | {"bmi": "31.0"}, first[2] | {"side": "right"}, revision("H001-5", 1, "2010-04-20")],
        complete="2010-06-30",
    )
    register.deaths("2010-02-01", {}, complete="2010-01-31")
    register.deaths("2010-11-01", {2: "2010-03-01"}, complete="2010-09-30")
    register.operations("2010-12-01", [], complete="2010-11-30")
    receive(folder / "store", [folder / "in"])
    freeze(folder / "store", date(2010, 12, 31), known_as_of=date(2010, 12, 31))
    return folder / "store"
