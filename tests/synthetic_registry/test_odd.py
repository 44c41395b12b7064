"""
The odd kinds of faults: each is in the files where the key says, and is what its name says. Rules of the trade:
common practice, no published source; check digits: GS1 general specifications.
"""

import polars as pl
import pytest

from regdash import vocabulary as words
from synthetic_registry.catalogue import check_digit
from synthetic_registry.faults import RULES
from synthetic_registry.odd_rates import ODD
from tests.synthetic_registry.made import Files

GS1_EXAMPLES = {"0629104150021": "3", "0952123454321": "3", "0000002345678": "5"}


@pytest.fixture(scope="module")
def operations(odd: Files) -> pl.DataFrame:
    """Each operation as it was first sent, with numbers as numbers."""
    numbers = ("height_cm", "weight_kg", "bmi")
    once = odd.operations.unique("operation_id", keep="first", maintain_order=True)
    return once.with_columns(*(pl.col(name).cast(pl.Float64) for name in numbers))


# What is so of every operation with the fault, and of none without any.
FIELDS = {
    "height-in-metres": pl.col("height_cm") < 3,
    "swapped-height-weight": pl.col("height_cm").is_between(3, 120),
    "bmi-implausible": ~pl.col("bmi").is_between(14, 70),
    "birth-year-missing": pl.col("birth_year").is_null(),
    "side-both": pl.col("side") == "both",
    "asa-five": pl.col("asa") == "V",
    "class-missing": pl.col("class").is_null() & (pl.col("kind") == "primary"),
    "unknown-surgeon": pl.col("surgeon_id") == "S9999",
    "robot-without-system": pl.col("technology").is_in(["robot-assisted", "navigated"])
    & pl.col("technology_system").is_null(),
    "malformed-icd10": ~pl.col("icd10").str.contains(r"^[A-Z][0-9]{2}(\.[0-9])?$"),
    "discharge-first": pl.col("discharge_date") < pl.col("admission_date"),
    "admission-late": pl.col("admission_date") > pl.col("operation_date"),
    "patella-already": pl.col("patella") == "already-resurfaced",
    "compartment-missing": (pl.col("class") == "partial")
    & (pl.col("kind") == "primary")
    & pl.col("compartment").is_null(),
}


@pytest.mark.parametrize("kind", [*FIELDS])
def test_a_field_is_odd_where_the_key_says_and_nowhere_else(kind: str, odd: Files, operations: pl.DataFrame) -> None:
    key = set(odd.fault(kind)["operation_id"])
    # A date that no calendar has comes before or after any other, and copies repeat what is in a record.
    others = set(odd.fault("impossible-date")["operation_id"]) | set(odd.fault("too-many-operations")["operation_id"])
    found = set(operations.filter(FIELDS[kind])["operation_id"])
    assert key <= found | others
    assert found - others <= key
    assert key


def test_height_weight_and_index_agree_unless_the_key_says_otherwise(odd: Files, operations: pl.DataFrame) -> None:
    apart = (pl.col("bmi") - pl.col("weight_kg") / (pl.col("height_cm") / 100) ** 2).abs() > 1
    kinds = ("bmi-disagrees", "weight-in-pounds", "bmi-implausible", "height-in-metres", "swapped-height-weight")
    key = {kind: set(odd.fault(kind)["operation_id"]) for kind in kinds}
    found = set(operations.filter(apart)["operation_id"])
    assert found <= set().union(*key.values())
    assert key["bmi-disagrees"] | key["weight-in-pounds"] <= found


def test_diagnoses_are_of_the_joint_unless_the_key_says_otherwise(odd: Files, operations: pl.DataFrame) -> None:
    key = set(odd.fault("diagnosis-other-joint")["operation_id"])
    for joint in words.JOINTS:
        listed = [words.coded(word) for word in words.OF_JOINT["diagnosis"][joint]]
        ours = operations.filter((pl.col("joint") == joint) & pl.col("diagnosis").is_not_null())
        foreign = ours.filter(~pl.col("diagnosis").is_in(listed))
        assert set(foreign["operation_id"]) == key & set(ours["operation_id"])
        assert foreign.height


def test_check_digits_are_those_of_the_standard() -> None:
    assert {digits: check_digit(digits) for digits in GS1_EXAMPLES} == GS1_EXAMPLES


def test_labels_name_the_component_and_end_in_a_right_digit_unless_the_key_says_otherwise(odd: Files) -> None:
    labelled = odd.components.filter(pl.col("udi").is_not_null())
    numbers = dict(odd.catalogue.select("catalogue_no", "gtin").rows())
    names = ("submission", "operation_id", "line_no")
    wrong, other = (set(odd.fault(kind).select(names).rows()) for kind in ("udi-check-digit", "udi-other-device"))
    seen = {"wrong": 0, "other": 0, "right": 0}
    for row in labelled.iter_rows(named=True):
        assert row["udi"].startswith(("(01)", "01"))
        number = row["udi"].replace("(01)", "01", 1)[2:16]
        place = tuple(row[name] for name in names)
        sound = check_digit(number[:13]) == number[13]
        assert sound == (place not in wrong)
        known = numbers.get(row["catalogue_no"])
        if sound and known is not None:
            assert (number == known) == (place not in other)
        seen["wrong" if not sound else "other" if place in other else "right"] += 1
        assert row["serial"] in row["udi"]
    assert min(seen.values()) > 10
    assert {"(" in udi for udi in labelled["udi"]} == {True, False}
    assert labelled.filter(pl.col("udi").str.contains("\x1d")).height > 100


def test_past_expiry_dates_are_those_of_the_key(odd: Files, operations: pl.DataFrame) -> None:
    dated = odd.components.filter(pl.col("expiry_date").is_not_null()).join(operations, on="operation_id")
    late = dated.filter(pl.col("expiry_date") < pl.col("operation_date"))
    impossible = odd.fault("impossible-date")["operation_id"]
    found = set(late.filter(~pl.col("operation_id").is_in(impossible.implode()))["operation_id"])
    moved = {
        k for kind in ("after-death", "after-loss", "too-many-operations") for k in odd.fault(kind)["operation_id"]
    }
    key = set(odd.fault("expired-component")["operation_id"])
    assert key <= found
    assert found - moved == key


def test_components_fit_their_side_and_head_unless_the_key_says_otherwise(odd: Files, operations: pl.DataFrame) -> None:
    catalogue = odd.catalogue.unique("catalogue_no", keep="first").select("catalogue_no", "size", part_side="side")
    put_in = odd.components.filter(pl.col("action") == "implanted").join(catalogue, on="catalogue_no")
    put_in = put_in.join(operations.select("operation_id", "side", "kind"), on="operation_id")
    wrong = put_in.filter(pl.col("part_side") != pl.col("side"))
    key = {op for kind in ("component-other-side", "wrong-side", "side-both") for op in odd.fault(kind)["operation_id"]}
    assert set(wrong["operation_id"]) <= key
    assert set(odd.fault("component-other-side")["operation_id"]) <= set(wrong["operation_id"])
    heads = put_in.filter(pl.col("role") == "head").select("operation_id", head="size")
    liners = put_in.filter(pl.col("role").is_in(["liner", "dual-mobility-bearing"]) & (pl.col("kind") == "primary"))
    pairs = heads.join(liners.select("operation_id", "size"), on="operation_id")
    unfit = set(pairs.filter(pl.col("head") != pl.col("size"))["operation_id"])
    foreign = set(odd.fault("other-joints-component")["operation_id"])
    assert 0 < len(unfit - foreign) <= len(odd.fault("sizes-unfit"))
    assert unfit - foreign <= set(odd.fault("sizes-unfit")["operation_id"])


def test_cement_is_on_the_form_since_2015_and_where_it_was_used(odd: Files, operations: pl.DataFrame) -> None:
    cement = odd.components.filter(pl.col("role") == "cement").join(operations, on="operation_id")
    late = {op for kind in ("impossible-date", "after-death", "after-loss") for op in odd.fault(kind)["operation_id"]}
    assert cement.filter(~pl.col("operation_id").is_in(list(late)))["operation_date"].min() >= "2015"
    assert cement.filter(pl.col("fixation") == "cementless").filter(pl.col("kind") == "primary").select(
        "operation_id"
    ).unique().height == len(odd.fault("cement-on-cementless").unique("operation_id"))


def test_a_serial_number_stands_in_two_patients_where_the_key_says(odd: Files, operations: pl.DataFrame) -> None:
    serials = odd.components.filter(pl.col("serial").is_not_null()).join(
        operations.select("operation_id", "patient_id"), on="operation_id"
    )
    second = set(odd.fault("second-id")["operation_id"]) | set(odd.fault("pseudonym-collision")["operation_id"])
    serials = serials.filter(~pl.col("operation_id").is_in(list(second)))
    twice = serials.group_by("serial").agg(pl.col("patient_id").n_unique(), pl.col("operation_id"))
    found = set(twice.filter(pl.col("patient_id") > 1).explode("operation_id")["operation_id"])
    assert set(odd.fault("repeated-serial")["operation_id"]) <= found


def test_every_odd_kind_has_a_rule_that_should_find_it() -> None:
    assert set(ODD) <= set(RULES)
    assert all(RULES[kind] for kind in ODD)


def test_one_hospital_does_not_send_half_of_its_revisions(odd: Files) -> None:
    told = odd.planted["hospital_that_under_reports"]
    withheld = odd.fault("under-reported")["operation_id"]
    assert set(withheld.str.slice(0, 4)) == {told["code"]}
    assert not set(withheld) & set(odd.operations["operation_id"])
    sent = odd.operations.filter((pl.col("hospital_id") == told["code"]) & (pl.col("kind") == "revision"))
    assert 0.35 < len(withheld) / (len(withheld) + sent["operation_id"].n_unique()) < 0.75


def test_the_form_moves_a_reason_from_a_day_on(odd: Files, operations: pl.DataFrame) -> None:
    moved = odd.fault("form-change").join(operations, on="operation_id")
    impossible = odd.fault("impossible-date")["operation_id"].implode()
    assert moved.filter(~pl.col("operation_id").is_in(impossible))["operation_date"].min() >= "2016"
    again = ("reason-other-joint", "progression-on-total", "dislocation-on-fixed", "early-wear")  # another one since
    spoiled = [op for kind in again for op in odd.fault(kind)["operation_id"]]
    written = moved.join(odd.reasons, on=["submission", "operation_id", "line_no"])
    written = written.filter(~pl.col("operation_id").is_in(spoiled))
    assert written.height > 5
    assert set(written["reason"]) <= {"instability", "dislocation"}
