"""Rows of an extract: the joints or components of a cohort, each field as coarse as the list says."""

import hashlib
import hmac
import re
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from regdash.cohort import Cohort
from regdash.extracts.calendar import DAYS_PER_MONTH, step_months, told_date
from regdash.extracts.coarseness import BANDS, DAY, DAYS, GROUP, MONTHS_PER, ONLY, OTHER, YEAR, Coarseness
from regdash.extracts.field_list import FieldList
from regdash.extracts.sources import COMPONENTS, SOURCES
from regdash.store.cuts import Cut
from regdash.store.sqlfiles import statement
from regdash.vocabulary import NOT_RECORDED

if TYPE_CHECKING:
    import polars as pl

ROW = "row"
PATIENT, HOSPITAL, SECRET = "patient_no", "hospital_id", "order"
TOGETHER = "components"  # what rows of one joint say together of their components
REVISED, IN_PLACE = "revised", "in place"
_LOT = re.compile(r"[A-Za-z0-9][A-Za-z0-9./-]{0,19}")
_LETTERS_ALONE = re.compile(r"[A-Za-z./-]*")


@dataclass(frozen=True)
class Rows:
    """Every row of the cohort, with the fields of the list and what the office alone sees of it."""

    frame: "pl.DataFrame"  # fields of the list, then PATIENT, HOSPITAL, SECRET and perhaps TOGETHER
    over: tuple[str, ...]  # columns whose values make rows alike
    lots_hidden: int = 0  # that looked like no lot


def rows_of(cut: Cut, wanted: FieldList, cohort: Cohort, key: bytes, salt: str) -> Rows:
    """
    Fetch the rows of a cohort and make their fields coarse.

    Rows of one joint can be put together again by what they have in common, so that what they say of components counts
    as one: TOGETHER stands in the place of such quasi-identifiers.

    Args:
        key: orders rows, with `salt`: rows of two extracts with another salt have nothing to do with each other.
    """
    import polars as pl

    predicate = cohort.predicate()
    query = statement("queries/extracted_joints", predicate=predicate.sql)
    joints = cut.frame(query, **predicate.parameters)
    joints = _followed(joints, wanted, date.fromisoformat(cut.manifest.through_date))
    if wanted.rows == COMPONENTS:
        frame = _components(cut, cohort).join(joints, on="joint_no", how="inner", maintain_order="left")
    else:
        frame = joints.with_columns(line_no=pl.lit(0))
    lots_hidden = 0
    if "lot" in wanted.told:
        odd = pl.col("lot").is_in(_odd_lots(frame))
        lots_hidden = frame.select(odd.sum()).item()
        frame = frame.with_columns(lot=pl.when(odd | (pl.col("lot") == "")).then(None).otherwise("lot"))
    own = [name for name in wanted.quasi_identifiers if SOURCES[name].of == COMPONENTS]
    over = (*(name for name in wanted.quasi_identifiers if name not in own), *([TOGETHER] if own else []))
    together = [pl.concat_str(own, separator="|").sort().str.join(";").over("joint_no").alias(TOGETHER)] if own else []
    fields = [_coarse(name, how) for name, how in wanted.told.items()]
    told = frame.select(*fields, PATIENT, HOSPITAL, *together)
    orders = [_order(key, salt, joint, line) for joint, line in frame.select("joint_id", "line_no").iter_rows()]
    return Rows(told.with_columns(pl.Series(SECRET, orders, pl.Binary)), over, lots_hidden)


def _order(key: bytes, salt: str, joint: str, line: int) -> bytes:
    return hmac.digest(key, f"{salt}|{joint}|{line}".encode(), hashlib.sha256)


def _components(cut: Cut, cohort: Cohort) -> "pl.DataFrame":
    """Fetch the components that the filter's words on components choose; all of the primaries, without such words."""
    predicate = cohort.predicate()
    which = cohort.component_predicate(predicate.parameters)
    query = statement("queries/extracted_components", predicate=predicate.sql, which=which.sql)
    return cut.frame(query, **which.parameters)


def _followed(joints: "pl.DataFrame", wanted: FieldList, through: date) -> "pl.DataFrame":
    """
    Tell follow-up no further than the date of the primary allows, and no reason of a revision beyond that.

    Times are whole months, quarters or years that have passed, or days.
    """
    import polars as pl

    how, joints = wanted.told.get("implanted"), joints.with_columns(whole_months=pl.lit(None, pl.Int64))
    if how is None:
        return joints
    days = joints["implanted"].unique().to_list()
    told = {day: told_date(day, how, through) for day in days}
    limits = pl.DataFrame(
        {"implanted": days, "told": [told[day].label for day in days], "limit": [told[day].months for day in days]},
        schema={"implanted": pl.Date, "told": pl.String, "limit": pl.Int64},
    )
    frame = joints.join(limits, on="implanted", how="left", maintain_order="left").drop("implanted")
    if how.way != DAY:
        frame = _limited(frame, step_months(how))
    kind = {DAY: pl.Date, YEAR: pl.Int64}.get(how.way, pl.String)
    return frame.with_columns(implanted=pl.col("told").cast(kind)).drop("told", "limit")


def _limited(frame: "pl.DataFrame", step: int) -> "pl.DataFrame":
    """End follow-up at the limit; what happened later is in place there. A feed that ended earlier ends on a step."""
    import polars as pl

    last = (pl.col("limit") * DAYS_PER_MONTH).floor().cast(pl.Int64)
    beyond = pl.col("days") > last
    early = ((pl.col("days") / (DAYS_PER_MONTH * step)).floor() * step).cast(pl.Int64)
    months = pl.when(beyond).then("limit").when(pl.col("ended") == IN_PLACE).then(early).otherwise(None)
    frame = frame.with_columns(
        whole_months=months,
        ended=pl.when(beyond).then(pl.lit(IN_PLACE)).otherwise("ended"),
        days=pl.min_horizontal("days", last),
    )
    gone = pl.col("ended") != REVISED
    later = [name for name, source in SOURCES.items() if source.if_revised] + ["reason_group"]
    return frame.with_columns(pl.when(gone).then(None).otherwise(name).alias(name) for name in later)


def _coarse(name: str, how: Coarseness) -> "pl.Expr":
    """Say one field as coarse as the list has it."""
    import polars as pl

    source = SOURCES[name]
    if source.kind == "time":
        return _time(how).alias(name)
    if source.kind == "reason":
        return pl.col("reason_group" if how.way == GROUP else "reason").alias(name)
    if how.way == BANDS:
        return _banded(pl.col(name), how, source.kind == "whole").alias(name)
    if how.way == ONLY:
        kept = pl.col(name).is_in([*how.only, NOT_RECORDED]) | pl.col(name).is_null()
        return pl.when(kept).then(name).otherwise(pl.lit(OTHER)).alias(name)
    return pl.col(name)


def _time(how: Coarseness) -> "pl.Expr":
    import polars as pl

    days, known = pl.col("days"), pl.col("whole_months")
    if how.way == DAYS:
        return pl.coalesce((known * DAYS_PER_MONTH).floor(), days).cast(pl.Int64)
    unit = MONTHS_PER[how.way]
    return pl.coalesce(known // unit, (days / (DAYS_PER_MONTH * unit)).floor()).cast(pl.Int64)


def _banded(value: "pl.Expr", how: Coarseness, whole: bool) -> "pl.Expr":
    """Give each number the name of its band; a lower edge belongs to the band above it."""
    import polars as pl

    labels = how.bands(whole)
    named = pl.lit(labels[-1])
    for edge, label in reversed(list(zip(how.edges, labels))):
        named = pl.when(value < edge).then(pl.lit(label)).otherwise(named)
    return pl.when(value.is_null()).then(pl.lit(NOT_RECORDED)).otherwise(named)


def _odd_lots(frame: "pl.DataFrame") -> list[str]:
    """Find what stands in place of a lot and looks like none: hospitals type it, so that it may say anything."""
    lots = frame["lot"].unique().to_list()
    return [lot for lot in lots if lot and (not _LOT.fullmatch(lot) or _LETTERS_ALONE.fullmatch(lot))]
