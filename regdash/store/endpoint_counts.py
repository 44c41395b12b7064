"""How an endpoint is counted: which joints it follows, and the query that tells when they left follow-up and how."""

from collections.abc import Mapping
from typing import Any

from regdash import vocabulary
from regdash.cohort import Predicate
from regdash.endpoints import (
    ANY_REVISION,
    CENSORS,
    COMPETES,
    COMPONENT_CLOCK,
    EVENT,
    IGNORED,
    JOINT_CLOCK,
    REVISION_CLOCK,
    Endpoint,
)
from regdash.store.sqlfiles import statement
from regdash.store.words import ROLES, quoted

TREATMENTS = {EVENT: 0, COMPETES: 1, CENSORS: 2, IGNORED: 3}  # as sql/queries/endpoint_counts.sql reads them


def followed(endpoint: Endpoint, cohort: Predicate) -> Predicate:
    """Narrow a cohort down to the joints that an endpoint follows."""
    tests = [cohort.sql]
    if endpoint.classes:
        tests.append(f"class in ({', '.join(map(quoted, endpoint.classes))})")
    if endpoint.clock == REVISION_CLOCK:
        tests.append(f"ended = {quoted(vocabulary.ENDINGS[0])}")
    if endpoint.clock == COMPONENT_CLOCK:
        tests.append(f"(primary_roles & {1 << ROLES.index(endpoint.role)}) > 0")
    return Predicate(" and ".join(tests), cohort.parameters)


def count_query(endpoint: Endpoint, competing: int, **parts: str) -> tuple[str, Mapping[str, Any]]:
    """
    Write the query that an endpoint is counted by, and what it binds beside the cohort's own values.

    Args:
        competing: number of the outcome that a competing revision is counted as.
        parts: grouping, reason, no_reason and predicate, as `queries/event_rows` needs them.

    Its rows are joints, or counts of joints where it has a column of that name.
    """
    if endpoint == ANY_REVISION:
        return statement("queries/event_rows", **parts), {}
    if endpoint.clock == COMPONENT_CLOCK:
        return statement("queries/removal_counts", **parts), {"role": endpoint.role}
    path = {JOINT_CLOCK: "queries/endpoint_counts", REVISION_CLOCK: "queries/re_revision_counts"}[endpoint.clock]
    return statement(path, treatment=_treatment(endpoint), competing=str(competing), **parts), {}


def _treatment(endpoint: Endpoint) -> str:
    """Say in SQL what an episode is to the endpoint."""
    cases = "".join(f"when {rule.flag} then {TREATMENTS[rule.treatment]} " for rule in endpoint.rules)
    otherwise = str(TREATMENTS[endpoint.otherwise])
    return f"case {cases}else {otherwise} end" if cases else otherwise
