"""Rules of the taper: what is left of the load in the last two weeks.

Receives: weeks and a ``RuleContext``.
Gives: breaches, one sentence each with both numbers.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator, Sequence
from statistics import median
from typing import Final

from planbuilder.plan.types import Week
from planbuilder.rules.checks_load import SLACK, loaded_before
from planbuilder.rules.context import (
    Breach,
    RuleContext,
    away_days,
    has_tune_up,
    is_easy,
    is_run,
    is_stub,
    is_training_run,
    near_race,
)
from planbuilder.rules.registry import limit
from planbuilder.settings.models import WEEKDAYS
from planbuilder.units import run_mark, say_minutes

# Days before the race in the order in which they are run: common practice, no source.
LAST_DAYS_KEPT: Final = {1: 0, 3: 1, 4: 2, 5: 3, 6: 4, 2: 5}


def touch_days(context: RuleContext) -> tuple[dt.date, ...]:
    """Days on which the last touch may stand and the runner can run; one day earlier where there is none."""
    if not context.races:
        return ()
    first, last = (int(days) for days in context.limits.numbers("taper.touch_days"))
    for span in (range(first, last + 1), range(last + 1, last + 2)):
        days = [context.race.date - dt.timedelta(days=before) for before in span]
        able = tuple(
            day
            for day in days
            if WEEKDAYS[day.weekday()] in context.running_days and day not in context.away
            if day >= context.first_day and context.tune_up_on(day) is None
        )
        if able:
            return able
    return ()


def touch_day(context: RuleContext) -> dt.date | None:
    """The best day for the last touch: the latest on which it need not be too short to be hard."""
    days = touch_days(context)
    return max(days, key=lambda date: (context.days_to_race(date) > 3, date), default=None)


def touch_most_s(weeks: Sequence[Week], index: int, context: RuleContext) -> float:
    """How long the last touch may be made, seconds: as long as a usual key session, or its limit."""
    keys = [
        one.duration_s
        for week in loaded_before(weeks, index, context)[-3:]
        for one in week.sessions
        if one.role in ("key", "club") and not one.cancelled and not is_easy(one)
    ]
    return min([context.limits.number("taper.touch_longest") * 60, *([median(keys)] if keys else [])])


def taper_shares(context: RuleContext) -> dict[str, tuple[float, float]]:
    """Lowest and highest share of the load before, by window of the end."""

    def pair(values: Sequence[float]) -> tuple[float, float]:
        return float(values[0]), float(values[1])

    if context.race.distance_m > 30_000 and context.phase_weeks[3] >= 3:
        table = context.limits.table("taper.three_weeks")
        shares = {name: pair(table[name]) for name in ("race_week", "week_before", "two_before")}
    else:
        shares = {
            "race_week": pair(context.by_distance("taper.race_week")),
            "week_before": pair(context.by_distance("taper.week_before")),
            "two_before": (0.90, 1.0),
        }
    if sum(context.phase_weeks) <= 7:
        low, high = shares["race_week"]
        short = pair(context.limits.numbers("taper.short_block"))
        shares["race_week"] = (min(low, short[0]), max(high, short[1]))
    return shares


def week_share(
    first_day: dt.date, last_day: dt.date, shares: dict[str, tuple[float, float]], race_date: dt.date
) -> tuple[float, float]:
    """Lowest and highest share of a calendar week: each of its days carries the share of its window.

    For a Sunday race the windows are calendar weeks; for any other day they are mixed day by day.
    """
    low = high = 0.0
    for offset in range((last_day - first_day).days + 1):
        days = (race_date - first_day).days - offset
        if days <= 0:
            continue
        window, length = (
            ("race_week", 6) if days <= 6 else ("week_before", 7) if days <= 13 else ("two_before", 7)
        )
        low += shares[window][0] / length
        high += shares[window][1] / length
    return low, high


def taper_level(weeks: Sequence[Week], index: int, context: RuleContext) -> float:
    """Mean of the last 3 loaded weeks, metres; the intake where there are none.

    Weeks of the way back after a long break are no load to taper from: there it is what they lead to.
    """
    last = loaded_before(weeks, index, context)[-3:]
    if not last:
        return context.baseline.weekly_m
    return max(sum(week.distance_m for week in last) / len(last), context.taper_from_m)


def taper_range(weeks: Sequence[Week], index: int, context: RuleContext) -> tuple[float, float]:
    """Least and most metres of a taper week."""
    shares = taper_shares(context)
    low, high = week_share(weeks[index].first_day, weeks[index].last_day, shares, context.race.date)
    level = taper_level(weeks, index, context)
    return min(low * level, last_days_hold_m(weeks, index, context)), high * level


def last_days_hold_m(weeks: Sequence[Week], index: int, context: RuleContext) -> float:
    """Metres that a week of the last days holds with runs as short as they should be; no end for other weeks.

    The day before is run, two days before is off first, and of five days one; after six days of running the
    first day is off, and any row of seven with the race at its end has a day off too. The touch of race
    effort is no longer than a usual key session. Recovery runs and rounding take a part.
    """
    week = weeks[index]
    table = context.limits.table("taper.last_days_run")
    if (context.race.date - week.first_day).days > 11:
        return math.inf
    row = _days_run_before(weeks, index)
    earlier_min = float(context.by_distance("taper.long_week_before"))
    touch = touch_day(context) if context.allowed.anything_above_easy else None
    minutes: dict[int, float] = {}
    for offset in range((week.last_day - week.first_day).days + 1):
        date = week.first_day + dt.timedelta(days=offset)
        days, weekday = context.days_to_race(date), WEEKDAYS[date.weekday()]
        if offset == 0 and row == 6:
            continue
        if days > 0 and weekday in context.running_days and date not in context.away:
            most = float(table.get(str(days), earlier_min))
            if date == touch:
                most = min(most, touch_most_s(weeks, index, context) / 60)
            minutes[days] = min(most, context.runner.minutes.get(weekday, math.inf))
    most = min(4 if context.careful else 5, max(len(minutes) - 1, 4))
    if len(minutes) == (context.race.date - week.first_day).days and row + len(minutes) + 1 >= 7:
        most = min(most, len(minutes) - 1)
    kept = sorted(minutes, key=lambda days: LAST_DAYS_KEPT.get(days, 6))[:most]
    return 0.85 * sum(minutes[days] for days in kept) * 60_000 / context.paces.easy_s_per_km


def _days_run_before(weeks: Sequence[Week], index: int) -> int:
    """How many days right before a week were run, one after the other; 6 at most."""
    if index == 0:
        return 0
    first = weeks[index].first_day
    ran = {session.date for session in weeks[index - 1].sessions if is_run(session)}
    return next((back - 1 for back in range(1, 7) if first - dt.timedelta(days=back) not in ran), 6)


def in_taper(week: Week, context: RuleContext) -> bool:
    """Whether the shares of the taper hold for a week."""
    return week.phase == "taper" or near_race(week.first_day, context)


@limit("taper.shares", "taper.race_week", "taper.week_before", "taper.three_weeks", "taper.short_block")
def taper_volume(weeks: Sequence[Week], index: int, context: RuleContext) -> Iterator[Breach]:
    """The last two weeks hold their share of the load before, the race left out."""
    week = weeks[index]
    if not in_taper(week, context) or is_stub(week):
        return
    low, high = taper_range(weeks, index, context)
    held_down = week.distance_m < low and _few_taper_days(week, context)
    if low / SLACK <= week.distance_m <= high * SLACK:
        return
    yield Breach(
        "taper.shares",
        None,
        week.first_day,
        f"Week {week.number} holds {run_mark(week.distance_m)}; the taper leaves between {run_mark(low)} and "
        f"{run_mark(high)} of the load before.",
        excepted=held_down or _shortest_already(week, context),
    )


@limit("taper.touch", "taper.touch_longest")
def touch_length(weeks: Sequence[Week], index: int, context: RuleContext) -> Iterator[Breach]:
    """The last touch of race effort lasts 45 minutes at most, its warm-up and cool-down among them."""
    most_s = context.limits.number("taper.touch_longest") * 60
    last = int(context.limits.numbers("taper.touch_days")[1]) + 1
    for one in weeks[index].sessions:
        near = 0 < context.days_to_race(one.date) <= last
        if one.kind == "race_touch" and near and not one.cancelled and one.duration_s > most_s + 1:
            yield Breach(
                "taper.touch",
                one.id,
                one.date,
                f"The touch of race effort lasts {say_minutes(one.duration_s)}; the most is "
                f"{say_minutes(most_s)}.",
            )


def _shortest_already(week: Week, context: RuleContext) -> bool:
    """Whether a single run, or the club nights alone, already are as short as a run can be."""
    runs = [session for session in week.sessions if is_training_run(session)]
    few = len(runs) == 1 or all(session.role == "club" for session in runs)
    shortest_s = context.limits.number("load.shortest_run") * 60
    return few and all(session.duration_s <= shortest_s for session in runs)


def _few_taper_days(week: Week, context: RuleContext) -> bool:
    """Whether the days themselves hold the week down: too few of them, time, travel, a race, no running."""
    days = sum(
        week.first_day + dt.timedelta(days=offset) not in context.away
        and WEEKDAYS[(week.first_day.weekday() + offset) % 7] in context.running_days
        for offset in range((week.last_day - week.first_day).days + 1)
        if context.days_to_race(week.first_day) - offset >= 1
    )
    return (
        days <= (3 if week.last_day >= context.race.date else 2)
        or away_days(week, context) > 0
        or bool(context.runner.minutes)
        or has_tune_up(week)
        or not context.allowed.run
        or context.allowed.minor
    )
