"""Planned against done, week by week, and what it means for race day; nothing here scolds.

Receives: a ``Situation``.
Gives: what was run in every week the log speaks of, and one sentence about the race. Both depend on what was
logged, never on today.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from planbuilder.rules.context import is_run
from planbuilder.schedule.replan.facts import Facts
from planbuilder.schedule.replan.lived import long_break
from planbuilder.schedule.replan.types import Situation
from planbuilder.units import count_of, say_time

STEADY_SHARE = 0.85  # of the sessions up to the last line: our choice


@dataclass(frozen=True, slots=True)
class WeekRun:
    """What the log says of a week."""

    distance_m: float
    duration_s: float
    sessions: int


def run_by_week(situation: Situation) -> dict[int, WeekRun]:
    """By week number what was run; weeks the log says nothing of are left out."""
    facts = Facts(situation, situation.accepted)
    easy = situation.request.paces.easy_s_per_km
    found: dict[int, WeekRun] = {}
    for week in situation.accepted:
        told = [one for one in week.sessions if is_run(one) and facts.done(one) is not None]
        extra = [line for line in facts.extra if week.first_day <= line.date <= week.last_day]
        if not told and not extra:
            continue
        run = [one for one in told if facts.outcome(one) in ("run", "part")]
        metres = [facts.run_m(one) for one in run]
        seconds = [
            one.duration_s * share / max(one.distance_m, 1.0) for one, share in zip(run, metres, strict=True)
        ]
        outside = [line.distance_m or (line.duration_s or 0.0) / easy * 1000 for line in extra]
        found[week.number] = WeekRun(
            distance_m=sum(metres) + sum(outside),
            duration_s=sum(seconds) + sum(outside) * easy / 1000,
            sessions=len(run),
        )
    return found


def outlook(situation: Situation) -> str:
    """What the log means for the race, in one sentence; empty without a log or a prediction, and after it."""
    request = situation.request
    goal = request.race_plan.goal
    lost, after = long_break(situation), ""
    last = max((line.date for line in situation.log), default=None)
    if lost is not None:
        par_s = goal.predicted_time_s
        before = f"the {say_time(par_s)} that your results from before point to" if par_s else "before"
        near = (request.race.date - lost.last).days <= request.limits.numbers("adapt.late_gap")[0]
        then = "run it to finish well" if near else "a short test or a tune-up race says how much slower"
        after = f"Behind {lost.days} days without running expect a slower race than {before}; {then}."
    if last is None:
        return after
    if last >= request.race.date or goal.predicted_low_s is None or goal.predicted_high_s is None:
        return ""
    facts = Facts(situation, situation.accepted)
    past = [one for one in facts.runs if one.date <= last and one.role != "race"]
    told = [one for one in past if facts.done(one) is not None]
    run = sum(facts.outcome(one) in ("run", "part") for one in told)
    steady = sum(facts.outcome(one) == "missed" for one in past) <= (1 - STEADY_SHARE) * len(past)
    start = f"{run} of {count_of(len(told), 'session')} told of {'was' if len(told) == 1 else 'were'} run"
    if untold := len(past) - len(told):
        start += f", no word yet of {count_of(untold, 'other')}"
    if not steady:
        start += "; the weeks ahead go from what you have run."
    else:
        start += "; the plan goes on." if untold else ": the plan is on its way."
    if after:
        return f"{start} {after}"
    if goal.verdict == "finish well":
        return start
    low_s, high_s = race_range_s(situation, last)
    return (
        f"{start} For race day this points to a time between {say_time(low_s)} and {say_time(high_s)}; the "
        "range narrows as the day comes."
    )


def race_range_s(situation: Situation, last: dt.date) -> tuple[float, float]:
    """Quickest and slowest time to expect on race day, by what is known on a day: wide first, narrower with
    every day and every result."""
    request, goal = situation.request, situation.request.race_plan.goal
    assert goal.predicted_low_s is not None
    assert goal.predicted_high_s is not None
    whole = max((request.race.date - situation.accepted[0].first_day).days, 1)
    left = min(max((request.race.date - last).days / whole, 0.0), 1.0)
    extra = request.limits.number("adapt.outlook") * left / (1 + len(situation.pace_lines))
    return goal.predicted_low_s * (1 - extra), goal.predicted_high_s * (1 + extra)
