"""Designs from categorical covariates."""

import numpy as np
import pytest

from regdash.errors import ModelError
from regdash.stats.design import Design, categorical, distinct_patterns, interaction, linear


def test_levels_that_no_joint_has_make_no_column() -> None:
    found = categorical("class", np.array([3, 0, 3]), ("total", "partial", "hinged", "other"))
    assert found.names == ("class=other",)
    assert found.matrix.tolist() == [[1], [0], [1]]


def test_a_reference_is_named_and_must_occur() -> None:
    found = categorical("class", np.array([0, 1, 2]), ("a", "b", "c"), "b")
    assert found.names == ("class=a", "class=c")
    assert found.matrix.tolist() == [[1, 0], [0, 0], [0, 1]]
    with pytest.raises(ModelError, match=r"'class' is never 'c', so it cannot be the reference. It is 'a', 'b'"):
        categorical("class", np.array([0, 1]), ("a", "b", "c"), "c")


@pytest.mark.parametrize(("size", "said"), [(6, "'e', 'f'[.]"), (7, "'f' and 1 other[.]"), (9, "'f' and 3 others[.]")])
def test_many_levels_are_cut_short_in_a_message(size: int, said: str) -> None:
    with pytest.raises(ModelError, match=said):
        categorical("class", np.arange(size), tuple("abcdefghi"), "z")


def test_one_level_or_none_is_nothing_to_compare() -> None:
    with pytest.raises(ModelError, match="'class' is 'b' in every joint"):
        categorical("class", np.array([1, 1]), ("a", "b"))
    with pytest.raises(ModelError, match="'class' has no joints"):
        categorical("class", np.array([], dtype=int), ("a", "b"))


def test_columns_are_chosen_by_term_and_stand_beside_each_other() -> None:
    one, other = categorical("class", np.array([0, 1, 2]), ("a", "b", "c")), linear("age", np.array([60, 70, 80]))
    both = one.beside(other, interaction(one, other))
    assert both.terms == ("class", "class", "age", "class × age", "class × age")
    assert both.names[-1] == "class=c × age"
    assert both.matrix[2].tolist() == [0, 1, 80, 0, 80]
    assert both.places("age").tolist() == [False, False, True, False, False]
    assert both.only(both.places("class", "age")).names == ("class=b", "class=c", "age")
    assert both.of(np.array([2, 2])).matrix.tolist() == [[0, 1, 80, 0, 80]] * 2
    with pytest.raises(ModelError, match="no term 'sex', only class, age, class × age"):
        both.places("sex")


def test_designs_that_do_not_hold_together_are_refused() -> None:
    with pytest.raises(ModelError, match="Two columns of the design are called 'a'"):
        linear("a", np.array([1, 2])).beside(linear("a", np.array([3, 4])))
    with pytest.raises(ModelError, match="'a' is missing or infinite"):
        linear("a", np.array([1, np.nan]))
    with pytest.raises(ModelError, match="A design of 2 columns needs a matrix"):
        Design(("a", "b"), ("a", "b"), np.zeros((3, 1)))


@pytest.mark.parametrize("sizes", [(3, 4, 2), (3000, 4000, 2000)])  # a table of all combinations, and sorting
def test_patterns_are_numbered_in_the_order_of_their_codes(sizes: tuple[int, ...]) -> None:
    random = np.random.default_rng(1)
    codes = [random.integers(0, size, 200) for size in sizes]
    pattern, table = distinct_patterns(codes, sizes)
    assert np.array_equal(table[pattern], np.stack(codes, axis=1))
    assert [tuple(row) for row in table.tolist()] == sorted(set(map(tuple, np.stack(codes, axis=1).tolist())))
