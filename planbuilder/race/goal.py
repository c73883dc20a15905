"""Realism of the goal: what form says for this course and day, how far the goal is from it, and what to say.

Receives: goal, form, a flat prediction, the course factor, the day.
Gives: a ``GoalCheck``. Kind, never "impossible", always with the next checkpoint.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from typing import Final

from planbuilder.physiology.road_standards import open_standard_s
from planbuilder.race.types import FINISHING, Aim, GoalCheck, Part, Verdict
from planbuilder.runner.types import Form, Prediction
from planbuilder.settings.limits import Limits
from planbuilder.settings.models import RunnerSettings
from planbuilder.settings.notes import Note
from planbuilder.units import HALF_MARATHON_M, MARATHON_M, run_mark, say_date, say_time

_WORTH_SAYING: Final = 0.001  # share of the time


@dataclass(frozen=True, slots=True)
class Factors:
    """From a flat, cool time to this course on the expected day."""

    course: float  # with the race rules
    other_course: float  # the other grade model's answer, for the range
    day: float  # wind, heat and altitude together

    @property
    def total(self) -> float:
        """Everything together."""
        return self.course * self.day


def check_goal(
    *,
    goal_time_s: float | None,
    form: Form,
    prediction: Prediction | None,
    factors: Factors,
    runner: RunnerSettings,
    block_weeks: int,
    limits: Limits,
    days_lost: int = 0,
    aim: Aim = "time",
) -> GoalCheck:
    """The goal against form on this course; any of goal and prediction may be missing.

    ``days_lost`` are days without running since the results. Where no time is run for (``aim``) what form
    points to is said for orientation; a race for finishing well leaves training to form alone.
    """
    if prediction is None:
        return _without_form(goal_time_s) if aim == "time" else _without_time(aim, goal_time_s)
    predicted_s = prediction.time_s * factors.total
    low_s, high_s = _range(prediction, factors, limits)
    gap = None if goal_time_s is None else 1 - goal_time_s / predicted_s
    reach = goal_reach(form, prediction.distance_m, limits)
    near = aim not in FINISHING and gap is not None and gap <= reach
    for_sessions = near and not form.by_effort
    race_time_s = goal_time_s if for_sessions and goal_time_s is not None else predicted_s
    verdict = _verdict(gap, block_weeks, limits)
    found = GoalCheck(
        goal_time_s=goal_time_s,
        predicted_time_s=predicted_s,
        predicted_low_s=low_s,
        predicted_high_s=high_s,
        gap=gap,
        verdict=verdict,
        sentence=_sentence(
            verdict,
            goal_time_s=goal_time_s,
            predicted_s=predicted_s,
            checkpoint=_checkpoint(form, predicted_s, goal_time_s),
            where="this course"
            if abs(factors.day - 1) < _WORTH_SAYING
            else "this course on the expected day",
            followed=near,
            beyond_anyone=_beyond_anyone(goal_time_s, prediction.distance_m, factors, limits),
            runner=runner,
            limits=limits,
            days_lost=days_lost,
        ),
        goal_for_sessions=for_sessions,
        race_flat_s_per_km=None
        if form.by_effort
        else race_time_s / factors.total / prediction.distance_m * 1000,
        days_lost=days_lost,
    )
    if aim == "time":
        return found
    beyond = _beyond_anyone(goal_time_s, prediction.distance_m, factors, limits)
    without = _without_time(aim, goal_time_s, (low_s, high_s), beyond_anyone=beyond)
    return replace(found, verdict=without.verdict, sentence=without.sentence)


_NO_TIME: Final[dict[Aim, str]] = {
    "finish well": "This race is for finishing well: plan C leads, by effort, and there is no time goal.",
    "walk and run": "This race is for reaching the line in good shape: run and walk by turns; there is no "
    "time goal.",
}


def _without_time(
    aim: Aim,
    goal_time_s: float | None,
    range_s: tuple[float, float] | None = None,
    *,
    beyond_anyone: bool = False,
) -> GoalCheck:
    """Of a race in which no time is run for; ``range_s`` is what form points to, for orientation."""
    said = [_NO_TIME[aim]]
    if range_s is not None:
        low, high = (say_time(round(one / 60) * 60) for one in range_s)
        span = f"about {low}" if low == high else f"between {low} and {high}"
        walked = ", run without walking" if aim == "walk and run" else ""
        said.append(f"Your results point to {span} here{walked}: for orientation, not as a target.")
    if goal_time_s is not None and beyond_anyone:
        said.append(f"{say_time(goal_time_s)} is quicker than the best road runners: please look at it.")
    elif goal_time_s is not None:
        within = range_s is not None and goal_time_s >= range_s[0]
        own = "is within that" if within else "can wait for a later race"
        said.append(f"Your own {say_time(goal_time_s)} {own}.")
    return GoalCheck(goal_time_s, None, None, None, None, "finish well", " ".join(said), False, None)


def goal_reach(form: Form, distance_m: float, limits: Limits) -> float:
    """The gap up to which plan A and goal-effort sessions follow a goal. A marathon too quick from the start
    is paid for longest, and a word for the ground of a result moves its prediction by as much as that gap."""
    usual = limits.number("race.goal_for_sessions")
    if abs(distance_m - MARATHON_M) > 0.01 * MARATHON_M:
        return usual
    if form.anchor is not None and form.anchor.climb_assumed:
        return 0.0
    return min(limits.number("race.goal_for_marathon"), usual)


_HELD_BACK: Final[dict[Part, tuple[Verdict, str]]] = {
    "runs easily": (
        "easy running only",
        "Only easy running is planned, on race day too: no times and no plan of efforts for now. Ask your "
        "coach again before race day.",
    ),
    "stays out": ("left out", "This race is left out of the plan, so there are no times for it."),
}


def held_back_goal(part: Part) -> GoalCheck:
    """Of a runner who is kept from racing: no goal, no prediction, and why."""
    verdict, sentence = _HELD_BACK[part]
    return GoalCheck(None, None, None, None, None, verdict, sentence, False, None)


def volume_notes(*, distance_m: float, runner: RunnerSettings, limits: Limits) -> tuple[Note, ...]:
    """What the weekly distance says about an endurance goal: associations, never a verdict."""
    if not runner.weekly_distance_m:
        return ()
    last = runner.weekly_distance_m[-4:]
    week_m = sum(last) / len(last)
    if distance_m >= MARATHON_M * 0.98 and week_m < limits.number("race.marathon_week"):
        few = run_mark(limits.number("race.marathon_week"))
        text = (
            f"Marathon runners below {few} a week were injured about twice as often in one study. A shorter "
            "goal, or a longer runway, could be the kinder choice."
        )
        return (Note("race.marathon_week", text, "caution"),)
    half = HALF_MARATHON_M * 0.98 <= distance_m <= HALF_MARATHON_M * 1.02
    if half and week_m < limits.number("race.long_runs_half"):
        many = run_mark(limits.number("race.long_runs_half"))
        text = (
            f"Half marathoners above {many} a week, with a run of the race's length among them, faded less. "
            "The long runs will matter most."
        )
        return (Note("race.long_runs_half", text),)
    return ()


def _without_form(goal_time_s: float | None) -> GoalCheck:
    sentence = (
        "There is no result to judge a goal by yet: train by effort and breathing."
        if goal_time_s is None
        else f"{say_time(goal_time_s)} is your own figure: there is no result to judge it by yet. Train by "
        "effort and breathing."
    )
    return GoalCheck(goal_time_s, None, None, None, None, "no form", sentence, False, None)


def with_test(goal: GoalCheck, date: dt.date | None) -> GoalCheck:
    """The same, with the test that stands in the plan, where there is no result to judge by."""
    if date is None or goal.verdict != "no form":
        return goal
    sentence = f"{goal.sentence} The test on {say_date(date)} gives one; then we look again."
    return replace(goal, sentence=sentence)


def _range(prediction: Prediction, factors: Factors, limits: Limits) -> tuple[float, float]:
    courses = [factors.course]
    if abs(factors.other_course - factors.course) > limits.number("race.model_gap"):
        courses.append(factors.other_course)
    low_s = min(prediction.low_s, prediction.time_s) * min(courses) * factors.day
    high_s = max(prediction.high_s, prediction.time_s) * max(courses) * factors.day
    return low_s, high_s


def _verdict(gap: float | None, block_weeks: int, limits: Limits) -> Verdict:
    if gap is None:
        return "no goal"
    if gap <= 0:
        return "within form"
    long_enough = block_weeks >= limits.number("race.goal_block_weeks")
    ladder: tuple[tuple[str, Verdict, Verdict], ...] = (
        ("race.goal_realistic", "realistic", "ambitious"),
        ("race.goal_ambitious", "ambitious", "stretch"),
        ("race.goal_stretch", "stretch", "not this block"),
    )
    for name, in_long_block, in_short_block in ladder:
        if gap <= limits.number(name):
            return in_long_block if long_enough else in_short_block
    return "not this block"


def race_name(distance_m: float) -> str:
    """What runners call a race of this length.

    >>> race_name(10000), race_name(21097.5)
    ('10 km', 'half marathon')
    """
    for name, length_m in (("half marathon", HALF_MARATHON_M), ("marathon", MARATHON_M)):
        if abs(distance_m - length_m) < 60:
            return name
    if abs(distance_m / 1000 - round(distance_m / 1000)) < 1e-6:
        return f"{distance_m / 1000:.0f} km"
    return run_mark(distance_m)


def _checkpoint(form: Form, predicted_s: float, goal_time_s: float | None) -> str:
    """The result at the anchor's distance that would carry the goal."""
    if form.anchor is None or goal_time_s is None:
        return ""
    needed_s = form.anchor.flat_time_s * goal_time_s / predicted_s
    return f"a flat {race_name(form.anchor.distance_m)} of about {say_time(round(needed_s / 5) * 5)}"


def _beyond_anyone(goal_time_s: float | None, distance_m: float, factors: Factors, limits: Limits) -> bool:
    """Whether a goal can only be a slip of the pen."""
    if goal_time_s is None:
        return False
    try:
        best_s = open_standard_s("men", distance_m=distance_m)
    except ValueError:  # shorter or longer than the tables reach
        best_s = distance_m / limits.number("race.fastest_flat_speed")
    return goal_time_s < best_s * factors.total


def _sentence(
    verdict: Verdict,
    *,
    goal_time_s: float | None,
    predicted_s: float,
    checkpoint: str,
    where: str,
    followed: bool,
    beyond_anyone: bool,
    runner: RunnerSettings,
    limits: Limits,
    days_lost: int,
) -> str:
    par = say_time(round(predicted_s / 10) * 10)
    form_says = f"Your results point to about {par} on {where}"
    first = " It is your first race this long: run it to finish well." if runner.first_at_distance else ""
    if days_lost and not beyond_anyone:
        return f"{_after_days_lost(days_lost, f'about {par} on {where}', goal_time_s, checkpoint)}{first}"
    if goal_time_s is None:
        return f"{form_says}. That is today's form; a test or tune-up will sharpen it.{first}"
    goal = say_time(goal_time_s)
    if beyond_anyone:
        return f"{form_says}. {goal} is quicker than the best road runners: please look at the figure.{first}"
    mark = checkpoint or "the next test or tune-up"
    offered = say_time(round(predicted_s * (1 - limits.number("race.goal_next")) / 30) * 30)
    waits = "" if followed else ", but for now the race is planned from today's form"
    ready = ": plan B stands ready" if followed else ", so for now the race is planned from today's form"
    says: dict[Verdict, str] = {
        "within form": f", so {goal} is within what you can do now; the work is to repeat it here. "
        "The next test or tune-up tells whether there is more.",
        "realistic": f"; {goal} is within reach if the weeks go to plan{waits}. Next checkpoint: {mark}.",
        "ambitious": f". {goal} is ambitious: some runners gain that much in a block, most gain less{ready}. "
        f"Next checkpoint: {mark}.",
        "stretch": f". {goal} is a stretch, more than a block of this length usually gives. Training goes by "
        f"today's form until the next test; {mark} would open the door.",
        "not this block": f". {goal} here would first ask for {mark}. How about {offered} for this race, and "
        f"{goal} kept for a later one?",
    }
    return form_says + says.get(verdict, ".") + first


def _after_days_lost(days: int, par: str, goal_time_s: float | None, checkpoint: str) -> str:
    """What results from before a break still say."""
    before = f"Your results from before {days} days without running point to {par}"
    if goal_time_s is None:
        return f"{before}; expect a slower race, and let a short test or a tune-up race say how much slower."
    mark = checkpoint or "a short test or a tune-up race"
    return f"{before}; {say_time(goal_time_s)} is open again once {mark} says so."
