"""
Random numbers: one stream for each part of the work, so that a change in one part (or leaving
the dirt out) moves no other. The same seed gives the same numbers on any machine.
"""

import zlib

import numpy as np


def stream(seed: int, part: str) -> np.random.Generator:
    """Open the stream of one part of the work, named by a word."""
    return np.random.Generator(np.random.PCG64(np.random.SeedSequence([seed, zlib.crc32(part.encode())])))


def drawn(rng: np.random.Generator, shares: dict[str, float], words: tuple[str, ...], count: int) -> np.ndarray:
    """
    Draw words by their shares; (count,) uint8 positions in `words`.

    >>> drawn(stream(1, "example"), {"left": 0.0, "right": 1.0}, ("left", "right"), 3).tolist()
    [1, 1, 1]
    """
    bounds = np.cumsum(np.array(list(shares.values()), dtype=float))
    places = np.array([words.index(word) for word in shares], dtype=np.uint8)
    return places[np.minimum(np.searchsorted(bounds, rng.random(count) * bounds[-1], side="right"), len(places) - 1)]


def spread(rng: np.random.Generator, count: int) -> np.ndarray:
    """
    Draw standard normal values that fill the whole range evenly: one from each of `count` equal parts, shuffled.

    A handful of units then looks like a handful of units, and not like an accident.
    """
    from statistics import NormalDist  # exact and the same everywhere

    normal = NormalDist()
    values = np.array([normal.inv_cdf((place + 0.5) / count) for place in range(count)])
    return rng.permutation(values)
