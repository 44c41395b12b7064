"""What no result may hold."""

from dataclasses import fields, is_dataclass
from math import isfinite
from typing import Any

import numpy as np


def numbers_in(result: Any) -> list[float]:
    """Every number a result holds, those under masks left out."""
    if is_dataclass(result):
        return [number for field in fields(result) for number in numbers_in(getattr(result, field.name))]
    if isinstance(result, np.ndarray):
        return np.ma.compressed(result).tolist()
    if isinstance(result, tuple):
        return [number for part in result for number in numbers_in(part)]
    return [result] if isinstance(result, float | int) else []


def assert_finite(*results: Any) -> None:
    """No number is missing or without end; what is undefined is None or masked."""
    for result in results:
        assert all(isfinite(number) for number in numbers_in(result)), result
