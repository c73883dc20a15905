"""Weeks that are spent away: one short session keeps some running quick, the rest is easy.

Receives: a ``Planner``, the week, its days.
Gives: the wants of such a week, a longer run among them.
"""

from __future__ import annotations

from typing import Final

from planbuilder.plan.types import Reason
from planbuilder.rules.phases import Frame
from planbuilder.schedule.days import Board
from planbuilder.schedule.state import Planner
from planbuilder.schedule.types import Want
from planbuilder.schedule.words import why_for

ANYWHERE: Final = ("fartlek", "threshold_run", "threshold_repeats")  # no ground to look for
QUICK: Final = Reason(
    "rule",
    "Spiering et al. 2021: endurance was held for weeks on two sessions a week, or on a third to two thirds "
    "of the running, where what was quick stayed quick.",
    "load.away_run",
)
LONGER: Final = Reason(
    "rule",
    "With enough runs while away one of them is longer, so that long runs at home go on from there.",
    "load.away_long",
)


def spent_away(planner: Planner, board: Board) -> bool:
    """Whether all running days of a week are days away."""
    return bool(board.open_days) and all(day in planner.context.away for day in board.open_days)


def long_while_away(planner: Planner, frame: Frame, board: Board) -> Want | None:
    """One of the runs of a week away is longer where there are days for it beside two short ones."""
    if len(board.open_days) < planner.context.limits.numbers("load.away_long")[0]:
        return None
    return Want("long_run", "long", why_for(planner, "long_run", frame.phase), reasons=(LONGER,))


def trip_wants(planner: Planner, frame: Frame, board: Board) -> list[Want]:
    """One session that needs no ground of its own, of a kind the runner knows, beside an easy run."""
    known = [kind for kind in ANYWHERE if kind in planner.count and kind in planner.request.library]
    if not known or len(board.open_days) < 2:
        return []
    kind = max(known, key=lambda kind: planner.days_since((kind,), frame.first_day) or 0)
    most_s = planner.context.limits.numbers("load.away_run")[0] * 60
    return [Want(kind, "key", why_for(planner, kind, frame.phase), reasons=(QUICK,), most_duration_s=most_s)]
