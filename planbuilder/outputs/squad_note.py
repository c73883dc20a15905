"""What two club nights a week take from a squad: said once, with the number of runners and what mends it.

Receives: a finished plan; then what was kept of all of them.
Gives: what a runner's plan lacks because of the nights; one note for the coach.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from types import MappingProxyType
from typing import Final

from planbuilder.plan.types import Plan

_CLIMB_WISHES: Final = ("wish.climb_sessions", "wish.course_sessions")
_RACE_EFFORT: Final = ("goal_repeats", "long_run_goal_effort", "race_simulation")
_WORDS: Final = {"climbs": "the climbs", "race effort": "the repeats at race effort"}
_LINES: Final = {"climbs": "hills 5 x 3 min, jog down", "race effort": "race effort 4 x 6 min, 2 min jog"}
_BEFORE_RACE: Final = (28, 48)  # days: a night of the specific phase as an example


def kept_from(plan: Plan) -> tuple[str, ...]:
    """What two nights a week keep a runner from: "climbs", "race effort"; nothing where a day is left for it.

    Only whoever works at all, comes twice a week, and has next to no key session of their own is kept from
    anything by the nights.
    """
    weeks = [week for week in plan.weeks if week.phase in ("build", "specific") and not week.recovery]
    sessions = [session for week in weeks for session in week.sessions if not session.cancelled]
    nights = Counter(session.date.weekday() for session in sessions if session.role == "club")
    own = sum(session.role in ("key", "test") for session in sessions)
    if plan.runner.refused or not any(session.hard for session in sessions):
        return ()
    if sum(number >= len(weeks) / 2 for number in nights.values()) < 2 or own > len(weeks) / 4:
        return ()
    given_up = {note.rule for note in plan.notes if note.kind == "given_up"}
    specific = [one.kind for week in weeks if week.phase == "specific" for one in week.sessions]
    found = ["climbs"] if given_up.intersection(_CLIMB_WISHES) else []
    if specific and not set(specific).intersection(_RACE_EFFORT):
        found.append("race effort")
    return tuple(found)


def squad_note(
    lacking: Iterable[tuple[tuple[str, ...], Sequence[dt.date]]],
    runners: int,
    race_day: dt.date,
    typed: Mapping[dt.date, str] = MappingProxyType({}),
) -> str:
    """One note for the coach; nothing where no runner is kept from anything.

    lacking: of each runner what ``kept_from`` found and the dates of their club nights; runners: how many
    the squad has; typed: the lines that stand for nights, which are the last to be an example.
    """
    found = [(missing, dates) for missing, dates in lacking if missing]
    if not found:
        return ""
    count = len(found)
    things = [thing for thing in _WORDS if any(thing in missing for missing, _ in found)]
    near, far = _BEFORE_RACE
    dates = (date for _, dates in found for date in dates if typed.get(date) not in _LINES.values())
    comes = Counter(date for date in dates if near <= (race_day - date).days <= far)
    evening = min(comes, key=lambda date: (date in typed, -comes[date], date), default=None)
    lines = " or ".join(
        f'"{evening}" = "{_LINES[thing]}"' if evening else f'"{_LINES[thing]}"' for thing in things
    )
    who = f"{count} of {runners} runners come" if count > 1 else f"1 of {runners} runners comes"
    things_said = " and ".join(_WORDS[thing] for thing in things)
    return (
        f"{who} to two club nights a week, and no day is left for {things_said} that the course asks for. "
        "Give that to everybody on a club night every second week: "
        f"type {lines} in the club's file. "
        "Or let a runner keep one of the nights free (club_nights of the runner)."
    )
