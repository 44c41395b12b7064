"""Products in pieces against products at one go."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from regdash.stats.products import product


@pytest.mark.parametrize(
    ("rows", "inner", "columns"),
    [(3, 4, 5), (0, 4, 2), (4, 0, 2), (4, 3, 0), (9000, 7, 11), (7, 9000, 11), (600, 500, None), (5, 20_000, None)],
)
def test_pieces_make_the_whole(rows: int, inner: int, columns: int | None) -> None:
    random = np.random.default_rng(1)
    a, b = random.normal(size=(rows, inner)), random.normal(size=inner if columns is None else (inner, columns))
    found = product(a, b)
    assert found.shape == (a @ b).shape
    assert_allclose(found, a @ b, rtol=1e-9, atol=1e-9)
    assert_allclose(product(a.T[::-1].T, b[::-1]), a @ b, rtol=1e-9, atol=1e-9)  # arrays that are seen backwards
