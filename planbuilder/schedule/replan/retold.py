"""The reasons of sessions told of the plan as it stands, not of the one it was changed from.

Receives: a ``Situation``.
Gives: the accepted weeks, the same in every date and size, with reasons that count in the weeks as they are.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

from planbuilder.plan.types import Reason, Session, Week
from planbuilder.rules.context import is_race
from planbuilder.schedule.reasons import OF_THE_WEEK, as_it_stands
from planbuilder.schedule.replan.answer import planner_of
from planbuilder.schedule.replan.facts import Facts
from planbuilder.schedule.replan.rules import NIGHT_WHY, RULE_WHY
from planbuilder.schedule.replan.types import Situation


def retold(situation: Situation) -> tuple[Week, ...]:
    """The accepted weeks; those ahead that hold something else than was laid out give their reasons anew."""
    planner = planner_of(situation.request, situation.accepted)
    lived = Facts(situation, situation.accepted).as_run(situation.accepted)
    before = {week.first_day: week for week in situation.original}
    found = []
    for index, week in enumerate(situation.accepted):
        was = before.get(week.first_day)
        past = week.last_day < situation.today or week.phase == "after"
        if past or was is None or _what_stands(was) == _what_stands(week):
            found.append(week)
            continue
        weeks = [*lived[:index], replace(lived[index], distance_m=week.distance_m, purpose=week.purpose)]
        sessions = []
        for session in week.sessions:
            if not is_race(session) and session.date >= situation.today:
                now = tuple(as_it_stands(planner, weeks, session, was.distance_m))
                why = _in_phase(session.why, was.phase, week.phase)
                session = replace(session, why=why, reasons=_in_place_of_old(session, now))
            sessions.append(session)
        found.append(replace(week, sessions=tuple(sessions)))
    return tuple(found)


def _what_stands(week: Week) -> tuple[str, list[tuple[str, dt.date, str, float, bool]]]:
    runs = sorted((one.id, one.date, one.kind, one.distance_m, one.cancelled) for one in week.sessions)
    return week.phase, runs


def _in_phase(why: str, was: str, now: str) -> str:
    """What a session is for, under the phase that its week has now."""
    begins = f"{was.capitalize()} phase:"
    return why.replace(begins, f"{now.capitalize()} phase:", 1) if why.startswith(begins) else why


def _in_place_of_old(session: Session, now: tuple[Reason, ...]) -> tuple[Reason, ...]:
    """The reasons of a session with those of the week it was laid out in taken out, and these put in."""
    kept = [one for one in session.reasons if not _of_the_old_week(one)]
    at = next((at for at, one in enumerate(kept) if one.kind == "would change"), len(kept))
    return (*kept[:at], *now, *kept[at:])


def _of_the_old_week(reason: Reason) -> bool:
    """Whether a reason counts in a week as it was laid out; what re-planning said itself stays."""
    if reason.kind == "rule" and reason.text.startswith((RULE_WHY, NIGHT_WHY)):
        return False
    return (reason.kind, reason.rule) in OF_THE_WEEK
