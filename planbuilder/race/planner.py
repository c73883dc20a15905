"""The race plan of one runner, from the ground to the evening before: the page that calls all others.

Receives: race, runner, course, features, remarks, form, prediction, limits.
Gives: a ``RacePlan``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planbuilder.course.types import Course, Feature, Remark
from planbuilder.demands.types import CourseDemands
from planbuilder.physiology.gradient import DEFAULT_MODEL, GradeModel
from planbuilder.race import cues, evening, fuelling, outcomes
from planbuilder.race.day_words import day_notes
from planbuilder.race.outlook import Outlook, look_ahead
from planbuilder.race.plan_a import PlanA, make_plan_a
from planbuilder.race.sheet import Sheet, make_sheet
from planbuilder.race.stretches import Run, make_run, run_stretches
from planbuilder.race.types import (
    Aim,
    DecisionPoint,
    Intake,
    Outcome,
    Part,
    RacePlan,
    Strategy,
    TimedLine,
)
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
    days_lost: int = 0,
    part: Part = "races",
    aim: Aim = "time",
) -> RacePlan:
    """How this runner runs this course on this day.

    ``goal_time_s`` forces plan A (seconds), ``conditions`` stand in for those of the race settings, ``model``
    for the default grade model; ``days_lost`` are days of a long break since the results. ``prediction`` is
    for level ground in cool air over the distance of the course. The times of every row of stretches add up
    to ``finish_time_s``; without form and goal, or in air too hot for a time goal, there is no clock and
    every stretch is run by effort. ``part`` is what safety leaves to the runner: who may only run easily gets
    easy effort all the way, who is kept from the race an empty plan. ``aim`` is what the race is run for: for
    finishing well there is no clock, but a time that is asked for is heeded all the same.
    """
    if goal_time_s is not None:
        aim = "time"
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
        days_lost=days_lost,
        part=part,
        aim=aim,
    )
    if part == "stays out":
        return _left_out(outlook, runner.strategy)
    easily = part == "runs easily"
    plan_a = PlanA(None, None, ())
    if not easily and aim == "time":
        plan_a = make_plan_a(
            outlook=outlook,
            form=form,
            strategy=runner.strategy,
            goal_is_forced=goal_time_s is not None,
            first_at_distance=runner.first_at_distance,
        )
    foot = demands.decisive if course.known else None
    return _race_plan(
        _run_it(race, runner, course, remarks, foot, outlook, plan_a, limits, easily=easily, aim=aim)
    )


def _left_out(outlook: Outlook, strategy: Strategy) -> RacePlan:
    """The plan of a race that is not run: nothing but why."""
    return RacePlan(
        finish_time_s=None,
        strategy=strategy,
        strategy_costs=(),
        goal=outlook.goal,
        model=outlook.model,
        course_factor=outlook.terrain.course_factor,
        features=(),
        splits_km=(),
        splits_mi=(),
        splits_5k=(),
        outcomes=(),
        decisions=(),
        adjustments=(),
        intakes=(),
        fuelling="",
        fuel_g_per_hour=None,
        evening=(),
        lay_out=(),
        cues=(),
        first_minutes="",
        do_not_start=(),
        notes=(),
    )


@dataclass(frozen=True)
class _Running:
    """A race as it is to be run: what every part of the plan is made from."""

    race: RaceSettings
    runner: RunnerSettings
    course: Course
    remarks: tuple[Remark, ...]
    foot: Feature | None  # the decisive climb, where its place is known
    outlook: Outlook
    plan_a: PlanA
    b_time_s: float | None
    run: Run
    sheet: Sheet
    planned_s: float  # how long it takes; a guess where nothing is known, for eating alone
    easily: bool  # run, not raced
    aim: Aim
    limits: Limits

    @property
    def finish_s(self) -> float | None:
        """Plan A."""
        return self.plan_a.time_s

    @property
    def walk(self) -> tuple[float, ...]:
        """Minutes of running and of walking, where they take turns."""
        return self.limits.numbers("race.walk_turns") if self.aim == "walk and run" else ()

    @property
    def too_hot(self) -> bool:
        """Whether the day is too hot for a time."""
        return not self.outlook.day.has_clock


def _run_it(
    race: RaceSettings,
    runner: RunnerSettings,
    course: Course,
    remarks: tuple[Remark, ...],
    foot: Feature | None,
    outlook: Outlook,
    plan_a: PlanA,
    limits: Limits,
    *,
    easily: bool,
    aim: Aim,
) -> _Running:
    """Plan A over the ground, and the ground as the sheet of the race shows it."""
    finish_s = plan_a.time_s
    b_time_s = None
    if finish_s is not None:
        b_time_s = outcomes.plan_b_time_s(
            finish_time_s=finish_s,
            goal=outlook.goal,
            first_at_distance=runner.first_at_distance,
            limits=limits,
        )
    lowest_rpe = 0.0 if outlook.day.has_clock else limits.number("race.heat_rpe")
    return _Running(
        race=race,
        runner=runner,
        course=course,
        remarks=remarks,
        foot=foot,
        outlook=outlook,
        plan_a=plan_a,
        b_time_s=b_time_s,
        run=make_run(outlook.terrain, plan_a.speeds_mps),
        sheet=make_sheet(
            course, outlook.features, remarks, race.wordings, limits, lowest_rpe, easily=easily, aim=aim
        ),
        planned_s=finish_s or outlook.goal.predicted_time_s or _assumed_time(course, limits),
        easily=easily,
        aim=aim,
        limits=limits,
    )


def _race_plan(one: _Running) -> RacePlan:
    outlook, run, sheet, finish_s, limits = one.outlook, one.run, one.sheet, one.finish_s, one.limits
    added = outlook.adjustments(finish_s)
    intakes = _intakes(one)
    return RacePlan(
        finish_time_s=finish_s,
        strategy=one.runner.strategy,
        strategy_costs=() if finish_s is None else outcomes.strategy_costs(outlook.terrain, finish_s, limits),
        goal=outlook.goal,
        model=outlook.model,
        course_factor=outlook.terrain.course_factor,
        features=run_stretches(sheet.features, run),
        splits_km=run_stretches(sheet.km, run),
        splits_mi=run_stretches(sheet.miles, run),
        splits_5k=run_stretches(sheet.five_km, run),
        outcomes=() if one.easily else _outcomes(one),
        decisions=() if one.easily else _decisions(one),
        adjustments=added,
        intakes=intakes,
        fuelling=_fuelling(one),
        fuel_g_per_hour=fuelling.fuel_range(one.planned_s, limits),
        evening=_evening(one),
        lay_out=evening.lay_out_list(
            intakes=len(intakes),
            conditions=outlook.weather,
            race=one.race,
            limits=limits,
            has_splits=finish_s is not None and not one.easily,
        ),
        cues=cues.three_cues(
            outlook.features,
            sheet.ladder,
            one.course.distance_m,
            too_hot=one.too_hot,
            easily=one.easily,
            aim=one.aim,
            walk=one.walk,
        ),
        first_minutes=_first_minutes(one),
        do_not_start=evening.do_not_start(limits),
        notes=(
            *outlook.notes(one.runner),
            *one.plan_a.notes,
            *day_notes(outlook, finish_s, added),
            *_closing_notes(one),
        ),
    )


def _outcomes(one: _Running) -> tuple[Outcome, ...]:
    return outcomes.make_outcomes(
        finish_time_s=one.finish_s,
        b_time_s=one.b_time_s,
        strategy=one.runner.strategy,
        first_at_distance=one.runner.first_at_distance,
        decisive_m=None if one.foot is None else one.foot.start_m,
        flat_m=float(one.run.flat_m[-1]),
        heat=one.outlook.day.heat,
        aim=one.aim,
        walk=one.walk,
    )


def _decisions(one: _Running) -> tuple[DecisionPoint, ...]:
    return outcomes.make_decisions(
        run=one.run,
        a_time_s=one.finish_s,
        b_time_s=one.b_time_s,
        markers=one.race.markers,
        too_hot=one.too_hot,
        limits=one.limits,
        aim=one.aim,
    )


def _fuelling(one: _Running) -> str:
    care = fuelling.care_words(distance_m=one.course.distance_m, age=one.runner.age, limits=one.limits)
    return " ".join((fuelling.fuelling_words(one.planned_s, one.limits), care))


def _evening(one: _Running) -> tuple[TimedLine, ...]:
    return evening.evening_sheet(
        race=one.race,
        runner=one.runner,
        conditions=one.outlook.weather,
        downhill_start=one.sheet.downhill_start,
        limits=one.limits,
        easily=one.easily,
    )


def _first_minutes(one: _Running) -> str:
    return cues.first_minutes_words(
        downhill_start=one.sheet.downhill_start,
        effort=one.sheet.first_effort,
        waved=bool(one.runner.start_offset_s),
        easily=one.easily,
        walk=one.walk,
    )


def _closing_notes(one: _Running) -> tuple[Note, ...]:
    """Whether the finish may be closed by then; without a clock by the slowest that results point to."""
    limit_s, slowest_s = one.race.time_limit_s, one.outlook.goal.predicted_high_s
    by_effort = one.finish_s is None and one.aim != "time"
    needed_s = slowest_s if by_effort else one.finish_s
    if needed_s is None or limit_s is None or needed_s <= limit_s:
        return ()
    needs = (
        f"your results point to as much as {say_time(needed_s)}"
        if by_effort
        else (f"this plan needs {say_time(needed_s)}")
    )
    text = f"The finish closes after {say_time(limit_s)}; {needs}."
    return (Note("race.time_limit", text, "caution"),)


def _assumed_time(course: Course, limits: Limits) -> float:
    """How long the race will take where nothing is known, for eating alone."""
    return course.distance_m / 1000 * limits.number("race.fuel_assumed_pace")


def _intakes(one: _Running) -> tuple[Intake, ...]:
    """Intakes by the clock of the run; without a clock, at an even effort over the planned time."""
    run = one.run
    clock_s = run.flat_m / run.flat_m[-1] * one.planned_s if run.clock_s is None else run.clock_s
    return fuelling.plan_intakes(
        duration_s=one.planned_s,
        place_at=lambda seconds: float(np.interp(seconds, clock_s, run.at_m)),
        clock_at=lambda position_m: float(np.interp(position_m, run.at_m, clock_s)),
        stations=tuple(remark for remark in one.remarks if remark.station),
        decisive_m=None if one.foot is None else (one.foot.start_m, one.foot.end_m),
        has_clock=run.clock_s is not None,
        limits=one.limits,
    )
