"""What awaits this runner: the ground under the race rules, the day, and the goal against form.

Receives: race, runner, course, form, prediction, conditions.
Gives: an ``Outlook``, from which the race plan is made.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from planbuilder.course.types import Course, Feature
from planbuilder.demands.terrain import Terrain, build_terrain
from planbuilder.physiology.equivalence import RIEGEL_QUICKEST_S
from planbuilder.physiology.gradient import GradeModel
from planbuilder.race.conditions import Day, Heat, adjustments, read_day
from planbuilder.race.goal import Factors, check_goal, held_back_goal, volume_notes
from planbuilder.race.types import Adjustment, Aim, GoalCheck, Part
from planbuilder.runner.models import POWER_LAW
from planbuilder.runner.prediction import ONE_RACE
from planbuilder.runner.types import Form, Prediction
from planbuilder.settings.limits import Limits
from planbuilder.settings.models import Conditions, RunnerSettings
from planbuilder.settings.notes import Note
from planbuilder.units import MARATHON_M, in_minutes, say_time

_WORTH_A_WORD: Final = 1.002
_NOT_TODAY: Final = "In the heat that is expected our advice is not to race."
_TOO_HOT: Final[dict[Heat, str]] = {
    "no goal": "In the heat that is expected there is no time goal. For a cooler day:",
    "stop": f"{_NOT_TODAY} For a cooler day:",
}
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


@dataclass(frozen=True, eq=False)
class Outlook:
    """Ground, day and goal of one runner."""

    course: Course
    features: tuple[Feature, ...]  # none where the course is not known
    terrain: Terrain
    model: GradeModel
    weather: Conditions | None
    day: Day
    goal: GoalCheck
    model_notes: tuple[Note, ...]  # where models of the distance are far apart
    limits: Limits

    @property
    def slower(self) -> float:
        """Time on the day over the time in still, cool air at sea level, at the same effort."""
        return self.day.slower * self.terrain.wind_ratio

    def adjustments(self, time_s: float | None) -> tuple[Adjustment, ...]:
        """What the day adds: to the cool prediction, or without one to ``time_s``, which knows no day."""
        predicted_s = self.goal.predicted_time_s
        still_s = time_s if predicted_s is None else predicted_s / self.slower
        if still_s is None:
            return ()
        wind_s = still_s * (self.terrain.wind_ratio - 1)
        return adjustments(self.day, self.weather, cool_time_s=still_s, wind_s=wind_s, limits=self.limits)

    def notes(self, runner: RunnerSettings) -> tuple[Note, ...]:
        """What has to be said about ground, day and weekly distance."""
        return (
            *_course_notes(self.course, self.model, self.terrain.course_factor),
            *_reach_notes(self.course.distance_m, self.goal.predicted_time_s),
            *self.day.notes,
            *self.model_notes,
            *volume_notes(distance_m=self.course.distance_m, runner=runner, limits=self.limits),
        )


def look_ahead(
    *,
    runner: RunnerSettings,
    course: Course,
    features: tuple[Feature, ...],
    form: Form,
    prediction: Prediction | None,
    block_weeks: int,
    limits: Limits,
    goal_time_s: float | None,
    weather: Conditions | None,
    model: GradeModel,
    days_lost: int = 0,
    part: Part = "races",
    aim: Aim = "time",
) -> Outlook:
    """The outlook of one runner; ``goal_time_s`` and ``prediction`` may be missing.

    A runner who is kept from racing gets neither goal nor prediction.
    """
    prediction = _over_course(prediction, course)
    named = features if course.known else ()
    terrain = build_terrain(
        course=course,
        features=named,
        limits=limits,
        model=model,
        level_speed_mps=_level_speed(course, prediction, goal_time_s, limits),
        wind=() if weather is None else weather.wind,
    )
    cool_s = goal_time_s if prediction is None else prediction.time_s * terrain.course_factor
    day = read_day(conditions=weather, distance_m=course.distance_m, cool_time_s=cool_s, limits=limits)
    goal = (
        held_back_goal(part)
        if part != "races"
        else check_goal(
            goal_time_s=goal_time_s,
            form=form,
            prediction=prediction,
            factors=Factors(
                course=terrain.course_factor,
                other_course=_other_factor(terrain, model),
                day=terrain.wind_ratio * day.slower,
            ),
            runner=runner,
            block_weeks=block_weeks,
            limits=limits,
            days_lost=days_lost,
            aim=aim,
        )
    )
    if part == "races" and aim == "time" and not day.has_clock:
        goal = replace(goal, sentence=f"{_TOO_HOT[day.heat]} {goal.sentence}")
    elif part == "races" and day.heat == "stop":
        goal = replace(goal, sentence=f"{_NOT_TODAY} {goal.sentence}")
    return Outlook(
        course, named, terrain, model, weather, day, goal, _model_notes(prediction, limits), limits
    )


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


def _level_speed(
    course: Course, prediction: Prediction | None, goal_time_s: float | None, limits: Limits
) -> float:
    """Metres a second on level ground: how far the minute after a crest reaches, what the wind takes."""
    if prediction is not None:
        return course.distance_m / prediction.time_s
    if goal_time_s is not None:
        return course.distance_m / goal_time_s
    return 1000 / limits.number("race.fuel_assumed_pace")


def _other_factor(terrain: Terrain, model: GradeModel) -> float:
    """What the other of the two compared models would say about the whole course."""
    difference = float((terrain.ground.cost_m[-1] - terrain.ground.rule_m[-1]) / terrain.ground.distance_m)
    return terrain.course_factor + (-difference if model == "energy cost" else difference)


def _model_notes(prediction: Prediction | None, limits: Limits) -> tuple[Note, ...]:
    """Both figures for a marathon where the survey and the power of the weekly distance are far apart."""
    found = {} if prediction is None else dict(prediction.models)
    surveyed_s = found.get(ONE_RACE)
    power_s = next((seconds for name, seconds in found.items() if name.startswith(POWER_LAW)), None)
    if surveyed_s is None or power_s is None:
        return ()
    if abs(power_s / surveyed_s - 1) <= limits.number("runner.marathon_models"):
        return ()
    text = (
        "Over a flat marathon the survey of recreational runners makes "
        f"{_minutes(surveyed_s)} of your result, the usual rule for your weekly distance "
        f"{_minutes(power_s)}. The plan goes by the survey, and the range holds both."
    )
    return (Note("runner.marathon_models", text),)


def _minutes(seconds: float) -> str:
    return say_time(in_minutes(seconds) * 60)


def _reach_notes(distance_m: float, predicted_s: float | None) -> tuple[Note, ...]:
    if predicted_s is None or (distance_m <= 1.01 * MARATHON_M and predicted_s >= RIEGEL_QUICKEST_S):
        return ()
    longer = distance_m > MARATHON_M
    text = (
        f"No published equivalence reaches a race this {'long' if longer else 'short'}: the times are "
        "carried on from other distances and may be far off. Let the effort lead."
    )
    return (Note("race.reach", text, "caution"),)


def _course_notes(course: Course, model: GradeModel, course_factor: float) -> tuple[Note, ...]:
    if course.known:
        return () if course_factor < _WORTH_A_WORD else (Note("race.grade_model", _MODEL_WORDS[model]),)
    text = (
        "The course is not known, so the plan has four stretches by effort; any clock is for level ground. "
        "Give a course file or a description as soon as there is one."
    )
    return (Note("race.course", text, "assumed"),)
