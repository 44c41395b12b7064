"""Plain words for patients: what the trade calls things, said as people say it."""

from datetime import date

from regdash.store.cuts import Manifest
from regdash.summary.quarter import Quarter

JOINTS = {"knee": "knee", "hip": "hip", "shoulder": "shoulder"}
MONTHS = {1: "January to March", 2: "April to June", 3: "July to September", 4: "October to December"}
_MONTH_NAMES = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)  # the locale of the machine has no say
REASONS = {
    "infection": "an infection",
    "fracture": "a broken bone",
    "wear": "worn parts",
    "loosening": "a part that came loose",
    "instability": "a joint that gives way",
    "dislocation": "a joint that slips out",
    "bearing dislocation": "a part that slips out",
    "malalignment": "a joint that is not straight",
    "malposition": "a part in the wrong place",
    "pain": "pain",
    "patellofemoral": "a sore kneecap",
    "progression of disease": "arthritis in the rest of the knee",
    "stiffness": "a stiff joint",
    "breakage": "a part that broke",
    "erosion": "worn bone",
    "metal reaction": "a reaction to metal",
    "cuff failure": "a torn shoulder muscle",
}
CLASSES = {
    "total": "total",
    "partial": "partial",
    "patellofemoral": "kneecap",
    "hemi": "half",
    "resurfacing": "new surface",
    "anatomic": "same shape",
    "reverse": "turned round",
}
FEWER = "fewer than 1"


def day(written: str) -> str:
    """
    Write an ISO date as people do.

    >>> day("2025-02-08")
    '8 February 2025'
    """
    on = date.fromisoformat(written)
    return f"{on.day} {_MONTH_NAMES[on.month - 1]} {on.year}"


def heading(quarter: Quarter, cut: Manifest) -> tuple[str, str]:
    """Write what stands under the title and at the foot of a page for patients and everybody."""
    months = f"{MONTHS[quarter.number]} {quarter.year}"
    return f"{months}, from our list of {day(cut.known_as_of)}", f"{months} · list {cut.cut} · not advice for you"


def in_100(risk: float) -> int:
    """
    Write a risk as people of 100, to the nearest whole one.

    >>> in_100(0.061), in_100(0.004)
    (6, 0)
    """
    return int(100 * risk + 0.5)


def of_100(number: int) -> str:
    """
    Say how many of 100.

    >>> of_100(6), of_100(0)
    ('about 6', 'fewer than 1')
    """
    return f"about {number}" if number else FEWER


def years_on(years: float) -> str:
    """
    Say a time.

    >>> years_on(1.0), years_on(10.0)
    ('1 year', '10 years')
    """
    return f"{years:g} year{'' if years == 1 else 's'}"
