"""The sentences that travel with a curve along a field of numbers."""

from collections.abc import Sequence

from regdash.reports.wording import JOINTS_INDEPENDENT, fields

METHOD = (
    "The rate at which joints with one value of {field} are revised over that of joints with the reference value, day "
    "by day among joints still followed whose other fields are alike: Cox's model with Efron's ties (Cox, J R Stat Soc "
    "B 1972;34:187–220; Efron, J Am Stat Assoc 1977;72:557–565). Deaths and losses are censored. The log hazard is a "
    "restricted cubic spline of {scale}, straight beyond the outer knots, which stand at fixed percentiles of the "
    "joints (Stone & Koo, Proc Stat Comput Sect 1985:45–48; Harrell, Regression Modeling Strategies, 2015, section "
    "2.4). Limits are Wald's, and pointwise: each holds for one value, not for the whole curve. {likeness} "
    "Non-linearity tests that all bends are 0; proportionality is the score test on 1 − Kaplan–Meier (Grambsch & "
    "Therneau, Biometrika 1994;81:515–526)."
)
ALIKE = (
    "Their variance is that of {kind}s, not of joints (Lin & Wei, J Am Stat Assoc 1989;84:1074–1078; R's coxph with "
    "cluster), and tests are Wald's by it; proportionality still takes joints as independent."
)
NO_THRESHOLD = (
    "A curve shows no threshold: where it crosses 1 follows from the reference, and its bends from the knots. Compare "
    "limits with 1 at one value at a time."
)
CHANGES = (
    "The ratio changes with time since implantation: this curve is an average that depends on how long joints are "
    "followed. Groups compared window by window show how."
)
VOLUME_IS_MISSING_EARLY = (
    "Joints of a surgeon's first 365 days on the register have no volume and are left out, so that nothing is said "
    "of beginners."
)
VOLUME_OF_CLASSES = (
    "Volume counts a surgeon's primaries of the joint's own class, and these joints are of several: filter by one "
    "class, or adjust for class."
)
VOLUME_IS_NOT_INDEPENDENT = (
    "Joints of one surgeon resemble each other, and limits that take them as independent are too narrow for volume."
)


def likeness(kind: str | None) -> str:
    """
    Say what limits take joints of one patient, surgeon or hospital for.

    >>> likeness("surgeon").partition(" (")[0]
    'Their variance is that of surgeons, not of joints'
    """
    return JOINTS_INDEPENDENT if kind is None else ALIKE.format(kind=kind)


def not_by_chance(field: str, adjusted: str) -> str:
    """Say that joints did not come to their value by chance, whatever was adjusted for."""
    held = f"it is adjusted for {adjusted} alone, and" if adjusted else "nothing is adjusted for, and"
    return (
        f"Joints did not come to their {field} by chance: {held} patients, surgeons, hospitals and years differ along "
        "it in more than that."
    )


def outside(low: float, high: float, percentiles: tuple[float, float], field: str) -> str:
    """
    Say where the curve is withheld, and why.

    >>> outside(3, 71, (0.05, 0.95), "volume").partition(":")[0]
    'Shown from 3 to 71, the 5th to the 95th percentile of volume'
    """
    return (
        f"Shown from {low:g} to {high:g}, the {_ordinal(percentiles[0])} to the {_ordinal(percentiles[1])} percentile "
        f"of {field}: beyond, the curve would be a straight line by assumption alone."
    )


def beyond(value: float, percentile: float, is_low: bool) -> str:
    """
    Say why there is no ratio beyond the range.

    >>> beyond(71, 0.95, is_low=False)
    'over 71, the 95th percentile, the curve would be straight by assumption alone'
    """
    side = "under" if is_low else "over"
    return f"{side} {value:g}, the {_ordinal(percentile)} percentile, the curve would be straight by assumption alone"


def spline(scale: str, knots: Sequence[float], percentiles: Sequence[float]) -> str:
    """
    Say how the curve is made.

    >>> spline("age", (50, 65, 80), (0.1, 0.5, 0.9))
    'a restricted cubic spline of age with knots at 50, 65 and 80 (percentiles 10, 50 and 90)'
    """
    at, shares = fields([f"{knot:g}" for knot in knots]), fields([f"{100 * share:g}" for share in percentiles])
    return f"a restricted cubic spline of {scale} with knots at {at} (percentiles {shares})"


def _ordinal(share: float) -> str:
    return f"{100 * share:g}th"


def few_alike(kind: str, enough: int) -> str:
    """
    Say why limits by the scatter of so few are not told.

    >>> few_alike("surgeon", 30)
    'fewer than 30 surgeons, by whose scatter limits are made'
    """
    return f"fewer than {enough} {kind}s, by whose scatter limits are made"
