"""How fast, cell by cell: the least effort that brings a runner home in a given time.

The objective is stated: of all ways to spend ``time_s`` on the course, take the one with the least
``sum(flat_m * (speed / weight) ** 4)`` where no ``speed`` is above its ceiling. ``flat_m`` is the
flat-equivalent length of a piece of ground, ``speed`` the flat-equivalent speed on it, and ``weight`` is 1
everywhere for even effort. The problem is convex and its optimum is ``speed = min(ceiling, weight * base)``
with one base for the whole course, which is found exactly by sorting the pieces by the base at which they
reach their ceiling. (With weights other than 1 the same form is the strategy itself: the weights say how
effort is meant to run.)
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def fastest_time_s(flat_m: Array, ceiling_mps: Array) -> float:
    """The time with every piece at its ceiling, seconds."""
    return float(np.sum(flat_m / ceiling_mps))


def solve_speeds(*, flat_m: Array, ceiling_mps: Array, time_s: float, weight: Array | None = None) -> Array:
    """Flat-equivalent speed on each piece of ground, m/s, so that ``sum(flat_m / speed) == time_s``.

    All arrays have shape (n,). Raises ValueError where the ceilings do not allow the time.
    """
    weights = np.ones_like(flat_m) if weight is None else weight
    base = float(np.sum(flat_m / weights)) / time_s
    if np.all(weights * base <= ceiling_mps):
        return weights * base
    base = _base_under_ceilings(flat_m, ceiling_mps, weights, time_s)
    return np.minimum(ceiling_mps, weights * base)


def _base_under_ceilings(flat_m: Array, ceiling_mps: Array, weights: Array, time_s: float) -> float:
    reached_at = ceiling_mps / weights  # the base at which each piece reaches its ceiling
    order = np.argsort(reached_at, kind="stable")
    reached_at = reached_at[order]
    at_ceiling_s = np.concatenate(([0.0], np.cumsum((flat_m / ceiling_mps)[order])))
    free = np.concatenate((np.cumsum((flat_m / weights)[order][::-1])[::-1], [0.0]))
    if time_s < at_ceiling_s[-1] * (1 - 1e-12):
        raise ValueError(
            f"time_s must be at least {at_ceiling_s[-1]:.1f} s under these ceilings, not {time_s:.1f}"
        )
    left_s = time_s - at_ceiling_s[:-1]
    with np.errstate(divide="ignore"):
        base = np.where(left_s > 0, free[:-1] / np.where(left_s > 0, left_s, 1.0), np.inf)
    fits = np.flatnonzero(base <= reached_at)
    return float(base[fits[0]]) if fits.size else float(reached_at[-1])


def equal_fatigue_time_s(*, flat_m: Array, weight: Array, even_time_s: float) -> float:
    """The time that another way of spending effort takes for the same ``sum(flat_m * speed ** 4)`` as even
    effort in ``even_time_s``; never quicker."""
    even_mps = float(flat_m.sum()) / even_time_s
    base = even_mps * float(flat_m.sum() / np.sum(flat_m * (weight * weight) ** 2)) ** 0.25
    return float(np.sum(flat_m / (weight * base)))
