"""
What was done on registers that were received and frozen: recounted by another library from the files themselves, and
beside what the trade knows of revisions of partial knees.
"""

from dataclasses import replace
from datetime import date
from pathlib import Path

import polars as pl
import pytest

from regdash.cohort import parse
from regdash.intake.receive import receive
from regdash.reports import done_groups
from regdash.reports.desk import Desk
from regdash.store.freeze import freeze
from synthetic_registry import make
from synthetic_registry.knee import KNEE
from synthetic_registry.knee_classes import PARTIAL
from synthetic_registry.parameters import Trend
from synthetic_registry.simulation import parameters_of
from tests.synthetic_registry.made import Files

pytestmark = pytest.mark.slow  # tests/reports/test_done.py recounts a small register
THROUGH = date(2024, 12, 31)
EXTRAS = ("stem", "augment", "graft")


@pytest.fixture(scope="module")
def clean(tmp_path_factory: pytest.TempPathFactory) -> tuple[Files, Desk]:
    """A register without dirt or delay: all that was sent counts, and every revision has its primary."""
    folder: Path = tmp_path_factory.mktemp("clean")
    made = make(folder / "files", 4_000, 7, clean=True, key=folder / "key", through=THROUGH)
    receive(folder / "store", [folder / "files"])
    freeze(folder / "store", THROUGH)
    return Files(made), Desk(folder / "store")


def begun(files: Files) -> pl.DataFrame:
    """Revisions from the files: a second stage belongs to the latest first stage within twelve months before."""
    joint = ("patient_id", "joint", "side")
    done = (
        files.operations.filter(pl.col("kind") == "revision")
        .with_columns(pl.col("operation_date").str.to_date(), *(pl.col(f"{name}_used") == "yes" for name in EXTRAS))
        .sort(*joint, "operation_date", "operation_id")
        .with_columns(pl.int_range(pl.len()).over(joint).alias("order"))
    )
    firsts = done.filter(pl.col("stage") == "first-of-two").select(
        *joint,
        pl.col("order").alias("first_order"),
        pl.col("operation_date").dt.offset_by("1y").alias("until"),
        pl.col("operation_id").alias("first_id"),
    )
    belongs = (
        done.filter(pl.col("stage") == "second-of-two")
        .join(firsts, on=joint)
        .filter((pl.col("first_order") < pl.col("order")) & (pl.col("operation_date") <= pl.col("until")))
        .sort("first_order")
        .group_by("operation_id")
        .agg(pl.col("first_id").last())
    )
    return (
        done.join(belongs, on="operation_id", how="left")
        .with_columns(pl.coalesce("first_id", "operation_id").alias("episode"))
        .group_by("episode")
        .agg(
            pl.len().alias("stages"),
            *(pl.col(f"{name}_used").any() for name in EXTRAS),
            *(pl.col(name).sort_by("order").first() for name in (*joint, "operation_date", "action", "hospital_id")),
        )
    )


def test_operations_of_each_year_are_those_of_the_files(clean: tuple[Files, Desk]) -> None:
    files, desk = clean
    year = pl.col("operation_date").str.slice(0, 4)
    primaries = files.operations.filter(pl.col("kind") == "primary").group_by("joint", year.alias("year")).len()
    revisions = begun(files).group_by("joint", pl.col("operation_date").dt.strftime("%Y").alias("year")).len()
    told = {(row.group, row.period): (row.primaries, row.revisions) for row in desk.activity(parse("")).rows}
    ours = {key: [0, 0] for key in told}
    for place, frame in enumerate((primaries, revisions)):
        for joint, in_year, number in frame.iter_rows():
            ours[joint, in_year][place] = number
    assert told == {key: tuple(counts) for key, counts in ours.items()}
    assert sum(counts[1] for counts in ours.values()) > 150


def test_what_was_done_and_used_is_that_of_the_files(clean: tuple[Files, Desk]) -> None:
    files, desk = clean
    every = begun(files)
    assert (every["stages"] > 1).sum() > 3
    for joint in ("knee", "hip", "shoulder"):
        own = every.filter(pl.col("joint") == joint)
        rows = {(row.kind, row.what): row.revisions for row in desk.revisions(parse(f"joint={joint}")).work}
        done = {("done", action.replace("-", " ")): n for action, n in own.group_by("action").len().iter_rows()}
        used = [int(own[f"{name}_used"].sum()) for name in EXTRAS]
        assert {key: n for key, n in rows.items() if key[0] == "done"} == done
        assert [n for (kind, _), n in rows.items() if kind == "used"][:3] == used


def test_revisions_by_hospital_are_those_of_the_files(clean: tuple[Files, Desk]) -> None:
    files, desk = clean
    own = begun(files).filter(pl.col("joint") == "knee")
    rows = desk.activity(parse("joint=knee"), done_groups.parse("hospital")).rows
    told = {code: sum(row.revisions or 0 for row in rows if row.group == code) for code in {row.group for row in rows}}
    assert {code: n for code, n in told.items() if n} == dict(own.group_by("hospital_id").len().iter_rows())


@pytest.fixture(scope="module")
def partials(tmp_path_factory: pytest.TempPathFactory) -> Desk:
    """Many partial knees."""
    folder: Path = tmp_path_factory.mktemp("partials")
    classes = tuple(replace(own, share=Trend(0.6, 0.6)) if own is PARTIAL else own for own in KNEE.classes)
    parameters = (replace(KNEE, classes=classes), *parameters_of(("hip", "shoulder")))
    make(folder / "files", 40_000, 9, clean=True, through=THROUGH, parameters=parameters)
    receive(folder / "store", [folder / "files"])
    freeze(folder / "store", THROUGH)
    return Desk(folder / "store")


def test_close_to_half_of_partial_to_total_revisions_need_more_than_ordinary_components(partials: Desk) -> None:
    """A stem, an augment or bone graft in 40 to 60 % (common practice in the trade, no published source)."""
    report = partials.revisions(parse("joint=knee class=partial action=partial-to-total", outcomes=True))
    used = {row.what: row for row in report.work if row.kind == "used"}
    whole = used["any of these"]
    assert whole.of is not None
    assert whole.of > 300
    assert whole.share is not None
    assert 0.4 < whole.share < 0.6
    assert max(used["a stem"].share or 0, used["an augment"].share or 0) < whole.share


def test_progression_of_disease_leads_in_partial_knees_and_loosening_is_second(partials: Desk) -> None:
    """Common practice in the trade, no published source; infection leads neither, as it does among total knees."""
    reasons = [row.reason for row in partials.revisions(parse("joint=knee class=partial")).rows]
    assert reasons[:2] == ["progression of disease", "loosening"]
    total = [row.reason for row in partials.revisions(parse("joint=knee class=total")).rows]
    assert set(total[:2]) == {"infection", "loosening"}


def test_progression_of_disease_is_a_late_reason(partials: Desk) -> None:
    """Rare in the first year and leading after it (common practice in the trade, no published source)."""
    report = partials.revisions(parse("joint=knee class=partial"), done_groups.parse("since"), first=True)
    shares = {row.group: row.share or 0 for row in report.rows if row.reason == "progression of disease"}
    assert shares["0–1 years"] < 0.15 < 0.35 < shares["1–5 years"]
