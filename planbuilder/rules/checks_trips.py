"""Rules of the weeks behind days away: load, long run and hard running come back in steps.

Receives: weeks and a ``RuleContext``.
Gives: breaches, one sentence each with both numbers.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator, Sequence

from planbuilder.plan.types import Session, Week
from planbuilder.rules.checks_load import SLACK, level_before
from planbuilder.rules.context import Breach, RuleContext, in_load, is_loaded, is_training_run
from planbuilder.rules.registry import limit
from planbuilder.rules.trips import DAY, WayHome, easy_runs_home, way_home
from planbuilder.units import apart_marks, count_of, run_mark


def _at_home(weeks: Sequence[Week], index: int, number: int) -> int:
    return max(index - number + 1, 0)


def way_home_cap(weeks: Sequence[Week], index: int, context: RuleContext) -> float:
    """The most metres of a week on the way back from weeks away; infinite for any other."""
    step = way_home(weeks[index].first_day, context)
    if step is None:
        return math.inf
    return step.load * level_before(weeks, _at_home(weeks, index, step.number), context)


def way_home_long_cap(weeks: Sequence[Week], index: int, context: RuleContext) -> float:
    """The longest long run of such a week, metres; infinite for any other."""
    step = way_home(weeks[index].first_day, context)
    before = None if step is None else long_before_leaving(weeks, step.leaves, context)
    return math.inf if step is None or before is None else step.long * before.distance_m


def long_before_leaving(weeks: Sequence[Week], leaves: dt.date, context: RuleContext) -> Session | None:
    """The long run of the last loaded week before the weeks away that had one."""
    loaded = [week for week in weeks if week.first_day < leaves and is_loaded(week, context)]
    longs = [one for week in loaded for one in week.sessions if one.role == "long" and not one.cancelled]
    return longs[-1] if longs else None


def way_home_words(step: WayHome, most_m: float) -> str:
    """Why a week on the way back from weeks away holds less than the load before."""
    away, share = count_of(step.away, "week"), f"{step.load * 100:.0f} % of the load before"
    return (
        f"Week {step.number} at home behind {away} away holds at most {run_mark(most_m)}, {share}, so that "
        "the load comes back in steps."
    )


@limit("load.way_home", "load.way_home", "load.behind_trip", "load.away_long", "load.full_easy_share")
def way_home_load(weeks: Sequence[Week], index: int, context: RuleContext) -> Iterator[Breach]:
    """Behind weeks away the load comes back in steps."""
    week = weeks[index]
    if not in_load(week, context):
        return
    cap = way_home_cap(weeks, index, context)
    if week.distance_m > cap * SLACK:
        held, most = apart_marks(week.distance_m, cap)
        yield Breach(
            "load.way_home",
            None,
            week.first_day,
            f"Week {week.number} holds {held} on the way back from days away; the most is {most}.",
        )


@limit("load.way_home_long", "load.way_home_long", "load.behind_trip")
def way_home_long(weeks: Sequence[Week], index: int, context: RuleContext) -> Iterator[Breach]:
    """Behind weeks away the long run begins shorter than it was before them."""
    week = weeks[index]
    if not in_load(week, context):
        return
    cap = way_home_long_cap(weeks, index, context)
    for session in week.sessions:
        if session.role == "long" and not session.cancelled and session.distance_m > cap * SLACK:
            held, most = apart_marks(session.distance_m, cap)
            yield Breach(
                "load.way_home_long",
                session.id,
                session.date,
                f"The long run of week {week.number} is {held} on the way back from days away; the most is "
                f"{most}.",
            )


@limit("day.home_easy", "adapt.return_easy_runs", "adapt.gap_days", "load.away_long")
def home_easy(weeks: Sequence[Week], index: int, context: RuleContext) -> Iterator[Breach]:
    """Behind days away with hardly a run the first runs at home are easy."""
    week = weeks[index]
    for trip in context.runner.away:
        count, home = easy_runs_home(trip, context), trip.last_day + DAY
        if not count or home in context.away or home > week.last_day:
            continue
        runs = [
            one
            for near in weeks[max(0, index - 4) : index + 1]
            for one in near.sessions
            if one.date >= home and is_training_run(one) and not one.cancelled
        ]
        for session in sorted(runs, key=lambda one: one.date)[:count]:
            if session.hard and session.date >= week.first_day and session.kind != "race_touch":
                yield Breach(
                    "day.home_easy",
                    session.id,
                    session.date,
                    f"{session.title} is one of the first {count} runs behind days away; they are easy.",
                )
