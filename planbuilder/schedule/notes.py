"""What there is to say about a plan as a whole.

Receives: a ``Planner`` that has written all weeks.
Gives: notes, the most important first.
"""

from __future__ import annotations

from collections.abc import Sequence

from planbuilder.plan.types import Week
from planbuilder.rules import exceptions, wishes
from planbuilder.schedule.state import Planner
from planbuilder.settings.notes import Note


def notes_of(planner: Planner, weeks: Sequence[Week]) -> tuple[Note, ...]:
    """Notes on exceptions that were used and on wishes that were given up."""
    context = planner.context
    found = list(planner.notes)
    found += [Note(one.rule, one.text, "exception", one.session) for one in exceptions(weeks, context)]
    found += [Note(one.rule, one.text, "given_up", one.session) for one in wishes(weeks, context)]
    return tuple(found)
