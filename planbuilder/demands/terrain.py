"""The ground in numbers: what every metre of the course costs at even effort, with the race rules in it.

Receives: the course, its features, the grade model, the limits, the wind.
Gives: a ``Terrain``: time factors cell by cell, and their running sums for stretches of any length.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from planbuilder.course.types import Course, Feature
from planbuilder.physiology.gradient import DEFAULT_MODEL, STEEPEST_GRADE, GradeModel, pace_factor
from planbuilder.physiology.wind import STRONGEST_WIND_MPS, wind_pace_factor
from planbuilder.settings.limits import Limits
from planbuilder.settings.models import Wind

Array = NDArray[np.float64]
_GRADE_OVER_M = 100.0


@dataclass(frozen=True, eq=False)
class Ground:
    """What the course alone says, whoever runs it: cells between grid points, arrays of shape (n,) unless
    said otherwise. A *factor* is time over the time on level ground at the same effort."""

    at_m: Array  # shape (n + 1,), the grid points
    middle_m: Array
    step_m: float
    factor: Array  # the grade model under the race rules
    rule_m: Array  # shape (n + 1,), running sum: treadmill grade response under the speed limits of descents
    least_m: Array  # shape (n + 1,), running sum: those limits alone, the smallest factor that may be shown
    cost_m: Array  # shape (n + 1,), running sum: ratio of energy costs

    @property
    def distance_m(self) -> float:
        """Length of the course."""
        return float(self.at_m[-1])


@dataclass(frozen=True, eq=False)
class Terrain:
    """The ground as one runner meets it on the day; arrays of shape (n,)."""

    ground: Ground
    factor: Array  # with the minute after each crest, and the wind
    course_factor: float  # time over this course over a flat one at the same effort, without wind
    wind_ratio: float  # time with the wind over time without

    @property
    def flat_m(self) -> Array:
        """Flat-equivalent length of every cell, metres."""
        lengths: Array = self.factor * self.ground.step_m
        return lengths

    @property
    def middle_share(self) -> Array:
        """Where each cell stands in the race, 0 to 1."""
        shares: Array = self.ground.middle_m / self.ground.distance_m
        return shares


def cell_grades(course: Course) -> Array:
    """Grade of each cell over about 100 m, shape (n,), a fraction; the mean grade of the course is kept, so
    that a closed loop sums to zero."""
    steps: Array = np.diff(course.height_m) / course.step_m
    half = min(round(_GRADE_OVER_M / course.step_m / 2), len(steps) // 2)
    if half:
        kernel = np.full(2 * half + 1, 1.0 / (2 * half))
        kernel[[0, -1]] /= 2
        steps = np.convolve(np.pad(steps, half, mode="symmetric"), kernel, mode="valid")
    return np.clip(steps, -STEEPEST_GRADE, STEEPEST_GRADE)


@lru_cache(maxsize=64)
def read_ground(course: Course, limits: Limits, model: GradeModel = DEFAULT_MODEL) -> Ground:
    """The ground of a course; worked out once for all runners of a squad."""
    at_m = course.at_m
    grade = cell_grades(course)
    middle_m = (at_m[:-1] + at_m[1:]) / 2
    floor = descent_floor(middle_m, limits)
    ruled = np.maximum(restrained(pace_factor(grade, model), middle_m / course.distance_m, limits), floor)
    return Ground(
        at_m=at_m,
        middle_m=middle_m,
        step_m=course.step_m,
        factor=ruled,
        rule_m=running_sum(np.maximum(pace_factor(grade, "treadmill grade"), floor) * course.step_m),
        least_m=running_sum(floor * course.step_m),
        cost_m=running_sum(pace_factor(grade, "energy cost") * course.step_m),
    )


def build_terrain(
    *,
    course: Course,
    features: tuple[Feature, ...],
    limits: Limits,
    model: GradeModel = DEFAULT_MODEL,
    level_speed_mps: float,
    wind: tuple[Wind, ...] = (),
) -> Terrain:
    """The terrain of a course; ``level_speed_mps`` is the runner's speed on level ground, which decides how
    far the minute after a crest reaches and what the wind costs."""
    ground = read_ground(course, limits, model)
    still = ground.factor + settling(ground, features, limits, level_speed_mps)
    factor = still * wind_factors(ground.middle_m, wind, level_speed_mps) if wind else still
    course_factor = float(still.mean())
    return Terrain(ground, factor, course_factor, float(factor.mean()) / course_factor)


def restrained(factor: Array, share: Array, limits: Limits) -> Array:
    """Little credit for descents early, full credit late; climbs are charged in full everywhere."""
    early = limits.number("race.descent_credit_early")
    begins = limits.number("race.descent_credit_early_ends")
    ends = max(limits.number("race.descent_credit_full_from"), begins)
    credit = np.interp(share, (begins, ends), (early, 1.0))
    return np.maximum(factor, 1.0) - credit * np.maximum(1.0 - factor, 0.0)


def descent_floor(middle_m: Array, limits: Limits) -> Array:
    """The smallest time factor allowed: a speed limit on descents, and the first mile held back."""
    floor = np.full(len(middle_m), 1.0 / (1.0 + limits.number("race.descent_speed_gain")))
    first = middle_m < limits.number("race.first_mile_length")
    floor[first] = np.maximum(floor[first], 1.0 - limits.number("race.first_mile_gain"))
    return floor


def crests_m(features: tuple[Feature, ...]) -> tuple[float, ...]:
    """Where climbs end."""
    return tuple(feature.end_m for feature in features if feature.kind == "climb")


def settling(ground: Ground, features: tuple[Feature, ...], limits: Limits, level_speed_mps: float) -> Array:
    """What the minute after each crest adds to the factors: no credit for a descent, and a little slower."""
    added = np.zeros_like(ground.factor)
    slower = limits.number("race.settle_slower")
    reach_m = limits.number("race.settle_seconds") * level_speed_mps
    last_m = ground.distance_m - limits.number("race.nothing_saved")
    for crest_m in crests_m(features):
        end_m = min(crest_m + reach_m, last_m)
        if end_m <= crest_m:
            continue
        cells = slice(int(crest_m // ground.step_m), int(np.ceil(end_m / ground.step_m)))
        begin = np.maximum(ground.at_m[:-1][cells], crest_m)
        end = np.minimum(ground.at_m[1:][cells], end_m)
        cover = np.maximum(end - begin, 0.0) / ground.step_m
        fade = 1.0 - ((begin + end) / 2 - crest_m) / reach_m
        here = cover * (np.maximum(1.0 - ground.factor[cells], 0.0) + slower * fade)
        added[cells] = np.maximum(added[cells], here)
    return added


def wind_factors(middle_m: Array, wind: tuple[Wind, ...], level_speed_mps: float) -> Array:
    """Time factors of the wind along exposed stretches; where stretches overlap the later one counts."""
    factors = np.ones(len(middle_m))
    speed = min(max(level_speed_mps, 1.5), 8.0)  # the range of the published relation
    for stretch in wind:
        inside = (middle_m >= stretch.from_m) & (middle_m < stretch.to_m)
        factors[inside] = wind_pace_factor(
            speed, min(max(stretch.head_mps, -STRONGEST_WIND_MPS), STRONGEST_WIND_MPS)
        )
    return factors


def running_sum(values: Array) -> Array:
    """Sums from the start to each grid point, shape (n + 1,)."""
    sums = np.empty(len(values) + 1)
    sums[0] = 0.0
    np.cumsum(values, out=sums[1:])
    return sums
