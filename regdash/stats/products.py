"""
Matrix products in pieces too small for a library to spread over threads: on a machine that others use too, threads wait
for each other longer than they work.
"""

import numpy as np

_PIECE, _VECTOR_PIECE = 2**18, 2**13  # multiplications, by a matrix and by a vector; libraries start threads for more


def product(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    """
    Multiply (n, k) by (k, l), or by (k,).

    >>> product(np.array([[1.0, 2.0]]), np.array([3.0, 4.0])).tolist()
    [11.0]
    """
    (rows, inner), piece = a.shape, _VECTOR_PIECE if b.ndim == 1 else _PIECE
    width = 1 if b.ndim == 1 else b.shape[1]
    if rows * inner * width <= piece:
        return a @ b
    found = np.zeros((rows, *b.shape[1:]))
    if rows >= inner:
        step = max(1, piece // (inner * width))
        for first in range(0, rows, step):
            np.matmul(a[first : first + step], b, out=found[first : first + step])
    else:
        step = max(1, piece // (rows * width))
        for first in range(0, inner, step):
            found += a[:, first : first + step] @ b[first : first + step]
    return found
