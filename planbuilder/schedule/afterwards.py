"""After the race: days without running, then a few short easy runs.

Receives: a ``Planner`` that has written the weeks up to the race.
Gives: weeks of phase "after"; nothing in them is more than easy. What is told of the race eases them further.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace

from planbuilder.plan.types import Session, Week
from planbuilder.rules.write_session import write_session
from planbuilder.schedule.orders import base_order
from planbuilder.schedule.sessions import session_of, with_sessions
from planbuilder.schedule.state import Planner
from planbuilder.settings.models import WEEKDAYS

DAY = dt.timedelta(days=1)


def weeks_after(planner: Planner, weeks: Sequence[Week]) -> tuple[Week, ...]:
    """The weeks behind the race, until the last of the easy runs; none where this race may not be run."""
    request = planner.request
    if not (weeks and planner.context.races):
        return ()
    table = request.limits.table("adapt.after_race")
    at = min(table, key=lambda metres: abs(float(metres) - request.race.distance_m))
    minutes, count = (int(value) for value in request.limits.numbers("adapt.after_runs"))
    monday = request.race.date + (7 - request.race.date.weekday()) * DAY
    first = max(monday, request.race.date + (int(table[at]) + 1) * DAY)
    days = [first + number * DAY for number in range(21)]
    days = [
        day
        for day in days
        if WEEKDAYS[day.weekday()] in request.runner.days and day not in planner.context.away
    ]
    runs = [_run(planner, day, minutes + 5 * number) for number, day in enumerate(_apart(days)[:count])]
    found: list[Week] = []
    while runs and monday <= runs[-1].date:
        number = weeks[-1].number + len(found) + 1
        own = [one for one in runs if monday <= one.date < monday + 7 * DAY]
        named = tuple(
            replace(one, id=f"w{number:02d}-after" + (f"-{place}" if place > 1 else ""))
            for place, one in enumerate(own, start=1)
        )
        empty = Week(
            number=number,
            first_day=monday,
            last_day=monday + 6 * DAY,
            phase="after",
            recovery=True,
            purpose="After the race: rest first, then a few easy runs.",
            distance_m=0.0,
            duration_s=0.0,
            work_s=0.0,
            sessions=(),
        )
        found.append(with_sessions(empty, named))
        monday += 7 * DAY
    return tuple(found)


def _apart(days: Sequence[dt.date]) -> list[dt.date]:
    """Of the days none that follows another at once."""
    kept: list[dt.date] = []
    for day in days:
        if not kept or (day - kept[-1]).days > 1:
            kept.append(day)
    return kept


def _run(planner: Planner, day: dt.date, minutes: int) -> Session:
    request = planner.request
    order = replace(base_order(planner, "after"), kind="easy_run", duration_s=minutes * 60.0)
    draft = write_session(order, request.library, request.limits)
    why = "After the race: easy minutes for tired legs; leave it out if stairs still hurt."
    return session_of(planner, draft, day, "after", why)
