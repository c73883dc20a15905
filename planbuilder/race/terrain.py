"""The ground in numbers: what every metre of the course costs at even effort, with the race rules in it.

Receives: the course, its features, the grade model, the limits, the wind.
Gives: a ``Terrain``: time factors cell by cell, and their running sums for stretches of any length.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from planbuilder.course.types import Course, Feature
from planbuilder.physiology.gradient import DEFAULT_MODEL, STEEPEST_GRADE, GradeModel, pace_factor
from planbuilder.physiology.wind import wind_pace_factor
from planbuilder.settings.limits import Limits
from planbuilder.settings.models import Wind

Array = NDArray[np.float64]
_GRADE_OVER_M = 100.0


@dataclass(frozen=True, eq=False)
class Terrain:
    """The course as cells between grid points; all arrays have shape (n,) unless said otherwise.

    A *factor* is time over the time on level ground at the same effort.
    """

    at_m: Array  # shape (n + 1,), the grid points
    height_m: Array  # shape (n + 1,)
    step_m: float
    grade: Array  # over 100 m, fraction
    factor: Array  # the grade model under the race rules, with the wind
    still_factor: Array  # the same without the wind
    rule_factor: Array  # treadmill grade response under the speed limits of descents: one edge of the bands
    cost_factor: Array  # ratio of energy costs: the other edge uphill
    plain_factor: float  # mean of the bare grade model over the course

    @property
    def course_factor(self) -> float:
        """Time over this course over a flat one at the same effort, without wind."""
        return float(self.still_factor.mean())

    @property
    def flat_m(self) -> Array:
        """Flat-equivalent length of every cell, metres."""
        flat: Array = self.factor * self.step_m
        return flat

    @property
    def middle_share(self) -> Array:
        """Where each cell stands in the race, 0 to 1."""
        shares: Array = (self.at_m[:-1] + self.at_m[1:]) / (2.0 * self.at_m[-1])
        return shares


def cell_grades(course: Course) -> Array:
    """Grade of each cell over about 100 m, shape (n,), a fraction; the mean grade of the course is kept, so
    that a closed loop sums to zero."""
    steps = np.diff(course.height_m) / course.step_m
    half = min(round(_GRADE_OVER_M / course.step_m / 2), len(steps) // 2)
    if half:
        kernel = np.full(2 * half + 1, 1.0 / (2 * half))
        kernel[[0, -1]] /= 2
        steps = np.convolve(np.pad(steps, half, mode="symmetric"), kernel, mode="valid")
    return np.clip(steps, -STEEPEST_GRADE, STEEPEST_GRADE)


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
    at_m = course.at_m
    grade = cell_grades(course)
    middle_m = (at_m[:-1] + at_m[1:]) / 2
    bare = pace_factor(grade, model)
    treadmill = bare if model == "treadmill grade" else pace_factor(grade, "treadmill grade")
    floor = descent_floor(middle_m, limits)
    ruled = np.maximum(restrained(bare, middle_m / course.distance_m, limits), floor)
    ruled = ruled + settling(ruled, at_m, features, limits, level_speed_mps)
    return Terrain(
        at_m=at_m,
        height_m=course.height_m,
        step_m=course.step_m,
        grade=grade,
        factor=ruled * wind_factors(middle_m, wind, level_speed_mps) if wind else ruled,
        still_factor=ruled,
        rule_factor=np.maximum(treadmill, floor),
        cost_factor=pace_factor(grade, "energy cost"),
        plain_factor=float(bare.mean()),
    )


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


def settling(
    factor: Array, at_m: Array, features: tuple[Feature, ...], limits: Limits, level_speed_mps: float
) -> Array:
    """What the minute after each crest adds to the factors: no credit for a descent, and a little slower."""
    added = np.zeros_like(factor)
    slower = limits.number("race.settle_slower")
    reach_m = limits.number("race.settle_seconds") * level_speed_mps
    step_m = at_m[1] - at_m[0]
    last_m = at_m[-1] - limits.number("race.nothing_saved")
    for crest_m in crests_m(features):
        end_m = min(crest_m + reach_m, last_m)
        if end_m <= crest_m:
            continue
        cells = slice(int(crest_m // step_m), int(np.ceil(end_m / step_m)))
        begin, end = np.maximum(at_m[:-1][cells], crest_m), np.minimum(at_m[1:][cells], end_m)
        cover = np.maximum(end - begin, 0.0) / step_m
        fade = 1.0 - ((begin + end) / 2 - crest_m) / reach_m
        here = cover * (np.maximum(1.0 - factor[cells], 0.0) + slower * fade)
        added[cells] = np.maximum(added[cells], here)
    return added


def wind_factors(middle_m: Array, wind: tuple[Wind, ...], level_speed_mps: float) -> Array:
    """Time factors of the wind along exposed stretches; where stretches overlap the later one counts."""
    factors = np.ones(len(middle_m))
    speed = min(max(level_speed_mps, 1.5), 8.0)  # the range of the published relation
    for stretch in wind:
        inside = (middle_m >= stretch.from_m) & (middle_m < stretch.to_m)
        factors[inside] = wind_pace_factor(speed, min(max(stretch.head_mps, -15.0), 15.0))
    return factors


def running_sum(values: Array) -> Array:
    """Sums from the start to each grid point, shape (n + 1,)."""
    sums = np.empty(len(values) + 1)
    sums[0] = 0.0
    np.cumsum(values, out=sums[1:])
    return sums
