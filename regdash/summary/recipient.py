"""Who gets an edition: the committee, everybody, or one hospital, surgeon or maker by code."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from regdash.errors import SummaryError
from regdash.suggest import nearest
from regdash.summary.edition import Edition

COMMITTEE, PUBLIC = "committee", "public"
HOSPITAL, SURGEON, MAKER = "hospital", "surgeon", "maker"
WITH_CODE = (HOSPITAL, SURGEON, MAKER)
KINDS = (COMMITTEE, *WITH_CODE, PUBLIC)
TOLD_OUTSIDE = ("version", "hash")  # of settings of screens, which may name implants that are confirmed


@dataclass(frozen=True)
class Recipient:
    """One reader of an edition; its kind is the name of the edition's file."""

    kind: str
    code: str = ""

    def __str__(self) -> str:
        return f"{self.kind}:{self.code}" if self.code else self.kind

    @property
    def is_inside(self) -> bool:
        """Whether what it gets stays in the office."""
        return self.kind == COMMITTEE

    def settings_told(self, facts: Mapping[str, Any]) -> dict[str, Any]:
        """Say what it is told of settings of screens: outside the office, which they are and not what they hold."""
        return dict(facts) if self.is_inside else {name: facts[name] for name in TOLD_OUTSIDE}

    @property
    def is_treating(self) -> bool:
        """Whether it has operated on the joints that are its own, and so knows them one by one."""
        return self.kind in (HOSPITAL, SURGEON)


TO_COMMITTEE = Recipient(COMMITTEE)


def withheld_under(recipient: Recipient, edition: Edition) -> int | None:
    """Say below what every count is withheld on the way: a maker has no joints of its own that it operated on."""
    return edition.withhold_counts_under if recipient.kind == MAKER else None


def read_recipient(text: str) -> Recipient:
    """
    Read who gets an edition, as the command line says it.

    Raises:
        SummaryError: there is no such edition, or a code is missing or too much.

    >>> str(read_recipient("hospital:H012")), read_recipient("public").code
    ('hospital:H012', '')
    """
    kind, colon, code = text.strip().partition(":")
    if kind not in KINDS:
        raise SummaryError(f"There is no edition {text}. {nearest(kind, KINDS)}")
    if kind in WITH_CODE and not code:
        raise SummaryError(f"The edition {kind} is for one of them. Write --for {kind}:CODE.")
    if kind not in WITH_CODE and colon:
        raise SummaryError(f"The edition {kind} is for all its readers. Write --for {kind}.")
    return Recipient(kind, code.strip())


def known_recipient(recipient: Recipient, known: Mapping[str, Sequence[str]]) -> Recipient:
    """
    Give the recipient with its code as the data cut writes it.

    Raises:
        SummaryError: the data cut has no such code.
    """
    if not recipient.code:
        return recipient
    codes = {code.lower(): code for code in known[recipient.kind] if " " not in code}  # "not recorded" gets nothing
    found = codes.get(recipient.code.lower())
    if found is None:
        raise SummaryError(
            f"There is no {recipient.kind} {recipient.code} in this data cut. "
            f"{nearest(recipient.code, list(codes.values()))}"
        )
    return Recipient(recipient.kind, found)
