"""Named cohorts in memory, for the fake desk."""

from regdash.cohort import Cohort


class FakeNamed:
    """Keeps names while it lives."""

    @property
    def named(self) -> dict[str, str]:
        return self.__dict__.setdefault("_named", {"young-men": "joint=knee sex=male age=..54"})

    def save_cohort(self, name: str, cohort: Cohort, note: str = "") -> str:
        self.named[name] = str(cohort)
        return name

    def remove_cohort(self, name: str) -> str:
        del self.named[name]
        return name
