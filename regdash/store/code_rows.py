"""
The vocabulary as rows of the code tables that statements join (see sql/settle/code_tables.sql).
"""

from typing import Any

from regdash import vocabulary

Rows = list[tuple[Any, ...]]


def code_rows() -> dict[str, Rows]:
    """
    Give the rows of each code table, by its name.

    >>> ("hip", "total", "shell", 2, False) in code_rows()["naming_roles"]
    True
    """
    return {
        "roles": [_role(joint, role) for joint, roles in vocabulary.ROLES.items() for role in roles],
        "naming_roles": _naming_roles(),
        "conversions": _conversions(),
        "taken_out": [
            (joint, action, role)
            for action, joints in vocabulary.TAKEN_OUT.items()
            for joint, roles in joints.items()
            for role in roles
        ],
        "bearing_couples": [
            (head, liner, f"{head} on {liner}")
            for head in vocabulary.HEAD_MATERIALS
            for liner in vocabulary.LINER_MATERIALS
        ],
        "reason_ranks": [
            (joint, reason.detail, reason.group, reason.rank)
            for joint, reasons in vocabulary.REASONS.items()
            for reason in reasons
        ],
    }


def _role(joint: str, role: str) -> tuple[Any, ...]:
    places = (n for n, roles in enumerate(vocabulary.PLACES[joint], 1) if role in roles)
    sides = vocabulary.COUPLE_ROLES.items() if joint == "hip" else ()
    couple = next(((side, roles.index(role)) for side, roles in sides if role in roles), (None, None))
    return (
        joint,
        role,
        next(places, None),
        role not in vocabulary.MATERIAL_ROLES,
        role in vocabulary.BEARING_ROLES[joint],
        role in vocabulary.FIXED_ROLES[joint],
        *couple,
        vocabulary.HUMERAL_ROLES.get(role) if joint == "shoulder" else None,
    )


def _naming_roles() -> Rows:
    return [
        (joint, joint_class, role, name_no, role in vocabulary.NAMING_ALONE.get(joint, {}).get(joint_class, ()))
        for joint, classes in vocabulary.NAMING_ROLES.items()
        for joint_class, names in classes.items()
        for name_no, roles in enumerate(names, 1)
        for role in roles
    ]


def _conversions() -> Rows:
    """Of each class the roles that another class of the joint lacks; where it lacks none, all that name it."""
    rows: Rows = []
    for joint, classes in vocabulary.NAMING_ROLES.items():
        roles = {name: [role for names in named for role in names] for name, named in classes.items()}
        for before in roles:
            for after in roles:
                new = [role for role in roles[after] if role not in roles[before]]
                rows += [(joint, before, after, role, not new) for role in new or roles[after] if before != after]
    return rows
