"""Critical speed: the line between speeds that settle and speeds that run out.

``d = D' + CS t``: over efforts of a few minutes the distance grows by the critical speed ``CS`` each second,
and ``D'`` metres can be run above it before they are spent. Jones AM, Vanhatalo A. Sports Med 47(S1):65-78,
2017. Beyond about 30 minutes the two-parameter line promises too much.

Checks: ``CriticalSpeed.balance_after_m`` (what is left of ``D'`` after repeats; too uncertain for a single
runner to plan from) and ``marathon_share_of_critical_speed`` (the line that the marathon time must lie on).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from planbuilder.physiology.ranges import require_within
from planbuilder.units import MARATHON_M

SHORTEST_EFFORT_S: Final = 60.0
LONGEST_EFFORT_S: Final = 1800.0
# Smyth B, Muniz-Pumares D. Med Sci Sports Exerc 52:2637-2645, 2020: marathon speed over critical speed.
_MARATHON_S: Final = (150 * 60.0, 360 * 60.0)
_MARATHON_SHARE: Final = (0.930, 0.789)


@dataclass(frozen=True, slots=True)
class CriticalSpeed:
    """The line through a runner's efforts."""

    speed_mps: float
    d_prime_m: float

    def time_s(self, distance_m: float) -> float:
        """Time over a distance that takes 1 to 30 minutes, else ValueError: ``(d - D') / CS``."""
        time_s = (distance_m - self.d_prime_m) / self.speed_mps
        require_within(time_s, SHORTEST_EFFORT_S, LONGEST_EFFORT_S, quantity="time of the effort", unit="s")
        return time_s

    def balance_after_m(self, balance_m: float, *, speed_mps: float, duration_s: float) -> float:
        """What is left of ``D'`` after running at a speed for a time; negative: it would have run out.

        Above the critical speed the difference is spent; below, what is missing comes back as
        ``D' - (D' - b) exp(-(CS - v) t / D')``. Skiba & Clarke. Int J Sports Physiol Perform 16:1561-1572,
        2021, the differential form with speeds in place of powers.
        """
        difference_mps = self.speed_mps - speed_mps
        if difference_mps <= 0:
            return balance_m + difference_mps * duration_s
        missing_m = self.d_prime_m - balance_m
        return self.d_prime_m - missing_m * math.exp(-difference_mps * duration_s / self.d_prime_m)


def fit_critical_speed(efforts: Sequence[tuple[float, float]]) -> CriticalSpeed:
    """The least-squares line of distance on time through three or more all-out efforts.

    An effort is (distance in m, time in s) and lasts 1 to 30 min, the times differ by a minute at least, and
    the line must rise and start above zero, else ValueError. Longer efforts weigh more in this regression
    than in that of speed on 1/time.

    >>> found = fit_critical_speed([(400.0, 70.0), (800.0, 155.0), (5000.0, 1200.0)])
    >>> round(found.speed_mps, 6), round(found.d_prime_m, 3)
    (4.048987, 143.398)
    """
    require_within(float(len(efforts)), 3, math.inf, quantity="number of efforts", unit="efforts")
    distances_m, times_s = np.array(efforts, dtype=np.float64).T
    require_within(times_s, SHORTEST_EFFORT_S, LONGEST_EFFORT_S, quantity="time of an effort", unit="s")
    spread_s = times_s - times_s.mean()
    require_within(float(np.ptp(times_s)), 60.0, math.inf, quantity="spread of the efforts", unit="s")
    speed_mps = float(spread_s @ (distances_m - distances_m.mean()) / (spread_s @ spread_s))
    d_prime_m = float(distances_m.mean() - speed_mps * times_s.mean())
    require_within(speed_mps, 1e-9, math.inf, quantity="critical speed", unit="m/s")
    require_within(d_prime_m, 0.0, math.inf, quantity="distance above critical speed", unit="m")
    return CriticalSpeed(speed_mps, d_prime_m)


def marathon_share_of_critical_speed(finish_time_s: float) -> float:
    """Marathon speed over critical speed for a finish time of 150 to 360 min, else ValueError.

    A straight line between the two published means of more than 25,000 runners, 93.0 % at 150 min and 78.9 %
    at 360 min; single runners differ by some 14 points. Smyth & Muniz-Pumares 2020.

    >>> round(marathon_share_of_critical_speed(15300.0), 4)
    0.8595
    """
    require_within(finish_time_s, *_MARATHON_S, quantity="marathon time", unit="s")
    return float(np.interp(finish_time_s, _MARATHON_S, _MARATHON_SHARE))


def marathon_from_critical_speed_s(critical_speed_mps: float) -> float:
    """The marathon time whose share of the critical speed is the published one, s.

    ValueError where that lies outside 150 to 360 min.

    >>> round(marathon_from_critical_speed_s(3.74))
    12696
    """
    # T CS share(T) = 42195 with a straight line for the share is a quadratic; the smaller root is the time.
    slope = (_MARATHON_SHARE[1] - _MARATHON_SHARE[0]) / (_MARATHON_S[1] - _MARATHON_S[0])
    level = _MARATHON_SHARE[0] - slope * _MARATHON_S[0]
    inside = level**2 + 4 * slope * MARATHON_M / critical_speed_mps
    require_within(inside, 0.0, math.inf, quantity="square of the root, critical speed too low", unit="")
    finish_s = (-level + math.sqrt(inside)) / (2 * slope)
    require_within(finish_s, *_MARATHON_S, quantity="marathon time", unit="s")
    return finish_s
