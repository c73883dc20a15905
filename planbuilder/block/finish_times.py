"""Finish times as people mistype them: hours and minutes that read as minutes and seconds.

Receives: a time with the distance it is of.
Gives: what must be, what was found, what to do; None for a time that a person can run or walk.
"""

from __future__ import annotations

from typing import Final

from planbuilder.units import say_time

_FASTEST_S_PER_KM: Final = 120.0  # quicker than any human over 800 m or more: a slip of the pen
_SLOWEST_S_PER_KM: Final = 1200.0  # slower than a stroll


def wrong_time(
    what: str, time_s: float, distance_m: float, *, slow_too: bool = True
) -> tuple[str, str, str] | None:
    """What is wrong with a time over a distance, as the parts of a ``Problem``.

    >>> wrong_time("the goal time", 95, 21097.5)[1:]
    ('"1:35" is 1 min 35 s', 'Write 1:35:00.')
    """
    if not _possible(time_s, distance_m, slow_too=slow_too):
        must = f"{what} must be one that a person can run or walk"
        return must, f'"{say_time(time_s)}" is {_in_words(time_s)}', _mend(time_s, distance_m)
    return None


def _possible(time_s: float, distance_m: float, *, slow_too: bool = True) -> bool:
    pace_s_per_km = time_s / distance_m * 1000
    return pace_s_per_km >= _FASTEST_S_PER_KM and (not slow_too or pace_s_per_km <= _SLOWEST_S_PER_KM)


def _mend(time_s: float, distance_m: float) -> str:
    """The same figures an hour's place up or down, where they make a time."""
    for other_s in (time_s * 60, time_s / 60):
        if _possible(other_s, distance_m):
            return f"Write {say_time(other_s)}."
    return "Is it hours:minutes:seconds?"


def _in_words(time_s: float) -> str:
    minutes, seconds = divmod(round(time_s), 60)
    hours, minutes = divmod(minutes, 60)
    parts = [(hours, "h"), (minutes, "min"), (seconds, "s")]
    return " ".join(f"{number} {unit}" for number, unit in parts if number) or "0 s"
