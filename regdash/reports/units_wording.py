"""The sentences that travel with figures of hospitals and surgeons."""

UNITS = (
    "Each hospital or surgeon with its primaries: joints, patients, their revisions, the risk at one time, the rate "
    "over all follow-up, and how many primaries fall into the last 365 days of the cut. Units stand in the order of "
    "their codes."
)
PARTIAL_SHARE = (
    " The share of partials is of all knees of the unit that meet the filter's words on patients, dates and places; "
    "patellofemoral ones count as partial."
)
COMPLETENESS = (
    " Completeness is primaries of the hospital in the register over those that its administrative system counts, in "
    "months that can be compared; of the filter it follows joint, date and place. More than all of them is a fault."
)
NO_FINDING = (
    "This is no finding about a hospital or a person: their patients and implants differ, nothing is adjusted for "
    "that, and where joints are few, chance alone moves a risk far."
)
OF_THE_PRIMARY = "A revision counts for the hospital or surgeon of the primary, wherever and by whomever it was done."
MANY_UNITS = (
    "Of many units some lie far from the rest by chance alone, the small ones first: no order by a figure is a ranking."
)
VOLUME_LATE = "Volume is of joints that meet the filter; it is low too where a unit's latest rows have not come."
