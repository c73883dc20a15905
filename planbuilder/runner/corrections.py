"""What a result would have been on level ground in cool weather, or why it cannot be compared."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np

from planbuilder import units
from planbuilder.course import find_features
from planbuilder.course.types import Course, Feature
from planbuilder.demands.terrain import build_terrain
from planbuilder.physiology.endurance import endurance_index
from planbuilder.physiology.equivalence import RIEGEL_QUICKEST_S
from planbuilder.physiology.gradient import pace_factor
from planbuilder.physiology.heat import HOTTEST_MEASURED_C, heat_slow_down, wet_bulb_globe_c
from planbuilder.physiology.road import watch_overshoot, within_drop_limit
from planbuilder.runner.words import result_words
from planbuilder.settings.limits import Limits
from planbuilder.settings.models import Result

_WORTH_SAYING: Final = 0.002  # share of the time
_DOES_NOT_FIT: Final = "the time does not fit the distance, so please look at both and at the unit"
_SHORTEST_M: Final = 50.0  # below this no run is timed as a race
_COLDEST_AIR_C: Final = -10.0  # the estimate of the air begins here, far below where heat costs anything
_HOTTEST_AIR_C: Final = 50.0  # and ends here
_ROUNDS: Final = 20  # each leaves less than a tenth of the error before it
_BEYOND_THE_WORLD_BEST: Final = 87.0  # endurance index; the best road marathons come to about 85


@dataclass(frozen=True, slots=True)
class Corrected:
    """A result after correction."""

    place: int  # among the runner's results, from 0
    result: Result
    days_before_block: int
    flat_time_s: float
    spread: float  # share by which two models of the ground differ over it, where that matters
    said: tuple[str, ...]  # what was corrected and why
    problem: str  # why it cannot set paces; empty where it can
    short: bool  # too short to set paces, still an effort for critical speed


@dataclass(frozen=True, slots=True)
class _Ground:
    factor: float
    spread: float
    said: str
    problem: str = ""


def correct(
    result: Result, *, place: int, first_day: dt.date, courses: Mapping[str, Course], limits: Limits
) -> Corrected:
    """The result on the flat in cool weather; courses are those that results name, by that name."""
    days = (first_day - result.date).days
    if result.distance_m < _SHORTEST_M or result.time_s <= 0:
        return Corrected(place, result, days, result.time_s, 0.0, (), _DOES_NOT_FIT, False)
    heat = _heat(result, limits)
    ground = _ground(result, result.time_s / (1.0 + (heat or 0.0)), courses, limits)
    factor = ground.factor * (1.0 + (heat or 0.0))
    said = [ground.said] if ground.said else []
    if heat is not None and heat > _WORTH_SAYING:
        said.append(
            f"the air was at {result.temperature_c:.0f} °C, which cost about "
            f"{units.say_minutes(result.time_s * (1 - 1 / (1 + heat)))}"
        )
    short = result.time_s < RIEGEL_QUICKEST_S
    return Corrected(
        place=place,
        result=result,
        days_before_block=days,
        flat_time_s=result.time_s / factor,
        spread=ground.spread,
        said=tuple(said),
        problem=ground.problem or _problem(result, days, heat, factor, short, limits),
        short=short,
    )


def heat_scale(*, distance_m: float, time_s: float, limits: Limits) -> float:
    """How much of the leading marathoners' slow-down a race takes: less when short, more when very long."""
    short, long = limits.number("race.heat_share_short"), limits.number("race.heat_share_long")
    by_distance = np.interp(distance_m, (10_000.0, units.MARATHON_M), (short, 1.0))
    by_time = np.interp(time_s, (3 * 3600.0, 4 * 3600.0), (1.0, long))
    return float(by_distance * by_time)


def _ground(result: Result, cool_s: float, courses: Mapping[str, Course], limits: Limits) -> _Ground:
    """What the ground did to a result that took ``cool_s`` without the weather."""
    climbs = limits.table("runner.climb_per_km")
    if result.course in climbs:
        climb_m = result.climb_m
        if climb_m is None:
            climb_m = climbs[result.course] * result.distance_m / 1000
        return _climbed(result, climb_m)
    course = courses.get(result.course)
    if course is None or not course.known:
        return _Ground(1.0, 0.0, "", "the ground of its course is not known")
    shorter, longer = limits.numbers("runner.length_doubt")
    overshoot = watch_overshoot(recorded_m=course.measured_m, certified_m=result.distance_m)
    if not shorter <= overshoot <= longer:
        measured = units.length_mark(course.measured_m)
        return _Ground(1.0, 0.0, "", f"its course file measures {measured}, which is another distance")
    factor, spread = _charged(course, result.distance_m, cool_s, limits)
    if spread < limits.number("runner.model_doubt"):
        spread = 0.0
    climb, fall = units.height_mark(course.ascent_m), units.height_mark(course.descent_m)
    ground = f"its course climbs {climb} and falls {fall}"
    if not within_drop_limit(distance_m=course.distance_m, drop_m=course.descent_m - course.ascent_m):
        ground += ", further than a record course may"
    return _Ground(factor, spread, _said(ground, result.time_s, factor, spread))


def _charged(course: Course, distance_m: float, cool_s: float, limits: Limits) -> tuple[float, float]:
    """The factor that a race plan over this course charges, so that a result comes back as it was run, and
    how far the second grade model is from it. How far the minute after a crest reaches depends on the flat
    speed that is looked for, so the two are found together."""
    features, factor = _features(course, limits), 1.0
    for _ in range(_ROUNDS):
        before = factor
        terrain = build_terrain(
            course=course, features=features, limits=limits, level_speed_mps=distance_m * before / cool_s
        )
        factor = terrain.course_factor
        if abs(factor - before) < 1e-9:
            break
    ground = terrain.ground
    return factor, abs(float(ground.cost_m[-1] - ground.rule_m[-1])) / ground.distance_m


@lru_cache(maxsize=64)
def _features(course: Course, limits: Limits) -> tuple[Feature, ...]:
    return find_features(course, limits)


def _climbed(result: Result, climb_m: float) -> _Ground:
    """Ground of which only the climb is known: half of it goes up, half comes down again. Where is not known,
    so the rules of the race, which ask for the place, charge nothing: the careful side."""
    grade = min(2 * climb_m / result.distance_m, 0.2)
    factor = 0.5 * (pace_factor(grade) + pace_factor(-grade))
    return _Ground(
        factor,
        0.0,
        _said(f"its course climbs about {units.height_mark(climb_m)}", result.time_s, factor, 0.0),
    )


def _said(ground: str, time_s: float, factor: float, spread: float) -> str:
    if abs(factor - 1) < _WORTH_SAYING:
        return ""
    seconds = time_s * (1 - 1 / factor)
    effect = "cost" if seconds > 0 else "gave back"
    words = f"{ground}, which {effect} about {units.say_minutes(abs(seconds))}"
    if spread:
        words += f" (two models of the ground differ by {spread * 100:.1f} % here, so the figure is wider)"
    return words


def _heat(result: Result, limits: Limits) -> float | None:
    """Share of the cool time that the day added; None where it was hotter than anything measured."""
    if result.temperature_c is None:
        return 0.0
    humidity = limits.number("race.assumed_humidity") if result.humidity is None else result.humidity
    if result.temperature_c > _HOTTEST_AIR_C:
        return None
    wet_bulb_c = wet_bulb_globe_c(max(result.temperature_c, _COLDEST_AIR_C), min(humidity, 1.0))
    if wet_bulb_c > HOTTEST_MEASURED_C:
        return None
    slow_down, cool_s = heat_slow_down(wet_bulb_c), result.time_s
    for _ in range(_ROUNDS):  # the heat works for as long as the race would take in cool air
        share = slow_down * heat_scale(distance_m=result.distance_m, time_s=cool_s, limits=limits)
        cool_s = result.time_s / (1.0 + share)
    return share


def _problem(
    result: Result, days: int, heat: float | None, factor: float, short: bool, limits: Limits
) -> str:
    if result.effort == "training":
        return "it was run as training"
    if days > limits.number("runner.oldest_result"):
        return f"it is more than {limits.number('runner.oldest_result'):.0f} days old"
    if result.distance_m > units.MARATHON_M * 1.01:
        return "races beyond the marathon say little about shorter ones"
    if short:
        return "it is too short to say what you can hold"
    if not _believable(result):
        return _DOES_NOT_FIT
    if heat is None:
        return "the day was too hot for the clock to say much"
    if abs(factor - 1) > limits.number("runner.course_doubt"):
        return "course and weather changed it too much to be compared"
    return ""


def _believable(result: Result) -> bool:
    try:
        index = endurance_index(distance_m=result.distance_m, time_s=result.time_s)
    except ValueError:
        return False
    return 10.0 <= index <= _BEYOND_THE_WORLD_BEST


def sentence(corrected: Corrected, verdict: str) -> str:
    """One sentence: the result, what was corrected, what came of it."""
    result = corrected.result
    said = "".join(f"; {part}" for part in corrected.said)
    return f"{result_words(result.distance_m, result.time_s)}{said}: {verdict}."
