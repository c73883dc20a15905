"""Days that are held back for illness or pain: those told of, and those that the accepted plan knows.

Receives: a ``Situation``.
Gives: ``Held`` days. What a person had taken out of the files is not needed any more: the plan that was
accepted stands, and its light days go on being light days rather than a load to grow from.
"""

from __future__ import annotations

from planbuilder.schedule.replan.facts import DAY, Gap, last_day_ill
from planbuilder.schedule.replan.pain import pain_bounds
from planbuilder.schedule.replan.types import Held, Situation
from planbuilder.settings.edit_models import Ill


def held_days(situation: Situation) -> tuple[Held, ...]:
    """By line the days it holds back; those of a line that is gone as the accepted plan has them."""
    free = int(situation.request.limits.number("adapt.fever_free"))
    told = [
        Held(bound.why.lines[0], bound.first, bound.last, bound.no_running)
        for bound in pain_bounds(situation)
        if bound.no_running or bound.whole_m is not None
    ]
    told += [
        Held(line.line, line.edit.first_day, last_day_ill(line.edit, situation) + free * DAY, True)
        for line in situation.edits
        if isinstance(line.edit, Ill) and line.edit.fever
    ]
    return (*told, *forgotten(situation))


def forgotten(situation: Situation) -> tuple[Held, ...]:
    """Days that the accepted plan holds back for a line that says nothing of health any more."""
    there = {line.line for line in situation.edits}
    there |= {line.line for line in situation.log if line.pain is not None}
    return tuple(one for one in situation.held if one.line not in there)


def stops_of(situation: Situation) -> list[Gap]:
    """Days without running for a sore place, and those of a line that is gone."""
    told = [
        Gap(bound.first, bound.last, "sore", bound.why.lines)
        for bound in pain_bounds(situation)
        if bound.no_running
    ]
    gone = [Gap(one.first, one.last, "", (one.line,)) for one in forgotten(situation) if one.no_running]
    return [*told, *gone]


def light_days(situation: Situation) -> tuple[Held, ...]:
    """Days with less running for a sore place."""
    return tuple(one for one in held_days(situation) if not one.no_running)
