"""The oxygen a running speed costs, and the share of the maximum that can be held for a time.

Daniels J, Gilbert J. Oxygen Power: Performance Tables for Distance Runners. Tempe AZ, 1979 (equations
second-hand; several independent texts give the same digits). A race sets an *index*: the oxygen uptake, in
ml/kg/min, of someone with that result and ordinary economy. It ranks races, it is no laboratory value. The
authors' tables span races of about 3.5 to 240 minutes; the held share never falls below 0.8, so times beyond
four hours come out too quick.
"""

from __future__ import annotations

import math
from typing import Final

from planbuilder.physiology.ranges import require_within

LONGEST_TABLED_S: Final = 240 * 60.0
_OFFSET: Final = -4.60
_LINEAR: Final = 0.182258
_SQUARE: Final = 0.000104
_SLOWEST_M_PER_MIN: Final = 50.0
_FASTEST_M_PER_MIN: Final = 500.0


def oxygen_cost_ml_per_kg_min(speed_m_per_min: float) -> float:
    """Oxygen uptake of level running: ``-4.60 + 0.182258 v + 0.000104 v^2``, ``v`` 50 to 500 m/min, else
    ValueError.

    >>> round(oxygen_cost_ml_per_kg_min(250.0), 4)
    47.4645
    """
    require_within(
        speed_m_per_min, _SLOWEST_M_PER_MIN, _FASTEST_M_PER_MIN, quantity="running speed", unit="m/min"
    )
    return _OFFSET + _LINEAR * speed_m_per_min + _SQUARE * speed_m_per_min**2


def sustainable_share(time_s: float) -> float:
    """Share of the maximal oxygen uptake that can be held for a time of 3 to 600 min, else ValueError:
    ``0.8 + 0.1894393 exp(-0.012778 t) + 0.2989558 exp(-0.1932605 t)``, ``t`` in minutes.

    >>> round(sustainable_share(2400.0), 8)
    0.91376144
    """
    require_within(time_s, 180.0, 36000.0, quantity="race time", unit="s")
    minutes = time_s / 60
    return 0.8 + 0.1894393 * math.exp(-0.012778 * minutes) + 0.2989558 * math.exp(-0.1932605 * minutes)


def endurance_index(*, distance_m: float, time_s: float) -> float:
    """Index of a race run all-out: the oxygen cost of its mean speed over the share held for its time.

    >>> round(endurance_index(distance_m=10_000.0, time_s=2400.0), 8)
    51.94408267
    """
    return oxygen_cost_ml_per_kg_min(distance_m / (time_s / 60)) / sustainable_share(time_s)


def sustainable_speed_mps(index: float, time_s: float) -> float:
    """Speed that someone with this index can hold for this time, m/s: the inverse of the oxygen cost.

    >>> round(sustainable_speed_mps(51.94408267, 2400.0) * 60, 3)
    250.0
    """
    require_within(index, 10.0, 90.0, quantity="endurance index", unit="ml/kg/min")
    uptake = index * sustainable_share(time_s)
    root = math.sqrt(_LINEAR**2 + 4 * _SQUARE * (uptake - _OFFSET))
    return (root - _LINEAR) / (2 * _SQUARE) / 60


def equivalent_time_s(index: float, *, distance_m: float) -> float:
    """Time over another distance at the same index, by bisection to a hundredth of a second.

    The distance must take between 3 and 600 minutes, else ValueError.

    >>> round(equivalent_time_s(50.0, distance_m=5000.0))
    1196
    """
    quick_s, slow_s = 180.0, 36000.0
    reach_m = [sustainable_speed_mps(index, time_s) * time_s for time_s in (quick_s, slow_s)]
    require_within(distance_m, *reach_m, quantity=f"distance at index {index:g}", unit="m")
    while slow_s - quick_s > 0.005:
        middle_s = 0.5 * (quick_s + slow_s)
        if sustainable_speed_mps(index, middle_s) * middle_s < distance_m:
            quick_s = middle_s
        else:
            slow_s = middle_s
    return 0.5 * (quick_s + slow_s)
