"""Open road standards of 2025: about the best that is run on the road, and what age leaves of it.

Figures of the age-grade tables for road running by A. L. Jones, approved on 2025-01-10 by the masters long
distance council of USATF and placed in the public domain (CC0 1.0; AlanLyttonJones/Age-Grade-Tables on
GitHub, 4aac673). Only a small part of the tables stands here; what is not in it is refused and not guessed.

Checks: ``age_standard_s`` and ``age_share``. The factors at hand are those of a few ages, so no plan speaks
of them; ``open_standard_s`` tells a goal from a slip of the pen.
"""

from __future__ import annotations

import math
from typing import Final, Literal

from planbuilder.physiology.ranges import require_within
from planbuilder.units import HALF_MARATHON_M, MARATHON_M, MILE_M

Standards = Literal["men", "women"]

_OPEN_S: Final[dict[Standards, dict[float, float]]] = {
    "men": {5000.0: 769, 10_000.0: 1584, 10 * MILE_M: 2595, HALF_MARATHON_M: 3451, MARATHON_M: 7235},
    "women": {5000.0: 834, 10_000.0: 1726, 10 * MILE_M: 2832, HALF_MARATHON_M: 3772, MARATHON_M: 7796},
}
# Open standard over the standard at an age.
_FACTORS: Final[dict[Standards, dict[int, dict[float, float]]]] = {
    "men": {
        40: {10_000.0: 0.9636, MARATHON_M: 0.9783},
        50: {5000.0: 0.8775, 10_000.0: 0.8886, HALF_MARATHON_M: 0.8860, MARATHON_M: 0.8963},
        60: {10_000.0: 0.8136, HALF_MARATHON_M: 0.8082, MARATHON_M: 0.8143},
        70: {10_000.0: 0.7386, MARATHON_M: 0.7323},
        80: {10_000.0: 0.6301},
    },
    "women": {
        40: {10_000.0: 0.9623, MARATHON_M: 0.9680},
        45: {HALF_MARATHON_M: 0.9234},
        50: {5000.0: 0.8592, 10_000.0: 0.8822, HALF_MARATHON_M: 0.8753, MARATHON_M: 0.8998},
        60: {10_000.0: 0.7828, HALF_MARATHON_M: 0.7718, MARATHON_M: 0.7965},
        70: {10_000.0: 0.6834, MARATHON_M: 0.6859},
    },
}


def open_standard_s(standards: Standards, *, distance_m: float) -> float:
    """Open standard over 5 km to a marathon, s, else ValueError; between the tabled distances a straight line
    over the logarithm of the distance.

    >>> open_standard_s("men", distance_m=10_000.0)
    1584.0
    """
    return _between(_OPEN_S[standards], distance_m, quantity="distance")


def age_standard_s(standards: Standards, *, age_years: int, distance_m: float) -> float:
    """Standard at an age, s: the open standard over the factor of age and distance, which between tabled
    distances lies on a straight line over the logarithm of the distance.

    ValueError for an age or a distance whose factor does not stand here.

    >>> round(age_standard_s("men", age_years=50, distance_m=10_000.0))
    1783
    """
    factors = _FACTORS[standards].get(age_years)
    if factors is None:
        ages = ", ".join(map(str, _FACTORS[standards]))
        raise ValueError(f"age must be one of {ages} (years), not {age_years}")
    return open_standard_s(standards, distance_m=distance_m) / _between(
        factors, distance_m, quantity=f"distance at {age_years} years"
    )


def age_share(standards: Standards, *, age_years: int, distance_m: float, time_s: float) -> float:
    """The standard of the age over the time; 1 is the standard itself.

    >>> round(age_share("men", age_years=50, distance_m=10_000.0, time_s=2400.0), 4)
    0.7427
    """
    require_within(time_s, 1e-9, math.inf, quantity="race time", unit="s")
    return age_standard_s(standards, age_years=age_years, distance_m=distance_m) / time_s


def _between(table: dict[float, float], distance_m: float, *, quantity: str) -> float:
    tabled = sorted(table)
    require_within(distance_m, tabled[0], tabled[-1], quantity=quantity, unit="m")
    above = next(place for place in tabled if place >= distance_m)
    if above == distance_m:
        return float(table[above])
    below = max(place for place in tabled if place < distance_m)
    share = math.log(distance_m / below) / math.log(above / below)
    return table[below] * (1 - share) + table[above] * share
