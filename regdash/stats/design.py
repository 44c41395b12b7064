"""Designs: what a model knows of each covariate pattern, as columns of numbers with a name and a term each."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from regdash.errors import ModelError
from regdash.stats.counts import whole_numbers


@dataclass(frozen=True, eq=False)
class Design:
    """A matrix of covariates, a row for each pattern. Columns of one term are tested together."""

    names: tuple[str, ...]  # one a column, all different
    terms: tuple[str, ...]  # the term of each column
    matrix: np.ndarray  # (P, K) float

    def __post_init__(self) -> None:
        matrix = np.asarray(self.matrix, dtype=float)
        object.__setattr__(self, "matrix", matrix)
        if matrix.ndim != 2 or not len(self.names) == len(self.terms) == matrix.shape[1]:
            raise ModelError(
                f"A design of {len(self.names)} columns needs a matrix of patterns × columns, not {matrix.shape}."
            )
        if len(set(self.names)) < len(self.names):
            twice = next(name for name in self.names if self.names.count(name) > 1)
            raise ModelError(f"Two columns of the design are called '{twice}'. Leave one out.")
        for name, column in zip(self.names, matrix.T, strict=True):
            if not np.isfinite(column).all():
                raise ModelError(f"'{name}' is missing or infinite in some patterns. Leave those joints out.")

    def of(self, patterns: np.ndarray) -> "Design":
        """The same columns for these patterns, by number."""
        return replace(self, matrix=self.matrix[patterns])

    def only(self, columns: np.ndarray) -> "Design":
        """Some of the columns, (K,) bool."""
        names, terms = (tuple(np.array(given, dtype=object)[columns]) for given in (self.names, self.terms))
        return Design(names, terms, self.matrix[:, columns])

    def beside(self, *others: "Design") -> "Design":
        """These columns and others', for the same patterns."""
        designs = (self, *others)
        return Design(
            tuple(name for design in designs for name in design.names),
            tuple(term for design in designs for term in design.terms),
            np.concatenate([design.matrix for design in designs], axis=1),
        )

    def places(self, *terms: str) -> np.ndarray:
        """
        (K,) bool: the columns of these terms.

        Raises:
            ModelError: a term that the design does not have.
        """
        for term in terms:
            if term not in self.terms:
                raise ModelError(f"The model has no term '{term}', only {', '.join(dict.fromkeys(self.terms))}.")
        return np.isin(np.array(self.terms, dtype=object), terms)


def categorical(name: str, level: np.ndarray, levels: Sequence[str], reference: str | None = None) -> Design:
    """
    Compare each level with a reference: a column for each other level that some pattern has.

    Args:
        level: (P,) int, each pattern's place in levels.
        reference: one of the levels that occur; left out, the first of them.

    Raises:
        ModelError: only one level occurs, or the reference does not.

    >>> categorical("bearing", np.array([0, 1, 2, 1]), ("fixed", "mobile", "other")).names
    ('bearing=mobile', 'bearing=other')
    """
    level = whole_numbers(f"levels of {name}", level)
    occurring = [levels[number] for number in np.unique(level)]
    if len(occurring) < 2:
        only = f"is '{occurring[0]}' in every joint" if occurring else "has no joints"
        raise ModelError(f"'{name}' {only}: a model compares at least two levels. Leave it out.")
    reference = occurring[0] if reference is None else reference
    if reference not in occurring:
        raise ModelError(f"'{name}' is never '{reference}', so it cannot be the reference. It is {_listed(occurring)}.")
    others = [one for one in occurring if one != reference]
    matrix = level[:, None] == np.array([list(levels).index(one) for one in others])
    return Design(tuple(f"{name}={one}" for one in others), (name,) * len(others), matrix)


def linear(name: str, values: np.ndarray) -> Design:
    """One column of numbers, whose coefficient is per unit."""
    return Design((name,), (name,), np.asarray(values, dtype=float).reshape(-1, 1))


def interaction(one: Design, other: Design) -> Design:
    """
    Multiply each column of one by each of the other; both stand beside it in the model, or it means something else.

    >>> sex = categorical("sex", np.array([0, 1, 1]), ("female", "male"))
    >>> interaction(sex, linear("age", np.array([60, 60, 70]))).matrix.ravel().tolist()
    [0.0, 60.0, 70.0]
    """
    pairs = [(i, j) for i in range(len(one.names)) for j in range(len(other.names))]
    terms = tuple(f"{one.terms[i]} × {other.terms[j]}" for i, j in pairs)
    names = tuple(f"{one.names[i]} × {other.names[j]}" for i, j in pairs)
    products = [one.matrix[:, i] * other.matrix[:, j] for i, j in pairs]
    return Design(names, terms, np.stack(products, axis=1))


def distinct_patterns(codes: Sequence[np.ndarray], sizes: Sequence[int]) -> tuple[np.ndarray, np.ndarray]:
    """
    Number the combinations of codes that occur, in rising order of the codes.

    Args:
        codes: one (n,) int array a covariate, from 0 up.
        sizes: how many codes each covariate has.

    Returns:
        (n,) number of each row's pattern, and (P, covariates) the codes of each pattern.

    >>> pattern, table = distinct_patterns([np.array([1, 0, 1]), np.array([2, 0, 2])], [2, 3])
    >>> pattern.tolist(), table.tolist()
    ([1, 0, 1], [[0, 0], [1, 2]])
    """
    key = np.ravel_multi_index([np.asarray(code, dtype=np.int64) for code in codes], tuple(sizes))
    room = int(np.prod(sizes))
    if room <= 2**24:  # a table of all combinations costs less than sorting the rows
        seen = np.bincount(key, minlength=room) > 0
        present, pattern = np.flatnonzero(seen), (np.cumsum(seen) - 1)[key]
    else:
        present, pattern = np.unique(key, return_inverse=True)
    return pattern, np.stack(np.unravel_index(present, tuple(sizes)), axis=1)


def _listed(levels: Sequence[str]) -> str:
    shown, more = ", ".join(f"'{level}'" for level in levels[:6]), len(levels) - 6
    return shown if more <= 0 else f"{shown} and {more} other{'' if more == 1 else 's'}"
