"""The oldest Python that will do. This file and its two callers parse on much older ones."""

import sys

OLDEST = (3, 11)


def require(version: tuple = sys.version_info) -> None:
    """Leave with one clear line if this Python is too old."""
    if tuple(version[:2]) < OLDEST:
        sys.exit(
            "regdash needs Python %d.%d or newer, and this is Python %d.%d. "
            "Run the script with a newer one, for example: python3.12 %s"
            % (OLDEST + tuple(version[:2]) + (sys.argv[0],))
        )
