"""Where a published formula stops: one sentence that shows the value and the range."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray


def require_within(
    value: float | NDArray[np.float64], low: float, high: float, *, quantity: str, unit: str
) -> None:
    """Raise ValueError unless every value lies in ``[low, high]``; not-a-number never does.

    >>> require_within(0.5, -0.45, 0.45, quantity="grade", unit="as a fraction")
    Traceback (most recent call last):
    ValueError: grade must be -0.45 to 0.45 (as a fraction), not 0.5
    """
    numbers = np.asarray(value, dtype=np.float64)
    outside = numbers[~((numbers >= low) & (numbers <= high))]
    if outside.size:
        bound = f"at least {low:g}" if math.isinf(high) else f"{low:g} to {high:g}"
        raise ValueError(f"{quantity} must be {bound} ({unit}), not {float(outside.flat[0]):g}")
