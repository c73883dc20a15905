"""The last days before the race: one short touch of race effort, short easy runs, a day off.

Receives: a ``Planner``; dates.
Gives: the week of the touch and its wants, the longest easy run of a day, the days that are run.
Windows count days before the race, so a race on any weekday is given the same shape.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from planbuilder.plan.walk import HARD_S
from planbuilder.rules.checks_taper import LAST_DAYS_KEPT, touch_day
from planbuilder.rules.context import RuleContext, is_run
from planbuilder.rules.phases import Frame
from planbuilder.schedule.days import Board, rested
from planbuilder.schedule.load import Target
from planbuilder.schedule.state import Planner
from planbuilder.schedule.types import Want
from planbuilder.schedule.words import why_for

USUAL_MIN: Final = 36  # of a run in race week, the shakeout and the touch among them
NOT_HARD_S: Final = HARD_S - 10.0


def last_days_min(context: RuleContext, date: dt.date) -> int | None:
    """The longest easy run of one of the last days, minutes; None on any other day."""
    found = context.limits.table("taper.last_days_run").get(str(context.days_to_race(date)))
    return None if found is None else int(found)


def touch_frame(context: RuleContext) -> Frame:
    """The week that holds the touch of race effort: that of the best day on which the runner can run."""
    best = touch_day(context)
    return next((frame for frame in context.frames if best in frame.days), context.frames[-1])


def touch_wants(planner: Planner, frame: Frame) -> list[Want]:
    """The touch, and the same so short that it may stand nearer to the race than a hard session."""
    why = why_for(planner, "race_touch", frame.phase)
    most_s = planner.context.limits.number("taper.touch_longest") * 60
    want = Want("race_touch", "key", why, dose=0.4, decisive=True, most_duration_s=most_s)
    return [want, replace(want, most_work_s=NOT_HARD_S)]


def race_week_dates(
    planner: Planner, frame: Frame, board: Board, taken: Sequence[dt.date], fewer: int, target: Target
) -> list[dt.date]:
    """Race week: the day before short, two days before off, nothing after the last touch but easy running."""
    context = planner.context
    free = [date for date in board.open_days if date not in taken]
    must = [date for date in free if date in board.club]
    usual = [
        len({session.date for session in week.sessions if is_run(session)})
        for week in planner.weeks[-6:]
        if week.phase != "taper" and not week.recovery
    ]
    count = (sorted(usual)[len(usual) // 2] if usual else len(free)) - 1 - len(taken) - fewer
    minute_m = 60_000 / planner.easy_s_per_km
    shakeout, shortest = (context.limits.number(name) for name in ("day.shakeout", "load.shortest_run"))
    without_min = shakeout + len(taken) * USUAL_MIN  # the touch, and the short run of the day before
    count = max(count, 1 + math.ceil((target.least_m / minute_m - without_min) / USUAL_MIN) - fewer)
    holds = 1 + int((target.most_m / minute_m - without_min) / shortest)
    count = min(count, max(1, holds), 4 - len(taken) if context.careful else 6)
    chosen = rested(planner, frame, board, taken, must)
    for date in sorted(free, key=lambda date: LAST_DAYS_KEPT.get(context.days_to_race(date), 6)):
        more = sorted([*chosen, date])
        if date not in must and len(chosen) < count and rested(planner, frame, board, taken, more) == more:
            chosen = more
    return chosen
