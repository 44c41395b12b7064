"""What the places on what was done share: their denominators are operations, and how they are explained."""

from __future__ import annotations

from typing import TYPE_CHECKING

from regdash.dashboard import wording
from regdash.dashboard.asked import Asked
from regdash.dashboard.place import Place
from regdash.reports.done_groups import PER_YEAR, PERIODS

if TYPE_CHECKING:
    from datetime import date

    from regdash.reports.done_model import DoneHead

PERIOD_NAMES = tuple(PER_YEAR)


class DonePlace(Place):
    """A place that counts operations by when they were done."""

    @property
    def done(self) -> DoneHead | None:
        """What the painted answer says of itself."""
        head: DoneHead | None = getattr(self.answer, "head", None)
        return head

    def counted(self) -> list[str]:
        """Operations, and those of them that stand apart."""
        head = self.done
        if head is None:
            return []
        primaries = (
            []
            if head.primaries is None
            else [f"{wording.count(head.primaries)} primar{'y' if head.primaries == 1 else 'ies'}"]
        )
        unlinked = f"{wording.count(head.unlinked)} without a primary here"
        return [
            *primaries,
            f"{wording.so_many(head.revisions, 'revision')}, {unlinked}",
            f"{wording.count(head.held_revisions)} held",
        ]

    def says_how(self, asked: Asked) -> str:
        """Neither horizon nor view matters here."""
        return "by date of the operation"

    def explain_answer(self) -> None:
        """Explain the figures."""
        head = self.done
        if head is None:
            return
        self.read_explained(
            [
                ("what it is", f"{head.measure}; data cut {head.cut}"),
                ("cohort", of_each(wording.cohort_in_words(head.cohort))),
                ("formula and source", head.method),
                ("withheld", "; ".join(dict.fromkeys(self.withheld())) or "nothing"),
                *(("caution" if n == 0 else "", caution) for n, caution in enumerate(head.cautions)),
                ("command", self.command()),
            ]
        )


def of_each(text: str) -> str:
    """
    Say of a revision itself what filter words elsewhere say of the first one.

    >>> of_each("date of the first revision is 2024")
    'date of the revision is 2024'
    """
    return text.replace("the first revision", "the revision")


def label(per: str, number: int) -> str:
    """
    Name a period by its number.

    >>> label("year", 2024), label("quarter", 8099)
    ('2024', '2024Q4')
    """
    return PERIODS[per].label(number, {})


def last_whole(per: str, through: date) -> int:
    """
    Number the last period that is over by a date.

    >>> from datetime import date
    >>> last_whole("year", date(2024, 12, 31)), last_whole("year", date(2024, 12, 30))
    (2024, 2023)
    """
    own = PERIODS[per]
    number = through.year * own.in_a_year + (through.month - 1) * own.in_a_year // 12
    return number if own.days(number)[1] <= through else number - 1
