"""Weeks without running: other exercise on the runner's days, or nothing at all.

Receives: a ``Planner`` whose runner may not run for now.
Gives: the weeks.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from planbuilder.plan.types import Session, Week
from planbuilder.rules.write_session import write_session
from planbuilder.schedule.load import LIGHT, WeekKind
from planbuilder.schedule.orders import base_order
from planbuilder.schedule.sessions import session_of, week_of
from planbuilder.schedule.state import Planner
from planbuilder.schedule.words import why_for
from planbuilder.settings.models import WEEKDAYS


def resting_weeks(planner: Planner, kinds: Sequence[WeekKind]) -> list[Week]:
    """The same weeks and phases, with cross-training where running would stand."""
    return [
        week_of(
            frame,
            _sessions(planner, number),
            recovery=kinds[number] in LIGHT,
            purpose="No running for now.",
        )
        for number, frame in enumerate(planner.context.frames)
    ]


def _sessions(planner: Planner, number: int) -> list[Session]:
    context = planner.context
    frame = context.frames[number]
    order = replace(base_order(planner, frame.phase), kind="cross_training", duration_s=1800.0)
    draft = write_session(order, planner.request.library, planner.request.limits)
    why = why_for(planner, "cross_training", frame.phase)
    days = [
        day
        for day in frame.days
        if WEEKDAYS[day.weekday()] in context.running_days
        and day < context.race.date
        and day not in context.away
    ]
    return [session_of(planner, draft, day, "cross", why) for day in days[:4]]
