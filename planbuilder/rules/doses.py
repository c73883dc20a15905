"""How much: the number and length of repeats, so that they print round and grow from one time to the next.

Receives: ranges of the session library, how far into them to go, and the last main set.
Gives: ``MainSet``; it never grows in number and in length at once.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache
from typing import Final

from planbuilder.rules.orders import MainSet

# Lengths a coach would call out, in seconds.
ROUND_S: Final = (
    *(8, 10, 12, 15, 20, 25, 30, 40, 45, 60, 75, 90, 120, 150, 180, 240, 300, 360, 420, 480, 540, 600),
    *(720, 900, 1080, 1200, 1500, 1800, 2100, 2400, 2700, 3000, 3600),
)
_SLACK: Final = 1e-6
_USUAL_COUNT: Final = 6  # repeats that runners count without losing count


def round_lengths(low_s: float, high_s: float) -> tuple[float, ...]:
    """Every round length inside a range; the nearest one below it where none lies inside."""
    inside = tuple(float(length) for length in ROUND_S if low_s - _SLACK <= length <= high_s + _SLACK)
    return inside or (round_down(high_s),)


def round_down(seconds: float) -> float:
    """The longest round length that is not longer.

    >>> round_down(200), round_down(59)
    (180.0, 45.0)
    """
    return float(max((length for length in ROUND_S if length <= seconds + _SLACK), default=ROUND_S[0]))


def round_recovery(seconds: float) -> float:
    """A recovery that prints round: to 15 s up to 90 s, to 30 s above, whole minutes from five.

    >>> round_recovery(67), round_recovery(200), round_recovery(370)
    (60.0, 210.0, 360.0)
    """
    step = 15 if seconds <= 90 else 30 if seconds < 300 else 60
    return math.floor(seconds / step + 0.5) * float(step)


def whole_minutes(seconds: float, step_min: int = 1) -> float:
    """Seconds rounded down to whole minutes, or to multiples of some.

    >>> whole_minutes(1719), whole_minutes(1719, 5)
    (1680.0, 1500.0)
    """
    return math.floor((seconds + 0.5) / (60 * step_min)) * 60.0 * step_min


def round_warm_up(seconds: float) -> float:
    """Easy running before a main set, in multiples of five minutes above a quarter of an hour.

    >>> round_warm_up(720.0), round_warm_up(1620.0)
    (720.0, 1500.0)
    """
    return seconds if seconds <= 900 else whole_minutes(seconds, 5)


@lru_cache(maxsize=4096)
def choose_set(
    *,
    repeats: tuple[int, int],
    lengths: tuple[float, ...],
    low_s: float,
    high_s: float,
    limit_s: float,
    start: float,
    grows: float,
    occurrence: int,
    previous: MainSet | None,
    parted: bool = False,
) -> MainSet:
    """The main set for this time.

    repeats: fewest and most; lengths: round lengths of one, seconds; low_s, high_s: the dose range of the
    main set in all, seconds; limit_s: the most that this week allows; start: where in the range the phase
    begins, 0 to 1; grows: share of the range added each time; previous: the last set, else it is walked up
    to from the first time; parted: where the week leaves little, shorter repeats rather than a single one.
    """
    ceiling_s = min(high_s, limit_s)
    options = [
        MainSet(count, length)
        for length in lengths
        for count in range(repeats[0], repeats[1] + 1)
        if low_s - _SLACK <= count * length <= ceiling_s + _SLACK
    ]
    if not options:
        return _smaller(repeats, lengths, low_s, ceiling_s, previous, parted=parted)

    def target_s(turn: int) -> float:
        return min(low_s + min(start + grows * turn, 1.0) * (high_s - low_s), ceiling_s)

    if previous is not None:
        return _next(options, target_s(occurrence), previous)
    chosen = _first(options, target_s(0))
    for turn in range(1, occurrence + 1):
        chosen = _next(options, target_s(turn), chosen)
    return chosen


def _smaller(
    repeats: tuple[int, int],
    lengths: tuple[float, ...],
    low_s: float,
    ceiling_s: float,
    previous: MainSet | None,
    *,
    parted: bool,
) -> MainSet:
    """The nearest thing to the dose range where no set lies inside it: below it if anything does."""
    counts = range(1, max(repeats[1], repeats[0]) + 1)
    every = [MainSet(count, length) for length in lengths for count in counts]
    below = [option for option in every if option.total_s <= ceiling_s + _SLACK]
    if ceiling_s < low_s and parted:
        below = _parted(counts, lengths, ceiling_s, previous) or below
    if not below:
        return min(every, key=lambda option: (option.total_s, option.repeats))
    if ceiling_s < low_s:
        return max(below, key=lambda option: (option.total_s, option.repeats))
    return min(every, key=lambda option: (abs(option.total_s - low_s), -option.repeats))


def _parted(
    counts: range, lengths: tuple[float, ...], ceiling_s: float, previous: MainSet | None
) -> list[MainSet]:
    """The largest set of two repeats and more; of shorter ones, to half, where the usual do not fit twice.

    The last set is not repeated where one nearly as large differs from it.
    """
    shorter = [float(length) for length in ROUND_S if lengths[0] / 2 <= length < lengths[0]]
    for some in (lengths, shorter):
        sets = [
            MainSet(count, length)
            for length in some
            for count in counts
            if count >= 2 and count * length <= ceiling_s + _SLACK
        ]
        if sets:
            large_s = 0.85 * max(option.total_s for option in sets)
            large = [option for option in sets if option.total_s >= large_s]
            other = [option for option in large if option != previous]
            return [max(other or large, key=lambda option: (-abs(option.repeats - 3), option.total_s))]
    return []


def _first(options: list[MainSet], target_s: float) -> MainSet:
    """A set within a tenth of the target, of about six repeats; the smallest set where none is within it."""
    within = [option for option in options if option.total_s <= target_s + _SLACK]
    if not within:
        return min(options, key=lambda option: (option.total_s, option.seconds))
    full_s = 0.9 * max(option.total_s for option in within)
    near = [option for option in within if option.total_s >= full_s]
    return min(near, key=lambda option: (abs(option.repeats - _USUAL_COUNT), -option.total_s, option.seconds))


def _one_step_up(options: list[MainSet], last: MainSet) -> MainSet | None:
    """The smallest set that is longer than the last one in all, by a quarter at most."""
    longer = [
        option
        for option in options
        if last.total_s < option.total_s <= last.total_s * 1.25
        and not (option.repeats > last.repeats and option.seconds > last.seconds)
    ]
    return min(longer, key=lambda option: (option.total_s, -option.seconds), default=None)


def _next(options: list[MainSet], target_s: float, last: MainSet) -> MainSet:
    """One step on from the last set: more repeats or longer ones, never both, and never the same again."""
    allowed = [
        option
        for option in options
        if option != last
        and option.total_s <= target_s + _SLACK
        and not (option.repeats > last.repeats and option.seconds > last.seconds)
    ]
    if not allowed:
        return _one_step_up(options, last) or (last if last in options else _first(options, target_s))

    def strangeness(option: MainSet) -> tuple[float, float, float]:
        short_of_target = (target_s - option.total_s) / target_s
        step_back = max(0.0, (last.total_s - option.total_s) / target_s)
        jump = 0.08 * abs(option.repeats - last.repeats) + 0.15 * abs(math.log(option.seconds / last.seconds))
        shorter = 0.1 if option.seconds < last.seconds else 0.0
        return short_of_target + 2 * step_back + jump + shorter, -option.seconds, option.repeats

    return min(allowed, key=strangeness)


def worth_warming_up(main: MainSet, least: Sequence[float]) -> bool:
    """Whether a main set is large enough to warm up for: repeats and minutes, or minutes alone.

    >>> [worth_warming_up(MainSet(*one), (3, 3, 8)) for one in ((2, 75), (6, 30), (2, 300))]
    [False, True, True]
    """
    repeats, minutes, alone = least
    return (main.repeats >= repeats and main.total_s >= minutes * 60) or main.total_s >= alone * 60
