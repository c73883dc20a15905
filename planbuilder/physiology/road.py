"""Certified road courses: how long they are, how far they may fall, and why a watch reads long.

Rules of World Athletics and AIMS for road races; the short-course prevention factor as the measurers of
certified courses apply it with the calibrated bicycle.

Checks: ``laid_out_length_m`` and ``within_separation_limit``, which hold the constants of certified courses;
results are judged with ``within_drop_limit`` and ``watch_overshoot``.
"""

from __future__ import annotations

from typing import Final

from planbuilder.physiology.ranges import require_within

DROP_LIMIT: Final = 1.0 / 1000.0  # overall fall from start to finish, per metre of distance
SEPARATION_LIMIT: Final = 0.5  # straight line from start to finish, share of the distance
SHORT_COURSE_FACTOR: Final = 1.001


def laid_out_length_m(distance_m: float) -> float:
    """Length of the shortest legal line that is laid out so that the course is never short.

    >>> round(laid_out_length_m(42_195.0), 3)
    42237.195
    """
    return distance_m * SHORT_COURSE_FACTOR


def within_drop_limit(*, distance_m: float, drop_m: float) -> bool:
    """Whether the fall from start to finish (positive: the finish is lower) lets a mark stand.

    >>> [within_drop_limit(distance_m=42_195.0, drop_m=drop_m) for drop_m in (42.19, 42.20)]
    [True, False]
    """
    return drop_m <= distance_m * DROP_LIMIT


def within_separation_limit(*, distance_m: float, separation_m: float) -> bool:
    """Whether start and finish lie near enough for a record.

    >>> within_separation_limit(distance_m=10_000.0, separation_m=5000.0)
    True
    """
    return separation_m <= distance_m * SEPARATION_LIMIT


def watch_overshoot(*, recorded_m: float, certified_m: float) -> float:
    """Share by which a recording exceeds the certified length.

    The middle error of 225 watches over a certified course was 0.6 to 1.9 % by kind of watch (Johansson RE et
    al. Int J Sports Sci Coach, 2020).

    >>> round(watch_overshoot(recorded_m=42_670.0, certified_m=42_195.0), 3)
    0.011
    """
    require_within(certified_m, 1.0, 1e6, quantity="certified distance", unit="m")
    return recorded_m / certified_m - 1.0
