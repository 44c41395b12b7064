"""Where an implant or a construct is used: the class and role in which most joints hold it, and where else."""

from collections.abc import Sequence
from dataclasses import dataclass

from regdash.cohort import Cohort
from regdash.errors import FilterError
from regdash.reports.counted import refuse_outcomes
from regdash.reports.implants import ImplantCounts, implant_counts
from regdash.store.cuts import Cut
from regdash.store.sqlfiles import statement
from regdash.suggest import nearest
from regdash.vocabulary import NOT_RECORDED

IMPLANT, CONSTRUCT = "implant", "construct"  # the filter words that choose joints by it


@dataclass(frozen=True)
class Use:
    """One implant or construct within a cohort."""

    kind: str  # IMPLANT or CONSTRUCT
    cohort: Cohort  # what was asked about, without the word that chose the implant itself
    main: ImplantCounts  # in the class and role with most joints
    elsewhere: tuple[ImplantCounts, ...]

    @property
    def code(self) -> str:
        """As the cut writes it."""
        return self.main.implant

    @property
    def parts(self) -> tuple[str, ...]:
        """The implants it is made of: itself, or those of the construct."""
        return tuple(self.code.split("/")) if self.kind == CONSTRUCT else (self.code,)

    @property
    def within(self) -> Cohort:
        """The cohort's joints of its class."""
        return self.cohort.narrowed(f"joint={self.main.joint}", f"class={self.main.joint_class}")

    @property
    def word(self) -> str:
        """The filter word that chooses its joints."""
        return f"{self.kind}={self.code}"


def use_of(cut: Cut, cohort: Cohort, code: str) -> Use:
    """
    Find an implant or a construct, and where joints of a cohort hold it.

    Raises:
        FilterError: the cut knows no such code, none of the cohort's primaries used it, the cohort is chosen by
            another component, or by an outcome.
    """
    kind, code = _known(cut, code)
    cohort = _among(cohort, kind, code)
    refuse_outcomes(cohort)
    found = implant_counts(cut, cohort, code) if kind == IMPLANT else _construct_counts(cut, cohort, code)
    if not found:
        raise FilterError(f"No primary of {str(cohort) or 'this data cut'} used {code}. Widen the filter.")
    main = max(found, key=lambda counts: counts.joints)
    return Use(kind, cohort, main, tuple(counts for counts in found if counts is not main))


def _known(cut: Cut, code: str) -> tuple[str, str]:
    """Find a code as the cut writes it, or refuse it and name the nearest."""
    wanted = code.strip().casefold()
    codes: Sequence[str] = ()
    for kind in (IMPLANT, CONSTRUCT):
        codes = [one for one in cut.known[kind] if one != NOT_RECORDED]
        for there in codes:
            if there.casefold() == wanted:
                return kind, there
        if "/" not in wanted:
            break
    raise FilterError(f"There is no {kind} {code} in data cut {cut.name}. {nearest(code, codes)}")


def _among(cohort: Cohort, kind: str, code: str) -> Cohort:
    """Leave out a word that chose the implant itself; others on components would speak of another one than it."""
    for condition in cohort.conditions:
        chosen = condition.field.component or condition.key == kind
        if chosen and not condition.negated:
            if (condition.key, condition.values) != (kind, (code,)):
                raise FilterError(f"{condition} chooses joints by another component than {code}. Leave it out.")
            cohort = cohort.without(kind)
    return cohort


def _construct_counts(cut: Cut, cohort: Cohort, code: str) -> list[ImplantCounts]:
    predicate = cohort.predicate()
    query = statement("queries/construct_use", predicate=predicate.sql)
    return [ImplantCounts(*row) for row in cut.rows(query, **{**predicate.parameters, "implant": code})]
