"""Days away: which weeks are spent away, and how running comes back behind them.

Receives: dates and a ``RuleContext``.
Gives: whether a week is spent away, how many runs it may hold, the easy days at home, the steps of the load.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from planbuilder.rules.context import RuleContext
from planbuilder.settings.models import WEEKDAYS, Away

DAY: Final = dt.timedelta(days=1)
WEEK: Final = dt.timedelta(days=7)


@dataclass(frozen=True, slots=True)
class WayHome:
    """What a week behind days away may hold, as shares of the load and of the long run before them."""

    number: int  # 1: the first week at home
    away: int  # weeks spent away
    load: float
    long: float
    leaves: dt.date  # Monday of the first week away


def _running(monday: dt.date, context: RuleContext) -> list[dt.date]:
    days = [monday + day * DAY for day in range(7)]
    return [day for day in days if WEEKDAYS[day.weekday()] in context.running_days]


def spent_away(monday: dt.date, context: RuleContext) -> bool:
    """Whether so few running days of a week are spent at home that the next one is a step back."""
    if not context.away or monday < context.first_day:
        return False
    days = _running(monday, context)
    home = sum(day not in context.away for day in days)
    return home < context.limits.numbers("load.full_easy_share")[0] * len(days)


def runs_away(monday: dt.date, context: RuleContext) -> int:
    """How many runs the days away of a week may hold."""
    days = [monday + day * DAY for day in range(7) if monday + day * DAY in context.away]
    running = sum(WEEKDAYS[day.weekday()] in context.running_days for day in days)
    trips = [
        trip for trip in context.runner.away if any(trip.first_day <= day <= trip.last_day for day in days)
    ]
    return min(running, max((trip.runs for trip in trips), default=0))


def _few(runs: int, context: RuleContext) -> bool:
    return runs < context.limits.numbers("load.away_long")[0]


def hardly_run(monday: dt.date, context: RuleContext) -> bool:
    """Whether a week is spent away with too few runs for a longer one among them."""
    return spent_away(monday, context) and _few(runs_away(monday, context), context)


def way_home(monday: dt.date, context: RuleContext) -> WayHome | None:
    """The step of a week on the way back from weeks away; None for any other week."""
    if not context.away or spent_away(monday, context):
        return None
    for number in range(1, 5):
        back = monday - (number - 1) * WEEK
        if spent_away(back - WEEK, context):
            return _step(back, number, context)
    return None


def _step(back: dt.date, number: int, context: RuleContext) -> WayHome | None:
    """The step of week ``number`` at home, the first of which begins at ``back``."""
    limits, count = context.limits, 1
    while spent_away(back - (count + 1) * WEEK, context):
        count += 1
    last = [back - one * WEEK for one in range(1, count + 1)]
    leaves = last[-1]
    longs = list(limits.numbers("load.way_home_long"))
    if count >= 2 and not any(runs_away(one, context) for one in last):
        table = limits.table("adapt.return_weeks")
        key = str(max(int(days) for days in table if int(days) <= 7 * count))
        loads = [float(share) for share in table[key]]
        first = float(limits.table("adapt.return_long")[key])
        longs = [first * limits.number("load.single_run_cap") ** one for one in range(2)]
    elif count >= 2 and all(_few(runs_away(one, context), context) for one in last):
        loads = list(limits.numbers("load.way_home"))
    else:
        few = _few(runs_away(last[0], context), context)
        loads = [limits.numbers("load.way_home")[0] if few else limits.number("load.behind_trip")]
        longs = [longs[0] if few and count >= 2 else limits.number("load.behind_trip")]
    if number > len(loads):
        return None
    long = longs[number - 1] if number <= len(longs) else 1.0
    return WayHome(number, count, loads[number - 1], long, leaves)


def right_behind(monday: dt.date, context: RuleContext) -> bool:
    """Whether days away that cost some running ended in the week before."""
    least = context.limits.numbers("adapt.gap_days")[1]
    return any(
        monday - WEEK <= trip.last_day < monday and (trip.last_day - trip.first_day).days + 1 >= least
        for trip in context.runner.away
    )


def easy_runs_home(trip: Away, context: RuleContext) -> int:
    """So many first runs behind days away hold nothing hard, where hardly any were possible."""
    limits = context.limits
    days = (trip.last_day - trip.first_day).days + 1
    steps, runs = limits.numbers("adapt.gap_days"), limits.numbers("adapt.return_easy_runs")
    if days < steps[1] or not _few(trip.runs, context):
        return 0
    size = sum(days >= step for step in steps) - 1
    return int(runs[0] if trip.runs else runs[size])


def home_days(context: RuleContext) -> Iterator[dt.date]:
    """The first running days at home behind such days away; nothing hard stands on them."""
    for trip in context.runner.away:
        count, day = easy_runs_home(trip, context), trip.last_day + DAY
        while count > 0 and day < context.race.date:
            if context.runs_on(day) and day not in context.away:
                yield day
                count -= 1
            day += DAY
