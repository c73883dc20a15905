"""The race plan of one runner, from the ground to the evening before: the page that calls all others.

Receives: race, runner, course, features, remarks, form, prediction, limits.
Gives: a ``RacePlan``.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from planbuilder.course.types import Course, Feature, Remark
from planbuilder.demands.types import CourseDemands
from planbuilder.physiology.gradient import DEFAULT_MODEL, GradeModel
from planbuilder.race import cues, evening, fuelling, outcomes
from planbuilder.race.conditions import Day, adjustments, read_day, say_adjustments
from planbuilder.race.goal import Factors, check_goal, volume_notes
from planbuilder.race.ladder import Ladder, effort_ladder, race_class
from planbuilder.race.layout import course_pieces
from planbuilder.race.solver import fastest_time_s, solve_speeds
from planbuilder.race.stretches import Margins, Run, make_run, make_stretches, marker_edges
from planbuilder.race.terrain import Terrain, build_terrain
from planbuilder.race.types import Adjustment, GoalCheck, RacePlan, Stretch
from planbuilder.runner.types import Form, Prediction
from planbuilder.settings.limits import Limits
from planbuilder.settings.models import Conditions, RaceSettings, RunnerSettings
from planbuilder.settings.notes import Note
from planbuilder.units import say_time, unit_m

Array = NDArray[np.float64]


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
    wind_ratio = float(terrain.factor.mean()) / terrain.course_factor
    cool_s = None if prediction is None else prediction.time_s * terrain.course_factor
    day = read_day(
        conditions=weather, distance_m=course.distance_m, cool_time_s=cool_s or goal_s, limits=limits
    )
    goal = check_goal(
        goal_time_s=goal_s,
        form=form,
        prediction=prediction,
        factors=Factors(terrain.course_factor, _other_factor(terrain, model), wind_ratio * day.slower),
        runner=runner,
        block_weeks=block_weeks,
        limits=limits,
    )
    notes = [*_course_notes(course), *day.notes]
    finish_s, speeds = _solve(terrain, goal, goal_time_s is not None, day, form, runner, limits, notes)
    notes += volume_notes(distance_m=course.distance_m, runner=runner, limits=limits)
    if race.time_limit_s is not None and finish_s is not None and finish_s > race.time_limit_s:
        text = f"The finish closes after {say_time(race.time_limit_s)}; this plan needs {say_time(finish_s)}."
        notes.append(Note("race.time_limit", text, "caution"))

    run = make_run(terrain, speeds)
    sheet = _Sheet(race, runner, course, ground, remarks, _ladder(course, day, limits), day, limits)
    added = _adjustments(
        day, weather, terrain, finish_s if cool_s is None else cool_s * wind_ratio * day.slower, limits
    )
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
        features=sheet.feature_stretches(run),
        splits_km=sheet.splits(run, "km", unit_m("km")),
        splits_mi=sheet.splits(run, "mile", unit_m("mi")),
        splits_5k=sheet.splits(run, "5 km", 5000.0),
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
            effort=sheet.first_effort or sheet.ladder.efforts[0],
            waved=bool(runner.start_offset_s),
        ),
        do_not_start=evening.do_not_start(limits),
        notes=tuple(notes),
    )


@dataclass(frozen=True, eq=False)
class _Sheet:
    """Everything the rows of a race plan are written from."""

    race: RaceSettings
    runner: RunnerSettings
    course: Course
    features: tuple[Feature, ...]
    remarks: tuple[Remark, ...]
    ladder: Ladder
    day: Day
    limits: Limits

    @property
    def margins(self) -> Margins:
        return Margins.of(self.limits, marathon=race_class(self.course.distance_m) == "marathon")

    @property
    def downhill_start(self) -> bool:
        return any(feature.kind == "downhill_start" for feature in self.features)

    @property
    def first_effort(self) -> tuple[float, float] | None:
        """Effort of the first mile of a downhill start; None where the start is not downhill."""
        if not self.downhill_start:
            return None
        low, high = self.ladder.efforts[0]
        most = self.limits.number("race.first_mile_rpe")
        if race_class(self.course.distance_m) in ("5k", "10k"):
            most = max(most, low - 1)
        return (min(low, most), min(high, most))

    @property
    def cue_book(self) -> cues.CueBook:
        return cues.make_cue_book(
            distance_m=self.course.distance_m,
            ladder=self.ladder,
            steep=self.limits.number("race.by_effort_grade"),
            features=self.features,
            remarks=self.remarks,
            wordings=self.race.wordings,
            first_mile_m=self.limits.number("race.first_mile_length"),
        )

    def feature_stretches(self, run: Run) -> tuple[Stretch, ...]:
        pieces = course_pieces(self.course, self.features, self.ladder, self.limits)
        book = self.cue_book
        unknown = "" if self.course.known else "not known: run by effort"
        return self._rows(
            run,
            names=[piece.name for piece in pieces],
            edges=[pieces[0].from_m, *(piece.to_m for piece in pieces)],
            cue_words=[book.for_piece(piece) for piece in pieces],
            grounds=[
                piece.feature.words if piece.feature is not None and piece.whole else unknown
                for piece in pieces
            ],
        )

    def splits(self, run: Run, word: str, length_m: float) -> tuple[Stretch, ...]:
        edges = marker_edges(self.course.distance_m, length_m)
        names = self._split_names(edges, word, length_m)
        book = self.cue_book
        grades = np.diff(np.interp(edges, run.terrain.at_m, run.terrain.height_m)) / np.diff(edges)
        places = zip(names, edges[:-1], edges[1:], grades.tolist(), strict=True)
        return self._rows(
            run,
            names=names,
            edges=edges,
            cue_words=[book.for_split(name, start, end, grade) for name, start, end, grade in places],
            grounds=None if self.course.known else ["not known"] * len(names),
        )

    def _split_names(self, edges: list[float], word: str, length_m: float) -> list[str]:
        names = [
            f"{word} {number}" if word != "5 km" else f"{number * 5 - 5} to {number * 5} km"
            for number in range(1, len(edges))
        ]
        if edges[-1] - edges[-2] < length_m - 1.0:
            names[-1] = "to the line"
        return names

    def _rows(
        self,
        run: Run,
        *,
        names: list[str],
        edges: list[float],
        cue_words: list[str],
        grounds: list[str] | None,
    ) -> tuple[Stretch, ...]:
        return make_stretches(
            run,
            names=names,
            edges_m=edges,
            ladder=self.ladder,
            margins=self.margins,
            cues=cue_words,
            grounds=grounds,
            first_effort=self.first_effort,
            first_effort_to_m=self.limits.number("race.first_mile_length"),
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


def _other_factor(terrain: Terrain, model: GradeModel | None) -> float:
    """What the other of the two compared models would say about the whole course."""
    difference = float(terrain.cost_factor.mean() - terrain.rule_factor.mean())
    return terrain.course_factor + (-difference if model == "energy cost" else difference)


def _ladder(course: Course, day: Day, limits: Limits) -> Ladder:
    ladder = effort_ladder(course.distance_m, limits)
    return ladder if day.has_clock else ladder.lowered(limits.number("race.heat_rpe"))


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
            f"{say_time(wanted_s)} would ask for more than the effort ceilings allow anywhere on this "
            f"course; "
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
    if race_class(float(terrain.at_m[-1])) in ("5k", "10k"):
        return np.full_like(terrain.factor, late)
    early = min(threshold * limits.number("race.effort_ceiling_early"), fastest)
    return np.where(terrain.middle_share < limits.number("race.comfortable_until"), early, late)


def _adjustments(
    day: Day, weather: Conditions | None, terrain: Terrain, time_s: float | None, limits: Limits
) -> tuple[Adjustment, ...]:
    """What the day adds to a race that takes ``time_s`` with everything in it."""
    if time_s is None:
        return ()
    still_s = time_s / day.slower / float(terrain.factor.mean()) * terrain.course_factor
    wind_s = time_s / day.slower - still_s
    return adjustments(day, weather, cool_time_s=still_s, wind_s=wind_s, limits=limits)


def _course_notes(course: Course) -> tuple[Note, ...]:
    if course.known:
        return ()
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
    at_m = run.terrain.at_m
    clock_s = run.flat_m / run.flat_m[-1] * planned_s if run.clock_s is None else run.clock_s
    return (
        lambda position_m: float(np.interp(position_m, at_m, clock_s)),
        lambda seconds: float(np.interp(seconds, clock_s, at_m)),
    )
