"""From the time over one distance to the time over another."""

from __future__ import annotations

import math
from typing import Final

from planbuilder.physiology.ranges import require_within
from planbuilder.units import HALF_MARATHON_M, MARATHON_M, MILE_M

RIEGEL_EXPONENT: Final = 1.06  # Riegel PS. Runner's World, August 1977; 1.07 to 1.08 fits the records of 1981
RIEGEL_QUICKEST_S: Final = 3.5 * 60  # Riegel PS. American Scientist 69:285-290, 1981: from 3.5 min
RIEGEL_SLOWEST_S: Final = 230 * 60.0  # to 3 h 50 min

_SURVEY_SHORTEST_M: Final = 4900.0  # Vickers & Vertosick asked for races of 5 km to the half marathon
_SURVEY_LONGEST_M: Final = HALF_MARATHON_M + 100.0
_SURVEY_MILES: Final = (5.0, 100.0)  # miles a week in the survey, about


def riegel_time_s(time_s: float, *, from_m: float, to_m: float, exponent: float = RIEGEL_EXPONENT) -> float:
    """Equivalent time ``T2 = T1 (D2 / D1)^k``.

    Times of 3.5 to 230 min are within what the author fitted (``RIEGEL_QUICKEST_S``, ``RIEGEL_SLOWEST_S``);
    beyond them the formula still answers and the caller must say so. An exponent of 1.0 to 1.25, else
    ValueError; one exponent should not be carried across the marathon.

    >>> round(riegel_time_s(2400.0, from_m=10_000.0, to_m=42_195.0), 2)
    11040.48
    """
    require_within(exponent, 1.0, 1.25, quantity="exponent", unit="of the power law")
    for value in (time_s, from_m, to_m):
        require_within(value, 1e-9, math.inf, quantity="time or distance", unit="s or m")
    return time_s * float((to_m / from_m) ** exponent)


def marathon_from_one_race_s(time_s: float, *, distance_m: float, weekly_distance_m: float) -> float:
    """Marathon time of a recreational runner from one race and the weekly distance.

    ``vR = 42195 / (T1 (42195 / D1)^1.07)`` and ``v = 0.16018617 + 0.83076202 vR + 0.06423826 (M / 10)`` m/s
    with ``M`` miles a week, held at 5 and 100. The race must be 5 km to a half marathon, else ValueError.
    Vickers AJ, Vertosick EA. BMC Sports Sci Med Rehabil 8:26, 2016, first model (coefficients second-hand).

    >>> round(marathon_from_one_race_s(6300.0, distance_m=21097.5, weekly_distance_m=30 * 1609.344), 1)
    14050.0
    """
    _require_surveyed(distance_m)
    equivalent_mps = MARATHON_M / riegel_time_s(time_s, from_m=distance_m, to_m=MARATHON_M, exponent=1.07)
    tens = _tens_of_miles(weekly_distance_m)
    return MARATHON_M / (0.16018617 + 0.83076202 * equivalent_mps + 0.06423826 * tens)


def marathon_from_two_races_s(
    first: tuple[float, float], second: tuple[float, float], *, weekly_distance_m: float
) -> float:
    """Marathon time of a recreational runner from two races, each (distance in m, time in s), in any order.

    ``k = ln(T2 / T1) / ln(D2 / D1)``, ``kM = 1.4510756 - 0.23797948 k - 0.01410023 (M / 10)`` and the longer
    race times ``(42195 / D2)^kM``. Both 5 km to a half marathon and of different lengths, else ValueError.
    Vickers & Vertosick 2016, second model (coefficients second-hand).

    >>> ten_km, half = (10_000.0, 2820.0), (21_097.5, 6300.0)
    >>> round(marathon_from_two_races_s(half, ten_km, weekly_distance_m=30 * 1609.344), 1)
    14005.3
    """
    (short_m, short_s), (long_m, long_s) = sorted((first, second))
    _require_surveyed(short_m)
    _require_surveyed(long_m)
    require_within(long_m / short_m, 1.2, math.inf, quantity="longer over shorter race", unit="ratio")
    own = math.log(long_s / short_s) / math.log(long_m / short_m)
    exponent = 1.4510756 - 0.23797948 * own - 0.01410023 * _tens_of_miles(weekly_distance_m)
    return long_s * float((MARATHON_M / long_m) ** exponent)


def _require_surveyed(distance_m: float) -> None:
    require_within(distance_m, _SURVEY_SHORTEST_M, _SURVEY_LONGEST_M, quantity="race", unit="m")


def _tens_of_miles(weekly_distance_m: float) -> float:
    low, high = _SURVEY_MILES
    return min(max(weekly_distance_m / MILE_M, low), high) / 10
