"""Effort through the race: the same speed feels harder as the race goes on, and the ladder says how much."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from functools import cache
from typing import Final, Literal

from planbuilder.settings.limits import Limits

RaceClass = Literal["5k", "10k", "half", "marathon"]
CLASSES: Final[tuple[RaceClass, ...]] = ("5k", "10k", "half", "marathon")
_CLASS_ENDS_M: Final = (7500.0, 15000.0, 30000.0)  # between the classic distances
CLASSIC_M: Final[dict[RaceClass, float]] = {
    "5k": 5000.0,
    "10k": 10000.0,
    "half": 21097.5,
    "marathon": 42195.0,
}


@dataclass(frozen=True, slots=True)
class Ladder:
    """Rungs of effort, each up to a share of the race."""

    ends: tuple[float, ...]  # share of the race, rising, the last is 1
    efforts: tuple[tuple[float, float], ...]  # RPE from, to

    def rung(self, share: float) -> int:
        """Which rung a place in the race stands on."""
        return min(bisect_left(self.ends, share), len(self.ends) - 1)

    def at(self, share: float) -> tuple[float, float]:
        """RPE at a place in the race."""
        return self.efforts[self.rung(share)]

    def between(self, start: float, end: float) -> tuple[float, float]:
        """RPE over a stretch: from its first tenth to its last, so that a long one shows the rise."""
        tenth = (end - start) / 10
        return (self.at(start + tenth)[0], self.at(end - tenth)[1])

    def lowered(self, by_rpe: float, most_rpe: float) -> Ladder:
        """The same ladder, easier all the way and nowhere above ``most_rpe``."""

        def lower(rpe: float) -> float:
            return min(max(rpe - by_rpe, 1.0), most_rpe)

        return Ladder(self.ends, tuple((lower(low), lower(high)) for low, high in self.efforts))

    def level(self, effort_rpe: tuple[float, float]) -> Ladder:
        """The same rungs, all of one effort."""
        return Ladder(self.ends, (effort_rpe,) * len(self.ends))


def finish_ladder(distance_m: float, limits: Limits) -> Ladder:
    """The ladder of a race of this length that is run for finishing well."""
    return _ladder(limits.numbers(f"race.finish_ladder_{race_class(distance_m)}"))


def finish_effort(distance_m: float, limits: Limits) -> tuple[float, float]:
    """RPE of race effort in training for such a race: that of its last third."""
    return finish_ladder(distance_m, limits).efforts[2]


def easy_effort(limits: Limits) -> tuple[float, float]:
    """RPE of an easy run, and of a race that is run easily."""
    low, high = limits.table("runner.band_effort")["easy"]
    return (float(low), float(high))


def race_class(distance_m: float) -> RaceClass:
    """The classic distance whose habits a race shares.

    >>> race_class(10000), race_class(16093.44), race_class(42195)
    ('10k', 'half', 'marathon')
    """
    return CLASSES[bisect_left(_CLASS_ENDS_M, distance_m)]


def effort_ladder(distance_m: float, limits: Limits) -> Ladder:
    """The ladder of a race of this length."""
    return _ladder(limits.numbers(f"race.ladder_{race_class(distance_m)}"))


@cache
def _ladder(numbers: tuple[float, ...]) -> Ladder:
    rungs = [numbers[i : i + 3] for i in range(0, len(numbers), 3)]
    return Ladder(tuple(rung[0] for rung in rungs), tuple((rung[1], rung[2]) for rung in rungs))
