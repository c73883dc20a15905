"""How a race is named in a sentence."""

from __future__ import annotations

from planbuilder import units

_NAMES = ((units.MILE_M, "mile"), (units.HALF_MARATHON_M, "half marathon"), (units.MARATHON_M, "marathon"))


def race_words(distance_m: float) -> str:
    """ "half marathon", "marathon", "mile", or the distance as a mark.

    >>> race_words(21097.5), race_words(10_000.0)
    ('half marathon', '{l:10000}')
    """
    for named_m, name in _NAMES:
        if abs(distance_m - named_m) < 0.002 * named_m:
            return name
    return units.length_mark(distance_m)


def result_words(distance_m: float, time_s: float) -> str:
    """A result as people say it.

    >>> result_words(10_000.0, 2650.0)
    '{l:10000} in 44:10'
    """
    return f"{race_words(distance_m)} in {units.say_time(time_s)}"
