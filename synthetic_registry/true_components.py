"""
The component rows of true records: what comes out and goes in, with cement, lots and what labels say.
"""

import numpy as np

from regdash import vocabulary as words
from synthetic_registry import all_words
from synthetic_registry.catalogue import NONE
from synthetic_registry.hazards import of_poor_lot
from synthetic_registry.implants import MIDDLE_SIZE
from synthetic_registry.parts import OTHER
from synthetic_registry.records import Columns
from synthetic_registry.register import Register
from synthetic_registry.several import Several

LOT_DAYS = 182  # a lot of one component is on the shelf for half a year
SHELF_LIFE = (90, 1500)  # days from the operation to the expiry date
NO_LABEL, RAW, BRACKETED = range(3)  # how a device's label is written down; more of them in `dirty_labels`
REMOVED, IMPLANTED = (words.COMPONENT_ACTIONS.index(word) for word in ("removed", "implanted"))


def component_rows(
    several: Several,
    number: int,
    removed: np.ndarray,
    implanted: np.ndarray,
    day: np.ndarray,
    extras: dict[str, np.ndarray],
) -> tuple[Columns, np.ndarray]:
    """
    Write the components of operations on one kind of joint, those removed first.

    Args:
        number: position of the joint's register.
        removed, implanted: (n, places) entries of its catalogue.
        day: (n,) of the operation.
        extras: (n,) entries of small components by role.

    Returns:
        The rows, and how many each operation has.
    """
    catalogue = several.catalogues[number]
    put_in = np.column_stack([implanted, *extras.values()])
    cement = _cement(several, number, put_in, day)
    table = np.column_stack([removed, put_in, cement])
    there = table != NONE
    operation, column = np.nonzero(there)
    entry = table[operation, column]
    goes_in = column >= removed.shape[1]
    counts = there.sum(axis=1)
    line = np.arange(len(operation)) - np.repeat(np.cumsum(counts) - counts, counts) + 1
    roles = all_words.positions(words.ROLES[catalogue.parameters.joint], all_words.ROLES)[catalogue.roles]
    when = day[operation]
    return {
        "line_no": line.astype(np.uint8),
        "role": roles[entry],
        "action": np.where(goes_in, IMPLANTED, REMOVED).astype(np.uint8),
        "entry": (entry + several.entry_starts[number]).astype(np.int32),
        "lot": np.where(goes_in, _lots(several, number, entry, when), NONE).astype(np.int32),
    }, counts


def _cement(several: Several, number: int, put_in: np.ndarray, day: np.ndarray) -> np.ndarray:
    """Find the cement of each operation that uses any, since the form asks for it; NONE elsewhere."""
    catalogue, register = several.catalogues[number], several.registers[number]
    uses = (catalogue.cemented[put_in] & (put_in != NONE)).any(axis=1)
    uses &= several.days.calendar_years(day) >= several.reporting.cement_from
    rng = register.setting.stream(f"cement of {len(day)} operations")
    family = rng.integers(0, len(catalogue.implants.families.number), len(day))
    sizes = rng.integers(1, 9, len(day))
    return np.where(uses, catalogue.small("cement", family, sizes), NONE)


def _lots(several: Several, number: int, entry: np.ndarray, day: np.ndarray) -> np.ndarray:
    """Number the lot of each component; the planted lot stays on the shelf for as long as it is poor."""
    slot = day // LOT_DAYS
    register = several.registers[number]
    planted = register.setting.parameters.frailty.poor_lot
    if planted:
        low, high = (several.days.number(date) for date in (planted.first_day, planted.last_day))
        poor = (entry == poor_lot_entry(several, number)) & (day >= low) & (day <= high)
        slot = np.where(poor, low // LOT_DAYS, slot)
    slots = several.days.last // LOT_DAYS + 1
    return (entry + several.entry_starts[number]) * slots + slot


def poor_lot_entry(several: Several, number: int) -> int:
    """Find the entry that the planted lot is of, in its own catalogue."""
    implants, planted = several.registers[number].setting.implants, several.registers[number].setting.parameters.frailty
    family = implants.constructs.other[[implants.best_seller]]
    loose = planted.poor_lot is not None and planted.poor_lot.cementless
    found = several.catalogues[number].at(OTHER, family, np.array([MIDDLE_SIZE - 1]), np.array([int(loose)]))
    return int(found[0])


def poor_lot_joints(register: Register) -> np.ndarray:
    """Say which registered joints have a component of the planted lot; (n,) bool."""
    return of_poor_lot(register.setting, register.joints, np.arange(register.joints.primaries.registered))
