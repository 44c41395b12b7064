"""A test whose statistic has, under its hypothesis, a chi-square distribution."""

from dataclasses import dataclass


@dataclass(frozen=True)
class ChiSquareTest:
    """What was found, and how often so much would be found by chance."""

    statistic: float
    df: int  # degrees of freedom
    p: float


def chi_square_test(statistic: float, df: int) -> ChiSquareTest:
    """
    Find p from the upper tail itself, so that a small one keeps its digits.

    >>> round(chi_square_test(3.841459, 1).p, 6)
    0.05
    """
    from scipy.special import gammaincc

    return ChiSquareTest(statistic, df, float(gammaincc(df / 2, max(statistic, 0.0) / 2)))
