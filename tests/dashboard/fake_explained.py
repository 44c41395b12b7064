"""The explanation of one implant for the desk without a database: one line or two of everything there is."""

from collections.abc import Sequence
from typing import Any

from regdash import grouping
from regdash.cohort import Cohort
from regdash.errors import FilterError
from regdash.grouping import Grouping
from regdash.reports.model import Head
from regdash.signals.explained_model import (
    AlikeRow,
    CompanionRow,
    ExcessRow,
    Explanation,
    FallRow,
    FirstRevisionRow,
    NearbyRow,
    PartRow,
    UserRow,
)

FEW = "fewer than 5 revisions"


class FakeExplained:
    """Answers what explains an implant."""

    unexplained = ""  # why nothing can be explained

    def explained(
        self,
        code: str,
        cohort: Cohort | None = None,
        adjust: Sequence[Grouping] | None = None,
        windows: Sequence[float] | None = None,
    ) -> Explanation:
        self._think("explained", code)  # type: ignore[attr-defined]
        if self.unexplained:
            raise FilterError(self.unexplained)
        head: Head = self.head_of("explanation of one implant", "implant", cohort or Cohort())  # type: ignore[attr-defined]
        return Explanation(
            head=head,
            code=code,
            kind="implant",
            role="tibial",
            joint_class="total",
            word=f"implant={code}",
            adjust=tuple(grouping.parse("age,sex") if adjust is None else adjust),
            windows=tuple(part("years since implantation", group, "", n) for n, group in enumerate(("all", "0..1"))),
            excess=(excess("loosening", 14, 6.3), excess("infection", 10, 11.2), excess("all reasons", 24, 17.5)),
            at_first_revision=(
                FirstRevisionRow(
                    *("done", "bearing exchange only", "action=bearing-exchange-only"),
                    *(6, 24, 0.25, 0.1, 0.47, 120, 480, 0.25, 0.21, 0.29),
                ),
                FirstRevisionRow("taken out", "tibial", "", 12, 24, 0.5, 0.29, 0.71, 300, 480, 0.62, 0.58, 0.67),
            ),
            subgroups=(part("sex", "female", "sex=female", 0), part("size", "5", "size=5", 2)),
            falls=(fall("hospital", "H002", 0.1), fall("surgeon", "S0123", 0.44)),
            users=(
                UserRow("hospital", "H001", 500, 12, 9.1, 4000, 80, 82.2, 1.3, 0.9, 1.9, 0.03),
                UserRow("hospital", "H002", 300, 12, 8.4, 3000, 60, 61.0, 1.2, 0.8, 1.8, 0.1),
                UserRow("surgeon", "S0123", 400, 18, 9.0, 90, 3, 1.9, None, None, None, None, FEW),
            ),
            alike=(
                AlikeRow("femoral", 1, 800, 0, 0, None, None, None, "never apart"),
                AlikeRow("surgeon", 6, 800, 790, 23, 1.1, 0.7, 1.7),
            ),
            companions=(CompanionRow("patellar", "KP-004", 600, 20, 1.0, 0.6, 1.6, 1900, 70, 1.5, 1.2, 1.9),),
            nearby=(
                NearbyRow("held", "joints with a revision held back, which is not counted", 2, 800, 0.0025, 0.001),
                NearbyRow("hospital", "H002", 90, 120, 0.75, None, "revisions sent, of those its own counts have"),
            ),
            left_out=(),
            settings={},
            reviews={},
        )


def part(field: str, group: str, words: str, n: int) -> PartRow:
    ratio: tuple[Any, ...] = (None, None, None, FEW) if n == 2 else (1.4 - n / 10, 1.1, 1.9, None)
    return PartRow(field, group, words, 800 - n, 6000.0, 24 - n, 0.4, 0.3, 0.6, 0.3, *ratio)


def excess(reason: str, seen: int, due: float) -> ExcessRow:
    return ExcessRow(
        reason,
        seen,
        due,
        seen - due,
        seen * 0.6 - due,
        seen * 1.7 - due,
        seen / due,
        seen * 0.6 / due,
        seen * 1.7 / due,
        200,
    )


def fall(unit: str, user: str, size: float) -> FallRow:
    said = f"Without {unit} {user} the ratio is {1.4 * (1 - size):.2f} instead of 1.40."
    chance = (0.02, 0.08, 0.2, 0.03)
    left = 1.4 * (1 - size)
    return FallRow(unit, 6, user, 1.4, left, left / 2, left * 2, size, *chance, 0.3, *chance, 2000, 1, said)
