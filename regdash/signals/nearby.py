"""Faults of data near an implant's joints, which may make it look better or worse than it is."""

from collections.abc import Mapping
from typing import Any

from regdash.cohort import parse
from regdash.reports.completeness import completeness_report
from regdash.reports.policy import Policy
from regdash.reports.records import Asked
from regdash.signals import explained_wording as wording
from regdash.signals.explained_model import HOSPITAL, NearbyRow
from regdash.signals.one_implant import OneImplant
from regdash.store.sqlfiles import statement
from regdash.vocabulary import NOT_RECORDED

HELD, UNLINKED, WARNED, MISSING, SENT = "held", "unlinked", "warned", "missing", "hospital"
MOST_RULES, MOST_HOSPITALS = 12, 5
_OF_JOINTS = {
    "held": (HELD, "joints with a revision held back, which is not counted", "joints"),
    "candidates": (UNLINKED, "unrevised joints that a revision without a primary may belong to", "joints"),
    "no_surgeon": (MISSING, "surgeon", "joints"),
    "no_sex": (MISSING, "sex", "joints"),
    "no_asa": (MISSING, "ASA class", "joints"),
    "no_bmi": (MISSING, "body mass index", "joints"),
    "no_diagnosis": (MISSING, "diagnosis", "joints"),
    "no_reason": (MISSING, "reason of the first revision", "revisions"),
    "no_action": (MISSING, "what the first revision did", "revisions"),
}


def nearby_rows(policy: Policy, implant: OneImplant) -> tuple[NearbyRow, ...]:
    """Write a line for what is held, unlinked, warned about and missing, and for its hospitals that send least."""
    rows = _of_joints(policy, implant)
    return (
        *rows[:2],
        *_unlinked(policy, implant),
        *_findings(policy, implant),
        *rows[2:],
        *_hospitals(policy, implant),
    )


def _asked(implant: OneImplant, own: bool) -> tuple[str, Mapping[str, Any]]:
    """A predicate for its joints, or for all of its class, and what it binds."""
    use = implant.use
    predicate = (use.within.narrowed(use.word) if own else use.within).predicate()
    return predicate.sql, predicate.parameters


def _counted(implant: OneImplant, own: bool) -> dict[str, int]:
    sql, parameters = _asked(implant, own)
    found = implant.cut.columns(statement("queries/nearby_records", predicate=sql), **parameters)
    return {name: int(column[0]) for name, column in found.items()}


def _of_joints(policy: Policy, implant: OneImplant) -> list[NearbyRow]:
    own, everybody = (_counted(implant, side) for side in (True, False))
    return [
        _row(
            policy,
            kind,
            what,
            (own[name], own[of]),
            (everybody[name] - own[name], everybody[of] - own[of]),
            wording.of_what(of),
        )
        for name, (kind, what, of) in _OF_JOINTS.items()
    ]


def _row(
    policy: Policy, kind: str, what: str, own: tuple[int, int], others: tuple[int, int], note: str = ""
) -> NearbyRow:
    found, of = own
    small = policy.why_small(found, of, of - found, *others)
    return NearbyRow(
        kind=kind,
        what=what,
        found=None if policy.why_small(of - found) else policy.count(found),
        of=policy.count(of),
        share=None if small or not of else found / of,
        others_share=None if small or not others[1] else others[0] / others[1],
        note=note,
        withheld=small,
    )


def _unlinked(policy: Policy, implant: OneImplant) -> list[NearbyRow]:
    asked = {"joint": implant.use.main.joint, "implants": list(implant.use.parts)}
    ((unlinked, taken, placed),) = implant.cut.rows(statement("queries/nearby_unlinked"), **asked)
    said = (wording.TAKEN_OUT_UNLINKED, wording.PUT_IN_UNLINKED)
    return [
        _row(policy, UNLINKED, what, (found, unlinked), (0, 0), wording.of_what("unlinked"))
        for what, found in zip(said, (taken, placed), strict=True)
    ]


def _findings(policy: Policy, implant: OneImplant) -> list[NearbyRow]:
    """What rules found in its operations, those that held something back first."""
    sides = []
    for side in (True, False):
        sql, parameters = _asked(implant, side)
        sides.append(implant.cut.rows(statement("queries/nearby_findings", predicate=sql), **parameters))
    everybody = {row[:3]: row[4:] for row in sides[1]}
    rows = []
    for severity, table, rule, told, found, operations in sides[0]:
        all_found, all_operations = everybody[severity, table, rule]
        kind = HELD if severity in ("hold", "reject") else WARNED
        others = (all_found - found, all_operations - operations)
        row = _row(policy, kind, f"{rule} ({table})", (found, operations), others, told)
        rows.append((kind == WARNED, -found, row))
    return [row for *_, row in sorted(rows, key=lambda one: one[:2])][:MOST_RULES]


def _hospitals(policy: Policy, implant: OneImplant) -> list[NearbyRow]:
    """Of the hospitals that use it, those that sent the smallest share of the revisions they counted themselves."""
    level = implant.levels[HOSPITAL]
    asked = Asked(parse(f"joint={implant.use.main.joint}", known=implant.cut.known), (HOSPITAL,), kind="revision")
    sent = {row.group: row for row in completeness_report(implant.cut, policy, asked).rows}
    found = []
    for number in sorted(set(level[implant.own].tolist())):
        name = implant.label(HOSPITAL, number)
        row = sent.get(name)
        if name != NOT_RECORDED and row is not None and row.completeness is not None:
            joints = int((implant.own & (level == number)).sum())
            note = wording.hospital(policy.said(joints))
            found.append(NearbyRow(SENT, name, row.registered, row.counted, row.completeness, None, note))
    return sorted(found, key=lambda row: (row.share, row.what))[:MOST_HOSPITALS]
