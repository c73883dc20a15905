"""How a race is named in a sentence."""

from __future__ import annotations

from typing import Final

from planbuilder import units

_NAMES: Final = (
    (units.MILE_M, "mile"),
    (10 * units.MILE_M, "10 miles"),
    (units.HALF_MARATHON_M, "half marathon"),
    (units.MARATHON_M, "marathon"),
)


def race_words(distance_m: float) -> str:
    """The name of a race, which is the same in every country; an odd distance is a mark.

    >>> race_words(21_097.5), race_words(10_000.0), race_words(1500.0), race_words(7430.0)
    ('half marathon', '10 km', '1500 m', '{l:7430}')
    """
    for named_m, name in _NAMES:
        if abs(distance_m - named_m) < 0.002 * named_m:
            return name
    if distance_m % 1000 == 0:
        return f"{distance_m / 1000:.0f} km"
    return f"{distance_m:.0f} m" if distance_m < 5000 else units.length_mark(distance_m)


def result_words(distance_m: float, time_s: float) -> str:
    """A result as people say it.

    >>> result_words(10_000.0, 2650.0)
    '10 km in 44:10'
    """
    return f"{race_words(distance_m)} in {units.say_time(time_s)}"
