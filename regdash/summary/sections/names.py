"""Names of tables, figures and sections, which are names of files and anchors too."""

import re


def slug(*parts: str) -> str:
    """
    Make a name of lower-case words from anything.

    >>> slug("risk", "knee", "Partial knees: mobile against fixed bearings")
    'risk-knee-partial-knees-mobile-against-fixed-bearings'
    """
    return "-".join(re.sub(r"[^a-z0-9]+", "-", part.lower()).strip("-") for part in parts if part)


PLURALS = {"knee": "Knees", "hip": "Hips", "shoulder": "Shoulders"}
