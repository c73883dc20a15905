"""Weeks that are spent away: one short session keeps some running quick, the rest is easy.

Receives: a ``Planner``, the week, its days.
Gives: the wants of such a week.
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


def spent_away(planner: Planner, board: Board) -> bool:
    """Whether all running days of a week are days away."""
    return bool(board.open_days) and all(day in planner.context.away for day in board.open_days)


def trip_wants(planner: Planner, frame: Frame, board: Board) -> list[Want]:
    """One session that needs no ground of its own, of a kind the runner knows, beside an easy run."""
    known = [kind for kind in ANYWHERE if kind in planner.count and kind in planner.request.library]
    if not known or len(board.open_days) < 2:
        return []
    kind = max(known, key=lambda kind: planner.days_since((kind,), frame.first_day) or 0)
    most_s = planner.context.limits.numbers("load.away_run")[0] * 60
    return [Want(kind, "key", why_for(planner, kind, frame.phase), reasons=(QUICK,), most_duration_s=most_s)]
