"""Wishes that keep a block lively: no long run copied over and over, quick legs and races only when fresh.

Receives: all weeks of a block and a ``RuleContext``.
Gives: what was given up.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from typing import Final

from planbuilder.plan.types import Session, Week
from planbuilder.rules.context import Breach, RuleContext, is_loaded, main_work_s
from planbuilder.rules.doses import worth_warming_up
from planbuilder.rules.orders import MainSet
from planbuilder.rules.registry import wish
from planbuilder.units import count_of, say_date, say_minutes

QUICK_SETS: Final = ("intervals", "short_hill_reps", "long_hill_reps", "hill_circuit", "fartlek")
QUICK_LEGS: Final = ("strides", "hill_sprints")


@wish("wish.long_variety", "load.long_alike", "load.long_step_back")
def long_variety(weeks: Sequence[Week], context: RuleContext) -> Iterator[Breach]:
    """No three long runs in a row are copies of one another: the next one is shorter, or holds something."""
    most, least_min = context.limits.numbers("load.long_alike")
    alike: list[Session] = []
    for week in weeks:
        long = next((one for one in week.sessions if one.role == "long"), None)
        if long is None or not is_loaded(week, context) or long.duration_s < least_min * 60:
            alike = []
            continue
        same = bool(alike) and (alike[-1].kind, alike[-1].duration_s) == (long.kind, long.duration_s)
        alike = [*alike, long] if same and long.kind in ("long_run", "rolling_long_run") else [long]
        if len(alike) > most:
            yield Breach(
                "wish.long_variety",
                long.id,
                long.date,
                f"{count_of(len(alike), 'long run')} in a row last {say_minutes(long.duration_s)}, up to "
                f"{say_date(long.date)}; {most:.0f} at most were wished for.",
            )
            return


@wish("wish.fresh_strides", "day.fresh_strides")
def fresh_strides(weeks: Sequence[Week], context: RuleContext) -> Iterator[Breach]:
    """Strides and short hill sprints do not stand on the day after the long run or a race."""
    least = int(context.limits.number("day.fresh_strides"))
    tired: dt.date | None = None
    for session in (one for week in weeks for one in week.sessions):
        if session.kind in QUICK_LEGS and tired is not None and (session.date - tired).days < least:
            after = count_of((session.date - tired).days, "day")
            yield Breach(
                "wish.fresh_strides",
                session.id,
                session.date,
                f"{session.title} on {say_date(session.date)}: {after} after the long run or a race; "
                f"{least} were wished for.",
            )
            return
        if session.role in ("long", "tune_up", "race"):
            tired = session.date


@wish("wish.fresh_for_tune_ups", "day.before_tune_up_work")
def fresh_for_tune_ups(weeks: Sequence[Week], context: RuleContext) -> Iterator[Breach]:
    """A hard session of one's own in the week of a race that is raced is short: 15 min of work at most."""
    most = context.limits.number("day.before_tune_up_work")
    for week in weeks:
        race = next((one for one in week.sessions if one.role == "tune_up" and one.hard), None)
        before = [one for one in week.sessions if race is not None and one.hard and one.date < race.date]
        for session in (one for one in before if one.role == "key"):
            main_s = main_work_s(session)
            if main_s > most * 60 + 1:
                yield Breach(
                    "wish.fresh_for_tune_ups",
                    session.id,
                    session.date,
                    f"{session.title} on {say_date(session.date)} holds {say_minutes(main_s)} of work in the "
                    f"week of a race; {most:.0f} min at most were wished for.",
                )
                return


@wish("wish.worth_warming_up", "session.worth_warming_up")
def worth_the_warm_up(weeks: Sequence[Week], context: RuleContext) -> Iterator[Breach]:
    """Quick sets, but for the club's, are worth their warm-up: 3 repeats and 3 minutes, or 8 minutes."""
    least = context.limits.numbers("session.worth_warming_up")
    for week in weeks:
        for session in week.sessions:
            if session.kind not in QUICK_SETS or session.role == "club":
                continue
            sets = [
                MainSet(step.repeat, step.duration_s)
                for step in session.steps
                if step.kind == "work" and step.duration_s is not None
            ]
            if not sets or any(worth_warming_up(main, least) for main in sets):
                continue
            largest = max(sets, key=lambda main: main.total_s)
            yield Breach(
                "wish.worth_warming_up",
                session.id,
                session.date,
                f"{session.title} on {say_date(session.date)} hold {largest.repeats} × "
                f"{say_minutes(largest.seconds)}; {least[0]:.0f} repeats and {least[1]:.0f} min, or "
                f"{least[2]:.0f} min, were wished for.",
            )
            return
