"""The sentences that travel with what moved between two cuts."""

from regdash.reports.wording import counts_withheld

__all__ = ["counts_withheld"]

CHANGES = (
    "The earlier cut is turned into the later one in steps: definition changes, corrections, links undone, new links, "
    "late events, new events. A part is what a figure moves by in its step, so the parts add up to the whole "
    "difference, for counts and for risks alike; another order would give risks slightly other parts. New is what "
    "happened after the earlier cut's through-date, with the follow-up since. All else is of the time before. Late is "
    "what had not been received, and follow-up that had stopped because a feed was not complete so far. A correction "
    "is a record that was known and says something else, or was sent again. A link is a revision joined to a joint, or "
    "taken off it, while both records stood. A definition is a record that rules kept back or let go, and what is "
    "worked out anew by other rules, catalogue or code lists. Risk is net risk, 1 − Kaplan–Meier (J Am Stat Assoc "
    "1958;53:457–481)."
)
ONE_CAUSE = (
    "A joint has one cause for where it is counted and one for how its follow-up ends; where several things changed in "
    "one of them, a correction goes before the rest."
)
OTHER_DEFINITIONS = "Rules, catalogue or code lists differ between the two cuts."
