"""Open data put into the place of joints, for tests of several reports (sources: tests/reference/README.md)."""

from datetime import timedelta

from tests.cuts import THROUGH, Row, joint
from tests.reports.desks import reference

LONG_AGO = THROUGH - timedelta(days=9000)


def remission() -> list[Row]:
    """Weeks in remission: 6-MP has fixed bearings, placebo mobile ones."""
    return [
        joint(
            bearing="fixed" if row["group"] == "6-MP" else "mobile",
            days=int(row["time"]),
            ended="revised" if row["status"] == "1" else "in place",
            reason="infection" if row["status"] == "1" else None,
        )
        for row in reference("data_remission")
    ]


def colon() -> list[Row]:
    """Three arms as fixations, at most or more than four nodes as sexes; death stands for revision."""
    arms = {"Obs": "cemented", "Lev": "cementless", "Lev+5FU": "hybrid"}
    return [
        joint(
            fixation=arms[row["rx"]],
            sex="male" if row["node4"] == "1" else "female",
            implanted_date=LONG_AGO,
            days=int(row["time"]),
            ended="revised" if row["status"] == "1" else "in place",
            reason="wear, bearing surface" if row["status"] == "1" else None,
        )
        for row in reference("data_colon_death")
    ]


def gammopathy() -> list[Row]:
    """Monoclonal gammopathy, months: progression stands for revision, death competes; age group as ASA class."""
    ended = {"0": "in place", "1": "revised", "2": "died"}
    return [
        joint(
            sex={"F": "female", "M": "male"}[row["sex"]],
            age=int(row["age"]),
            asa=("I", "II", "III", "IV")[sum(int(row["age"]) >= edge for edge in (60, 70, 80))],
            days=int(row["etime"]),
            ended=ended[row["event"]],
            reason="infection" if row["event"] == "1" else None,
        )
        for row in reference("data_mgus2")
    ]
