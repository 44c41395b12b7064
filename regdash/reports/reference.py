"""Which group the others are compared with: the one that was named, else the largest."""

from collections.abc import Sequence

from regdash.errors import FilterError
from regdash.reports.counted import Counted
from regdash.suggest import nearest
from regdash.vocabulary import coded


def reference_of(counted: Counted, numbers: Sequence[int], joints: Sequence[int], asked: str | None = None) -> int:
    """
    Find the reference among groups.

    Args:
        numbers: places of the groups in `counted.groups`.
        joints: of each of them.
        asked: its label, or the values of its filter words as in `partial` or `partial,female`; left out, the
            largest group, the first of several.

    Returns:
        Its place in `numbers`.

    Raises:
        FilterError: no group is called so.
    """
    if asked is None:
        return max(range(len(numbers)), key=lambda place: (joints[place], -place))
    called = [_names(counted, number) for number in numbers]
    wanted = coded(asked.strip().lower())
    for place, names in enumerate(called):
        if wanted in (coded(name.lower()) for name in names):
            return place
    raise FilterError(f"There is no group {asked} to compare with. {nearest(asked, [names[-1] for names in called])}")


def _names(counted: Counted, number: int) -> tuple[str, ...]:
    """What a group may be called; the values of its filter words last."""
    words = [g.word(n, counted.cut.known) for g, n in zip(counted.by, counted.numbers[number])]
    values = ",".join(word.partition("=")[2] for word in words)
    label = counted.groups[number].label
    return label, label.replace("–", "-"), " ".join(words), values
