"""Re-planning: the days ahead answer what happened, the past stays.

Receives: a ``Situation`` (``types``): the accepted plan, the log, the edits, today.
Gives: a ``Replan``: the weeks, every change with its reason, what could not be mended.

The way through: ``answer`` lays out ``nights`` that the coach typed since, gathers ``facts`` (what was run,
what was missed), turns them and the ``pain`` reports into ``bounds``, has ``apply`` and ``cuts`` hold the
sessions to them (``write`` rewrites one), lets ``phases`` drop back, ``edits`` win and ``rules`` keep the
limits. ``draft`` is the plan meanwhile, ``identity`` keeps each session's name, ``held`` the days that a
forgotten line held back; ``notes``, ``offers``, ``swaps`` and ``done`` tell it.
"""

from __future__ import annotations

from planbuilder.schedule.replan.answer import describe, edit_only, replan
from planbuilder.schedule.replan.nights import with_laid
from planbuilder.schedule.replan.types import (
    Bound,
    Change,
    Done,
    EditLine,
    Held,
    NightTold,
    Replan,
    Situation,
    Went,
    Why,
)

__all__ = [
    "Bound",
    "Change",
    "Done",
    "EditLine",
    "Held",
    "NightTold",
    "Replan",
    "Situation",
    "Went",
    "Why",
    "describe",
    "edit_only",
    "replan",
    "with_laid",
]
