"""The schedule: phases, weekly load, sessions, days.

Receives: a ``Request`` (race, runner, form, paces, demands, race plan, library, limits).
Gives: a ``Schedule``: the weeks, the notes, and whether the runner was refused.
"""

from __future__ import annotations

from planbuilder.schedule.block import make_schedule, rule_context
from planbuilder.schedule.group_night import Whistle, whistle_of
from planbuilder.schedule.squad_night import Kin, Voice, kin_of, nights_of, propose_nights
from planbuilder.schedule.types import Request, Schedule

__all__ = [
    "Kin",
    "Request",
    "Schedule",
    "Voice",
    "Whistle",
    "kin_of",
    "make_schedule",
    "nights_of",
    "propose_nights",
    "rule_context",
    "whistle_of",
]
