"""The race plan of one runner, from the ground to the evening before: the page that calls all others.

Receives: race, runner, course, features, remarks, form, prediction, limits.
Gives: a ``RacePlan``.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from planbuilder.course.types import Course, Feature, Remark
from planbuilder.demands.types import CourseDemands
from planbuilder.physiology.gradient import DEFAULT_MODEL, GradeModel
from planbuilder.race import cues, evening, fuelling, outcomes
from planbuilder.race.conditions import Day, adjustments, read_day, say_adjustments
from planbuilder.race.goal import Factors, check_goal, volume_notes
from planbuilder.race.ladder import race_class
from planbuilder.race.sheet import make_sheet
from planbuilder.race.solver import fastest_time_s, solve_speeds
from planbuilder.race.stretches import Run, make_run, run_stretches
from planbuilder.race.terrain import Terrain, build_terrain
from planbuilder.race.types import Adjustment, GoalCheck, RacePlan
from planbuilder.runner.types import Form, Prediction
from planbuilder.settings.limits import Limits
from planbuilder.settings.models import Conditions, RaceSettings, RunnerSettings
from planbuilder.settings.notes import Note
from planbuilder.units import say_time

Array = NDArray[np.float64]
_WORTH_A_WORD: Final = 1.002
_RESTRAINT: Final = " Descents count little early in the race and in full late."
_MODEL_WORDS: Final[dict[GradeModel, str]] = {
    "treadmill grade": "Climbs cost 3.3 % of the pace for each 1 % of grade, descents give back 1.8 % "
    "(Davies 1980, second-hand). Coaches often quote more, common practice without a source; whole fields "
    f"in hilly marathons stayed near these figures, so they stand here.{_RESTRAINT}",
    "race records": "Grades are answered as in the records of hill races (Kay 2012, second-hand)."
    f"{_RESTRAINT}",
    "energy cost": "Grades are answered by the energy that running takes (Minetti et al. 2002, second-hand), "
    f"under a speed limit on descents.{_RESTRAINT}",
    "oxygen equation": "Climbs are answered by a treadmill equation (American College of Sports Medicine), "
    "which has nothing to say on descents: they count as level.",
}


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
    weather = race.conditions if conditions is None else conditions
    prediction = _over_course(prediction, course)
    ground = features if course.known else ()
    terrain = build_terrain(
        course=course,
        features=ground,
        limits=limits,
        model=model or DEFAULT_MODEL,
        level_speed_mps=_level_speed(course, runner, prediction, goal_time_s, limits),
        wind=() if weather is None else weather.wind,
    )
    goal_s = runner.goal_time_s if goal_time_s is None else goal_time_s
    cool_s = None if prediction is None else prediction.time_s * terrain.course_factor
    day = read_day(
        conditions=weather, distance_m=course.distance_m, cool_time_s=cool_s or goal_s, limits=limits
    )
    factors = Factors(terrain.course_factor, _other_factor(terrain, model), terrain.wind_ratio * day.slower)
    goal = check_goal(
        goal_time_s=goal_s,
        form=form,
        prediction=prediction,
        factors=factors,
        runner=runner,
        block_weeks=block_weeks,
        limits=limits,
    )
    notes = [*_course_notes(course, model or DEFAULT_MODEL, terrain.course_factor), *day.notes]
    finish_s, speeds = _solve(terrain, goal, goal_time_s is not None, day, form, runner, limits, notes)
    notes += volume_notes(distance_m=course.distance_m, runner=runner, limits=limits)
    if race.time_limit_s is not None and finish_s is not None and finish_s > race.time_limit_s:
        text = f"The finish closes after {say_time(race.time_limit_s)}; this plan needs {say_time(finish_s)}."
        notes.append(Note("race.time_limit", text, "caution"))

    run = make_run(terrain, speeds)
    lower = 0.0 if day.has_clock else limits.number("race.heat_rpe")
    sheet = make_sheet(course, ground, remarks, race.wordings, limits, lower)
    added = _adjustments(day, weather, terrain, goal.predicted_time_s or finish_s, limits)
    if finish_s is not None and (said := say_adjustments(added)):
        notes.append(Note("race.conditions", f"The expected day adds: {said}; it is in the times shown."))
    b_time_s = (
        None
        if finish_s is None
        else outcomes.plan_b_time_s(
            finish_time_s=finish_s, goal=goal, first_at_distance=runner.first_at_distance, limits=limits
        )
    )
    foot_m = None if demands.decisive is None or not course.known else demands.decisive.start_m
    planned_s = finish_s or _assumed_time(course, goal, limits)
    clock_at, place_at = _clocks(run, planned_s)
    intakes = fuelling.plan_intakes(
        duration_s=planned_s,
        place_at=place_at,
        clock_at=clock_at,
        stations=tuple(remark for remark in remarks if remark.station),
        decisive_foot_m=foot_m,
        has_clock=finish_s is not None,
        limits=limits,
    )
    return RacePlan(
        finish_time_s=finish_s,
        strategy=runner.strategy,
        strategy_costs=() if finish_s is None else outcomes.strategy_costs(terrain, finish_s, limits),
        goal=goal,
        model=model or DEFAULT_MODEL,
        course_factor=terrain.course_factor,
        features=run_stretches(sheet.features, run),
        splits_km=run_stretches(sheet.km, run),
        splits_mi=run_stretches(sheet.miles, run),
        splits_5k=run_stretches(sheet.five_km, run),
        outcomes=outcomes.make_outcomes(
            finish_time_s=finish_s,
            b_time_s=b_time_s,
            first_at_distance=runner.first_at_distance,
            decisive_m=foot_m,
        ),
        decisions=outcomes.make_decisions(
            run=run, a_time_s=finish_s, b_time_s=b_time_s, markers=race.markers, limits=limits
        ),
        adjustments=added,
        intakes=intakes,
        fuelling=fuelling.fuelling_words(planned_s, limits),
        evening=evening.evening_sheet(
            race=race,
            runner=runner,
            conditions=weather,
            downhill_start=sheet.downhill_start,
            limits=limits,
        ),
        lay_out=evening.lay_out_list(intakes=len(intakes), conditions=weather, race=race, limits=limits),
        cues=cues.three_cues(ground, sheet.ladder, course.distance_m),
        first_minutes=cues.first_minutes_words(
            downhill_start=sheet.downhill_start,
            effort=sheet.first_effort,
            waved=bool(runner.start_offset_s),
        ),
        do_not_start=evening.do_not_start(limits),
        notes=tuple(notes),
    )


def _level_speed(
    course: Course,
    runner: RunnerSettings,
    prediction: Prediction | None,
    goal_time_s: float | None,
    limits: Limits,
) -> float:
    if prediction is not None:
        return course.distance_m / prediction.time_s
    goal_s = goal_time_s or runner.goal_time_s
    return course.distance_m / goal_s if goal_s else 1000 / limits.number("race.fuel_assumed_pace")


def _over_course(prediction: Prediction | None, course: Course) -> Prediction | None:
    """The prediction over the length of the course as it was measured, at the same speed."""
    if prediction is None or prediction.distance_m == course.distance_m:
        return prediction
    scale = course.distance_m / prediction.distance_m
    return replace(
        prediction,
        distance_m=course.distance_m,
        time_s=prediction.time_s * scale,
        low_s=prediction.low_s * scale,
        high_s=prediction.high_s * scale,
    )


def _other_factor(terrain: Terrain, model: GradeModel | None) -> float:
    """What the other of the two compared models would say about the whole course."""
    difference = float((terrain.ground.cost_m[-1] - terrain.ground.rule_m[-1]) / terrain.ground.distance_m)
    return terrain.course_factor + (-difference if model == "energy cost" else difference)


def _solve(
    terrain: Terrain,
    goal: GoalCheck,
    forced: bool,
    day: Day,
    form: Form,
    runner: RunnerSettings,
    limits: Limits,
    notes: list[Note],
) -> tuple[float | None, Array | None]:
    """The time of plan A and the flat-equivalent speed of every cell; adds the notes that explain them."""
    wanted_s = _wanted_time(goal, forced, limits, notes)
    if wanted_s is None or not day.has_clock:
        return None, None
    ceilings = effort_ceilings(terrain, form, limits)
    least_s = fastest_time_s(terrain.flat_m, ceilings)
    finish_s = max(wanted_s, least_s)
    if wanted_s < least_s:
        text = (
            f"{say_time(wanted_s)} would ask for more than the effort ceilings allow on this course; "
            f"{say_time(least_s)} is the quickest they allow, and even that is no promise."
        )
        notes.append(Note("race.effort_ceiling", text, "given_up"))
        return least_s, ceilings
    weight = outcomes.strategy_weights(runner.strategy, terrain, limits)
    return finish_s, solve_speeds(flat_m=terrain.flat_m, ceiling_mps=ceilings, time_s=finish_s, weight=weight)


def _wanted_time(goal: GoalCheck, forced: bool, limits: Limits, notes: list[Note]) -> float | None:
    wanted_s = goal.goal_time_s
    if goal.predicted_time_s is None:
        return wanted_s
    if wanted_s is None:
        return goal.predicted_time_s
    limit = limits.number("race.goal_for_sessions")
    gap = goal.gap or 0.0
    if gap <= limit:
        return wanted_s
    if forced:
        text = (
            f"Plan A is {say_time(wanted_s)} because it was asked for; form points to "
            f"{say_time(goal.predicted_time_s)} on this course, {gap:.1%} slower."
        )
        notes.append(Note("race.goal_for_sessions", text, "exception"))
        return wanted_s
    text = (
        f"The goal of {say_time(wanted_s)} is {gap:.1%} quicker than form on this course, more than the "
        f"{limit:.0%} up to which plan A follows it: plan A is {say_time(goal.predicted_time_s)}."
    )
    notes.append(Note("race.goal_for_sessions", text, "given_up"))
    return goal.predicted_time_s


def effort_ceilings(terrain: Terrain, form: Form, limits: Limits) -> Array:
    """The highest flat-equivalent speed allowed on every cell, m/s, shape (n,)."""
    fastest = limits.number("race.fastest_flat_speed")
    threshold = form.threshold_high_mps or form.threshold_mps
    if threshold is None:
        return np.full_like(terrain.factor, fastest)
    late = min(threshold * limits.number("race.effort_ceiling"), fastest)
    if race_class(terrain.ground.distance_m) in ("5k", "10k"):
        return np.full_like(terrain.factor, late)
    early = min(threshold * limits.number("race.effort_ceiling_early"), fastest)
    return np.where(terrain.middle_share < limits.number("race.comfortable_until"), early, late)


def _adjustments(
    day: Day, weather: Conditions | None, terrain: Terrain, time_s: float | None, limits: Limits
) -> tuple[Adjustment, ...]:
    """What the day adds to a race that takes ``time_s`` with everything in it."""
    if time_s is None:
        return ()
    still_s = time_s / day.slower / terrain.wind_ratio
    wind_s = time_s / day.slower - still_s
    return adjustments(day, weather, cool_time_s=still_s, wind_s=wind_s, limits=limits)


def _course_notes(course: Course, model: GradeModel, course_factor: float) -> tuple[Note, ...]:
    if course.known:
        return () if course_factor < _WORTH_A_WORD else (Note("race.grade_model", _MODEL_WORDS[model]),)
    text = (
        "The course is not known, so the plan has four stretches by effort; any clock is for level ground. "
        "Give a course file or a description as soon as there is one."
    )
    return (Note("race.course", text, "assumed"),)


def _assumed_time(course: Course, goal: GoalCheck, limits: Limits) -> float:
    """How long the race will take, for eating alone."""
    return goal.predicted_time_s or course.distance_m / 1000 * limits.number("race.fuel_assumed_pace")


def _clocks(run: Run, planned_s: float) -> tuple[Callable[[float], float], Callable[[float], float]]:
    """From place to clock and back; without a clock, at an even effort over the assumed time."""
    at_m = run.at_m
    clock_s = run.flat_m / run.flat_m[-1] * planned_s if run.clock_s is None else run.clock_s
    return (
        lambda position_m: float(np.interp(position_m, at_m, clock_s)),
        lambda seconds: float(np.interp(seconds, clock_s, at_m)),
    )
