"""Tune-up races: an entered one is never refused, its effort fits its date.

Receives: the tune-ups of a block, the race they come before.
Gives: how hard each may be run, and the days around it that stay free of hard running.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from planbuilder.plan.types import Week
from planbuilder.rules.checks_load import longest_before, single_run_cap_m
from planbuilder.rules.context import RuleContext
from planbuilder.settings.models import TuneUp
from planbuilder.units import count_of, run_mark

TuneUpEffort = Literal["all-out", "goal effort", "easy"]

GOAL_RPE: dict[str, tuple[float, float]] = {
    "5": (8.0, 9.0),
    "10": (8.0, 8.0),
    "half": (6.0, 7.0),
    "marathon": (5.0, 6.0),
}


@dataclass(frozen=True, slots=True)
class TuneUpPlan:
    """How a tune-up race is to be run, and why."""

    race: TuneUp
    effort: TuneUpEffort
    why: str  # a sentence with both numbers

    @property
    def raced(self) -> bool:
        """Whether it counts as a hard session."""
        return self.effort != "easy"


def goal_rpe(race_distance_m: float) -> tuple[float, float]:
    """Effort of the race's own middle third."""
    if race_distance_m < 7_500:
        return GOAL_RPE["5"]
    if race_distance_m < 16_000:
        return GOAL_RPE["10"]
    return GOAL_RPE["half"] if race_distance_m < 30_000 else GOAL_RPE["marathon"]


def window_of(race: TuneUp, context: RuleContext) -> tuple[int, int]:
    """Nearest and farthest day before the goal race on which this tune-up may be raced all-out."""
    return tune_up_window(race.distance_m, context)


def tune_up_window(distance_m: float, context: RuleContext) -> tuple[int, int]:
    """The same for any race of this distance."""
    goal_m = context.race.distance_m
    name = (
        "tune_up.window_5_km"
        if goal_m < 7_500
        else "tune_up.window_10_km"
        if goal_m < 16_000
        else "tune_up.window_half"
        if goal_m < 30_000
        else "tune_up.window_marathon"
    )
    low, high = context.by_distance(name, distance_m)
    return int(low), int(high)


def effort_by_date(race: TuneUp, context: RuleContext) -> tuple[TuneUpEffort, str]:
    """The hardest effort the date allows, with the reason."""
    days = (context.race.date - race.date).days
    nearest, _ = window_of(race, context)
    late = int(context.limits.number("tune_up.late"))
    if days >= nearest:
        return (
            "all-out",
            f"{count_of(days, 'day')} before the race; from {nearest} days on it may be raced all-out.",
        )
    if days >= nearest - late:
        return (
            "goal effort",
            f"{count_of(days, 'day')} before the race; all-out asks for {nearest}, "
            "so it is run at goal effort.",
        )
    return (
        "easy",
        f"{count_of(days, 'day')} before the race; racing it asks for {nearest - late}, so it is run easily.",
    )


def plan_tune_ups(
    context: RuleContext, weeks: Sequence[Week] = (), index: int | None = None
) -> tuple[TuneUpPlan, ...]:
    """All entered tune-ups with their effort. With weeks, the single-run cap of those weeks is asked too."""
    found: list[TuneUpPlan] = []
    raced: list[dt.date] = []
    most, gap = int(context.limits.number("day.tune_ups")), int(context.limits.number("day.tune_up_gap"))
    for race in context.tune_ups:
        effort, why = effort_by_date(race, context)
        if not context.allowed.anything_above_easy:
            effort, why = "easy", "Only easy running is planned for now, so it is run easily."
        elif effort == "all-out" and not context.allowed.all_out:
            effort, why = "goal effort", "All-out running is left out for now, so it is run at goal effort."
        if effort != "easy" and len(raced) >= most:
            effort, why = "easy", f"{most} tune-up races are raced before it already, so it is run easily."
        elif effort != "easy" and raced and (race.date - raced[-1]).days < gap:
            days = (race.date - raced[-1]).days
            effort, why = (
                "easy",
                f"{count_of(days, 'day')} after the last one; racing asks for {gap}, so it is run easily.",
            )
        if effort != "easy":
            longest = _longest(race, context, weeks, index)
            if race.distance_m > longest * context.limits.number("load.single_run_cap") + 1:
                effort, why = (
                    "easy",
                    f"{run_mark(race.distance_m)} are too far beyond the longest run of the 30 days before, "
                    f"{run_mark(longest)}, to be raced, so it is run easily.",
                )
        if effort != "easy":
            raced.append(race.date)
        found.append(TuneUpPlan(race, effort, why))
    return tuple(found)


def _longest(race: TuneUp, context: RuleContext, weeks: Sequence[Week], index: int | None) -> float:
    if not weeks or index is None or not weeks[index].first_day <= race.date <= weeks[index].last_day:
        return (
            float("inf")
            if weeks or context.first_day <= race.date - dt.timedelta(days=30)
            else _early(context)
        )
    return longest_before(weeks, index, context, race.date)


def _early(context: RuleContext) -> float:
    return single_run_cap_m(context.baseline.longest_m, context)


def days_after(plan: TuneUpPlan, context: RuleContext) -> int:
    """Days without hard running after a raced tune-up."""
    days = int(context.by_distance("day.after_tune_up", plan.race.distance_m))
    half_or_more = plan.race.distance_m > 17_000
    hilly = plan.race.course == "hilly" or (plan.race.climb_m or 0.0) > 8 * plan.race.distance_m / 1000
    if half_or_more and (context.level == "novice" or context.older or hilly):
        days = int(context.limits.number("day.after_half_careful"))
    return days


def no_hard_days(context: RuleContext, plans: Sequence[TuneUpPlan]) -> frozenset[dt.date]:
    """Dates on which no hard session may stand, because of a race."""
    found: set[dt.date] = set()
    for plan in plans:
        before = int(context.limits.number("day.before_tune_up")) if plan.raced else 1
        after = days_after(plan, context) if plan.raced else 1
        found |= {plan.race.date + dt.timedelta(days=day) for day in range(-before, after + 1) if day}
    last = int(context.by_distance("taper.last_hard")) if context.races else 0
    found |= {context.race.date - dt.timedelta(days=day) for day in range(1, last)}
    return frozenset(found)
