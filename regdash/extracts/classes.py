"""
Classes of rows that are alike: how many patients share what others may know of them, and what is done where too few do.

A class is every row with the same values of the quasi-identifiers. It is counted in patients and not in rows: both
joints of a patient may be in one class.
"""

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from regdash.extracts.rows import HOSPITAL, IN_PLACE, PATIENT, REVISED, Rows

if TYPE_CHECKING:
    import polars as pl

AS_LISTED, WITHOUT = "as the list says", "without {}"
_CLASS = "class_no"
UNITS = ("implant", "construct")  # whose users are counted


@dataclass(frozen=True)
class Alike:
    """
    How alike rows are.

    Source:
        k-anonymity: Sweeney (2002), Int J Uncertain Fuzz 10:557-570; what a class gives away where all in it ended
        alike: Machanavajjhala et al. (2007), ACM TKDD 1:3 (l-diversity).
    """

    change: str  # of the list, that rows are counted with: AS_LISTED, without a field, or a field told coarser
    rows: int
    patients: int
    classes: int
    smallest: int  # patients in the smallest class; 0 where there is no row
    classes_under: int  # of fewer than k patients
    rows_under: int  # in those
    patients_under: int


@dataclass(frozen=True)
class Endings:
    """Classes whose rows all ended in the same way: who knows that somebody is in one knows how their joint ended."""

    all_same: int
    all_revised: int


@dataclass(frozen=True)
class Left:
    """What rows were left out, and how their share of revised ones differs from that of the rows that stay."""

    rows: int
    patients: int
    revised: int


def alike(rows: Rows, k: int, left_out: str | None = None, change: str = AS_LISTED) -> Alike:
    """
    Count the patients of each class.

    Args:
        left_out: a quasi-identifier that is not looked at.
        change: what rows were made with, where that is not the list itself.
    """
    import polars as pl

    over = [name for name in rows.over if name != left_out]
    sizes = rows.frame.group_by([pl.lit(0).alias(_CLASS), *over]).agg(
        patients=pl.col(PATIENT).n_unique(), rows=pl.len(), own=pl.col(PATIENT)
    )
    small = sizes.filter(pl.col("patients") < k)
    under = small["own"].explode().n_unique() if len(small) else 0
    return Alike(
        change=WITHOUT.format(left_out) if left_out else change,
        rows=len(rows.frame),
        patients=rows.frame[PATIENT].n_unique(),
        classes=len(sizes),
        smallest=int(sizes.select(pl.col("patients").min().fill_null(0)).item()) if len(sizes) else 0,
        classes_under=len(small),
        rows_under=int(small["rows"].sum()),
        patients_under=under,
    )


def without_each(rows: Rows, k: int) -> list[Alike]:
    """Count with every quasi-identifier, then without each in turn: which of them makes classes small."""
    return [alike(rows, k), *(alike(rows, k, one) for one in rows.over)]


def endings(rows: Rows) -> Endings | None:
    """Count the classes whose rows all ended alike; None where the list does not tell how joints ended."""
    import polars as pl

    if "ended" not in rows.frame.columns:
        return None
    ways = rows.frame.group_by([pl.lit(0).alias(_CLASS), *rows.over]).agg(
        ways=pl.col("ended").n_unique(), revised=(pl.col("ended") == REVISED).all()
    )
    return Endings(int((ways["ways"] == 1).sum()), int(ways["revised"].sum()))


def found_by_time(rows: Rows, k: int) -> tuple[int, int]:
    """
    Count the rows that somebody may find who also knows when and how a joint's follow-up ended, as of a death.

    Returns:
        Rows that ended in anything but the end of what is told, of which fewer than k patients are alike in that too;
        and all rows that ended so. None of either where the list does not tell both.
    """
    import polars as pl

    if not {"ended", "followed"} <= set(rows.frame.columns):
        return 0, 0
    ended = rows.frame.filter(pl.col("ended") != IN_PLACE)
    sizes = ended.group_by([*rows.over, "ended", "followed"]).agg(size=pl.col(PATIENT).n_unique(), rows=pl.len())
    return int(sizes.filter(pl.col("size") < k)["rows"].sum()), len(ended)


def suppressed(rows: Rows, k: int) -> tuple[Rows, Left]:
    """
    Leave out every row of a class under k.

    Where those are of fewer than k patients, the smallest of the other classes go too until k patients are left out:
    who knows the whole number from elsewhere would else know that the few who are missing are rare.
    """
    import polars as pl

    over = list(rows.over)
    sizes = rows.frame.group_by(over, maintain_order=True).agg(size=pl.col(PATIENT).n_unique(), own=pl.col(PATIENT))
    if not len(sizes.filter(pl.col("size") < k)):
        return rows, Left(0, 0, 0)
    sizes = sizes.sort(["size", *over], nulls_last=True)
    gone: set[int] = set()
    last = 0
    for place, (size, own) in enumerate(sizes.select("size", "own").iter_rows(), 1):
        if size >= k and len(gone) >= k:
            break
        gone.update(own)
        last = place
    out = sizes.head(last).select(over)
    kept = rows.frame.join(out, on=over, how="anti", nulls_equal=True, maintain_order="left")
    left = rows.frame.join(out, on=over, how="semi", nulls_equal=True)
    return replace(rows, frame=kept), _left(left)


def few_users(rows: Rows, least: int, k: int) -> tuple[Rows, Left]:
    """
    Leave out rows of implants (or constructs) that few hospitals use, or nearly all of which one uses: they would be
    that hospital's.

    Args:
        least: hospitals that use it, at the least; 0 asks for none.
        k: joints at the least that are not of the hospital that uses most.
    """
    import polars as pl

    units = [name for name in UNITS if name in rows.frame.columns]
    if not least or not units:
        return rows, Left(0, 0, 0)
    used = rows.frame.group_by([units[0], HOSPITAL]).len().group_by(units[0])
    users = used.agg(hospitals=pl.len(), others=pl.col("len").sum() - pl.col("len").max())
    out = users.filter((pl.col("hospitals") < least) | (pl.col("others") < k)).select(units[0])
    kept = rows.frame.join(out, on=units[0], how="anti", maintain_order="left")
    return replace(rows, frame=kept), _left(rows.frame.join(out, on=units[0], how="semi"))


def _left(frame: "pl.DataFrame") -> Left:
    revised = int((frame["ended"] == REVISED).sum()) if "ended" in frame.columns else 0
    return Left(len(frame), frame[PATIENT].n_unique(), revised)
