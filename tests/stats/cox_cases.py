"""Joints as pattern counts, and the models that R fitted."""

from collections.abc import Callable, Sequence

import numpy as np

from regdash.stats.cox import CoxFit, cox
from regdash.stats.cox_counts import PatternCounts
from regdash.stats.design import Design, categorical, linear
from regdash.stats.events import Entries
from regdash.stats.time_split import split_at
from tests.stats.cases import Row, rows_of
from tests.stats.plain_cox import Joint


def column(rows: list[Row], name: str) -> np.ndarray:
    return np.array([float(row[name]) for row in rows])


def levels(rows: list[Row], name: str, order: Sequence[str]) -> Design:
    """A categorical term; the first of the levels is the reference, as in R."""
    return categorical(name, np.array([list(order).index(row[name]) for row in rows]), order, order[0])


def numbers(rows: list[Row], *names: str) -> Design:
    first, *others = (linear(name, column(rows, name)) for name in names)
    return first.beside(*others)


def counts_of_rows(
    day: np.ndarray,
    event: np.ndarray,
    start: np.ndarray | None = None,
    stratum: np.ndarray | None = None,
) -> PatternCounts:
    """Each row a pattern of its own."""
    every = np.arange(len(day))
    entered = None if start is None else Entries(every, start, np.ones(len(day), dtype=np.int64))
    return PatternCounts(len(day), every, day, event, stratum=stratum, entered=entered)


def counts_of_joints(joints: list[Joint]) -> tuple[PatternCounts, Design]:
    """Each joint a pattern of its own; those with start -1 have no entry."""
    late = np.array([number for number, joint in enumerate(joints) if joint.start >= 0], dtype=np.int64)
    entries = Entries(late, np.array([joints[number].start for number in late.tolist()]), np.ones(len(late)))
    names = tuple(f"x{k}" for k in range(len(joints[0].x)))
    counts = PatternCounts(
        len(joints),
        np.arange(len(joints)),
        np.array([joint.stop for joint in joints]),
        np.array([int(joint.event) for joint in joints]),
        stratum=np.array([joint.stratum for joint in joints]),
        entered=entries if len(late) else None,
    )
    return counts, Design(names, names, np.array([joint.x for joint in joints], dtype=float))


def veteran(ties: str = "efron", by_cell: bool = False) -> CoxFit:
    rows = rows_of("data_veteran")
    stratum = np.array([row["celltype"] for row in rows])
    design = levels(rows, "trt", ("1", "2"))
    if not by_cell:
        design = design.beside(levels(rows, "celltype", ("squamous", "smallcell", "adeno", "large")))
    design = design.beside(numbers(rows, "karno", "age"), levels(rows, "prior", ("0", "10")))
    strata = np.unique(stratum, return_inverse=True)[1] if by_cell else None
    counts = counts_of_rows(column(rows, "time"), column(rows, "status"), stratum=strata)
    return cox(counts, design, ties)  # type: ignore[arg-type]


def colon(ties: str = "efron") -> CoxFit:
    rows = rows_of("data_colon_death")
    design = levels(rows, "rx", ("Obs", "Lev", "Lev+5FU")).beside(
        levels(rows, "sex", ("0", "1")),
        numbers(rows, "age"),
        levels(rows, "extent", ("1", "2", "3", "4")),
        numbers(rows, "node4"),
    )
    return cox(counts_of_rows(column(rows, "time"), column(rows, "status")), design, ties)  # type: ignore[arg-type]


def flchain(ties: str = "efron", cause: str | None = None) -> CoxFit:
    rows = rows_of("data_flchain")
    event = column(rows, "death") if cause is None else np.array([row["cause"] == cause for row in rows])
    groups = tuple(str(number) for number in range(1, 11))
    design = levels(rows, "sex", ("F", "M")).beside(numbers(rows, "age"), levels(rows, "flc.grp", groups))
    return cox(counts_of_rows(column(rows, "futime"), event), design, ties)  # type: ignore[arg-type]


def flchain_in_years(ties: str) -> CoxFit:
    rows = rows_of("data_flchain")
    design = levels(rows, "sex", ("F", "M")).beside(numbers(rows, "age"))
    years = np.ceil(column(rows, "futime") / 365.25)
    return cox(counts_of_rows(years, column(rows, "death")), design, ties)  # type: ignore[arg-type]


def heart() -> CoxFit:
    rows = rows_of("data_heart")  # one follow-up ends on day 4.5: half days are whole
    counts = counts_of_rows(2 * column(rows, "stop"), column(rows, "event"), 2 * column(rows, "start"))
    return cox(counts, numbers(rows, "age", "year", "surgery", "transplant"))


def diabetic() -> CoxFit:
    rows = rows_of("data_diabetic")  # months with decimals: only their order matters
    day = np.unique(column(rows, "time"), return_inverse=True)[1]
    laser = linear("laser", np.array([row["laser"] == "argon" for row in rows]))
    design = numbers(rows, "trt").beside(laser, numbers(rows, "risk"))
    return cox(counts_of_rows(day, column(rows, "status")), design)


def mgus2(event: str) -> CoxFit:
    rows = rows_of("data_mgus2")
    having = np.array([row["event"] == event for row in rows])
    design = levels(rows, "sex", ("F", "M")).beside(numbers(rows, "age"))
    return cox(counts_of_rows(column(rows, "etime"), having), design)


def veteran_split(by_window: Callable[[list[Row]], Design], constant: Callable[[list[Row]], Design]) -> CoxFit:
    rows = rows_of("data_veteran")
    split = split_at(counts_of_rows(column(rows, "time"), column(rows, "status")), [90, 180])
    return cox(split.counts, split.constant(constant(rows)).beside(split.by_window(by_window(rows))))


MODELS: dict[str, Callable[[], CoxFit]] = {
    "veteran_efron": veteran,
    "veteran_breslow": lambda: veteran("breslow"),
    "veteran_strata_celltype_efron": lambda: veteran(by_cell=True),
    "veteran_strata_celltype_breslow": lambda: veteran("breslow", by_cell=True),
    "colon_efron": colon,
    "colon_breslow": lambda: colon("breslow"),
    "flchain_efron": flchain,
    "flchain_breslow": lambda: flchain("breslow"),
    "flchain_efron_cause1": lambda: flchain(cause="1"),
    "flchain_years_breslow": lambda: flchain_in_years("breslow"),
    "flchain_years_efron": lambda: flchain_in_years("efron"),
    "heart_startstop_efron": heart,
    "diabetic_efron": diabetic,
    "mgus2_pcm_causespecific": lambda: mgus2("1"),
    "mgus2_death_causespecific": lambda: mgus2("2"),
    "veteran_split_karno": lambda: veteran_split(
        lambda rows: numbers(rows, "karno"), lambda rows: levels(rows, "trt", ("1", "2"))
    ),
    "veteran_split_trt_nostrata": lambda: veteran_split(
        lambda rows: linear("trt=1", np.array([row["trt"] == "1" for row in rows])), lambda rows: numbers(rows, "karno")
    ),
}
