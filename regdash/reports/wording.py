"""
The sentences that travel with figures: how each was made and from which source, and how it may mislead.
One place, so that a screen, a script and a document say the same.
"""

from collections.abc import Callable, Sequence

Said = Callable[[int], str]  # how a count is written in a sentence

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
RATE_OF_ENDPOINT = (
    "Revisions per 100 implant-years: events of the endpoint over the years that joints were followed for it, with "
    "exact Poisson limits (Garwood, Biometrika 1936;28:437–442)."
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
HAZARD_RATIO = (
    "A hazard ratio is the rate at which joints of a group are revised over that of the reference, day by day among "
    "joints still followed whose covariates are alike: Cox's model with Efron's ties (Cox, J R Stat Soc B "
    "1972;34:187–220; Efron, J Am Stat Assoc 1977;72:557–565). Deaths and losses are censored. Limits and p are "
    "Wald's. {likeness} Tests: log-rank (Mantel, Cancer Chemother Rep "
    "1966;50:163–170), Gray (Ann Stat 1988;16:1141–1154), proportionality by the score test on 1 − "
    "Kaplan–Meier (Grambsch & Therneau, Biometrika 1994;81:515–526). Years are days / 365.25; an event on the last day "
    "of a window belongs to it."
)
JOINTS_INDEPENDENT = "Joints of one patient are counted as independent."
JOINTS_ALIKE = (
    "Their variance is that of {kind}s, not of joints: how far each joint pulls the model is added up over the joints "
    "of one {kind} (Lin & Wei, J Am Stat Assoc 1989;84:1074–1078; R's coxph with cluster). The tests of hazard ratios "
    "are Wald's by the same variance; log-rank, Gray and proportionality still take joints as independent."
)
FIRTH = (
    " Firth's penalty keeps ratios finite where a group has no revisions; limits and p are from the profile of the "
    "penalised likelihood (Firth, Biometrika 1993;80:27–38; Heinze & Schemper, Biometrics 2001;57:114–119)."
)
GAP = (
    "The difference in risk between two groups is split into each reason's cumulative incidence in one less that in "
    "the other, all reasons competing; the parts add up to it (Aalen & Johansen, Scand J Stat 1978;5:141–150). {view} "
    "Limits of differences are plain, both variances added; where a group has none yet, its side is its exact bound. "
    "Limits of shares are Fieller's (J R Stat Soc B 1954;16:175–185), with the same bounds: they exist just where the "
    "limits of the whole difference leave out 0. Years are days / 365.25."
)
GAP_VIEWS = {
    "implant": "Deaths are censored, so that the whole is the difference of 1 − Kaplan–Meier.",
    "patient": "Death competes too, and has no part in it.",
}
DIFFERENCE = (
    " A difference is the risk of a group less that of the reference, with plain limits, both variances added; where a "
    "group has no revision, its side is its exact bound, both sides combined as squares (Zou & Donner, Stat Med "
    "2008;27:1693–1702)."
)
DIFFERENCE_STANDARDISED = (
    " A difference is the risk of a group less that of the reference; its limits are the distances of both risks from "
    "their own limits, combined as squares (Zou & Donner, Stat Med 2008;27:1693–1702)."
)
CLUSTERED = (
    " Here the variance is that of patients, not of joints: how far each joint moves the risk is added up over the "
    "joints of one patient (infinitesimal jackknife; Lin & Wei, J Am Stat Assoc 1989;84:1074–1078; R's survfit with "
    "cluster), from counts of pairs."
)
CLUSTERED_DIFFERENCE = " A patient with a joint in either group counts in both, and the covariance is taken off."
STANDARDISED = (
    " Risks are directly standardised: a group's strata are mixed in the proportions of a stated population, which are "
    "taken as known (Fleiss, Levin & Paik, Statistical Methods for Rates and Proportions, 2003, chapter 19)."
)

JOINTS_APART = (
    "Joints are not mixed: the filter leaves more than one, so groups are made by joint first. Filter by joint for one."
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
SHARES_SHIFT = (
    "Shares of reasons shift with follow-up: compare incidences at the same time, not shares. They are of joints that "
    "were revised, a selection: a large share need not be a high risk, and one reason's falls where another's rises."
)
RATE_AVERAGES = (
    "A rate averages over follow-up. Where the hazard is high early, joints followed for a short time look worse "
    "than joints followed for long."
)
SIGNAL_IS_NO_CAUSE = (
    "A high rate is a reason to look, and shows no cause: patients, surgeons, hospitals and the implant's partners "
    "may explain it."
)
HELD_BACK = "held back until the hospital answers; holding one lowers the risk."
MANY_TESTS = "Many implants were tested at once: some have a small p by chance alone."
NOT_FOR_ONE_PATIENT = "Nothing here is advice for one patient."
EXACT_BOUND = (
    "Where no joint is revised yet, the upper limit is the one-sided exact bound for the joints at risk "
    "(Clopper & Pearson, 1934)."
)
EXACT_STRATA = (
    "Where no stratum has a revision yet, the upper limit is the highest standardised risk at which that is not too "
    "unlikely."
)
NO_LIMITS = "Where every joint followed has been revised, limits are not defined and none are given."
CHOSEN_BY_OUTCOME = "These joints were chosen by what happened to them: no risk or rate can be made from their number."
NO_JOINTS = "No joint of this data cut is in the cohort."
OTHERS_MAY_LACK_ROLE = (
    "In risks and rates, all others are all other joints of the class, those without a component in that role included."
)

RATIO_ON_AVERAGE = (
    "One ratio for all of follow-up is an average where the ratio changes with time. The test of proportionality "
    "does not show a change, which is no proof that there is none."
)
RATIO_CHANGES = (
    "The ratio changes with time since implantation: one ratio for all of follow-up is an average that depends on how "
    "long joints are followed. Read it window by window."
)
RATIOS_CENSOR_DEATHS = (
    "Hazard ratios say how implants last; they do not say which share of patients will be revised, nor how many more."
)
SHARES_VARY = (
    "A share divides two estimates that both vary; where reasons pull in different directions shares may lie below 0 "
    "or above 100 %. Shares are given only where the difference is shown: one that barely is has likely come out large "
    "by chance, and its shares small."
)
VERDICTS = (
    "A verdict is on these joints by that time: not met is a reason to look, and cannot say yet is neither. Of many "
    "verdicts some are wrong by chance."
)
BEST_OF_MANY = "A reference that was picked because it did best looks better than it is."
PARTS_NEED_REASONS = "Parts follow the leading reason as the surgeon recorded it; a reason is not a proven cause."


def likeness(kind: str | None) -> str:
    """
    Say what limits take joints of one patient, surgeon or hospital for.

    >>> likeness("surgeon").partition(":")[0]
    'Their variance is that of surgeons, not of joints'
    """
    return JOINTS_INDEPENDENT if kind is None else JOINTS_ALIKE.format(kind=kind)


def so_many(count: int, noun: str, said: Said = "{:,}".format) -> str:
    """
    Write a count with its noun.

    >>> so_many(1, "joint"), so_many(2, "joint"), so_many(1, "joint", lambda _: "fewer than 10")
    ('1 joint', '2 joints', 'fewer than 10 joints')
    """
    shown = said(count)
    return f"{shown} {noun}" if shown == "1" else f"{shown} {noun}s"


def few_clusters(fewest: int, kind: str, group: str | None, enough: int, said: Said = "{:,}".format) -> str:
    """Say that robust limits need many clusters, of each group where there are groups."""
    where, whose = ("", "these joints") if group is None else (" in a group", f"the joints of {group}")
    return (
        f"Robust limits come out too narrow with fewer than about {enough} {kind}s{where}: {whose} are of "
        f"{said(fewest)}."
    )


def fields(keys: Sequence[str]) -> str:
    """
    Name fields in a sentence.

    >>> fields(["age", "sex", "asa"])
    'age, sex and asa'
    """
    return " and ".join(part for part in (", ".join(keys[:-1]), *keys[-1:]) if part)


def not_adjusted(keys: Sequence[str], why: str) -> str:
    """
    Say that fields that were named are not adjusted for.

    >>> not_adjusted(["class"], "makes the groups")
    'Not adjusted for class, which makes the groups.'
    """
    return f"Not adjusted for {fields(keys)}, which {why}."


def adjusted_only_for(fields: str) -> str:
    """Say that groups were not chosen by chance, whatever was adjusted for."""
    if not fields:
        return NOT_CHOSEN_BY_CHANCE
    return (
        f"Groups were not chosen by chance: they are adjusted for {fields} alone, and patients, surgeons, hospitals "
        "and years differ between them in more than that."
    )


def many_ratios(count: int) -> str:
    """Say that some of several ratios look striking by chance."""
    return f"{count} ratios are given: some may have a small p by chance alone."


def left_out(lacking: int, joints: int, by_field: str, said: Said = "{:,}".format) -> str:
    """
    Say how many joints lack a covariate, and which.

    >>> left_out(1, 1848, "1 has no asa")
    '1 of 1,848 joints is left out because a field is not recorded: 1 has no asa.'
    """
    are = "is" if said(lacking) == "1" else "are"
    of = so_many(joints, "joint", said)
    return f"{said(lacking)} of {of} {are} left out because a field is not recorded: {by_field}."


def landmark(years: float, followed: int, joints: int, said: Said = "{:,}".format) -> str:
    """Say whose risk it is that is given at a landmark."""
    plural = "" if years == 1 else "s"
    return (
        f"Risks are those of the {said(followed)} of {so_many(joints, 'joint', said)} still followed and unrevised "
        f"at {years:g} year{plural}; times are since implantation. They say nothing on joints revised before, or of "
        "patients who died before."
    )


def ceiling(bar: float, at_least: int) -> str:
    """
    Say how a risk is judged by a ceiling.

    >>> ceiling(0.05, 500).split(":")[0]
    ' Against a ceiling of 5 %'
    """
    return (
        f" Against a ceiling of {100 * bar:g} %: met where the upper limit is below it, not met where the lower limit "
        f"is above it, else, or with fewer than {at_least:,} joints at risk, cannot say yet (one confidence interval "
        "for three verdicts: common practice)."
    )


def margin(share: float, at_least: int) -> str:
    """
    Say how a risk is judged by that of the reference.

    >>> margin(0.2, 500).split(":")[0]
    ' Against the reference with a margin of 20 %'
    """
    return (
        f" Against the reference with a margin of {100 * share:g} %: the excess is the risk less {1 + share:g} times "
        "that of the reference, its limits those of a difference, the reference's error being multiplied too. Met "
        "where its upper limit is below 0, not met where its lower limit is above 0, else, or with fewer than "
        f"{at_least:,} joints at risk in either group, cannot say yet."
    )


def standardised_to(joints: int, fields: str, said: Said = "{:,}".format) -> str:
    """Say which population risks are standardised to, and what that does not do."""
    return (
        f"Each risk is what the group's would be with the mix of {fields} of all {so_many(joints, 'joint', said)} of "
        "this cohort whose fields are recorded. Groups may differ in anything else."
    )


def held(count: int, everything: bool, said: Said = "{:,}".format) -> str:
    """Say that held revisions lower what is shown."""
    noun, are = ("revision", "is") if count == 1 else ("revisions", "are")
    whose = "in all" if everything else "of these joints"
    return f"{said(count)} {noun} {whose} {are} {HELD_BACK}"


def in_both(joints: int, said: Said = "{:,}".format) -> str:
    """Say of two cohorts side by side how far they are the same joints."""
    if not joints:
        return "No joint is in both cohorts."
    are = "joint is" if joints == 1 else "joints are"
    return (
        f"{said(joints)} {are} in both cohorts and counted in both groups: such groups are not independent, so the "
        "limits are those of each by itself, and no difference or test of the two is given."
    )


def pairs(count: int, said: Said = "{:,}".format) -> str:
    """
    Say how many pairs of joints of one patient there are.

    >>> pairs(1).partition(";")[0], pairs(12).partition(";")[0]
    ('1 pair of joints belongs to one patient', '12 pairs of joints belong to one patient each')
    """
    belong = f"{said(count)} pairs of joints belong to one patient each"
    if said(count) == "1":
        belong = "1 pair of joints belongs to one patient"
    return f"{belong}; limits allow for their likeness. The risk itself is that of joints."


def counts_withheld(under: int) -> str:
    """Say what withholding small counts does not do."""
    return (
        f"Counts under {under:,} are withheld, 0 apart, and what would give them away in their row; of reasons also "
        "others, so that the total does not tell. What else follows from totals, or from the difference of two "
        "answers, is not looked for: check before anything leaves the office."
    )


def by_chance(tested: int, level: float) -> str:
    """Say how many small p-values to expect of implants that are like all others."""
    were = "was" if tested == 1 else "were"
    return (
        f"{so_many(tested, 'implant')} {were} tested; were none different, at most about {level * tested:.1f} would "
        f"have p < {level:g} by chance (exact tests keep below that level where numbers are small)."
    )


def missing(share: float, hospitals: Sequence[str]) -> str:
    """
    Say what was assumed of missing revisions.

    >>> missing(0.1, ()).split(":")[0]
    'If 10 % of all true revisions are missing, at random'
    """
    places = (
        f"all from {', '.join(hospitals)}, where revisions per implant-year are fewest" if hospitals else "at random"
    )
    return (
        f"If {100 * share:g} % of all true revisions are missing, {places}: expected counts, their joints taken from "
        "those that were followed further; it has no limits of its own."
    )
