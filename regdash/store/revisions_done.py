"""Every revision that was done, as a part of other statements, and what that part binds."""

from typing import Any

from regdash import vocabulary
from regdash.store.sqlfiles import statement

_RANKED = [
    (f"{joint} {reason.detail}", reason.group, reason.detail)
    for joint, reasons in vocabulary.REASONS.items()
    for reason in reasons
]


def revisions_done() -> tuple[str, dict[str, Any]]:
    """Give the query of all revisions, linked or not, and its parameters: reasons in the order of their hierarchy."""
    ranked, groups, details = (list(column) for column in zip(*_RANKED, strict=True))
    return statement("queries/revisions_done"), {"ranked": ranked, "groups": groups, "details": details}
