"""Invented runners and courses for the tests of the runner room."""

from __future__ import annotations

import datetime as dt
from typing import Any

import numpy as np

from planbuilder.course.types import Course
from planbuilder.runner import Form, Paces, Prediction, find_form, find_paces, predict, trusted_volume
from planbuilder.settings.limits import Limits, default_limits
from planbuilder.settings.models import RunnerSettings
from planbuilder.units import HALF_MARATHON_M

FIRST_DAY = dt.date(2027, 2, 15)
LIMITS = default_limits()


def runner(**written: Any) -> RunnerSettings:
    """A runner as a coach would write one."""
    return RunnerSettings.model_validate({"name": "Ines A", **written})


def result(distance: str, time: str, date: str = "2027-01-17", **more: Any) -> dict[str, Any]:
    """A result as a coach would write one; by default four weeks before the block."""
    return {"distance": distance, "time": time, "date": date, **more}


def form(
    who: RunnerSettings,
    *,
    race_distance_m: float = HALF_MARATHON_M,
    courses: dict[str, Course] | None = None,
    limits: Limits = LIMITS,
) -> Form:
    """The form on the first day of the block."""
    return find_form(
        who, first_day=FIRST_DAY, race_distance_m=race_distance_m, courses=courses or {}, limits=limits
    )


def prediction(who: RunnerSettings, distance_m: float) -> Prediction:
    """The flat prediction, which must exist."""
    found = predict(
        form(who, race_distance_m=distance_m),
        distance_m=distance_m,
        weekly_distance_m=trusted_volume(who, LIMITS).weekly_distance_m,
        limits=LIMITS,
    )
    assert found is not None
    return found


def paces(who: RunnerSettings, *, race_distance_m: float = HALF_MARATHON_M) -> Paces:
    """All bands, race effort from the prediction."""
    return find_paces(
        form(who, race_distance_m=race_distance_m),
        who,
        race_distance_m=race_distance_m,
        race_flat_s_per_km=None,
        limits=LIMITS,
    )


def course(grades: list[float], *, distance_m: float, measured_m: float | None = None) -> Course:
    """A course of equal stretches of these grades."""
    steps = round(distance_m / 10)
    grade = np.array(grades)[np.minimum(np.arange(steps + 1) * len(grades) // steps, len(grades) - 1)]
    height_m = np.concatenate(([0.0], np.cumsum(grade[:-1] * 10)))
    rise_m = np.diff(height_m)
    ascent_m, descent_m = float(rise_m[rise_m > 0].sum()), float(-rise_m[rise_m < 0].sum())
    return Course(
        name="Old Quarry Road",
        distance_m=distance_m,
        measured_m=measured_m or distance_m,
        step_m=10.0,
        height_m=height_m,
        grade=grade,
        ascent_m=ascent_m,
        descent_m=descent_m,
        ascent_low_m=ascent_m,
        ascent_high_m=ascent_m,
        source="planned",
        known=True,
        climb_uncertain=False,
        notes=(),
    )
