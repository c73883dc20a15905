"""What some runners want besides: strength sessions, and two runs on a day.

Receives: the running of a week, already placed and filled.
Gives: the sessions to add.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace

from planbuilder.plan.types import Phase, Session
from planbuilder.rules.context import is_run, is_training_run
from planbuilder.rules.phases import Frame
from planbuilder.rules.write_session import write_session
from planbuilder.schedule.load import WeekKind
from planbuilder.schedule.orders import base_order, write_easy
from planbuilder.schedule.sessions import session_of
from planbuilder.schedule.state import Planner
from planbuilder.schedule.words import why_for

DAY = dt.timedelta(days=1)
SECOND_RUNS = 2  # a week, at most
EVENING = dt.time(18)


def strength_sessions(
    planner: Planner, frame: Frame, kind: WeekKind, sessions: Sequence[Session]
) -> list[Session]:
    """Two a week in base and build, one in specific, none near the race; on hard days after the running."""
    context = planner.context
    last = int(context.limits.number("day.last_strength"))
    usual = {"base": 2, "build": 2, "specific": 1}.get(frame.phase, 0)
    if not context.runner.strength or not context.allowed.hard or kind in ("away", "stub"):
        return []
    count = min(usual, 1) if kind in ("recovery", "easy_week", "tune_up") else usual
    days = _strength_days(planner, sessions, count, last)
    if not days:
        return []
    order = replace(
        base_order(planner, frame.phase),
        kind="strength",
        occurrence=planner.count.get("strength", 0),
        new_to_strength=planner.count.get("strength", 0) < 6,
    )
    draft = write_session(order, planner.request.library, planner.request.limits)
    why = why_for(planner, "strength", frame.phase)
    return [replace(session_of(planner, draft, day, "strength", why), start_time=None) for day in days]


def _strength_days(planner: Planner, sessions: Sequence[Session], count: int, last: int) -> list[dt.date]:
    """Hard days first, then easy days that are not before a hard day; no two days running."""
    context = planner.context
    stressed = {session.date for session in sessions if session.hard or session.role in ("long", "tune_up")}
    keys = [session for session in sessions if session.role not in ("tune_up", "race", "long")]
    hard = sorted(session.date for session in keys if session.hard)
    easy = sorted(
        session.date
        for session in sessions
        if is_run(session) and session.date not in stressed and session.date + DAY not in stressed
    )
    chosen: list[dt.date] = []
    for day in [*hard, *easy]:
        near = any(abs((day - other).days) < 2 for other in chosen)
        if len(chosen) < count and not near and context.days_to_race(day) >= last:
            chosen.append(day)
    return sorted(chosen)


def with_second_runs(
    planner: Planner, phase: Phase, kind: WeekKind, sessions: Sequence[Session]
) -> list[Session]:
    """The same minutes with the longest easy runs shared over morning and evening, for those who want it.

    Only above 80 km a week on six days or more; the second run is short and easy, and repays nothing.
    """
    context = planner.context
    metres, days = context.limits.numbers("day.two_a_day_from")
    second_min = int(context.limits.number("day.second_run"))
    load = sum(session.distance_m for session in sessions if is_training_run(session))
    used_to = min(load, context.baseline.weekly_m) > metres
    enough = used_to and len(context.running_days) >= int(days)
    if not (context.runner.two_a_day and enough and kind == "loaded" and not context.careful):
        return list(sessions)
    easy = [one for one in sessions if one.kind == "easy_run" and one.role == "easy"]
    long_enough = [one for one in easy if one.duration_s >= (2 * second_min + 5) * 60]
    chosen = sorted(long_enough, key=lambda one: (-one.duration_s, one.date))[:SECOND_RUNS]
    kept = [one for one in sessions if one not in chosen]
    for one in chosen:
        first_min = int(one.duration_s / 60) - second_min
        why = why_for(planner, "easy_run", phase)
        kept.append(
            session_of(planner, write_easy(planner, "easy_run", first_min, phase), one.date, "easy", why)
        )
        second = write_easy(planner, "easy_run", second_min, phase)
        kept.append(replace(session_of(planner, second, one.date, "easy", why), start_time=EVENING))
    return kept
