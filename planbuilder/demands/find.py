"""From features to demands: what the ground asks of a runner, and where in the race it asks it.

Receives: a ``Course`` and its features.
Gives: ``CourseDemands``: class, flagged ground, the decisive climb and the second one.

Every flag stands on its own, whatever the class of the course.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from planbuilder.course import ascent_between, ranked_climbs
from planbuilder.course.types import Course, Feature
from planbuilder.demands.types import CourseClass, CourseDemands, Demand, DemandKind
from planbuilder.settings.limits import Limits
from planbuilder.units import climb_rate_mark, height_mark, length_mark, place_mark, say_grade

_CLASSES: tuple[CourseClass, ...] = ("flat", "rolling", "hilly", "very hilly")
_HEIGHT_TOLERANCE_M = 0.5  # thresholds are met as printed, in whole metres


def find_demands(course: Course, features: tuple[Feature, ...], limits: Limits) -> CourseDemands:
    """Everything training has to prepare for on this course; features are those of ``find_features``."""
    per_km = course.ascent_m / course.distance_m * 1000
    bounds = limits.numbers("demands.class_m_per_km")
    course_class = _CLASSES[sum(per_km >= bound for bound in bounds)]
    ranked = ranked_climbs(course, features, limits)
    decisive = next((feature for feature in features if feature.decisive), None)
    second = next((feature for feature in ranked if decisive is not None and not feature.decisive), None)
    late_start = (1 - limits.number("demands.late_share")) * course.distance_m
    late_gain, _ = ascent_between(course, late_start, course.distance_m, limits)
    if course.known:
        found = [
            *_downhill_start(course, features, limits),
            *_early_hills(course, features, limits),
            *_long_flat(course, features, limits),
            *_finish(course, features),
            *_long_descents(course, features, limits),
            *_net_downhill(course, limits),
            *_decisive(decisive, second),
        ]
    else:
        found = []
    if course_class != "flat" and _rolls(course, found, bounds[0]):
        found.append(_rolling(course, per_km))
    return CourseDemands(
        course_class=course_class,
        class_why=_class_why(course, course_class, per_km, bounds) + _fall_words(found),
        climb_m_per_km=per_km,
        demands=tuple(sorted(found, key=lambda demand: (demand.start_m, demand.end_m, demand.kind))),
        decisive=decisive,
        second=second,
        late_gain_m=late_gain,
        distance_m=course.distance_m,
        descent_m=course.descent_m,
    )


def _class_why(course: Course, name: CourseClass, per_km: float, bounds: tuple[float, ...]) -> str:
    place = _CLASSES.index(name)
    if place == 0:
        span = f"below {climb_rate_mark(bounds[0])}"
    elif place == len(bounds):
        span = f"{climb_rate_mark(bounds[-1])} or more"
    else:
        span = f"from {climb_rate_mark(bounds[place - 1])} to {climb_rate_mark(bounds[place])}"
    guess = "" if course.known else " This is assumed, as the course is not known."
    return (
        f"{height_mark(course.ascent_m)} of climb in {length_mark(course.distance_m)} are "
        f"{climb_rate_mark(per_km)}; {name} is {span}.{guess}"
    )


def _fall_words(found: Iterable[Demand]) -> str:
    """What climbing does not tell of a race that goes down all the way."""
    fall = next((demand for demand in found if demand.kind == "downhill_race"), None)
    return "" if fall is None else f" It falls {height_mark(-fall.gain_m)}: a downhill race."


def _demand(
    kind: DemandKind, course: Course, start_m: float, end_m: float, why: str, feature: Feature | None = None
) -> Demand:
    gain = course.height_at(end_m) - course.height_at(start_m)
    return Demand(
        kind=kind,
        start_m=start_m,
        end_m=end_m,
        grade=gain / (end_m - start_m),
        gain_m=gain,
        share_done=start_m / course.distance_m,
        feature=feature,
        why=why,
    )


def _of_feature(kind: DemandKind, feature: Feature, why: str) -> Demand:
    return Demand(
        kind=kind,
        start_m=feature.start_m,
        end_m=feature.end_m,
        grade=feature.grade,
        gain_m=feature.gain_m,
        share_done=feature.share_done,
        feature=feature,
        why=why,
    )


def _downhill_start(course: Course, features: tuple[Feature, ...], limits: Limits) -> Iterable[Demand]:
    """At least 15 m of drop in the first 2 km at -0.75 % or more, with 800 m of it at -1.5 % or more."""
    end = min(limits.numbers("course.downhill_start_length_m")[1], course.distance_m)
    drop = course.height_at(0.0) - course.height_at(end)
    grade, ground = limits.numbers("demands.downhill_start_steep")
    steep = float(np.sum(course.grade[course.at_m <= end] <= grade)) * course.step_m
    if (
        drop >= limits.number("demands.downhill_start_drop_m") - _HEIGHT_TOLERANCE_M
        and -drop / end <= limits.number("demands.downhill_start_mean")
        and steep >= ground - course.step_m
    ):
        feature = next((feature for feature in features if feature.kind == "downhill_start"), None)
        why = (
            f"The race falls {height_mark(drop)} in its first {length_mark(end)}: legs must learn to run "
            "down relaxed and to hold back early."
        )
        if feature is not None:
            yield _of_feature("downhill_start", feature, why)
        else:
            yield _demand("downhill_start", course, 0.0, end, why)


def _early_hills(course: Course, features: tuple[Feature, ...], limits: Limits) -> Iterable[Demand]:
    end = limits.number("demands.early_share") * course.distance_m
    ascent, _ = ascent_between(course, 0.0, end, limits)
    climbs = [feature for feature in features if feature.kind == "climb" and feature.start_m < end]
    steep = ascent / end * 1000 >= limits.number("demands.early_hills_m_per_km")
    if steep or len(climbs) >= limits.number("demands.early_hills_climbs"):
        yield _demand(
            "early_hills",
            course,
            0.0,
            end,
            f"The first {length_mark(end)} climb {height_mark(ascent)}: they must be run with restraint.",
            climbs[0] if climbs else None,
        )


def _long_flat(course: Course, features: tuple[Feature, ...], limits: Limits) -> Iterable[Demand]:
    least = limits.number("demands.long_flat_share") * course.distance_m
    for feature in features:
        if feature.kind == "flat" and feature.length_m >= least:
            yield _of_feature(
                "long_flat",
                feature,
                f"{length_mark(feature.length_m)} of level ground from {place_mark(feature.start_m)} ask for "
                "one steady rhythm.",
            )


def _finish(course: Course, features: tuple[Feature, ...]) -> Iterable[Demand]:
    for feature in features:
        if feature.kind == "hilly_finish":
            yield _of_feature(
                "hilly_finish",
                feature,
                f"The last {length_mark(feature.length_m)} climb {height_mark(feature.ascent_m)} "
                "on tired legs.",
            )
        elif feature.kind == "finish_drag":
            yield _of_feature(
                "finish_drag",
                feature,
                f"The last {length_mark(course.distance_m - feature.start_m)} rise "
                f"{height_mark(feature.gain_m)} to the line.",
            )


def _long_descents(course: Course, features: tuple[Feature, ...], limits: Limits) -> Iterable[Demand]:
    drop = limits.number("demands.long_descent_drop_m") - _HEIGHT_TOLERANCE_M
    grade, ground = limits.numbers("demands.long_descent_steep")
    for feature in features:
        if feature.kind != "descent":
            continue
        inside = (course.at_m >= feature.start_m) & (course.at_m <= feature.end_m)
        steep = float(np.sum(course.grade[inside] <= grade)) * course.step_m
        if -feature.gain_m >= drop or steep >= ground - course.step_m:
            yield _of_feature(
                "long_descent",
                feature,
                f"From {place_mark(feature.start_m)} the course falls {height_mark(-feature.gain_m)} in "
                f"{length_mark(feature.length_m)}, {say_grade(feature.steepest_grade)} at its steepest: "
                "thighs must be used to it.",
            )


def _net_downhill(course: Course, limits: Limits) -> Iterable[Demand]:
    drop = course.height_at(0.0) - course.height_at(course.distance_m)
    per_km = drop / course.distance_m * 1000
    if per_km > limits.number("demands.downhill_race_m_per_km"):
        kind: DemandKind = "downhill_race"
    elif per_km > limits.number("demands.net_downhill_m_per_km"):
        kind = "net_downhill"
    else:
        return
    yield _demand(
        kind,
        course,
        0.0,
        course.distance_m,
        f"The line lies {height_mark(drop)} below the start; times here do not compare with level courses.",
    )


def _decisive(decisive: Feature | None, second: Feature | None) -> Iterable[Demand]:
    for feature, which in ((decisive, "decides"), (second, "comes second to decide")):
        if feature is not None:
            yield _of_feature(
                "late_climb",
                feature,
                f"{feature.name.capitalize()} at {place_mark(feature.start_m)} {which} this race: "
                f"{height_mark(feature.gain_m)} in {length_mark(feature.length_m)} "
                f"with {feature.share_done * 100:.0f} % of the race run.",
            )


def _rolls(course: Course, found: Iterable[Demand], least_per_km: float) -> bool:
    """Whether a course that is not flat rolls all through: without a climb that decides, or between such."""
    climbs = [demand for demand in found if demand.kind == "late_climb"]
    if not climbs:
        return True
    if any(demand.kind == "long_flat" for demand in found):
        return False
    between_m = course.distance_m - sum(demand.length_m for demand in climbs)
    rest_m = course.ascent_m - sum(demand.gain_m for demand in climbs)
    return rest_m >= least_per_km * between_m / 1000


def _rolling(course: Course, per_km: float) -> Demand:
    why = f"The ground rolls all the way, with a climb of about {climb_rate_mark(per_km)}."
    return _demand("rolling", course, 0.0, course.distance_m, why)
