"""
Lots, serial numbers and expiry dates, and the labels that hold them: as read by a scanner, element after
element with a group separator after those of any length, or as printed, with the elements' numbers in brackets.
"""

import numpy as np
import polars as pl

from synthetic_registry.catalogue import gtin
from synthetic_registry.several import Several

GROUP_SEPARATOR = "\x1d"
PLACEHOLDERS = ("0000", "N/A", "XXXX")  # what stands in the place of a lot
FIRST_PLACEHOLDER = -2  # number of a lot that is the first of them; the others follow downwards
# Faults of a label, after it has been read raw (1) or in brackets (2): two more for each.
RIGHT, WRONG_DIGIT, OTHER_DEVICE = range(3)


def all_gtins(several: Several) -> pl.Series:
    """Number every entry of every catalogue as traded goods are."""
    return pl.Series(
        [
            gtin(catalogue.parameters.joint, entry.maker, number)
            for catalogue in several.catalogues
            for number, entry in enumerate(catalogue.entries)
        ],
        dtype=pl.String,
    )


def lots(values: np.ndarray) -> pl.Series:
    """Write numbers of lots; negative ones are empty cells or placeholders."""
    lot = pl.Series(values)
    written = ("L" + lot.cast(pl.String).str.zfill(7)).set(lot < 0, None)
    for place, instead in enumerate(PLACEHOLDERS):
        written = written.set(lot == FIRST_PLACEHOLDER - place, instead)
    return written


def serials(values: np.ndarray) -> pl.Series:
    """Write serial numbers; negative ones are empty cells."""
    serial = pl.Series(values)
    return ("SN" + serial.cast(pl.String)).set(serial < 0, None)


def dates(several: Several, values: np.ndarray) -> pl.Series:
    """Turn days of the register into dates; negative ones are empty cells."""
    first = np.datetime64(several.days.start, "D")
    written = pl.Series(first + np.maximum(values, 0).astype("timedelta64[D]"))
    return written.set(pl.Series(values < 0), None)


def labels(several: Several, gtins: pl.Series, rows: dict[str, np.ndarray]) -> pl.Series:
    """Write what is read off devices' labels; empty cells where none was read."""
    label = rows["label"].astype(np.int64)
    written = pl.Series("udi", [None], dtype=pl.String).new_from_index(0, len(label))
    at = np.flatnonzero(label)
    if not len(at):
        return written
    fault = (label[at] - 1) // 2
    # A number that the catalogue does not know stands on the form alone; the label has the right one.
    entry = (rows["entry"][at] + (fault == OTHER_DEVICE)) % len(gtins)
    number = _with_fault(gtins.gather(pl.Series(entry.astype(np.uint32))), pl.Series(fault == WRONG_DIGIT))
    expiry = dates(several, rows["expiry"][at]).dt.strftime("%y%m%d")
    lot, serial = lots(rows["lot"][at]), serials(rows["serial"][at]).fill_null("0")
    raw = "01" + number + "17" + expiry + ("10" + lot + GROUP_SEPARATOR).fill_null("") + "21" + serial
    printed = "(01)" + number + "(17)" + expiry + ("(10)" + lot).fill_null("") + "(21)" + serial
    return written.scatter(at, raw.zip_with(pl.Series(label[at] % 2 == 1), printed))


def _with_fault(numbers: pl.Series, wrong: pl.Series) -> pl.Series:
    """Change the check digit of some numbers."""
    digit = (numbers.str.slice(13).cast(pl.Int8) + 3) % 10
    return (numbers.str.slice(0, 13) + digit.cast(pl.String)).zip_with(wrong, numbers)
