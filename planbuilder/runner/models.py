"""Equivalent times and threshold speed of one flat result, by models that know nothing of each other."""

from __future__ import annotations

import math
from typing import Final

from planbuilder import units
from planbuilder.physiology.endurance import (
    LONGEST_TABLED_S,
    endurance_index,
    equivalent_time_s,
    sustainable_speed_mps,
)
from planbuilder.physiology.equivalence import RIEGEL_QUICKEST_S, RIEGEL_SLOWEST_S, riegel_time_s
from planbuilder.settings.limits import Limits

POWER_LAW: Final = "power law (Riegel 1977)"
OXYGEN_COST: Final = "oxygen cost (Daniels and Gilbert 1979)"
BEYOND: Final = ", beyond its range"


def equivalents(
    *, distance_m: float, time_s: float, to_m: float, weekly_distance_m: float, limits: Limits
) -> tuple[tuple[str, float], ...]:
    """(model, seconds) over another distance, the power law first; a time that the model's authors never
    fitted says so in the model's name.

    The power grows from the half marathon on to that of the runner's weekly distance at the marathon; it is
    never shrunk on the way down from a marathon, which errs to the slow side.
    """
    exponent = power_for(to_m, weekly_distance_m, limits) if to_m > distance_m else _flat_power(limits)
    law_s = riegel_time_s(time_s, from_m=distance_m, to_m=to_m, exponent=exponent)
    fitted = RIEGEL_QUICKEST_S <= law_s <= RIEGEL_SLOWEST_S
    found = [(POWER_LAW if fitted else POWER_LAW + BEYOND, law_s)]
    try:
        index = endurance_index(distance_m=distance_m, time_s=time_s)
        oxygen_s = equivalent_time_s(index, distance_m=to_m)
        found.append((OXYGEN_COST if oxygen_s <= LONGEST_TABLED_S else OXYGEN_COST + BEYOND, oxygen_s))
    except ValueError:
        pass  # outside what the equations were made for: this model has nothing to say
    return tuple(found)


def power_for(to_m: float, weekly_distance_m: float, limits: Limits) -> float:
    """Exponent of the power law for a race of this length on this weekly distance."""
    short = _flat_power(limits)
    rows = limits.limit("runner.power_law_marathon").value
    marathon = next(power for from_m, power in sorted(rows, reverse=True) if weekly_distance_m >= from_m)
    beyond_half = math.log(to_m / units.HALF_MARATHON_M) / math.log(2)
    return short + (float(marathon) - short) * min(max(beyond_half, 0.0), 1.0)


def threshold_speeds_mps(*, distance_m: float, time_s: float, limits: Limits) -> tuple[float, ...]:
    """Speed for the threshold's time, all-out, by each model, the power law first; m/s."""
    held_s = limits.number("runner.threshold_minutes") * 60
    reach_m = distance_m * (held_s / time_s) ** (1 / _flat_power(limits))
    speeds = [reach_m / held_s]
    try:
        index = endurance_index(distance_m=distance_m, time_s=time_s)
        speeds.append(sustainable_speed_mps(index, held_s))
    except ValueError:
        pass  # as above
    return tuple(speeds)


def _flat_power(limits: Limits) -> float:
    return limits.number("runner.power_law")
