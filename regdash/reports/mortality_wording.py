"""The sentences that travel with mortality."""

from regdash.reports.wording import Said

MEASURE = "mortality after the primary operation"
METHOD = (
    "Mortality is 1 − Kaplan–Meier of death from any cause: the proportion of operations whose patient has died by so "
    "many days, that of the operation being day 0 and the last one counting (Kaplan & Meier, J Am Stat Assoc "
    "1958;53:457–481). An operation is what a patient had done on one day: both sides count once, other joints apart. "
    "Follow-up goes on past revisions, and ends at death, loss (emigration, opt-out) or the date through which deaths "
    "are known; on one day a death counts before a loss. Limits are pointwise, on the log(−log) scale with Greenwood's "
    "variance (Kalbfleisch & Prentice, The Statistical Analysis of Failure Time Data). A year is 365 days, and years "
    "are days / 365.25 rounded down."
)
NO_OPERATIONS = "No operation of this data cut is in the cohort."
WHO_GETS_IT = (
    "Mortality says who is operated on: age, illness and emergencies differ between classes, implants, hospitals and "
    "surgeons. By implant it shows who gets it, not what it does."
)
OPERATED_AGAIN = (
    "A patient operated on again counts with each operation from its own day, so that one death may follow several; "
    "limits take operations as independent."
)
PRIMARIES_ALONE = "Deaths after a revision are counted from the primary: mortality of revisions is another question."
NO_DEATH_YET = (
    "Where nobody has died yet, the upper limit is the one-sided exact bound for the operations at risk (Clopper & "
    "Pearson, 1934)."
)
NO_LIMITS = "Where every patient followed has died, limits are not defined and none are given."


def known_through(date: str) -> str:
    """Say where follow-up for death ends, and which deaths are not there."""
    return (
        f"Deaths are known through {date}, where follow-up ends. Those that reach no feed, as abroad, lower the figure."
    )


def in_several_groups(operations: int, cohorts: bool, said: Said = "{:,}".format) -> str:
    """
    Say how many operations count in more than one group, or in both of two cohorts.

    >>> in_several_groups(1, cohorts=False)
    '1 operation has its two sides in different groups and counts in each.'
    >>> in_several_groups(9, cohorts=True)
    '9 operations are in both cohorts and count in each.'
    """
    one = operations == 1
    where = ("is" if one else "are") + " in both cohorts"
    if not cohorts:
        where = f"{'has its' if one else 'have their'} two sides in different groups"
    return f"{said(operations)} operation{'' if one else 's'} {where} and count{'s' if one else ''} in each."
