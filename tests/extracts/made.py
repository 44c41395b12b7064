"""Extracts of a small invented register, for all tests of this folder."""

import csv
import io
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from regdash.cohort import parse
from regdash.extracts.desk import ExtractsDesk
from regdash.extracts.field_list import FieldList, list_of
from regdash.extracts.model import Extract, Wanted

LIST = """
version = "1"
title = "A list"
purpose = "A purpose"
recipients = ["researcher"]
rows = "joints"
k = 5
quasi_identifiers = ["joint", "class", "sex", "age", "implanted"]
[fields]
joint = "as recorded"
class = "as recorded"
sex = "as recorded"
age = "bands of 20 from 50 to 90"
implanted = "year"
bmi = "bands at 25, 30.5"
head = "as recorded"
diagnosis = "only osteoarthritis; tumour"
side = "none"
followed = "months"
ended = "as recorded"
reason = "group"
stem = "as recorded"
"""
MAKER = """
version = "1"
title = "Own"
purpose = "A purpose"
recipients = ["maker"]
rows = "components"
one_maker = true
lots = true
k = 3
least_hospitals = 2
quasi_identifiers = ["implant", "sex"]
[fields]
role = "as recorded"
implant = "as recorded"
size = "as recorded"
lot = "as recorded"
catalogue = "as recorded"
sex = "as recorded"
ended = "as recorded"
"""


@dataclass(frozen=True)
class Told:
    """An extract, and its rows as anybody reads them."""

    wanted: Wanted
    extract: Extract

    @property
    def rows(self) -> list[dict[str, str]]:
        """The rows of the CSV file."""
        return list(csv.DictReader(io.StringIO(self.extract.files["data.csv"].decode(), newline=""), strict=True))


def a_list(text: str = LIST, **lines: str) -> FieldList:
    """Give the list with the value of some lines put in the place of their own."""
    written = []
    for line in text.splitlines():
        name = line.partition(" = ")[0]
        written.append(f"{name} = {lines.pop(name)}" if name in lines else line)
    return list_of("a-list", "\n".join([*written, *(f"{name} = {value}" for name, value in lines.items())]) + "\n")


def extract_of(store: Path, fields: FieldList, words: str = "", **more: Any) -> Told:
    """Make an extract of a store, rows under k left out."""
    desk = ExtractsDesk(store)
    try:
        cohort = parse(words, known=desk.known)
        given = {"k": fields.k, "suppress": True, "request": "R001"} | more
        wanted = Wanted(fields, cohort, **given)
        return Told(wanted, desk.extract(wanted))
    finally:
        desk.close()
