"""Courses, runners and form built by hand for the tests of the race room. Everything is invented."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from planbuilder.course.types import Course, Feature, FeatureKind, Remark
from planbuilder.demands.types import CourseDemands
from planbuilder.race import RacePlan, plan_race
from planbuilder.runner.types import Form, Prediction, UsedResult
from planbuilder.settings.limits import default_limits
from planbuilder.settings.models import RaceSettings, RunnerSettings
from planbuilder.units import HALF_MARATHON_M, MARATHON_M

LIMITS = default_limits()


def course_of(pieces: Sequence[tuple[float, float]], *, step_m: float = 10.0, known: bool = True) -> Course:
    """A course of (length in m, grade) pieces."""
    distance_m = sum(length for length, _ in pieces)
    count = round(distance_m / step_m)
    step_m = distance_m / count
    ends = np.cumsum([0.0, *(length for length, _ in pieces)])
    heights = np.cumsum([0.0, *(length * grade for length, grade in pieces)])
    return course_at(
        np.interp(np.linspace(0.0, distance_m, count + 1), ends, heights), distance_m, known=known
    )


def course_at(height_m: Any, distance_m: float, *, known: bool = True) -> Course:
    """A course of heights at even steps."""
    height = np.asarray(height_m, dtype=np.float64)
    step_m = distance_m / (len(height) - 1)
    rises = np.diff(height)
    return Course(
        name="Test course",
        distance_m=distance_m,
        measured_m=distance_m,
        step_m=step_m,
        height_m=height,
        grade=np.gradient(height, step_m),
        ascent_m=float(rises.clip(min=0).sum()),
        descent_m=float(-rises.clip(max=0).sum()),
        ascent_low_m=0.0,
        ascent_high_m=0.0,
        source="surveyed table" if known else "unknown",
        known=known,
        climb_uncertain=False,
        notes=(),
    )


def feature(
    course: Course, kind: FeatureKind, start_m: float, end_m: float, *, name: str = "", decisive: bool = False
) -> Feature:
    """A feature on a course."""
    gain = course.height_at(end_m) - course.height_at(start_m)
    return Feature(
        kind=kind,
        name=name or kind.replace("_", " "),
        start_m=start_m,
        end_m=end_m,
        gain_m=gain,
        ascent_m=max(gain, 0.0),
        descent_m=max(-gain, 0.0),
        grade=gain / (end_m - start_m),
        steepest_grade=gain / (end_m - start_m),
        share_done=start_m / course.distance_m,
        decisive=decisive,
        words=f"A {kind}",
    )


def demands_of(course: Course, features: Sequence[Feature] = ()) -> CourseDemands:
    """Demands that know the decisive climb alone."""
    decisive = next((one for one in features if one.decisive), None)
    return CourseDemands(
        course_class="rolling",
        class_why="",
        climb_m_per_km=course.ascent_m / course.distance_m * 1000,
        demands=(),
        decisive=decisive,
        second=None,
        late_gain_m=0.0,
        distance_m=course.distance_m,
        descent_m=course.descent_m,
    )


def race_of(distance_m: float, **settings: Any) -> RaceSettings:
    """Race settings over a distance."""
    return RaceSettings.model_validate(
        {
            "name": "Saltmarsh Half",
            "date": "2027-05-16",
            "start_time": "09:30",
            "timezone": "Europe/Lisbon",
            "distance": f"{distance_m:.1f} m",
            **settings,
        }
    )


def runner_of(**settings: Any) -> RunnerSettings:
    """A runner."""
    return RunnerSettings.model_validate({"name": "Ines A", **settings})


def form_of(threshold_mps: float | None = 3.6, *, stale: bool = False) -> Form:
    """Form with a 10 km result at threshold speed."""
    if threshold_mps is None:
        return Form((), None, False, None, None, None, None, None, True, ())
    result = UsedResult(10000.0, 10000 / threshold_mps, 40, 10000 / threshold_mps, True, "10 km")
    return Form(
        (result,),
        result,
        stale,
        threshold_mps,
        threshold_mps * 0.99,
        threshold_mps * 1.01,
        None,
        None,
        stale,
        (),
    )


def prediction_of(distance_m: float, time_s: float) -> Prediction:
    """A flat, cool prediction with a band of a per cent each side."""
    return Prediction(distance_m, time_s, time_s * 0.99, time_s * 1.01, (("one", time_s),))


def plan_of(
    course: Course,
    *,
    features: Sequence[Feature] = (),
    remarks: Sequence[Remark] = (),
    flat_s: float | None = 6000.0,
    runner: RunnerSettings | None = None,
    race: RaceSettings | None = None,
    form: Form | None = None,
    block_weeks: int = 12,
    **more: Any,
) -> RacePlan:
    """A race plan; ``flat_s`` is the flat prediction, None for a runner without form."""
    distance_m = course.distance_m
    if form is None:
        form = form_of(None if flat_s is None else distance_m / flat_s)
    return plan_race(
        race=race or race_of(distance_m),
        runner=runner or runner_of(),
        course=course,
        features=tuple(features),
        demands=demands_of(course, features),
        remarks=tuple(remarks),
        form=form,
        prediction=None if flat_s is None else prediction_of(distance_m, flat_s),
        block_weeks=block_weeks,
        limits=more.pop("limits", LIMITS),
        **more,
    )


def late_climb_half() -> tuple[Course, tuple[Feature, ...]]:
    """Downhill start, early hill, long flat, decisive climb at 17 km, drag to the line."""
    course = course_of(
        [
            (1800.0, -0.014),
            (700.0, 0.03),
            (700.0, -0.025),
            (13300.0, 0.001),
            (1500.0, 0.032),
            (1200.0, -0.02),
            (HALF_MARATHON_M - 19200.0, 0.009),
        ]
    )
    return course, (
        feature(course, "downhill_start", 0.0, 1800.0),
        feature(course, "climb", 1800.0, 2500.0, name="climb 1"),
        feature(course, "descent", 2500.0, 3200.0, name="descent 1"),
        feature(course, "flat", 3200.0, 16500.0, name="the long flat"),
        feature(course, "climb", 16500.0, 18000.0, name="climb 2", decisive=True),
        feature(course, "descent", 18000.0, 19200.0, name="descent 2"),
        feature(course, "finish_drag", 19200.0, HALF_MARATHON_M),
    )


def rolling_marathon() -> Course:
    """A marathon of long and short waves, net level."""
    at = np.linspace(0.0, MARATHON_M, 4221)
    return course_at(
        25 * np.sin(2 * np.pi * at / MARATHON_M * 3) + 8 * np.sin(2 * np.pi * at / MARATHON_M * 17),
        MARATHON_M,
    )
