"""
Sentences made from figures. Each states the estimate, its limits, the joints it is of and the time; none says why.
A sentence whose figures are not there is not made: the functions give nothing then.
"""

from collections.abc import Sequence

from regdash.output.wording import count, number, percent, with_limits, years
from regdash.reports.model import PATIENT_VIEW, CompareReport, CompareRow, GapReport, Head, ReasonRow, RiskRow


def risk_sentence(what: str, row: RiskRow, head: Head, joints: int | None, period: str) -> str | None:
    """
    Say one risk: "By 10 years since the primary …".

    Args:
        what: the joints, as in "total knees"; joints: how many they are.
    """
    if None in (row.estimate, row.lower, row.upper, row.revisions, row.at_risk, joints):
        return None
    view = "with death competing" if head.view == PATIENT_VIEW else "had nobody died"
    revisions = f"{count(row.revisions)} revision{'' if row.revisions == 1 else 's'}"
    return (
        f"By {at_years(row.years)} since the primary an estimated {percent(row.estimate)} % of {what} are "
        f"revised, {view} "
        f"({limits(head)} {percent(row.lower)} to {percent(row.upper)} %): {revisions} by then among {count(joints)} "
        f"joints, {count(row.at_risk)} still at risk at that time; {period}."
    )


def at_years(value: float) -> str:
    """
    Write a time.

    >>> at_years(1.0), at_years(2.5)
    ('1 year', '2.5 years')
    """
    return f"{years(value)} year{'' if value == 1 else 's'}"


def limits(head: Head) -> str:
    """Name limits by their level."""
    return f"{100 * head.settings['confidence_level']:g} % limits"


def ratio_sentences(report: CompareReport, period: str) -> list[str]:
    """Say each ratio over all follow-up: higher, lower, or that the limits hold both."""
    return [
        said
        for row in report.rows
        if row.from_years == 0 and row.to_years is None and (said := _ratio(row, report, period)) is not None
    ]


def _ratio(row: CompareRow, report: CompareReport, period: str) -> str | None:
    if row.hazard_ratio is None or row.lower is None or row.upper is None:
        return None
    (written,) = with_limits([(row.hazard_ratio, row.lower, row.upper)], 2)
    adjusted = several([g.field.key for g in report.adjust])
    alike = f"alike in {adjusted}" if adjusted else "as they are"
    if row.lower > 1:
        found = "higher than"
    elif row.upper < 1:
        found = "lower than"
    else:
        return (
            f"Between {row.group} and {row.reference}, among joints {alike}, no difference in the rate of revision is "
            f"shown: hazard ratio {written.strip()}, {limits(report.head)} that hold 1; "
            f"{count(report.modelled)} joints "
            f"in the model, {period}. That is no proof that there is none."
        )
    return (
        f"Among joints {alike}, the rate of revision of {row.group} is {found} that of {row.reference}: hazard ratio "
        f"{written.strip()}, {limits(report.head)}; {count(report.modelled)} joints in the model, {period}."
    )


def gap_sentences(report: GapReport, period: str) -> list[str]:
    """Say the whole difference, and the largest part that is shown to be there."""
    if not report.rows:
        return []
    whole, parts = report.rows[-1], report.rows[:-1]
    one, other = (group.label for group in report.groups)
    if whole.difference is None or whole.lower is None or whole.upper is None:
        return []
    between = f"{limits(report.head)} {_points(whole.lower)} to {_points(whole.upper)}"
    points = f"{_points(whole.difference)} percentage points ({between})"
    at = f"By {at_years(report.years)} the risk of {one} less that of {other} is {points}"
    said = [f"{at}; {count(report.head.joints)} joints, {period}."]
    if whole.lower <= 0 <= whole.upper:
        said[0] = f"{at}, and the limits hold 0: no difference is shown; {count(report.head.joints)} joints, {period}."
        return said
    shown = [
        part
        for part in parts
        if part.difference is not None
        and part.lower is not None
        and part.upper is not None
        and part.difference * whole.difference > 0
        and not part.lower <= 0 <= part.upper
    ]
    if shown:
        most = max(shown, key=lambda part: abs(part.difference or 0.0))
        said.append(
            f"The largest part with limits that leave out 0 is of revisions whose recorded leading reason is "
            f"{most.reason}: {_points(most.difference)} points ({_points(most.lower)} to {_points(most.upper)})."
        )
    return said


def _points(value: float | None) -> str:
    return number(None if value is None else 100 * value, 1)


def incidence_sentence(row: ReasonRow, period: str) -> str | None:
    """Say the incidence of one recorded reason in one group."""
    if row.incidence is None:
        return None
    (written,) = with_limits([(row.incidence, row.lower, row.upper)], 1, 100)
    who = "All these joints" if row.group == "all" else f"{row.group[:1].upper()}{row.group[1:]}"
    return (
        f"{who}: the recorded reason with the highest estimated incidence by {at_years(row.years)} is {row.reason}, "
        f"{written.strip()} % of joints, death competing; {count(row.revisions)} revisions for it in all of follow-up, "
        f"{count(row.at_risk)} joints still at risk at that time, {period}."
    )


def several(things: Sequence[str]) -> str:
    """
    List things in a sentence.

    >>> several(["a"]), several(["a", "b", "c"])
    ('a', 'a, b and c')
    """
    return " and ".join(part for part in (", ".join(things[:-1]), *things[-1:]) if part)
