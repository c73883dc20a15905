"""Walking through a session: every round of every set in order, and what it all adds up to.

A step counts at the upper end of its effort: RPE 5-6 is work and is hard, RPE 3-4 is neither.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import groupby
from typing import Final

from planbuilder.physiology.gradient import pace_factor
from planbuilder.plan.types import Ground, Session, Step, StepKind

WORK_RPE: Final = 5.0  # work begins here
HARD_RPE: Final = 6.0  # hard begins here
HARD_S: Final = 360.0  # so many seconds at RPE 6 and above make a session hard
HARD_DESCENT_S: Final = 180.0  # and so many of descending at race effort
DESCENT_GRADE: Final = -0.01  # ground that falls less than this is level enough

# Time for a kilometre against the easy pace, by the middle of the effort range: the shares of threshold
# speed that coaches give to recovery, easy, steady, threshold, 10 km, interval and repetition running; below
# RPE 1.5 it is walking. Common practice, no source; it serves the length of steps run by effort only.
_EFFORT: Final = (0.0, 1.0, 1.5, 3.0, 5.0, 6.5, 8.0, 8.5, 9.5)
_TIME_FACTOR: Final = (2.2, 1.9, 1.11, 1.0, 0.90, 0.81, 0.775, 0.745, 0.70)

_STANDING: Final[frozenset[StepKind]] = frozenset({"strength", "cross_training"})


@dataclass(frozen=True, slots=True)
class Leg:
    """One stretch of a session as it is run."""

    step_no: int  # place of its step among the steps of the session, from 0
    round_no: int  # from 0
    kind: StepKind
    start_s: float
    duration_s: float
    start_m: float
    distance_m: float
    effort_rpe: tuple[float, float]
    pace_s_per_km: tuple[float, float] | None
    ground: Ground
    words: str

    @property
    def climb_m(self) -> float:
        """Metres climbed; 0 on the level and on the way down."""
        return self.distance_m * max(self.ground.grade or 0.0, 0.0)

    @property
    def is_work(self) -> bool:
        """Whether it is run at RPE 5 or above."""
        return self.effort_rpe[1] >= WORK_RPE and self.kind not in _STANDING

    @property
    def is_hard(self) -> bool:
        """Whether it is run at RPE 6 or above."""
        return self.effort_rpe[1] >= HARD_RPE and self.kind not in _STANDING

    @property
    def is_descent_work(self) -> bool:
        """Whether it is a descent at race effort."""
        return self.is_work and (self.ground.grade or 0.0) <= DESCENT_GRADE


@dataclass(frozen=True, slots=True)
class Measure:
    """What the steps of a session add up to."""

    duration_s: float
    distance_m: float
    work_s: float
    hard_s: float
    climb_m: float
    descent_work_s: float

    @property
    def hard(self) -> bool:
        """Whether the session counts as hard; a race or a test does so whatever its length."""
        return self.hard_s >= HARD_S or self.descent_work_s >= HARD_DESCENT_S


def effort_factor(effort_rpe: float) -> float:
    """Time for a kilometre at this effort as a multiple of the time at easy effort, level ground.

    >>> effort_factor(3), round(effort_factor(6.5), 2)
    (1.0, 0.81)
    """
    at = bisect_right(_EFFORT, effort_rpe)
    if at in (0, len(_EFFORT)):
        return _TIME_FACTOR[min(at, len(_EFFORT) - 1)]
    low, high = _EFFORT[at - 1], _EFFORT[at]
    share = (effort_rpe - low) / (high - low)
    return _TIME_FACTOR[at - 1] + share * (_TIME_FACTOR[at] - _TIME_FACTOR[at - 1])


@lru_cache(maxsize=1024)
def grade_factor(grade: float) -> float:
    """Time for a kilometre on a slope over the level time at the same effort, by the race's own model.

    >>> round(grade_factor(0.04), 3), round(grade_factor(-0.02), 3)
    (1.132, 0.964)
    """
    return pace_factor(grade)


def step_pace_s_per_km(step: Step, *, easy_s_per_km: float) -> float:
    """Seconds per kilometre to reckon with: the middle of the band, or what effort and slope make of easy."""
    if step.pace_s_per_km is not None:
        return sum(step.pace_s_per_km) / 2
    factor = effort_factor(sum(step.effort_rpe) / 2)
    return easy_s_per_km * factor * grade_factor(step.ground.grade or 0.0)


def _size(step: Step, easy_s_per_km: float) -> tuple[float, float]:
    """Seconds and metres of one repeat."""
    if step.kind in _STANDING:
        return step.duration_s or 0.0, 0.0
    pace = step_pace_s_per_km(step, easy_s_per_km=easy_s_per_km)
    if step.duration_s is not None:
        return step.duration_s, step.duration_s / pace * 1000
    return (step.distance_m or 0.0) / 1000 * pace, step.distance_m or 0.0


def in_order(steps: Sequence[Step]) -> Iterator[tuple[int, int, Step]]:
    """Every single stretch as (place of its step, round, step), sets taken round after round."""
    numbered = list(enumerate(steps))
    for set_no, members in groupby(numbered, key=lambda entry: entry[1].set_no or -entry[0] - 1):
        group = list(members)
        if set_no < 0:
            at, step = group[0]
            yield from ((at, turn, step) for turn in range(step.repeat))
            continue
        for turn in range(max(step.repeat for _, step in group)):
            yield from ((at, turn, step) for at, step in group if turn < step.repeat)


def timeline(walked: Session | Sequence[Step], *, easy_s_per_km: float = 360.0) -> tuple[Leg, ...]:
    """The session as it is run, stretch by stretch.

    Bare steps are measured with the easy pace given. A ``Session`` knows its distance, so its stretches are
    stretched to end there, whatever the easy pace.
    """
    steps = walked.steps if isinstance(walked, Session) else walked
    legs: list[Leg] = []
    at_s = at_m = 0.0
    for step_no, round_no, step in in_order(steps):
        duration_s, distance_m = _size(step, easy_s_per_km)
        legs.append(
            Leg(
                step_no=step_no,
                round_no=round_no,
                kind=step.kind,
                start_s=at_s,
                duration_s=duration_s,
                start_m=at_m,
                distance_m=distance_m,
                effort_rpe=step.effort_rpe,
                pace_s_per_km=step.pace_s_per_km,
                ground=step.ground,
                words=step.words,
            )
        )
        at_s += duration_s
        at_m += distance_m
    if isinstance(walked, Session) and at_m > 0 and walked.distance_m > 0:
        return _stretched(legs, walked.distance_m / at_m)
    return tuple(legs)


def _stretched(legs: Sequence[Leg], scale: float) -> tuple[Leg, ...]:
    return tuple(replace(leg, start_m=leg.start_m * scale, distance_m=leg.distance_m * scale) for leg in legs)


def measure(walked: Session | Sequence[Step], *, easy_s_per_km: float = 360.0) -> Measure:
    """What the steps add up to: the sums over the timeline, without walking it."""
    steps = walked.steps if isinstance(walked, Session) else walked
    all_s = all_m = work_s = hard_s = climb_m = descent_s = 0.0
    for step in steps:
        one_s, one_m = _size(step, easy_s_per_km)
        duration_s, distance_m = one_s * step.repeat, one_m * step.repeat
        grade = step.ground.grade or 0.0
        all_s += duration_s
        all_m += distance_m
        climb_m += distance_m * max(grade, 0.0)
        if step.kind not in _STANDING and step.effort_rpe[1] >= WORK_RPE:
            work_s += duration_s
            hard_s += duration_s if step.effort_rpe[1] >= HARD_RPE else 0.0
            descent_s += duration_s if grade <= DESCENT_GRADE else 0.0
    scale = walked.distance_m / all_m if isinstance(walked, Session) and all_m > 0 else 1.0
    return Measure(
        duration_s=all_s,
        distance_m=all_m * scale,
        work_s=work_s,
        hard_s=hard_s,
        climb_m=climb_m * scale,
        descent_work_s=descent_s,
    )
