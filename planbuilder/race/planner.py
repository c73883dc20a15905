"""The race plan of one runner, from the ground to the evening before: the page that calls all others.

Receives: race, runner, course, features, remarks, form, prediction, limits.
Gives: a ``RacePlan``.
"""

from __future__ import annotations

import numpy as np

from planbuilder.course.types import Course, Feature, Remark
from planbuilder.demands.types import CourseDemands
from planbuilder.physiology.gradient import DEFAULT_MODEL, GradeModel
from planbuilder.race import cues, evening, fuelling, outcomes
from planbuilder.race.day_words import day_notes
from planbuilder.race.outlook import look_ahead
from planbuilder.race.plan_a import make_plan_a
from planbuilder.race.sheet import Sheet, make_sheet
from planbuilder.race.stretches import Run, make_run, run_stretches
from planbuilder.race.types import Intake, RacePlan
from planbuilder.runner.types import Form, Prediction
from planbuilder.settings.limits import Limits
from planbuilder.settings.models import Conditions, RaceSettings, RunnerSettings
from planbuilder.settings.notes import Note
from planbuilder.units import say_time


def plan_race(
    *,
    race: RaceSettings,
    runner: RunnerSettings,
    course: Course,
    features: tuple[Feature, ...],
    demands: CourseDemands,
    remarks: tuple[Remark, ...],
    form: Form,
    prediction: Prediction | None,
    block_weeks: int,
    limits: Limits,
    goal_time_s: float | None = None,
    conditions: Conditions | None = None,
    model: GradeModel | None = None,
) -> RacePlan:
    """How this runner runs this course on this day.

    ``goal_time_s`` forces plan A (seconds), ``conditions`` stand in for those of the race settings, ``model``
    for the default grade model. ``prediction`` is for level ground in cool air over the distance of the
    course. The times of every row of stretches add up to ``finish_time_s``; without form and goal, or in
    air too hot for a time goal, there is no clock and every stretch is run by effort.
    """
    outlook = look_ahead(
        runner=runner,
        course=course,
        features=features,
        form=form,
        prediction=prediction,
        block_weeks=block_weeks,
        limits=limits,
        goal_time_s=runner.goal_time_s if goal_time_s is None else goal_time_s,
        weather=race.conditions if conditions is None else conditions,
        model=model or DEFAULT_MODEL,
    )
    plan_a = make_plan_a(
        outlook=outlook, form=form, strategy=runner.strategy, goal_is_forced=goal_time_s is not None
    )
    finish_s, first = plan_a.time_s, runner.first_at_distance
    b_time_s = None
    if finish_s is not None:
        b_time_s = outcomes.plan_b_time_s(
            finish_time_s=finish_s, goal=outlook.goal, first_at_distance=first, limits=limits
        )
    run = make_run(outlook.terrain, plan_a.speeds_mps)
    lower = 0.0 if outlook.day.has_clock else limits.number("race.heat_rpe")
    sheet = make_sheet(course, outlook.features, remarks, race.wordings, limits, lower)
    foot_m = demands.decisive.start_m if demands.decisive is not None and course.known else None
    added = outlook.adjustments(finish_s)
    planned_s = finish_s or outlook.goal.predicted_time_s or _assumed_time(course, limits)
    climb = demands.decisive if foot_m is not None else None
    intakes = _intakes(run, planned_s, remarks, climb, limits)
    return RacePlan(
        finish_time_s=finish_s,
        strategy=runner.strategy,
        strategy_costs=() if finish_s is None else outcomes.strategy_costs(outlook.terrain, finish_s, limits),
        goal=outlook.goal,
        model=outlook.model,
        course_factor=outlook.terrain.course_factor,
        features=run_stretches(sheet.features, run),
        splits_km=run_stretches(sheet.km, run),
        splits_mi=run_stretches(sheet.miles, run),
        splits_5k=run_stretches(sheet.five_km, run),
        outcomes=outcomes.make_outcomes(
            finish_time_s=finish_s,
            b_time_s=b_time_s,
            strategy=runner.strategy,
            first_at_distance=first,
            decisive_m=foot_m,
            flat_m=float(run.flat_m[-1]),
            heat=outlook.day.heat,
        ),
        decisions=outcomes.make_decisions(
            run=run,
            a_time_s=finish_s,
            b_time_s=b_time_s,
            markers=race.markers,
            too_hot=not outlook.day.has_clock,
            limits=limits,
        ),
        adjustments=added,
        intakes=intakes,
        fuelling=" ".join(
            (
                fuelling.fuelling_words(planned_s, limits),
                fuelling.care_words(distance_m=course.distance_m, age=runner.age, limits=limits),
            )
        ),
        evening=evening.evening_sheet(
            race=race,
            runner=runner,
            conditions=outlook.weather,
            downhill_start=sheet.downhill_start,
            limits=limits,
        ),
        lay_out=evening.lay_out_list(
            intakes=len(intakes), conditions=outlook.weather, race=race, limits=limits
        ),
        cues=cues.three_cues(
            outlook.features, sheet.ladder, course.distance_m, too_hot=not outlook.day.has_clock
        ),
        first_minutes=_first_minutes(sheet, runner),
        do_not_start=evening.do_not_start(limits),
        notes=(
            *outlook.notes(runner),
            *plan_a.notes,
            *day_notes(outlook, finish_s, added),
            *_closing_notes(race, finish_s),
        ),
    )


def _first_minutes(sheet: Sheet, runner: RunnerSettings) -> str:
    return cues.first_minutes_words(
        downhill_start=sheet.downhill_start, effort=sheet.first_effort, waved=bool(runner.start_offset_s)
    )


def _closing_notes(race: RaceSettings, finish_s: float | None) -> tuple[Note, ...]:
    if finish_s is None or race.time_limit_s is None or finish_s <= race.time_limit_s:
        return ()
    text = f"The finish closes after {say_time(race.time_limit_s)}; this plan needs {say_time(finish_s)}."
    return (Note("race.time_limit", text, "caution"),)


def _assumed_time(course: Course, limits: Limits) -> float:
    """How long the race will take where nothing is known, for eating alone."""
    return course.distance_m / 1000 * limits.number("race.fuel_assumed_pace")


def _intakes(
    run: Run, planned_s: float, remarks: tuple[Remark, ...], climb: Feature | None, limits: Limits
) -> tuple[Intake, ...]:
    """Intakes by the clock of the run; without a clock, at an even effort over the planned time."""
    clock_s = run.flat_m / run.flat_m[-1] * planned_s if run.clock_s is None else run.clock_s
    return fuelling.plan_intakes(
        duration_s=planned_s,
        place_at=lambda seconds: float(np.interp(seconds, clock_s, run.at_m)),
        clock_at=lambda position_m: float(np.interp(position_m, run.at_m, clock_s)),
        stations=tuple(remark for remark in remarks if remark.station),
        decisive_m=None if climb is None else (climb.start_m, climb.end_m),
        has_clock=run.clock_s is not None,
        limits=limits,
    )
