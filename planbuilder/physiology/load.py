"""Training load of a week: how much of it, and how much alike the days are.

Checks: ``week_load``. No plan is made from it and no runner is shown it; finished plans are held against it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from planbuilder.physiology.ranges import require_within


@dataclass(frozen=True, slots=True)
class WeekLoad:
    """Foster's three figures of a week; loads are session effort (0-10) times minutes."""

    total: float
    monotony: float  # mean over standard deviation of the days; infinite when all days are alike
    strain: float  # total times monotony


def week_load(daily_loads: Sequence[float]) -> WeekLoad:
    """Total, monotony and strain of seven daily loads; a rest day is 0, two sessions a day are added first.

    Foster C. Med Sci Sports Exerc 30:1164-1168, 1998 (definitions second-hand), with the standard deviation
    of a sample (n - 1). Seven equal days have no spread: their monotony is infinite; a week without any
    load has none of either. ValueError unless there are seven loads of 0 or more.

    >>> week = week_load([0, 300, 450, 0, 400, 250, 900])
    >>> week.total, round(week.monotony, 4), round(week.strain, 2)
    (2300.0, 1.0667, 2453.4)
    """
    require_within(float(len(daily_loads)), 7, 7, quantity="number of daily loads", unit="days")
    loads = np.array(daily_loads, dtype=np.float64)
    require_within(loads, 0.0, math.inf, quantity="daily load", unit="effort times minutes")
    total = float(loads.sum())
    if total == 0.0:
        return WeekLoad(0.0, 0.0, 0.0)
    spread = float(loads.std(ddof=1))
    monotony = total / 7 / spread if spread > 0 else math.inf
    return WeekLoad(total, monotony, total * monotony)
