"""
Heads and what they slide on: size and materials by the year and by what the implant allows.
"""

import numpy as np

from regdash import vocabulary as words
from synthetic_registry.parameters import JointClass
from synthetic_registry.setting import Setting

LINERS = len(words.LINER_MATERIALS)
ONLY_POLYETHYLENE = ("one-piece cup", "dual-mobility bearing")
POLYETHYLENES = tuple(place for place, word in enumerate(words.LINER_MATERIALS) if word.endswith("polyethylene"))
STANDARD, CROSS_LINKED = (
    words.LINER_MATERIALS.index(f"{word} polyethylene") for word in ("standard", "highly cross-linked")
)


def draw_heads(setting: Setting, kind: JointClass, year: np.ndarray, types: np.ndarray) -> dict[str, np.ndarray]:
    """
    Draw size of the head, and both materials.

    Args:
        kind: the joints' class.
        year: (n,) of each joint, numbered from the register's first.
        types: (n,) position in the class's implant types.
    """
    rng, count = setting.stream(f"heads of {kind.name}"), len(year)
    sizes = tuple(kind.head_sizes)
    head = np.zeros(count, np.uint8)
    if sizes:
        head = setting.by_year(kind.head_sizes, sizes, year, rng.random(count))
        for place, of_type in enumerate(kind.implant_types):
            if of_type.head_sizes:
                largest = sizes.index(of_type.head_sizes[-1])
                head = np.where((types == place) & (head > largest), np.uint8(largest), head)
    couple = np.full(count, words.BEARING_COUPLES.index(words.NOT_APPLICABLE), np.uint8)
    if not kind.couples:
        return _columns(head, np.zeros(count, np.uint8), np.zeros(count, np.uint8), couple)
    couple = setting.by_year(kind.couples, words.BEARING_COUPLES, year, rng.random(count))
    material, liner = np.divmod(couple, LINERS)
    soft = np.array(
        [bool(set(of_type.roles) & set(ONLY_POLYETHYLENE)) and bool(sizes) for of_type in kind.implant_types]
    )
    soft |= np.array([of_type.bearing == "constrained" for of_type in kind.implant_types])
    # What cannot be hard is of today's polyethylene; a metal head then takes the place of any other.
    hard = soft[types] & ~np.isin(liner, POLYETHYLENES)
    liner = np.where(hard, CROSS_LINKED, liner)
    # One-piece cups are made of two kinds only.
    cup = np.array(["one-piece cup" in of_type.roles and bool(sizes) for of_type in kind.implant_types])[types]
    liner = np.where(cup & (liner != STANDARD), CROSS_LINKED, liner)
    return _columns(head, material, liner, material * LINERS + liner)


def _columns(head: np.ndarray, material: np.ndarray, liner: np.ndarray, couple: np.ndarray) -> dict[str, np.ndarray]:
    columns = {"head": head, "head_material": material, "liner_material": liner, "couple": couple}
    return {name: values.astype(np.uint8) for name, values in columns.items()}
