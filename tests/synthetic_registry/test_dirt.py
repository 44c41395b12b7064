"""
Dirt on purpose: each kind at its rate, in the files exactly where the key says, and nowhere else.
Rates are facts of the trade: common practice, from memory, no published source.
"""

import datetime

import numpy as np
import polars as pl
import pytest

from synthetic_registry.faults import KINDS
from synthetic_registry.knee import KNEE
from tests.synthetic_registry.made import Files

DIRT = KNEE.dirt


def near(count: int, of: int, rate: float, overdispersion: float = 1.0) -> bool:
    """Whether a count is within 4 standard deviations of its rate."""
    expected = of * rate
    return abs(count - expected) < 4 * np.sqrt(expected * overdispersion) + 1


def rows(frame: pl.DataFrame, *columns: str) -> set[tuple]:
    return set(frame.select(*columns).rows())


@pytest.fixture(scope="module")
def counts(dirty: Files) -> dict[str, int]:
    """How many operations, revisions and implanted components there are, copies left out."""
    once = dirty.operations.unique("operation_id")
    implanted = dirty.components.filter(pl.col("action") == "implanted")
    return {
        "operations": len(once),
        "revisions": (once["kind"] == "revision").sum() + len(dirty.fault("revision-as-primary")),
        "components": len(implanted),
    }


@pytest.mark.parametrize(
    ("kind", "of", "rate"),
    [
        ("wrong-side", "operations", DIRT.wrong_side),
        ("sent-again", "operations", DIRT.sent_again),
        ("second-id", "operations", DIRT.second_id),
        ("impossible-date", "operations", DIRT.impossible_date),
        ("after-death", "operations", DIRT.after_death),
        ("corrected-later", "operations", DIRT.corrected),
        ("revision-as-primary", "revisions", DIRT.revision_as_primary),
        ("false-link", "revisions", DIRT.false_link),
        ("unknown-catalogue-no", "components", DIRT.unknown_catalogue_no),
    ],
)
def test_each_kind_occurs_at_about_its_rate(
    dirty: Files, counts: dict[str, int], kind: str, of: str, rate: float
) -> None:
    assert near(len(dirty.fault(kind)), counts[of], rate), (len(dirty.fault(kind)), counts[of] * rate)


def test_every_kind_of_fault_occurs(filthy: Files, odd: Files) -> None:
    assert set(filthy.faults["fault"]) | set(odd.faults["fault"]) == set(KINDS)


def test_the_rates_are_those_of_the_trade() -> None:
    assert (DIRT.wrong_side, DIRT.revision_as_primary, DIRT.impossible_date) == (0.004, 0.005, 0.001)
    assert DIRT.sent_again + DIRT.second_id == pytest.approx(0.007)
    assert (DIRT.unknown_catalogue_no, DIRT.after_death, DIRT.missing_mark) == (0.01, 0.0002, 0.06)
    assert 0.01 <= DIRT.missed_link <= 0.03
    assert 0.001 <= DIRT.false_link <= 0.003
    assert 0.01 <= DIRT.corrected <= 0.02
    assert (DIRT.missing["bmi"].start, DIRT.missing["bmi"].end) == (0.30, 0.08)


def test_missed_links_are_many_in_one_hospital(dirty: Files, counts: dict[str, int]) -> None:
    missed = dirty.fault("missed-link")
    worst = dirty.planted["hospital_that_misses_links"]
    elsewhere = missed.filter(~pl.col("operation_id").str.starts_with(worst))
    assert near(len(elsewhere), counts["revisions"], DIRT.missed_link)
    assert DIRT.missed_link_worst == 0.10


@pytest.mark.parametrize("column", [*DIRT.missing])
def test_empty_cells_are_those_of_the_key(dirty: Files, column: str) -> None:
    """Every empty cell has its fault, and every fault its empty cell."""
    empty = dirty.operations.filter(pl.col(column).is_null())
    if column == "bearing":
        # A joint that a revision leaves without implants has no class and no bearing.
        empty = empty.filter(pl.col("class").is_not_null() | (pl.col("kind") == "primary"))
    key = dirty.fault("missing").filter((pl.col("field") == column) & (pl.col("table") == "operations"))
    assert rows(empty, "submission", "operation_id") == rows(key, "submission", "operation_id")
    assert len(key) == len(empty)


def test_cells_are_left_empty_at_about_their_rates(dirty: Files) -> None:
    early = dirty.operations.filter(pl.col("operation_date") < "2005")
    late = dirty.operations.filter(pl.col("operation_date").str.slice(0, 4).is_between(pl.lit("2022"), pl.lit("2024")))
    assert early["bmi"].is_null().mean() == pytest.approx(0.28, abs=0.1)
    assert late["bmi"].is_null().mean() == pytest.approx(0.09, abs=0.04)
    for column, rate in (("approach", 0.04), ("prophylaxis", 0.06), ("bearing", 0.01), ("surgeon_id", 0.005)):
        asked = dirty.operations.filter(pl.col("class").is_not_null())
        assert asked[column].is_null().mean() == pytest.approx(rate, rel=0.4), column


def test_missing_cells_come_in_clusters(dirty: Files) -> None:
    """Between hospitals the share differs much more than chance allows (chi-squared over its degrees of freedom)."""
    cells = dirty.operations.group_by("hospital_id").agg(n=pl.len(), empty=pl.col("approach").is_null().sum())
    rate = cells["empty"].sum() / cells["n"].sum()
    expected = cells["n"] * rate
    chi = ((cells["empty"] - expected) ** 2 / (expected * (1 - rate))).sum()
    assert chi / (len(cells) - 1) > 4


def test_missing_lots_and_marks_are_those_of_the_key(dirty: Files) -> None:
    lots = dirty.components.filter((pl.col("action") == "implanted") & pl.col("lot").is_null())
    key = dirty.fault("missing").filter(pl.col("field") == "lot")
    assert rows(lots, "submission", "operation_id", "line_no") == rows(key, "submission", "operation_id", "line_no")
    assert len(lots) / dirty.components.filter(pl.col("action") == "implanted").height == pytest.approx(0.04, rel=0.4)
    marks = dirty.reasons.filter(pl.col("leads").is_null())
    assert rows(marks, "submission", "operation_id") == rows(
        dirty.fault("no-leading-reason"), "submission", "operation_id"
    )
    two = dirty.fault("two-leading")["operation_id"].implode()
    marked = dirty.reasons.filter(pl.col("leads").is_not_null() & ~pl.col("operation_id").is_in(two))
    marked = marked.group_by("submission", "operation_id")
    assert (marked.agg((pl.col("leads") == "yes").sum())["leads"] == 1).all()


def test_unknown_catalogue_numbers_are_those_of_the_key(dirty: Files) -> None:
    known = dirty.catalogue["catalogue_no"].unique()
    unknown = dirty.components.filter(~pl.col("catalogue_no").is_in(known.implode()))
    key = dirty.fault("unknown-catalogue-no")
    names = ("submission", "operation_id", "line_no")
    assert rows(unknown, *names) == rows(key, *names)


def test_impossible_dates_are_those_of_the_key(filthy: Files) -> None:
    sent = filthy.operations.join(filthy.sent, on="submission")
    day = pl.col("operation_date").str.to_date(strict=False)
    bad = sent.filter(day.is_null() | (day > pl.col("received").str.to_date()))
    assert rows(bad, "submission", "operation_id") == rows(
        filthy.fault("impossible-date"), "submission", "operation_id"
    )
    assert 0 < day_count(bad) < len(bad)


def day_count(frame: pl.DataFrame) -> int:
    """How many dates a calendar has."""
    return int(frame["operation_date"].str.to_date(strict=False).is_not_null().sum())


def test_the_same_rows_again_are_the_same_rows(filthy: Files) -> None:
    twice = filthy.operations.filter(pl.col("operation_id").is_duplicated()).sort("operation_id", "submission")
    again = filthy.fault("sent-again")
    corrected = filthy.fault("corrected-later")
    assert set(twice["operation_id"]) == set(again["operation_id"]) | set(corrected["operation_id"])
    same = twice.filter(pl.col("operation_id").is_in(again["operation_id"].implode())).drop("submission")
    assert same.unique().height == len(again)
    submissions = twice.filter(pl.col("operation_id").is_in(again["operation_id"].implode()))
    last = submissions.group_by("operation_id").agg(pl.col("submission").last())
    assert rows(last, "submission", "operation_id") == rows(again, "submission", "operation_id")


def test_a_correction_changes_the_field_that_the_key_names(filthy: Files) -> None:
    corrected = filthy.fault("corrected-later")
    fields = ["bmi", "asa", "approach", "prophylaxis", "technology"]
    cells = filthy.operations.select("submission", "operation_id", *fields)
    first = corrected.join(cells, on=["submission", "operation_id"])
    then = cells.join(first.select("submission", "operation_id"), on=["submission", "operation_id"], how="anti")
    both = first.join(then, on="operation_id", suffix="_then")
    assert len(first) == len(both) == len(corrected) > 100
    for row in both.iter_rows(named=True):
        assert row["submission_then"] > row["submission"]
        assert [field for field in fields if row[field] != row[f"{field}_then"]] == [row["field"]]
    components = filthy.components.filter(pl.col("operation_id").is_in(corrected["operation_id"].implode()))
    assert (components.group_by("operation_id", "line_no").len()["len"] == 2).all()


def test_a_second_id_is_the_same_operation_once_more(filthy: Files) -> None:
    second = filthy.fault("second-id").join(filthy.operations, on=["submission", "operation_id"])
    own = ["patient_id", "side", "operation_date", "hospital_id", "surgeon_id", "kind", "class", "bmi", "asa"]
    others = filthy.operations.filter(~pl.col("operation_id").is_in(second["operation_id"].implode()))
    found = second.join(others, on=own, nulls_equal=True)
    assert len(found) == len(second) > 30


def test_wrong_sides_and_keys_differ_from_the_truth(filthy: Files) -> None:
    key = filthy.key("joints")
    true = pl.concat(
        [
            key.select("operation_id", "patient_id", "side"),
            key.select(pl.col("revision_operation_id").alias("operation_id"), "patient_id", "side").drop_nulls(),
        ]
    )
    stated = filthy.operations.unique("operation_id", keep="first").select("operation_id", "patient_id", "side")
    both = true.join(stated, on="operation_id", suffix="_stated")
    wrong_side = both.filter(pl.col("side") != pl.col("side_stated"))
    assert set(wrong_side["operation_id"]) <= set(filthy.fault("wrong-side")["operation_id"])
    assert len(wrong_side) > 0.9 * len(filthy.fault("wrong-side"))
    wrong_key = set(both.filter(pl.col("patient_id") != pl.col("patient_id_stated"))["operation_id"])
    links = pl.concat([filthy.fault("missed-link"), filthy.fault("false-link")])
    assert wrong_key <= set(links["operation_id"])
    assert wrong_key
    missed = filthy.fault("missed-link").join(filthy.operations, on=["submission", "operation_id"])
    assert missed.join(filthy.operations, on="patient_id").height == len(missed)  # nobody else has that pseudonym


def test_false_links_hit_another_patients_joint(filthy: Files) -> None:
    found = filthy.fault("false-link").join(filthy.operations, on=["submission", "operation_id"])
    primaries = filthy.operations.filter(pl.col("kind") == "primary")
    joined = found.join(primaries, on=["patient_id", "side"], suffix="_primary")
    # A few of those primaries are themselves sent under a wrong side, or not at all.
    assert joined["operation_id"].n_unique() > 0.9 * len(found) > 5
    for row in joined.iter_rows(named=True):
        differs = abs(int(row["birth_year"]) - int(row["birth_year_primary"])) > 1 or row["sex"] != row["sex_primary"]
        assert differs == (row["revealed"] == "yes")


def test_revisions_after_death_are_after_death(filthy: Files) -> None:
    late = filthy.operations.join(filthy.feed("deaths"), on="patient_id").filter(
        pl.col("operation_date").str.to_date(strict=False) > pl.col("death_date").str.to_date()
    )
    impossible = filthy.fault("impossible-date")["operation_id"].implode()
    links = filthy.fault("false-link")["operation_id"].implode()
    late = late.filter(~pl.col("operation_id").is_in(impossible) & ~pl.col("operation_id").is_in(links))
    assert set(late["operation_id"]) == set(filthy.fault("after-death")["operation_id"])
    assert (late["kind"] == "revision").all()


def test_revisions_sent_as_primaries_look_like_primaries(filthy: Files) -> None:
    as_primary = filthy.fault("revision-as-primary").join(filthy.operations, on=["submission", "operation_id"])
    assert (as_primary["kind"] == "primary").all()
    assert as_primary["stage"].is_null().all()
    with_reasons = filthy.reasons.filter(pl.col("operation_id").is_in(as_primary["operation_id"].implode()))
    assert set(with_reasons["operation_id"]) <= set(as_primary.filter(pl.col("revealed") == "yes")["operation_id"])
    proper = filthy.operations.filter(pl.col("kind") == "primary")["operation_id"].implode()
    assert set(filthy.reasons.filter(pl.col("operation_id").is_in(proper))["operation_id"]) == set(
        with_reasons["operation_id"]
    )


def test_a_side_conflict_is_revealed_where_other_records_contradict_it(filthy: Files) -> None:
    wrong = filthy.fault("wrong-side").join(filthy.operations, on=["submission", "operation_id"])
    primaries = filthy.operations.filter(pl.col("kind") == "primary")
    one_side = filthy.catalogue.filter(pl.col("side").is_not_null())["catalogue_no"]
    hyphenless = one_side.str.replace("-", "")  # as an unknown number is written
    fits_one = filthy.components.filter(pl.col("catalogue_no").is_in(pl.concat([one_side, hyphenless]).implode()))
    sided = set(fits_one.filter(pl.col("action") == "implanted")["operation_id"])
    for row in wrong.filter(pl.col("kind") == "revision").iter_rows(named=True):
        sides = set(primaries.filter(pl.col("patient_id") == row["patient_id"])["side"])
        by_component = row["operation_id"] in sided
        assert (row["revealed"] == "yes") == (sides == {"left", "right"} - {row["side"]} or by_component)


def test_late_rows_come_with_later_submissions(dirty: Files) -> None:
    """Median 21 days, 85 % within 60, 95 % within 120; a quarter is sent two to six weeks after its end."""
    sent = dirty.operations.unique("operation_id", keep="first").join(dirty.sent, on="submission")
    day = pl.col("operation_date").str.to_date(strict=False)
    sent = sent.with_columns(wait=(pl.col("received").str.to_date() - day).dt.total_days())
    sent = sent.filter(pl.col("wait") > 0)
    assert 0.08 < (sent["wait"] > 135).mean() < 0.30
    assert sent["wait"].max() > 400
    missing = dirty.fault("not-sent")
    assert 20 < len(missing) < 200
    assert not set(missing["operation_id"]) & set(dirty.operations["operation_id"])


def test_two_hospitals_send_every_second_quarter(dirty: Files) -> None:
    through = dirty.sent.with_columns(hospital=pl.col("submission").str.slice(0, 4)).group_by("hospital").agg("through")
    gaps = [
        np.diff([datetime.date.fromisoformat(day).toordinal() for day in sorted(days)]).min()
        for days in through["through"].to_list()
    ]
    assert sum(gap > 150 for gap in gaps) == KNEE.reporting.batching_hospitals == 2


def test_the_deaths_feed_knows_every_death_one_or_two_months_after_its_quarter(dirty: Files) -> None:
    key = dirty.key("joints").filter(pl.col("death_date").is_not_null())
    lost_first = pl.col("loss_date").is_not_null() & (pl.col("loss_date") < pl.col("death_date"))
    known = rows(key.filter(~lost_first).unique("patient_id"), "patient_id", "death_date")
    assert known <= rows(dirty.feed("deaths"), "patient_id", "death_date")
    for said in dirty.envelopes.values():
        if said["kind"] == "deaths":
            wait = datetime.date.fromisoformat(said["received_date"]) - datetime.date.fromisoformat(
                said["complete_through"]
            )
            assert 30 <= wait.days <= 60


def test_a_clean_register_has_no_faults_and_no_delay(clean: Files) -> None:
    assert clean.made.faults == 0
    assert (clean.made.key / "faults.csv").read_text().count("\n") == 1
    operations = clean.operations.join(clean.sent, on="submission")
    assert operations["operation_id"].is_unique().all()
    for column in ("birth_year", "sex", "side", "surgeon_id", "approach", "technology", "prophylaxis", "asa", "bmi"):
        assert operations[column].is_not_null().all(), column
    day = operations["operation_date"].str.to_date()
    wait = (operations["through"].str.to_date() - day).dt.total_days()
    assert 0 <= wait.min() <= wait.max() < 185
    assert (operations["through"] >= operations["operation_date"]).all()
    assert clean.components.filter(pl.col("action") == "implanted")["lot"].is_not_null().all()
    assert clean.components.join(clean.catalogue, on="catalogue_no", how="anti").height == 0


def test_in_a_clean_register_every_revision_has_its_primary_unless_it_is_older(clean: Files) -> None:
    operations = clean.operations.with_columns(joint=pl.col("patient_id") + pl.col("side"))
    primaries = operations.filter(pl.col("kind") == "primary")
    assert primaries["joint"].is_unique().all()
    revisions = operations.filter(pl.col("kind") == "revision").join(
        primaries.select("joint", implanted="operation_date"), on="joint", how="left"
    )
    linked = revisions.filter(pl.col("implanted").is_not_null())
    assert (linked["operation_date"] >= linked["implanted"]).all()
    assert 0.03 < revisions["implanted"].is_null().mean() < 0.25
    with_reasons = revisions.join(clean.reasons, on="operation_id", how="anti")
    assert with_reasons.height == 0
    assert revisions["action"].is_not_null().all()
