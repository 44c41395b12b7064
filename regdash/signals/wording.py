"""The sentences that go with a screen."""

from collections.abc import Sequence
from datetime import date

from regdash.signals.model import IMPLANTS
from regdash.signals.settings import ScreenSettings

METHOD = (
    "Each {unit} against all others of its class and role, in {windows}. Rates: exact conditional test (Clopper & "
    "Pearson, 1934). Hazard ratios: Cox (1972), {strata}, Efron's ties, Wald limits; p is one-sided, of a ratio up to "
    "{stated:g}, from the shares of the risk sets, bounded as by Hoeffding (1956). q: {correction}, over everything "
    "tested. Shrunken ratios and the probability of more than {stated:g}: gamma-Poisson (Clayton & Kaldor, 1987). "
    "Joints of one patient are counted as independent."
)
CORRECTED = {
    "benjamini-hochberg": "Benjamini & Hochberg (1995)",
    "benjamini-yekutieli": "Benjamini & Yekutieli (2001)",
}
SIGNAL_STARTS_A_REVIEW = (
    "A signal starts a review and shows no cause: patients, surgeons, hospitals, the implant's partners or faulty "
    "records may explain it. No signal does not show that nothing is wrong."
)
SAME_JOINTS = (
    "Implants that are used together share their joints, and their signals: look at both before either is blamed."
)
SCREENED_AGAIN = (
    "The expected number of false signals is of this screen alone: whoever screens every quarter, or with many "
    "filters, sees more of them."
)
DECISIONS_REST = (
    "For review under local governance: decisions rest with licensed practitioners and the competent authority, and a "
    "decision noted here is this office's alone."
)
NO_EARLIER_CUT = (
    "There is no data cut of an earlier time, so nothing is first seen, seen again or not seen; past quarters are "
    "replayed by: regdash signals history."
)
NOTHING_TESTED = "Nothing was tested."
NOT_IN_SCREEN = "not in this screen: fewer joints than it tells of, or none"
PARTS_NOT_RECORDED = "A joint whose {part} is not recorded is neither tested nor compared with."
REPLAYED = (
    "The screen of each quarter's last day, with what was known then of what had happened by then: {windows}, "
    "{strata}, p of a ratio up to {stated:g} as a screen has it, q by {correction} over everything tested in that "
    "quarter. A signal is q up to {q:g} in any window."
)
KNOWN_TODAY = (
    "Of what is known today, not then: which records rules hold, what a corrected record says, catalogue words, sex "
    "and age where another record tells them, and the settings. Withdrawals count from the day they were known, links "
    "and confirmed signals from the day that people decided; a link that was undone, or is contested since, counts "
    "until then."
)
RATES_ARE_CRUDE = (
    "Rates and what is expected of them are not adjusted, and average over follow-up; hazard ratios are, and compare "
    "joints on the same day since implantation."
)


def false_signals(tests: int, signals: int, expected: float, settings: ScreenSettings) -> str:
    """
    Say how many signals are expected to be false.

    Where none is true, any signal is false, and comes with a chance up to q.
    """
    if not tests:
        return NOTHING_TESTED
    said = f"{tests:,} test{'' if tests == 1 else 's'} made; "
    stated = f"a true ratio of {settings.stated_ratio:g} or less"
    if signals:
        noun = "signal" if signals == 1 else "signals"
        said += f"of {signals:,} {noun} at most {expected:.2g} are expected to be false, having {stated}"
    else:
        said += (
            f"no signal. Were all to have {stated}, one or more would come up in at most {100 * settings.q:g} % of "
            "screens"
        )
    return said + "."


def not_tested(units: int, kind: str, settings: ScreenSettings) -> str:
    """Say how many were not tested."""
    return (
        f"Not tested were {units:,} of all {kind}: fewer than {settings.minimum_joints:,} joints (these are not "
        f"listed), fewer revisions expected than {settings.minimum_expected:g}, or nobody to compare with."
    )


def apart(joints: str, withdrawn: int, confirmed: int, kind: str = IMPLANTS) -> str:
    """Say who is in no comparison group."""
    whose = [f"{withdrawn:,} withdrawn"] if withdrawn else []
    whose += [f"{confirmed:,} confirmed"] if confirmed else []
    noun = "implants" if kind == IMPLANTS or not confirmed else f"implants or {kind}"
    if withdrawn + confirmed == 1:
        noun = " or ".join(one.removesuffix("s") for one in noun.split(" or "))
    role = " in that role" if kind == IMPLANTS else ""
    return (
        f"{joints} joints with {' and '.join(whose)} {noun} are in nobody's comparison group{role}; these are "
        "themselves compared with the rest."
    )


def by_reviews(codes: Sequence[str], as_of: date | None) -> str:
    """Say what is left out of comparison groups because people confirmed it."""
    day = f"by the end of {as_of.isoformat()}" if as_of else "so far"
    return f"Confirmed in reviews {day}, and so in nobody's comparison group: {', '.join(codes)}."


def none_apart(settings: ScreenSettings) -> str:
    """Say that nobody but the unit itself is left out of what it is compared with."""
    if settings.leave_out_withdrawn:
        return "No withdrawn or confirmed implant is among these joints: each is compared with all others."
    return "Withdrawn implants are among those compared with; no confirmed one is left out."


def replayed_from_corrections(joints: str, revisions: str) -> str:
    """Say how many records could not be replayed as they first came."""
    primaries = "primary" if joints == "1" else "primaries"
    corrected = f"{joints} {primaries} and {revisions} revision{'' if revisions == '1' else 's'}"
    return f"{corrected} were corrected or linked by hand: they count from that day on, not from their first receipt."


def unknown(codes: Sequence[str]) -> str:
    """Say that a confirmed implant is not in the cut, so that a slip of the pen does not go unseen."""
    return f"The settings call {', '.join(codes)} confirmed, and this data cut has no such implant."


def several(counts: Sequence[str]) -> str:
    """Say that joints with two units in one role count with each: "12 in the role stem of total"."""
    counted = "Joints with more than one implant in a role count with each of them, and once among all others"
    return f"{counted}: {'; '.join(counts)}."


def compared_with(cut: str) -> str:
    """Say which screen this one is compared with."""
    return (
        f"First seen, seen again and not seen are by the screen of data cut {cut}, made again with these settings and "
        "reviews, so that they come of the records alone. Several things may have moved at once: the largest is named."
    )


def by_other_settings(codes: Sequence[str]) -> str:
    """Say whose decision rests on a screen by other settings."""
    return (
        f"The decision that stands rests on other settings than these, which may be why it differs: {', '.join(codes)}."
    )


def not_compared(why: str) -> str:
    """Say why there is nothing to compare with."""
    return f"Not compared with the cut before. {why}"


def strata(fields: str) -> str:
    """Say what hazard ratios hold alike."""
    return f"stratified by {fields}" if fields else "without strata"


def windows(years: Sequence[float]) -> str:
    """
    Say which windows there are.

    >>> windows([1, 5]), windows([])
    ('all of follow-up and windows that end at 1 and 5 years', 'all of follow-up')
    """
    if not years:
        return "all of follow-up"
    listed = ", ".join(f"{one:g}" for one in years[:-1])
    last = f"{years[-1]:g} year{'' if years[-1] == 1 else 's'}"
    return f"all of follow-up and windows that end at {listed + ' and ' if listed else ''}{last}"
