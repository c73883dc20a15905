"""The schedule: phases, weekly load, sessions, days.

Receives: a ``Request`` (race, runner, form, paces, demands, race plan, library, limits).
Gives: a ``Schedule``: the weeks, the notes, and whether the runner was refused.
"""

from __future__ import annotations

from planbuilder.schedule.block import make_schedule, rule_context
from planbuilder.schedule.types import Request, Schedule

__all__ = ["Request", "Schedule", "make_schedule", "rule_context"]
