"""What a runner has lived through by now: the weeks as they were run, and a long break that the race feels.

Receives: a ``Situation``.
Gives: the weeks to judge the race by, and the last break of two weeks or more that no result has followed.
"""

from __future__ import annotations

from planbuilder.plan.types import Week
from planbuilder.schedule.replan.bounds import LONG, gap_class
from planbuilder.schedule.replan.facts import Facts, Gap
from planbuilder.schedule.replan.held import stops_of
from planbuilder.schedule.replan.types import Situation
from planbuilder.settings.edit_models import NewResult


def weeks_as_lived(situation: Situation) -> tuple[Week, ...]:
    """The accepted weeks with what was run in place of what was planned, and what is still to come."""
    return Facts(situation, situation.accepted).as_run(situation.accepted)


def long_break(situation: Situation) -> Gap | None:
    """The last break of two weeks or more before the race; None once a result since then says more."""
    facts = Facts(situation, situation.accepted)
    race = situation.request.race.date
    found = [
        gap
        for gap in facts.gaps(stops_of(situation))
        if gap_class(gap.days, situation) >= LONG and gap.first <= situation.today and gap.last < race
    ]
    if not found or _result_since(found[-1], situation, facts):
        return None
    return found[-1]


def _result_since(gap: Gap, situation: Situation, facts: Facts) -> bool:
    """Whether a race or a test with a time was run after a break."""
    told = any(isinstance(line.edit, NewResult) and gap.last < line.edit.date for line in situation.edits)
    tests = [one for one in facts.runs if one.role in ("test", "tune_up") and one.date > gap.last]
    lines = [done for one in tests if (done := facts.done(one)) is not None]
    return told or any(line.went == "done" and line.duration_s is not None for line in lines)
