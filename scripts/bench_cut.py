"""
A data cut made in seconds, to measure counting and statistics on: joints drawn from numbers, no register behind them.

Its tables, types and views are those of every cut. Only `follow_up` has rows: no question of the bench reads another.
Run by `bench_statistics.py` in a process of its own: python bench_cut.py STORE JOINTS [FOLDER for rows]
"""

import sys
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from bench_questions import COVARIATES, GROUPS, days_read

if TYPE_CHECKING:
    import duckdb
    import polars as pl

THROUGH = date(2024, 12, 31)
NAME = f"{THROUGH}.1"
SPAN = 20 * 365  # days over which joints are implanted
BATCH = 1_000_000  # joints that are written at once
CONSTRUCTS = 300

# Fields whose first words occur, each with its share of joints and its log ratio of the hazard of revision.
WORDS: Mapping[str, tuple[tuple[float, float], ...]] = {
    "bearing": ((0.68, 0.0), (0.24, 0.15), (0.08, -0.1)),
    "sex": ((0.57, 0.0), (0.43, 0.12)),
    "asa": ((0.12, -0.1), (0.58, 0.0), (0.27, 0.1), (0.03, 0.3)),
    "diagnosis": ((0.86, 0.0), (0.05, 0.35), (0.04, 0.1), (0.03, 0.15), (0.02, 0.25)),
    "fixation": ((0.72, 0.0), (0.17, 0.1), (0.08, 0.05), (0.03, -0.1)),
    "patella": ((0.45, -0.1), (0.55, 0.0)),
    "technology": ((0.66, 0.0), (0.2, -0.05), (0.05, 0.0), (0.09, -0.1)),
}
BY_AGE = (0.75, 0.4, 0.0, -0.4, -0.8)  # log ratios, by the default bands
YEARS_TO_DEATH = (60.0, 45.0, 28.0, 15.0, 7.0)  # mean, by the same bands
REASONS = {
    "infection": 0.25,
    "fracture, periprosthetic": 0.05,
    "wear, bearing surface": 0.08,
    "loosening, tibial": 0.26,
    "progression of disease": 0.06,
    "instability": 0.16,
    "patellofemoral, pain or maltracking": 0.05,
    "pain, unexplained": 0.09,
}
IN_PLACE, DIED, REVISED = 0, 1, 2  # outcomes: reasons follow from REVISED on


@dataclass(frozen=True, eq=False)
class Drawn:
    """Joints as numbers, sorted as cuts are: one int32 array a field."""

    codes: dict[str, np.ndarray]  # by field: place of the value in its list; `age` in years, `implanted` in days
    days: np.ndarray  # of follow-up
    outcome: np.ndarray  # IN_PLACE, DIED, or REVISED + the place of the reason in REASONS
    followed_days: np.ndarray  # to death or the end, revised or not
    followed_died: np.ndarray  # bool

    def __len__(self) -> int:
        return len(self.days)

    @property
    def revised(self) -> np.ndarray:
        """Whether each joint is revised."""
        return self.outcome >= REVISED


def draw(joints: int, seed: int = 1) -> Drawn:
    """Draw joints whose hazards depend on every field, so that there are ratios to estimate."""
    from regdash.fields import FIELDS

    random = np.random.default_rng(seed)
    codes = {field: _drawn(random, [share for share, _ in given], joints) for field, given in WORDS.items()}
    codes["construct"] = _drawn(random, np.arange(1, CONSTRUCTS + 1) ** -0.8, joints)
    codes["age"] = np.clip(random.normal(69, 9.5, joints), 35, 96).astype(np.int32)
    codes["implanted"] = np.sort(random.integers(0, SPAN, joints, dtype=np.int32))
    band = np.searchsorted(FIELDS["age"].bands, codes["age"], side="right")
    log_ratio = np.array(BY_AGE)[band] + random.normal(0, 0.25, CONSTRUCTS)[codes["construct"]]
    for field, given in WORDS.items():
        log_ratio += np.array([ratio for _, ratio in given])[codes[field]]
    # Many early, then fewer: a Weibull hazard that falls.
    to_revision = 365.25 * (random.exponential(size=joints) / (0.0075 * np.exp(log_ratio))) ** (1 / 0.8)
    to_death = (random.exponential(size=joints) * 365.25 * np.array(YEARS_TO_DEATH)[band]).astype(np.int32)
    to_end = SPAN - codes["implanted"]
    followed = np.minimum(to_death, to_end).astype(np.int32)
    revised = to_revision < followed + 1
    reason = _drawn(random, list(REASONS.values()), joints)
    died = to_death <= to_end
    return Drawn(
        codes=codes,
        days=np.where(revised, np.minimum(to_revision, followed), followed).astype(np.int32),
        outcome=np.where(revised, REVISED + reason, np.where(died, DIED, IN_PLACE)).astype(np.int32),
        followed_days=followed,
        followed_died=died,
    )


def _drawn(random: np.random.Generator, shares: "np.ndarray | list[float]", size: int) -> np.ndarray:
    """Draw places by their shares."""
    edges = np.cumsum(shares) / np.sum(shares)
    return np.searchsorted(edges[:-1], random.random(size), side="right").astype(np.int32)


def write_cut(store: Path, drawn: Drawn) -> None:
    """Write joints as the one cut of a store folder."""
    import duckdb

    from regdash.store.cuts import cut_path
    from regdash.store.freeze import create_view
    from regdash.store.sqlfiles import statement, views_in_order

    path = cut_path(store, NAME)
    path.parent.mkdir(parents=True, exist_ok=True)
    with duckdb.connect(str(path)) as connection:
        connection.execute("begin")
        for name, words in _types().items():
            connection.execute(f"create type {name} as enum ({', '.join(map(_quoted, words))})")
        connection.execute(statement("schema/cut"))
        connection.execute(statement("schema/copies"))
        for first in range(0, len(drawn), BATCH):
            _insert(connection, _frame(drawn, slice(first, min(first + BATCH, len(drawn)))))
        for view in views_in_order():
            create_view(connection, view)
        connection.execute("commit")
        connection.execute("checkpoint")
    _write_manifest(store, drawn)


def write_rows(folder: Path, drawn: Drawn) -> None:
    """Write joints as plain numbers, a file a field, for programs that start from rows; ages in default bands."""
    from regdash.fields import FIELDS

    folder.mkdir(parents=True, exist_ok=True)
    columns = drawn.codes | {"days": drawn.days, "outcome": drawn.outcome}
    columns["age"] = np.searchsorted(FIELDS["age"].bands, drawn.codes["age"], side="right")
    for name, values in columns.items():
        values.astype("<i4").tofile(folder / f"{name}.i4")
    # Levels are compared with the one that has the most revisions, and groups with the first, as the program does.
    most = {name: int(np.argmax(np.bincount(columns[name], drawn.revised))) for name in COVARIATES} | {GROUPS: 0}
    (folder / "references").write_text("".join(f"{name}\t{level}\n" for name, level in most.items()), encoding="utf-8")
    (folder / "days_read").write_text(" ".join(map(str, days_read())), encoding="utf-8")


def _insert(connection: "duckdb.DuckDBPyConnection", batch: "_Frame") -> None:
    connection.execute("insert into follow_up by name select * from batch")


class _Frame:
    """A frame that the database reads without another package between them."""

    def __init__(self, frame: "pl.DataFrame") -> None:
        self.frame = frame

    def __arrow_c_stream__(self, requested_schema: object = None) -> object:
        return self.frame.__arrow_c_stream__(requested_schema)


def _quoted(word: str) -> str:
    from regdash.store.words import quoted

    return quoted(word)


def _types() -> dict[str, tuple[str, ...]]:
    """The types of a cut, with the codes that these joints have."""
    from regdash.store.words import WORDS as LISTS
    from regdash.vocabulary import NOT_RECORDED

    codes = {
        "hospital_codes": ("H001",),
        "region_codes": ("R1",),
        "surgeon_codes": ("S0001",),
        "construct_codes": constructs(),
        "implant_codes": ("KF-001",),
        "maker_codes": ("M01",),
    }
    lists = {f"{name}_words": words for name, words in LISTS.items()}
    return lists | {name: (*found, NOT_RECORDED) for name, found in codes.items()}


def constructs() -> tuple[str, ...]:
    """The codes of the constructs, in the order of their numbers."""
    return tuple(f"KF-{n:03d}/KT-{n:03d}" for n in range(1, CONSTRUCTS + 1))


def _frame(drawn: Drawn, rows: slice) -> _Frame:
    """These rows as the columns of `follow_up`; what is left out is null."""
    import polars as pl

    from regdash.store.words import WORDS as LISTS

    start = (THROUGH - date(1970, 1, 1)).days - SPAN + drawn.codes["implanted"][rows]
    implanted = pl.Series(start.astype(np.int32)).cast(pl.Date)
    columns = {
        "age": pl.Series(drawn.codes["age"][rows].astype(np.uint8)),
        "construct": _words(drawn.codes["construct"][rows], constructs()),
        "implanted_date": implanted,
        "implanted_year": implanted.dt.year().cast(pl.Int16),
    }
    columns |= {field: _words(drawn.codes[field][rows], LISTS[field]) for field in WORDS}
    alike = {"joint": "knee", "side": "left", "class": "total", "compartment": "not applicable"}
    alike |= {"bearing_couple": "not applicable", "humeral_design": "not applicable"}
    alike |= {"constraint_design": "cruciate-retaining", "approach": "medial parapatellar", "prophylaxis": "aspirin"}
    alike |= {"hospital_id": "H001", "region": "R1", "surgeon_id": "S0001"}
    fixed = [pl.lit(value).alias(column) for column, value in alike.items()]
    frame = pl.DataFrame(columns).with_columns(*fixed, pl.lit(3, dtype=pl.UInt16).alias("primary_roles"))
    return _Frame(frame.with_columns(_numbered(rows)).with_columns(_followed(drawn, rows)))


def _numbered(rows: slice) -> "pl.DataFrame":
    """Who and which operation: one joint a patient."""
    import polars as pl

    number = pl.Series("joint_no", np.arange(rows.start, rows.stop, dtype=np.int32))
    text = pl.col("joint_no").cast(pl.String).str.zfill(9)
    return pl.select(number).with_columns(
        pl.col("joint_no").alias("patient_no"),
        ("P" + text).alias("patient_id"),
        ("P" + text + "-KL").alias("joint_id"),
        ("H001-" + text).alias("operation_id"),
    )


def _followed(drawn: Drawn, rows: slice) -> "pl.DataFrame":
    """How long each joint was followed, and what ended that."""
    import polars as pl

    from regdash.store.words import WORDS as LISTS
    from regdash.vocabulary import REASONS as KNOWN

    groups = {reason.detail: reason.group for reason in KNOWN["knee"]}
    outcome, died = drawn.outcome[rows], drawn.followed_died[rows]
    ended = np.where(outcome >= REVISED, 0, np.where(outcome == DIED, 1, 3))  # as vocabulary.ENDINGS
    reason = np.maximum(outcome - REVISED, 0)
    revised, followed = pl.Series(outcome >= REVISED), pl.Series(drawn.followed_days[rows])
    return pl.select(
        days=pl.Series(drawn.days[rows]),
        ended=_words(ended, LISTS["ended"]),
        followed_days=followed,
        followed_end=_words(np.where(died, 1, 3), LISTS["ended"]),
        died_day=pl.when(pl.Series(died)).then(followed),
        reason=pl.when(revised).then(_words(reason, tuple(REASONS))),
        reason_group=pl.when(revised).then(_words(reason, tuple(groups[detail] for detail in REASONS))),
    )


def _words(places: np.ndarray, listed: tuple[str, ...]) -> "pl.Series":
    """Say places in a list as its words."""
    import polars as pl

    return pl.Series(places.astype(np.uint32)).cat.to(pl.Enum(listed))


def _write_manifest(store: Path, drawn: Drawn) -> None:
    from regdash.store.cuts import LAYOUT, Manifest, cut_path

    manifest = Manifest(
        cut=NAME,
        through_date=THROUGH.isoformat(),
        known_as_of=THROUGH.isoformat(),
        complete_through={"operations": {}, "deaths": THROUGH.isoformat()},
        joints=len(drawn),
        patients=len(drawn),
        revisions=int(drawn.revised.sum()),
        rows={"follow_up": len(drawn)},
        rule_set="none",
        catalogue="none",
        code_lists="none",
        software="bench",
        content_hash="bench",
        layout=LAYOUT,
    )
    cut_path(store, NAME).with_suffix(".json").write_text(manifest.to_json(), encoding="utf-8")


def main() -> None:
    """Make a cut for `bench_statistics.py`, and the same joints as rows where a folder for them is named."""
    drawn = draw(int(sys.argv[2]))
    write_cut(Path(sys.argv[1]), drawn)
    if len(sys.argv) > 3:
        write_rows(Path(sys.argv[3]), drawn)


if __name__ == "__main__":
    main()
