"""What there is to say about a plan as a whole.

Receives: a ``Planner`` that has written all weeks.
Gives: notes, the most important first.
"""

from __future__ import annotations

from collections.abc import Sequence

from planbuilder.plan.types import Week
from planbuilder.rules import wishes
from planbuilder.schedule.state import Planner
from planbuilder.settings.notes import Note
from planbuilder.units import run_mark


def notes_of(planner: Planner, weeks: Sequence[Week]) -> tuple[Note, ...]:
    """Notes on exceptions that were used and on wishes that were given up."""
    context = planner.context
    found = list(planner.notes)
    found += [Note(one.rule, one.text, "exception", one.session) for one in planner.excepted]
    found += [Note(one.rule, one.text, "given_up", one.session) for one in wishes(weeks, context)]
    return tuple(found)


def race_advice(planner: Planner) -> list[Note]:
    """After planning: whether the longest run is long enough to race on."""
    context = planner.context
    if context.race.distance_m < 16_000 or not (context.allowed.run and context.allowed.block):
        return []
    longs = [session for week in planner.weeks for session in week.sessions if session.role == "long"]
    longest_m = max((session.distance_m for session in longs), default=0.0)
    longest_s = max((session.duration_s for session in longs), default=0.0)
    marathon = context.race.distance_m > 30_000
    enough = (
        longest_m >= 24_000 or longest_s >= 9000 if marathon else longest_m >= 0.7 * context.race.distance_m
    )
    if enough:
        return []
    least = run_mark(24_000 if marathon else 0.7 * context.race.distance_m)
    return [
        Note(
            "phase.runway",
            f"With safe rises the longest run reaches {run_mark(longest_m)}; {least} are the least to "
            f"race on. "
            "We advise a shorter race or a later date; if you start all the same, walk and run by turns "
            "and check "
            "the closing time of the course.",
            "refusal",
        )
    ]
