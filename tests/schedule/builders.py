"""Small blocks for tests: a course from typed heights, a runner, and what the schedule is asked."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from functools import lru_cache
from typing import Any

import numpy as np

from planbuilder.course import Course, find_features
from planbuilder.course.types import Feature
from planbuilder.demands import CourseDemands, find_demands
from planbuilder.plan.types import Session, Week
from planbuilder.race import RacePlan, plan_race
from planbuilder.rules import load_library
from planbuilder.rules.safety import allowed_for
from planbuilder.runner import find_form, find_paces, level_of, predict, trusted_volume
from planbuilder.schedule import Request
from planbuilder.settings.limits import Limits, default_limits
from planbuilder.settings.models import RaceSettings, RunnerSettings, TrainingSettings

LIMITS = default_limits()
RACE_DAY = dt.date(2027, 5, 16)  # a Sunday
DISTANCES = {"5 km": 5000.0, "10 km": 10_000.0, "half marathon": 21_097.5, "marathon": 42_195.0}

Heights = tuple[tuple[float, float], ...]  # (metres from the start, metres above it)

FLAT: Heights = ((0, 0), (1, 0))
LATE_CLIMB: Heights = ((0, 0), (0.80, 2), (0.875, 38), (0.94, 22), (1, 26))  # as shares of the distance


@lru_cache(maxsize=512)
def course_of(distance_m: float, shape: Heights) -> tuple[Course, tuple[Feature, ...], CourseDemands]:
    """A course through typed heights (place as a share of the distance), smoothed over 100 m."""
    steps = round(distance_m / 10)
    step_m = distance_m / steps
    at_m = np.linspace(0, distance_m, steps + 1)
    height = np.interp(at_m, [share * distance_m for share, _ in shape], [rise for _, rise in shape])
    kernel = np.ones(11) / 11
    padded = np.concatenate([np.full(5, height[0]), height, np.full(5, height[-1])])
    height = np.convolve(padded, kernel, mode="valid")
    height = height - height[0]
    reach = round(50 / step_m)
    ahead = np.minimum(np.arange(steps + 1) + reach, steps)
    behind = np.maximum(np.arange(steps + 1) - reach, 0)
    grade = (height[ahead] - height[behind]) / ((ahead - behind) * step_m)
    rises = np.diff(height)
    ascent, descent = float(rises[rises > 0].sum()), float(-rises[rises < 0].sum())
    course = Course(
        name="Typed course",
        distance_m=distance_m,
        measured_m=distance_m,
        step_m=step_m,
        height_m=height,
        grade=grade,
        ascent_m=ascent,
        descent_m=descent,
        ascent_low_m=ascent,
        ascent_high_m=ascent,
        source="typed points",
        known=True,
        climb_uncertain=False,
        notes=(),
    )
    features = find_features(course, LIMITS)
    return course, features, find_demands(course, features, LIMITS)


def request_of(
    *,
    distance: str = "half marathon",
    weeks: int = 12,
    shape: Heights = LATE_CLIMB,
    race_date: dt.date = RACE_DAY,
    first_day: dt.date | None = None,
    training: dict[str, Any] | None = None,
    limits: Limits = LIMITS,
    minimum_age: int | None = None,
    **runner: Any,
) -> Request:
    """The request of a block of so many weeks; keywords are those of ``[[runner]]`` in a block file."""
    race = RaceSettings.model_validate(
        {
            "name": "Saltmarsh Race",
            "date": race_date,
            "distance": distance,
            "timezone": "Europe/Lisbon",
            "minimum_age": minimum_age,
        }
    )
    monday = race_date - dt.timedelta(days=race_date.weekday())
    start = first_day or monday - dt.timedelta(weeks=weeks - 1)
    settings = TrainingSettings.model_validate({"first_day": start, **(training or {})})
    who = RunnerSettings.model_validate({"name": "Ines A", "screening": "passed", **runner})
    course, features, demands = course_of(race.distance_m, shape)
    form = find_form(who, first_day=start, race_distance_m=race.distance_m, courses={}, limits=limits)
    weekly = trusted_volume(who, limits).weekly_distance_m
    prediction = predict(form, distance_m=race.distance_m, weekly_distance_m=weekly, limits=limits)
    allowed = allowed_for(
        who,
        settings,
        limits,
        race_distance_m=race.distance_m,
        minimum_age=minimum_age,
        first_day=start,
    )
    plan: RacePlan = plan_race(
        race=race,
        runner=who,
        course=course,
        features=features,
        demands=demands,
        remarks=(),
        form=form,
        prediction=prediction,
        block_weeks=weeks,
        limits=limits,
        part=allowed.part,
    )
    paces = find_paces(
        form,
        who,
        race_distance_m=race.distance_m,
        race_flat_s_per_km=plan.goal.race_flat_s_per_km,
        limits=limits,
    )
    return Request(
        race=race,
        training=settings,
        runner=who,
        runner_key="ines-a",
        first_day=start,
        demands=demands.none() if allowed.part == "stays out" else demands,
        features=features,
        course=course,
        form=form,
        paces=paces,
        race_plan=plan,
        level=level_of(who, limits),
        library=load_library(),
        limits=limits,
    )


def show(weeks: Sequence[Week]) -> str:
    """The block as text, for a person who wants to read what a test saw."""
    lines = []
    for week in weeks:
        light = " recovery" if week.recovery else ""
        lines.append(
            f"Week {week.number} {week.phase}{light} {week.first_day} {week.distance_m / 1000:.1f} km "
            f"{week.duration_s / 60:.0f} min work {week.work_s / 60:.0f}"
        )
        lines += [_line(session) for session in week.sessions]
    return "\n".join(lines)


def _line(session: Session) -> str:
    kilometres, minutes = session.distance_m / 1000, session.duration_s / 60
    return (
        f"  {session.date:%a} {'!' if session.hard else ' '}{session.id:14s} {session.kind:22s}"
        f" {kilometres:5.1f} km {minutes:4.0f} min w{session.work_s / 60:3.0f} c{session.climb_m:3.0f}"
        f" {'*' if session.course_specific else ' '} {session.why}"
    )
