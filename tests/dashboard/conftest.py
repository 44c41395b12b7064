"""Quiet as `regdash.dashboard.run` makes it, before the terminal library is imported."""

import os

from regdash.dashboard import QUIET

os.environ.update(QUIET)
# Pictures must not depend on the terminal that the tests run in.
os.environ.pop("NO_COLOR", None)
os.environ["COLORTERM"] = "truecolor"
