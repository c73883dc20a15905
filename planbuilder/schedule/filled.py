"""A placed week gets its easy runs, its races and its strength: whole weeks to choose from.

Receives: an ``Attempt`` with the days it may stand on.
Gives: weeks, the fullest first.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Final

from planbuilder.plan.types import Session, Week
from planbuilder.rules.checks_load import run_time_cap_s
from planbuilder.rules.context import is_run
from planbuilder.rules.phases import Frame
from planbuilder.schedule.attempts import Attempt, Written
from planbuilder.schedule.days import Board, Placement, choose_easy_days, rested
from planbuilder.schedule.easy import STRIDES_S, EasyDay, easy_days, fill
from planbuilder.schedule.extras import strength_sessions, with_second_runs
from planbuilder.schedule.group_night import until_the_end
from planbuilder.schedule.load import Target, WeekKind
from planbuilder.schedule.orders import write_easy
from planbuilder.schedule.sessions import longer_warm_up, race_session, session_of, tune_up_session, week_of
from planbuilder.schedule.state import Planner
from planbuilder.schedule.words import why_for

DAY: Final = dt.timedelta(days=1)


def filled_weeks(
    planner: Planner,
    frame: Frame,
    board: Board,
    attempt: Attempt,
    ways: Sequence[Placement],
    target: Target,
    recovery: bool,
    purpose: str,
) -> Iterator[Week]:
    """Whole weeks for an attempt, the best placement first."""
    for way in ways:
        dates = dict(zip(way.dates, attempt.written, strict=True))
        full = False
        for fewer, as_long in ((0, False), (0, True), (1, False)):
            if full and as_long:
                continue
            sessions = _sessions(planner, frame, board, dates, attempt.long, target, fewer, as_long=as_long)
            week = week_of(frame, sessions, recovery=recovery, purpose=purpose)
            full = full or week.distance_m >= max(target.least_m, 0.93 * target.volume_m)
            if full or as_long or fewer:
                yield week


def _sessions(
    planner: Planner,
    frame: Frame,
    board: Board,
    dates: Mapping[dt.date, Written],
    long: Written | None,
    target: Target,
    fewer: int,
    *,
    as_long: bool,
) -> list[Session]:
    long_on = next((date for date, one in dates.items() if one is long), None)
    sessions = races_of(planner, frame)
    for date, one in dates.items():
        role = "long" if one is long else "club" if date in board.club else one.want.role
        why = (
            one.want.why if one.draft.kind == one.want.kind else why_for(planner, one.draft.kind, frame.phase)
        )
        sessions.append(session_of(planner, one.draft, date, role, why, one.want.reasons))
    race_week = frame.last_day >= planner.context.race.date
    easy_on = _easy_dates(planner, frame, board, list(dates), long_on, target, fewer, race_week=race_week)
    if race_week and len(easy_on) <= 2:
        extra = 15 if len(easy_on) == 2 else 25
        sessions = [
            longer_warm_up(planner, one, extra) if one.kind == "race_touch" else one for one in sessions
        ]
    shake = {
        race - DAY
        for race in board.races
        if race - DAY in easy_on and (race == planner.context.race.date or _raced(planner, race))
    }
    phase = frame.phase
    covered = sum(session.distance_m for session in sessions if session.role not in ("race", "tune_up"))
    for date in shake:
        minutes = int(planner.context.limits.number("day.shakeout"))
        draft = write_easy(planner, "shakeout", minutes, phase)
        role = "club" if date in board.club else "easy"
        sessions.append(session_of(planner, draft, date, role, why_for(planner, draft.kind, phase)))
        covered += draft.distance_m
    rest = [date for date in easy_on if date not in shake]
    hard_on = [date for date, one in dates.items() if one.draft.hard]
    stretch = as_long and not (race_week and len(board.open_days) <= 3)  # few days excuse a low race week
    most = _easy_most(planner, target, long, as_long=stretch)
    stressed_before = {one.date for one in board.before if one.hard or one.role == "long"}
    spare = target.work_s - sum(one.draft.work_s for one in dates.values())
    days = easy_days(
        planner, rest, hard_on, long_on, phase=phase, club=board.club, earlier=stressed_before, most_min=most,
        strides=spare > STRIDES_S and planner.context.allowed.fast and
        planner.context.allowed.anything_above_easy, turn=frame.number,
    )  # fmt: skip
    days = until_the_end(planner, _short_day(planner, days))
    for date, draft in fill(planner, days, phase, target, covered).items():
        role = "club" if date in board.club else "easy"
        sessions.append(session_of(planner, draft, date, role, why_for(planner, draft.kind, phase)))
    sessions = with_second_runs(planner, phase, target.kind, sessions)
    return [*sessions, *strength_sessions(planner, frame, target.kind, sessions)]


def _short_day(planner: Planner, days: Sequence[EasyDay]) -> list[EasyDay]:
    """On seven running days the same weekday stays short."""
    short = int(planner.context.limits.number("day.short_day"))
    return [
        replace(day, most_min=min(day.most_min, short))
        if day.date.weekday() == planner.short_weekday
        else day
        for day in days
    ]


def _raced(planner: Planner, date: dt.date) -> bool:
    return any(plan.raced and plan.race.date == date for plan in planner.tune_ups)


def _easy_most(planner: Planner, target: Target, long: Written | None, *, as_long: bool) -> int:
    """The longest easy run besides the long one, minutes."""
    context = planner.context
    cap = min(run_time_cap_s(context), target.run_cap_m * planner.easy_s_per_km / 1000 * 0.97)
    if target.kind == "taper" and target.long_s == 0:  # race week
        cap = min(cap, context.limits.number("taper.race_week_run") * (85 if as_long else 60))
    if target.kind == "away":
        cap = min(cap, context.limits.numbers("load.away_run")[1] * 60)
    if long is not None:
        shorter = 300 if target.kind == "loaded" and not as_long else 0
        cap = min(cap, max(long.draft.duration_s - shorter, 1500))
    return int(max(cap // 300 * 5, 15))


def _easy_dates(
    planner: Planner,
    frame: Frame,
    board: Board,
    taken: Sequence[dt.date],
    long_on: dt.date | None,
    target: Target,
    fewer: int,
    *,
    race_week: bool,
) -> list[dt.date]:
    context = planner.context
    if race_week:
        return _race_week_dates(planner, frame, board, taken, fewer, target)
    open_count = len(board.open_days)
    often = target.volume_m > context.limits.number("load.seven_days_from")
    most = 7 if len(context.running_days) == 7 and often and not context.careful else 6
    if context.careful:
        most = 5
    if context.allowed.minor:
        most = min(most, int(context.limits.number("safety.minor_runs")))
    most -= sum(race in frame.days for race in board.races)
    shortest = context.limits.number("load.shortest_run") * 60
    covered_runs = len(taken)
    holds = int(target.volume_m * planner.easy_s_per_km / 1000 / (shortest * 1.15))
    count = min(open_count, most, max(holds, covered_runs + 1)) - covered_runs - fewer
    chosen = choose_easy_days(planner, board, taken, long_on, max(0, count))
    return rested(planner, frame, board, taken, chosen)


def _race_week_dates(
    planner: Planner,
    frame: Frame,
    board: Board,
    taken: Sequence[dt.date],
    fewer: int,
    target: Target,
) -> list[dt.date]:
    """Race week: the day before short, two days before off, nothing after the last touch but easy running."""
    context = planner.context
    free = [date for date in board.open_days if date not in taken]
    must = [date for date in free if date in board.club]
    usual = [
        len({session.date for session in week.sessions if is_run(session)})
        for week in planner.weeks[-6:]
        if week.phase != "taper" and not week.recovery
    ]
    count = (sorted(usual)[len(usual) // 2] if usual else len(free)) - 1 - len(taken) - fewer
    shortest_m = context.limits.number("load.shortest_run") * 60_000 / planner.easy_s_per_km
    longest_m = context.limits.number("taper.race_week_run") * 54_000 / planner.easy_s_per_km  # and recovery
    count = max(count, math.ceil(target.least_m / longest_m) - len(taken) - fewer)
    holds = int(target.most_m / shortest_m) - len(taken) * 2
    count = min(count, max(1, holds), 4 - len(taken) if context.careful else 6)
    order = {1: 0.0, 3: 1.0, 4: 2.0, 5: 3.0, 6: 4.0, 2: 5.0}
    others = sorted(
        (date for date in free if date not in must),
        key=lambda date: order.get(context.days_to_race(date), 6.0),
    )
    chosen = sorted([*must, *others[: max(0, count - len(must))]])
    return rested(planner, frame, board, taken, chosen)


def races_of(planner: Planner, frame: Frame) -> list[Session]:
    """Tune-ups of the week, and the race."""
    context = planner.context
    found: list[Session] = []
    for plan in planner.tune_ups:
        if plan.race.date in frame.days:
            found.append(tune_up_session(planner, plan, frame.phase))
    if frame.last_day >= context.race.date and context.allowed.race_distance:
        found.append(race_session(planner))
    return found


def purpose_of(planner: Planner, frame: Frame, kind: WeekKind) -> str:
    """What the week is for."""
    if frame.last_day >= planner.context.race.date:
        return "Race week: rest, a touch of race effort, race."
    if kind == "stub":
        return "A short first week: easy running only."
    if kind == "tune_up":
        names = [plan.race.name for plan in planner.tune_ups if plan.race.date in frame.days]
        return f"A lighter week around {' and '.join(names)}."
    if kind == "away":
        return "Days away: fewer runs, enough to keep the habit."
    if kind == "recovery":
        return "Recovery week: less of everything, so that the last weeks sink in."
    return {
        "base": "Base: regular easy running and the first quicker minutes.",
        "build": "Build: threshold and strength, the ground begins to look like the course.",
        "specific": "Specific: race effort on ground like the race, in its order.",
        "taper": "Taper: the load falls, the paces stay.",
        "after": "Recovery after the race.",
    }[frame.phase]
