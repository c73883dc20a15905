"""Plan A: the time it aims at, and how fast that is on every piece of ground.

Receives: the outlook, form, whether the goal was asked for.
Gives: the time, the flat-equivalent speeds under the effort ceilings, and the notes that explain them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planbuilder.demands.terrain import Array, Terrain
from planbuilder.race.goal import goal_reach
from planbuilder.race.ladder import race_class
from planbuilder.race.outcomes import plan_b_time_s, strategy_weights
from planbuilder.race.outlook import Outlook
from planbuilder.race.solver import fastest_time_s, solve_speeds
from planbuilder.race.types import GoalCheck, Strategy
from planbuilder.runner.types import Form
from planbuilder.settings.limits import Limits
from planbuilder.settings.notes import Note
from planbuilder.units import say_time


@dataclass(frozen=True, eq=False)
class PlanA:
    """The time and how it is spent; both None where there is no clock."""

    time_s: float | None
    speeds_mps: Array | None  # flat-equivalent, one a cell
    notes: tuple[Note, ...]


def make_plan_a(
    *, outlook: Outlook, form: Form, strategy: Strategy, goal_is_forced: bool, first_at_distance: bool
) -> PlanA:
    """The goal where it is near form or asked for, else the prediction; never above the ceilings.

    After a break of two weeks or more what plan B would have been, where nobody asks for another time.
    """
    terrain, limits = outlook.terrain, outlook.limits
    if not outlook.day.has_clock:
        return PlanA(None, None, ())
    reach = goal_reach(form, terrain.ground.distance_m, limits)
    assumed = form.anchor is not None and form.anchor.climb_assumed
    wanted_s, notes = _wanted_time(outlook.goal, goal_is_forced, reach, assumed, limits)
    if wanted_s is None:
        return PlanA(None, None, ())
    if outlook.goal.days_lost and not goal_is_forced:
        wanted_s, back = _stepped_back(wanted_s, outlook.goal, first_at_distance, limits)
        notes = (*notes, *back)
    ceilings = effort_ceilings(terrain, form, limits)
    least_s = fastest_time_s(terrain.flat_m, ceilings)
    if wanted_s < least_s:
        text = (
            f"{say_time(wanted_s)} would ask for more than the effort ceilings allow on this course; "
            f"{say_time(least_s)} is the quickest they allow, and even that is no promise."
        )
        return PlanA(least_s, ceilings, (*notes, Note("race.effort_ceiling", text, "given_up")))
    weight = strategy_weights(strategy, terrain, limits)
    speeds = solve_speeds(flat_m=terrain.flat_m, ceiling_mps=ceilings, time_s=wanted_s, weight=weight)
    return PlanA(wanted_s, speeds, notes)


def _wanted_time(
    goal: GoalCheck, forced: bool, reach: float, assumed: bool, limits: Limits
) -> tuple[float | None, tuple[Note, ...]]:
    """The time that plan A aims at; ``reach`` is the gap up to which it follows the goal, ``assumed`` whether
    the climb of the result behind the prediction was."""
    wanted_s, par_s, gap = goal.goal_time_s, goal.predicted_time_s, goal.gap
    if wanted_s is None or par_s is None or gap is None:
        return (par_s if wanted_s is None else wanted_s), ()
    if gap < -limits.number("race.far_slower"):
        text = (
            f"{say_time(wanted_s)} is {-gap * 100:.0f} % slower than form points to. The efforts in this "
            "plan belong to a race: at that time all of it should feel easier, and walking is fine."
        )
        return wanted_s, (Note("race.far_slower", text),)
    if gap <= reach:
        return wanted_s, ()
    if forced:
        text = (
            f"Plan A is {say_time(wanted_s)} because it was asked for; form points to {say_time(par_s)}: "
            f"the goal is {gap * 100:.1f} % quicker. Until a test or tune-up says otherwise, plan B is the "
            "one for the day."
        )
        return wanted_s, (Note("race.goal_for_sessions", text, "exception"),)
    usual = limits.number("race.goal_for_sessions")
    rule = "race.goal_for_sessions" if reach == usual else "race.goal_for_marathon"
    because = f"more than the {reach * 100:.0f} % up to which plan A follows it"
    if reach == 0 and assumed:
        because = (
            "and the climb of the course your result comes from is only assumed, so no quicker goal is taken "
            "up from it (a climb figure or a course file would settle it)"
        )
    text = (
        f"The goal of {say_time(wanted_s)} is {gap * 100:.1f} % quicker than form on this course, {because}: "
        f"plan A is {say_time(par_s)}."
    )
    return par_s, (Note(rule, text, "given_up"),)


def _stepped_back(
    wanted_s: float, goal: GoalCheck, first_at_distance: bool, limits: Limits
) -> tuple[float, tuple[Note, ...]]:
    """Plan A after a long break: plan B of the time that was wanted, unless that is slow enough already."""
    par_s = goal.predicted_time_s
    if par_s is None or wanted_s >= par_s * (1 + limits.number("race.plan_b")):
        return wanted_s, ()
    now_s = plan_b_time_s(
        finish_time_s=wanted_s, goal=goal, first_at_distance=first_at_distance, limits=limits
    )
    text = (
        f"After {goal.days_lost} days without running plan A is what plan B was, {say_time(now_s)} and not "
        f"{say_time(wanted_s)}, until a short test or a tune-up race says more."
    )
    return now_s, (Note("adapt.gap_days", text, "given_up"),)


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
