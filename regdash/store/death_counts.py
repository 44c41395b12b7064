"""Operations counted by how long their patients were followed for death: what mortality is made from."""

from datetime import date

from regdash.cohort import Predicate
from regdash.errors import StoreError
from regdash.stats.events import FIRST_OUTCOMES
from regdash.store.cuts import Cut
from regdash.store.event_counts import EventCounts, GroupExpressions, tallied
from regdash.store.sqlfiles import statement

OUTCOMES = FIRST_OUTCOMES[0]  # censored, died


def deaths_known_through(cut: Cut) -> date:
    """
    Say through which date deaths are known in a cut: that of its feed, or of the cut where the feed reaches further.

    Raises:
        StoreError: the cut has no feed of deaths, so that nobody in it is known to have died.
    """
    complete = cut.manifest.complete_through.get("deaths")
    if complete is None:
        raise StoreError(
            f"The data cut {cut.name} has no feed of deaths, so mortality cannot be told from it. Take deaths in with "
            "regdash receive, and freeze again."
        )
    return min(date.fromisoformat(complete), date.fromisoformat(cut.manifest.through_date))


def count_deaths(cut: Cut, cohort: Predicate, by: GroupExpressions) -> EventCounts:
    """
    Count the operations of a cohort by group, day and whether the patient died.

    Args:
        by: expressions on `follow_up`; an operation of which two sides are in two groups is in both.

    Returns:
        Counts of operations, each a patient, a kind of joint and a day; outcomes are OUTCOMES alone.

    Raises:
        StoreError: as `deaths_known_through`.
    """
    grouping = "".join(f"{expression} as g{n}, " for n, expression in enumerate(by.sql))
    query = statement("queries/deaths_after", grouping=grouping, predicate=cohort.sql)
    parameters = {**cohort.parameters, **by.parameters, "deaths_known": deaths_known_through(cut).isoformat()}
    return cut.remembered.get(
        (query, repr(parameters), OUTCOMES),
        lambda: tallied([cut.columns(query, **parameters)], len(by.sql), OUTCOMES),
        lambda found: len(found.joints),
    )
