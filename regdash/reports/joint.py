"""One joint's life: what was implanted, what came after, how it ended. Pseudonyms only, no date of birth."""

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

from regdash.cohort import Cohort
from regdash.errors import FilterError
from regdash.reports import wording
from regdash.reports.model import ANY_REVISION, Head, JointEvent, JointReport
from regdash.reports.policy import Policy
from regdash.stats.years import years_in
from regdash.store.cuts import Cut
from regdash.store.sqlfiles import sql_file, statement
from regdash.vocabulary import NOT_APPLICABLE

Row = dict[str, Any]
_SAID = {
    "patient_id": "patient",
    "constraint_design": "constraint",
    "bearing_couple": "bearing couple",
    "head_size": "head size, mm",
    "humeral_design": "humeral design",
    "age": "age at the primary",
    "asa": "ASA class",
    "bmi": "body mass index",
    "hospital_id": "hospital",
    "surgeon_id": "surgeon",
    "surgeon_volume": "surgeon's volume in the year before",
    "implanted_date": "implanted",
    "operation_id": "operation record",
}
_NOT_FACTS = {"joint_no", "joint_id", "days", "ended", "died_day"}
_ENDINGS = {"died": "patient died", "lost": "patient lost to follow-up", "in place": "in place, last known"}


def joint_report(cut: Cut, policy: Policy, joint_id: str) -> JointReport:
    """
    Answer: what happened to this joint?

    Raises:
        FilterError: the cut has no such joint.
        PolicyError: small counts are withheld, and this is one.
    """
    policy.refuse_single("one joint's life")
    found = _rows(cut, "joint_facts", joint_id=joint_id.strip().upper())
    if not found:
        raise FilterError(f"There is no joint {joint_id} in data cut {cut.name}. List joints with: regdash joints")
    (facts,) = found
    held = _rows(cut, "joint_held", joint_no=facts["joint_no"])
    written = _head(cut, policy, facts, len(held))
    revisions = _rows(cut, "joint_revisions", joint_no=facts["joint_no"])
    linked = tuple(str(revision["operation_id"]) for revision in revisions)
    return JointReport(written, facts["joint_id"], _facts(facts), _events(cut, facts, revisions, held), linked)


def _head(cut: Cut, policy: Policy, facts: Row, held: int) -> Head:
    cautions = [wording.held(held, everything=False)] if held else []
    return Head(
        measure="one joint",
        view="",
        endpoint=ANY_REVISION,
        cohort=Cohort(),
        by=(),
        cut=cut.name,
        joints=1,
        patients=1,
        revisions=int(facts["ended"] == "revised"),
        held_revisions=held,
        median_follow_up=years_in(float(facts["days"])),
        method=wording.LISTING,
        cautions=(*cautions, wording.RECENT_INCOMPLETE, wording.NOT_FOR_ONE_PATIENT),
        settings=policy.settings,
    )


def _rows(cut: Cut, query: str, **parameters: Any) -> list[Row]:
    columns = [name for name, _ in sql_file(f"queries/{query}").columns]
    return [dict(zip(columns, row)) for row in cut.rows(statement(f"queries/{query}"), **parameters)]


def _facts(facts: Row) -> tuple[tuple[str, str], ...]:
    """Say what was known at the primary; fields that the joint cannot have are left out."""
    kept = {k: v for k, v in facts.items() if k not in _NOT_FACTS and v is not None and v != NOT_APPLICABLE}
    return tuple((_SAID.get(key, key), str(value)) for key, value in kept.items())


def _events(cut: Cut, facts: Row, revisions: list[Row], held: list[Row]) -> tuple[JointEvent, ...]:
    """Put in order: the primary, each revision, held revisions where known, the end."""
    on = _dated(facts["implanted_date"])
    components = _rows(cut, "joint_components", joint_no=facts["joint_no"])
    events = [_primary(facts, components, on)]
    events += [_revision(revision, components, on) for revision in revisions]
    events += _later_stages({facts["operation_id"], *(r["operation_id"] for r in revisions)}, components, on)
    events += _ending(facts, on)
    events.sort(key=lambda event: event.day)  # keeps the order of what fell on one day
    if held:
        last = events[-1]
        details = tuple(f"{row['operation_id']}: {row['text']}" for row in held)
        events.append(JointEvent(last.day, last.date, "revisions held back, not counted", details))
    return tuple(events)


def _dated(implanted: str) -> Callable[[int], str]:
    first = date.fromisoformat(implanted)
    return lambda day: (first + timedelta(days=day)).isoformat()


def _primary(facts: Row, components: list[Row], on: Callable[[int], str]) -> JointEvent:
    details = [f"hospital {facts['hospital_id']}, surgeon {facts['surgeon_id']}"]
    details += [f"in: {_component(c)}" for c in components if c["operation_id"] == facts["operation_id"]]
    return JointEvent(0, on(0), f"primary {facts['class']} {facts['joint']}, {facts['side']}", tuple(details))


def _revision(revision: Row, components: list[Row], on: Callable[[int], str]) -> JointEvent:
    day = revision["day"]
    details = [f"reason: {revision['reason']}", f"action: {revision['action']}"]
    details += [f"used: {revision['extras']}"] if revision["extras"] else []
    details += [f"also: {revision['also']}"] if revision["also"] else []
    details += [f"hospital {revision['hospital_id']}, surgeon {revision['surgeon_id']}"]
    details += [f"out: {_component(c)}" for c in components if c["out_day"] == day]
    details += [f"in: {_component(c)}" for c in components if c["operation_id"] == revision["operation_id"]]
    stage = "" if revision["stage"] == "single" else f", {revision['stage']} stages"
    return JointEvent(day, on(day), f"revision {revision['sequence']}{stage}", tuple(details))


def _later_stages(told: set[str], components: list[Row], on: Callable[[int], str]) -> list[JointEvent]:
    """Tell operations that put components in and are no revision of their own: second stages."""
    stages = {c["operation_id"]: c["in_day"] for c in components if c["operation_id"] not in told}
    return [
        JointEvent(
            day,
            on(day),
            "second stage of the revision before",
            tuple(f"in: {_component(c)}" for c in components if c["operation_id"] == operation),
        )
        for operation, day in stages.items()
    ]


def _ending(facts: Row, on: Callable[[int], str]) -> list[JointEvent]:
    """Say what ended follow-up, unless a revision did; a death after a revision is told too."""
    ended, day, died = facts["ended"], facts["days"], facts["died_day"]
    events = []
    if ended in _ENDINGS:
        events.append(JointEvent(day, on(day), _ENDINGS[ended], (f"followed {years_in(float(day)):.1f} years",)))
    if died is not None and ended != "died":
        events.append(JointEvent(died, on(died), _ENDINGS["died"], ()))
    return events


def _component(component: Row) -> str:
    lot = f", lot {component['lot']}" if component["lot"] else ""
    size = f", size {component['size']}" if component["size"] else ""
    return f"{component['role']} {component['implant']} ({component['catalogue_no']}{size}{lot})"
