"""
The sentences that travel with figures: how each was made and from which source, and how it may mislead.
One place, so that a screen, a script and a document say the same.
"""

NET_RISK = (
    "Net revision risk is 1 − Kaplan–Meier: the proportion of joints that would be revised had nobody died or been "
    "lost, who leave follow-up on their day (Kaplan & Meier, J Am Stat Assoc 1958;53:457–481). Limits are pointwise, "
    "on the log(−log) scale with Greenwood's variance (Kalbfleisch & Prentice, The Statistical Analysis of Failure "
    "Time Data). Years are days / 365.25."
)
CUMULATIVE_INCIDENCE = (
    "Cumulative incidence is the Aalen–Johansen estimate, death and every other reason competing: the proportion of "
    "joints that are revised for it (Aalen & Johansen, Scand J Stat 1978;5:141–150). Limits are pointwise, on the "
    "log(−log(1 − F)) scale with the delta-method variance (Marubini & Valsecchi, 1995). Years are days / 365.25."
)
RATE = (
    "Revisions per 100 implant-years: first revisions over the years that joints were followed, with exact Poisson "
    "limits (Garwood, Biometrika 1936;28:437–442)."
)
RATE_AGAINST_OTHERS = (
    "Each implant's revisions per 100 implant-years against those of all other joints of its class, its own left "
    "out. Rates have exact Poisson limits (Garwood, Biometrika 1936;28:437–442). Given both counts together, the "
    "implant's is binomial when the rates are equal: limits of the ratio and the one-sided p (that many or more) come "
    "from it exactly (Clopper & Pearson, Biometrika 1934;26:404–413). The test holds at any number of joints and is "
    "given also where the rate is withheld."
)
DESCRIPTION = (
    "Counts of joints, patients, hospitals and surgeons of the primaries; age in completed years at the primary; "
    "median follow-up over all joints, whatever ended it."
)
LISTING = "Joints as the data cut holds them, by pseudonym; nothing is estimated."
WINDOWS = (
    "Time since implantation is split; a joint counts in a window for as long as it was followed within it, and a "
    "revision on the last day of a window belongs to it."
)

NOT_CHOSEN_BY_CHANCE = (
    "Groups were not chosen by chance: patients, surgeons, hospitals and years differ between them, "
    "and nothing here is adjusted for that."
)
RECENT_INCOMPLETE = (
    "The latest quarters are incomplete: hospitals report late, and a revision that has not arrived lowers the risk."
)
DEATHS_CENSORED = (
    "Deaths are censored: this says how the implant lasts, not which share of patients will be revised, which is lower."
)
DEATHS_COMPETE = (
    "Death competes: this says which share of patients is revised, and it falls where more of them die; "
    "compare implants by net risk."
)
SHARES_SHIFT = "Shares of reasons shift with follow-up: compare incidences at the same time, not shares."
RATE_AVERAGES = (
    "A rate averages over follow-up. Where the hazard is high early, joints followed for a short time look worse "
    "than joints followed for long."
)
SIGNAL_IS_NO_CAUSE = (
    "A high rate is a reason to look, and shows no cause: patients, surgeons, hospitals and the implant's partners "
    "may explain it."
)
MANY_TESTS = "Many implants were tested at once: some have a small p by chance alone."
NOT_FOR_ONE_PATIENT = "Nothing here is advice for one patient."
EXACT_BOUND = (
    "Where no joint is revised yet, the upper limit is the one-sided exact bound for the joints at risk "
    "(Clopper & Pearson, 1934)."
)
NO_LIMITS = "Where every joint followed has been revised, limits are not defined and none are given."
CHOSEN_BY_OUTCOME = "These joints were chosen by what happened to them: no risk or rate can be made from their number."
NO_JOINTS = "No joint of this data cut is in the cohort."
OTHERS_MAY_LACK_ROLE = "All others are all other joints of the class, those without a component in that role included."


def held(count: int, everything: bool) -> str:
    """Say that held revisions lower what is shown."""
    noun, are = ("revision", "is") if count == 1 else ("revisions", "are")
    whose = "in all" if everything else "of these joints"
    return f"{count:,} {noun} {whose} {are} held back until the hospital answers; holding one lowers the risk."


def by_chance(tested: int, level: float) -> str:
    """Say how many small p-values to expect of implants that are like all others."""
    return (
        f"{tested:,} implants were tested; were none different, at most about {level * tested:.1f} would have "
        f"p < {level:g} by chance (exact tests keep below that level where numbers are small)."
    )
