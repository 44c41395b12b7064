"""The sentences that travel with answers about records: how each was made, and how it may mislead."""

from regdash.reports.wording import counts_withheld

__all__ = ["counts_withheld"]

COMPLETENESS = (
    "Completeness is the number of operations counted in this data cut over the number that the hospital's "
    "administrative system counts, for the same hospital, joint, kind and month. Only months are compared that are "
    "over by the through-date, for which the hospital's feed is complete, and that have an administrative count."
)
NOT_BOTH_KINDS = (
    "Primaries and revisions are kept apart: revisions go missing more often, and each one that does lowers a risk."
)
COUNTS_HAVE_FAULTS = (
    "Administrative counts have faults of their own: codes may not tell sides apart, and a revision may be coded as "
    "something else. Over 100 % is a fault to look into, not a success."
)
OVER_FAULT = "over 100 %: operations sent twice, under another kind, hospital or month, or a count that is short"
NO_COUNT = "no administrative count to compare with"
NONE_COUNTED = "the administrative system counts none"
ALL_RECENT = "every operation is too recent"
DELAYS = (
    "A delay is the number of days from an operation to the day on which a readable record of it was first received; "
    "corrections later do not count. The median and the 90th centile are order statistics: the smallest delay that at "
    "least half, or nine tenths, of the operations do not exceed."
)
STILL_TO_COME = (
    "Delays are of operations that have been received: what is still to come is not there, and would make them longer."
)
TRIANGLE = (
    "Operations by month or quarter of operation and that in which a readable record was first received. Records that "
    "are late by as much stand in one column, so that a month can be read against earlier ones at the same age. A "
    "share is of those that have come by now: what is still to come is in no whole."
)
LAST_MONTH_OPEN = (
    "The last column that a month or quarter can have is that of the cut's known-as-of date, which may not be over."
)
MISSINGNESS = (
    "A field is missing where it is empty or said to be not recorded, among records to which it applies: by joint, "
    "kind and class, and for fields that came with a later form, among operations since then that were sent on it."
)
NOTHING_FILLED_IN = "Nothing is filled in for what is missing: joints without a value stand in a group of their own."
FEEDS = (
    "A feed is complete through the latest date that any envelope of its sender states, as known on the cut's "
    "known-as-of date. A hospital's joints are followed to the earliest of the through-date, the date through which "
    "its own operations are complete, and the date through which deaths are."
)


def recent_left_out(days: int) -> str:
    """Say which operations are too recent for their delay to be known."""
    return (
        f"Only operations that happened at least {days} days before the cut's known-as-of date are counted, since "
        "those of later days can so far have only short delays."
    )


def held_operations(said: str, count: int) -> str:
    """
    Say how many operations were received and do not count.

    >>> held_operations("1", 1)
    '1 operation was received and held back: it is not among these.'
    """
    was, those = ("operation was", "it is") if count == 1 else ("operations were", "they are")
    return f"{said} {was} received and held back: {those} not among these."
