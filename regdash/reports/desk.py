"""Where questions are asked: one data cut, one policy, and a method for each question."""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path

from regdash.cohort import Cohort
from regdash.grouping import Grouping
from regdash.reports.model import IMPLANT_VIEW, RiskReport
from regdash.reports.policy import Policy
from regdash.reports.risk import risk_report
from regdash.store.cuts import Cut, Manifest, list_cuts

DEFAULT_YEARS = (1.0, 5.0, 10.0, 15.0)


class Desk:
    """
    Every question on one data cut. Any thread may ask; `cancel`, from another thread, ends what is under way
    and makes it raise Cancelled.
    """

    def __init__(self, store: Path, cut: str | None = None, policy: Policy | None = None) -> None:
        self.policy = policy or Policy()
        self._store = store
        self._cut = Cut(store, cut)

    @property
    def manifest(self) -> Manifest:
        """What the data cut was made from."""
        return self._cut.manifest

    @property
    def known(self) -> Mapping[str, Sequence[str]]:
        """Values of the listed fields in this cut, for `cohort.parse`."""
        return self._cut.known

    def cuts(self) -> list[Manifest]:
        """List the data cuts of the store, newest last."""
        return list_cuts(self._store)

    def risk(
        self,
        cohort: Cohort,
        by: Sequence[Grouping] = (),
        years: Sequence[float] = DEFAULT_YEARS,
        view: str = IMPLANT_VIEW,
        reason: str | None = None,
    ) -> RiskReport:
        """Ask which proportion is revised by so many years, as `risk_report`."""
        with self._asking() as cut:
            return risk_report(cut, self.policy, cohort, by, years, view, reason)

    def cancel(self) -> None:
        """End every question under way; each raises Cancelled in its own thread."""
        self._cut.cancel()

    def close(self) -> None:
        """End what is under way and close the data cut."""
        self._cut.close()

    @contextmanager
    def _asking(self) -> Iterator[Cut]:
        with self._cut.asking():
            yield self._cut
