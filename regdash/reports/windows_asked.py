"""Windows of time since implantation, as they are asked for."""

from collections.abc import Sequence

from regdash.errors import FilterError
from regdash.reports.risk import LONGEST_YEARS


def checked_windows(windows: Sequence[float]) -> tuple[float, ...]:
    """
    Refuse windows that do not follow each other.

    Raises:
        FilterError: they end at times that do not rise, or at none that joints are followed to.
    """
    cuts = tuple(float(years) for years in windows)
    rising = all(one < other for one, other in zip((0.0, *cuts), cuts))
    if not rising or not all(years <= LONGEST_YEARS for years in cuts):
        said = ",".join(f"{years:g}" for years in cuts)
        raise FilterError(
            f"Windows {said} do not follow each other. Write the years at which they end, rising, as in 1,5"
        )
    return cuts
