"""Easy running fills a week up to its distance, in round minutes.

Receives: the days for easy runs, what the key sessions already cover, the target.
Gives: a draft for each of those days.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

from planbuilder.plan.types import Phase
from planbuilder.rules.orders import Draft
from planbuilder.rules.write_session import why_not
from planbuilder.schedule.load import Target
from planbuilder.schedule.orders import base_order, write_easy
from planbuilder.schedule.race_week import last_days_min
from planbuilder.schedule.state import Planner
from planbuilder.settings.models import WEEKDAYS

STEP_MIN = 5
RECOVERY_WEIGHT = 0.75  # the day after a hard one stays short
AFTER_RACE = 3  # days without strides
BEFORE_RACE = {2: RECOVERY_WEIGHT, 3: 0.85}  # by days before a tune-up that is raced; runs stay short
NEAR_MOST = 0.9995  # of the most a week may hold: its distances are rounded when they are written
STRIDES_S = 230.0  # work to keep free for a run with strides


@dataclass(frozen=True, slots=True)
class EasyDay:
    """A day for an easy run."""

    date: dt.date
    kind: str
    weight: float
    most_min: int


def easy_days(
    planner: Planner,
    dates: Sequence[dt.date],
    hard_dates: Sequence[dt.date],
    long_date: dt.date | None,
    *,
    phase: Phase,
    club: frozenset[dt.date],
    earlier: Collection[dt.date],
    most_min: int,
    strides: bool,
    turn: int,
) -> list[EasyDay]:
    """Kind, weight and longest time of every easy day; short before and after hard days.

    ``earlier`` holds the hard days and the long run of the week before.
    """
    found: list[EasyDay] = []
    minutes = planner.request.runner.minutes
    stressed = {*hard_dates, *earlier, *([long_date] if long_date else [])}
    new_allowed = planner.context.days_to_race(dates[-1]) >= 14 if dates else False
    known = new_allowed or "strides" in planner.count
    rested = [date for date in dates if not _raced_lately(planner, date)]
    last_longs = {one.date for week in planner.weeks[-1:] for one in week.sessions if one.role == "long"}
    longs = {*last_longs, *([long_date] if long_date else [])}
    quick = [date for date in rested if date in club and quick_night(planner, date, longs, phase)]
    quick = quick[:1] if strides and known else []
    free = strides and known and not quick
    strides_on = _strides_day(planner, rested, stressed, longs, club) if free else None
    races = {plan.race.date for plan in planner.tune_ups if plan.raced}
    for position, date in enumerate(dates):
        day_most = min(most_min, minutes.get(WEEKDAYS[date.weekday()], most_min))
        if (last := last_days_min(planner.context, date)) is not None:
            day_most = min(day_most, last)
        if date in planner.context.away:
            day_most = min(day_most, int(planner.context.limits.numbers("load.away_run")[0]))
        after = date - dt.timedelta(days=1) in stressed
        before = date + dt.timedelta(days=1) in stressed
        weight = 1.12 if not (after or before) else 0.95 if before and not after else 0.9
        weight += 0.08 if (position + turn) % 2 else 0.0
        if _raced_lately(planner, date):
            weight = min(weight, RECOVERY_WEIGHT)
        weight = min([weight, *(BEFORE_RACE.get((race - date).days, weight) for race in races)])
        kind = "group_easy" if date in club else "strides" if date == strides_on else "easy_run"
        if date in quick:
            kind = planner.request.nights[date].base
        if kind == "easy_run" and after and date - dt.timedelta(days=1) in hard_dates:
            kind, weight = "recovery_run", RECOVERY_WEIGHT
        if kind == "strides" and date not in quick and phase == "base" and turn % 2 and planner.can_climb:
            kind = "hill_sprints" if planner.context.level != "novice" else kind
        found.append(EasyDay(date, kind, weight, day_most // STEP_MIN * STEP_MIN))
    return found


def quick_night(planner: Planner, date: dt.date, longs: Collection[dt.date], phase: Phase) -> bool:
    """Whether a club night holds strides and this runner may run them, not soon after a long run."""
    night = planner.request.nights.get(date)
    if night is None or night.template.shape != "strides":
        return False
    least = int(planner.context.limits.number("day.fresh_strides"))
    fresh = not any(0 < (date - long).days < least for long in longs)
    order = replace(base_order(planner, phase), kind=night.base)
    return fresh and not why_not(order, planner.request.library)


def _raced_lately(planner: Planner, date: dt.date) -> bool:
    """Whether a tune-up stands in the days before: nothing quick so soon after it."""
    return any(0 < (date - race.date).days <= AFTER_RACE for race in planner.context.tune_ups)


def _strides_day(
    planner: Planner,
    dates: Sequence[dt.date],
    stressed: set[dt.date],
    long_dates: set[dt.date],
    club: frozenset[dt.date],
) -> dt.date | None:
    """The first easy day with fresh legs, else one after a hard session; never soon after the long run."""
    least = int(planner.context.limits.number("day.fresh_strides"))
    far = [date for date in dates if not any(0 < (date - long).days < least for long in long_dates)]
    free = [date for date in far if date not in club]
    fresh = [date for date in free if date - dt.timedelta(days=1) not in stressed]
    return next(iter(fresh or free), None)


def fill(
    planner: Planner, days: Sequence[EasyDay], phase: Phase, target: Target, covered_m: float
) -> dict[dt.date, Draft]:
    """Drafts for the easy days, so that the week comes as near to its aim as round minutes allow."""
    if not days:
        return {}
    shortest = int(planner.context.limits.number("load.shortest_run"))
    wanted_m = max(target.volume_m - covered_m, 0.0)
    whole = wanted_m * planner.easy_s_per_km / 60_000
    weights = sum(day.weight for day in days)
    minutes = {
        day.date: _held(round(whole * day.weight / weights / STEP_MIN) * STEP_MIN, shortest, day)
        for day in days
    }
    drafts = {day.date: write_easy(planner, day.kind, minutes[day.date], phase) for day in days}
    low = max(target.least_m * 1.002, target.volume_m - 450)
    for _ in range(40):
        total = covered_m + sum(draft.distance_m for draft in drafts.values())
        if total > NEAR_MOST * target.most_m or total > target.volume_m + 900:
            changed = _shorter(days, minutes, shortest)
        elif total < low:
            changed = _longer(days, minutes, drafts, total, target)
        else:
            break
        if changed is None:
            break
        drafts[changed.date] = write_easy(planner, changed.kind, minutes[changed.date], phase)
    return drafts


def _held(minutes: int, shortest: int, day: EasyDay) -> int:
    return max(min(minutes, day.most_min), min(shortest, max(day.most_min, 15)))


def _shorter(days: Sequence[EasyDay], minutes: dict[dt.date, int], shortest: int) -> EasyDay | None:
    able = [day for day in days if minutes[day.date] - STEP_MIN >= min(shortest, day.most_min)]
    if not able:
        return None
    changed = max(able, key=lambda day: (minutes[day.date] / day.weight, day.date))
    minutes[changed.date] -= STEP_MIN
    return changed


def _longer(
    days: Sequence[EasyDay],
    minutes: dict[dt.date, int],
    drafts: Mapping[dt.date, Draft],
    total_m: float,
    target: Target,
) -> EasyDay | None:
    able = [
        day
        for day in days
        if minutes[day.date] + STEP_MIN <= day.most_min
        and total_m + drafts[day.date].distance_m * STEP_MIN / minutes[day.date] <= NEAR_MOST * target.most_m
    ]
    if not able:
        return None
    changed = min(able, key=lambda day: (minutes[day.date] / day.weight, day.date))
    minutes[changed.date] += STEP_MIN
    return changed
