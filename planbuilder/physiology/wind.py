"""Wind along a stretch: what the air takes and gives back at equal effort."""

from __future__ import annotations

from typing import Final

from planbuilder.physiology.ranges import require_within

# Share of the cost of running that air takes, per (m/s)^2 of speed through the air. Davies 1980: 2 % at 5 m/s
# (4 % at 6 and 7.8 % at 10 m/s). Pugh's wind tunnel says 2.4 times as much: 2 l/min on 3 l/min at 18.5 m/s.
_AIR_SHARE: Final = 0.02 / 5.0**2
STRONGEST_WIND_MPS: Final = 15.0  # the strongest that Davies measured


def wind_pace_factor(speed_mps: float, head_mps: float) -> float:
    """Time with the wind over time in still air at equal effort.

    ``speed_mps`` is the speed in still air (1.5 to 8), ``head_mps`` the wind against the runner (-15 to 15,
    negative: from behind), else ValueError. The cost of air grows with the square of the speed through it
    (Pugh LGCE. J Physiol 213:255-276, 1971); its size is that of Davies CTM. J Appl Physiol 48:702-709, 1980.
    A wind from behind gives back less than the same wind takes. The equation for the speed ``u``,
    ``u (1 + k (w |w| - v^2)) = v`` with ``w = u + head``, is solved by bisection.

    >>> round(wind_pace_factor(4.0, 5.0), 3), round(wind_pace_factor(4.0, -5.0), 3)
    (1.049, 0.986)
    """
    require_within(speed_mps, 1.5, 8.0, quantity="running speed", unit="m/s")
    require_within(head_mps, -STRONGEST_WIND_MPS, STRONGEST_WIND_MPS, quantity="head wind", unit="m/s")

    def power(candidate_mps: float) -> float:
        through_air = candidate_mps + head_mps
        return candidate_mps * (1.0 + _AIR_SHARE * (through_air * abs(through_air) - speed_mps**2))

    low, high = 0.3 * speed_mps, 2.0 * speed_mps
    for _ in range(50):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if power(middle) < speed_mps else (low, middle)
    return speed_mps / (0.5 * (low + high))
