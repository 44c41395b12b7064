"""What is refused before anything of a unit is told to who is not of the office: a maker, or an authority."""

from regdash.errors import SummaryError
from regdash.reports.unit_profile import SURGEONS
from regdash.signals.wording import NOT_IN_SCREEN
from regdash.summary.sections.outside_explanation import TOLD
from regdash.summary.sections.own_implants import FEW_HOSPITALS, few_hospitals
from regdash.summary.unit_asker import UnitAsker

FEW_SURGEONS = "used by too few surgeons, or nearly all by one: its figures would be those of a surgeon"
WHOLE = ("joint", "class")  # filter words that a screen for outside may be chosen by


def refuse(asker: UnitAsker) -> None:
    """
    Refuse what would tell of single hospitals or patients.

    Raises:
        SummaryError: the cohort is a part of a joint's or class's joints, the edition asks for what is never told, or
            the unit is used too little or at too few hospitals.
    """
    unit, whole = asker.unit, asker.rows[0].screened
    narrow = [str(one) for one in asker.cohort_screened.conditions if one.key not in WHOLE or one.negated]
    if narrow:
        raise SummaryError(f"What a maker is told is of all joints of a class. Leave out {' '.join(narrow)}.")
    never = [part for part in asker.edition.explained if part not in TOLD]
    if never:
        raise SummaryError(f"No maker is told {never[0]}: take it out of explained in {asker.edition.name}.toml.")
    if whole.withheld == NOT_IN_SCREEN:
        raise SummaryError(f"There is nothing of {unit.code} to tell a maker: it is not in this screen.")
    if whole.joints is None or whole.revisions is None:
        least = asker.others.withhold_counts_under
        raise SummaryError(f"Nothing of {unit.code} is told to a maker: it has 1 to {least - 1} joints or revisions.")
    if few_hospitals(asker, asker.own):
        raise SummaryError(f"Nothing of {unit.code} is told to a maker: {FEW_HOSPITALS}.")
    if _few_surgeons(asker):
        raise SummaryError(f"Nothing of {unit.code} is told to a maker: {FEW_SURGEONS}.")


def _few_surgeons(asker: UnitAsker) -> bool:
    """Whether its figures are nearly those of one surgeon, or of fewer than the edition asks of hospitals."""
    used = asker.desk.joints_by_unit(SURGEONS, asker.own, ())
    joints = sorted((sum(own.values()) for own in used.values()), reverse=True)
    return len(joints) < asker.edition.least_hospitals or sum(joints[1:]) < asker.others.withhold_counts_under
