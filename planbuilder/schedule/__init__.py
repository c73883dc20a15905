"""The schedule: phases, weekly load, sessions, days.

Receives: a ``Request`` (race, runner, form, paces, demands, race plan, library, limits).
Gives: a ``Schedule``: the weeks, the notes, and whether the runner was refused.

The way through: ``block`` goes through the weeks and keeps what it knows in ``state``. ``load`` says
how much a week holds, ``wants``, ``course_work``, ``tests_of_form``, ``travel`` and ``race_week`` what,
``attempts`` goes from the fullest choice to the barest, ``drafts`` and ``orders`` write it down,
``days`` places it, ``filled``, ``easy`` and ``extras`` fill the week up, ``week`` keeps the best legal
one, ``sessions``, ``words`` and ``reasons`` tell it. Groups have ``group_night``, ``voices``,
``squad_night`` and ``groups``; what comes later has a folder, ``replan``.
"""

from __future__ import annotations

from planbuilder.schedule.block import make_schedule, rule_context
from planbuilder.schedule.group_night import Whistle, whistle_of
from planbuilder.schedule.squad_night import propose_nights
from planbuilder.schedule.tests_of_form import first_test
from planbuilder.schedule.types import Request, Schedule
from planbuilder.schedule.voices import Kin, Voice, kin_of, nights_of

__all__ = [
    "Kin",
    "Request",
    "Schedule",
    "Voice",
    "Whistle",
    "first_test",
    "kin_of",
    "make_schedule",
    "nights_of",
    "propose_nights",
    "rule_context",
    "whistle_of",
]
