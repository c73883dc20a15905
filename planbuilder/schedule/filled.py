"""A placed week gets its easy runs, its races and its strength: whole weeks to choose from.

Receives: an ``Attempt`` with the days it may stand on.
Gives: weeks, the fullest first.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from planbuilder.plan.types import Session, Week
from planbuilder.rules.checks_growth import midweek_cap_s
from planbuilder.rules.checks_load import run_time_cap_s
from planbuilder.rules.checks_taper import touch_most_s
from planbuilder.rules.context import is_loaded
from planbuilder.rules.phases import Frame
from planbuilder.schedule.attempts import Attempt
from planbuilder.schedule.days import Board, Placement, choose_easy_days, rested
from planbuilder.schedule.drafts import Written
from planbuilder.schedule.easy import STRIDES_S, EasyDay, easy_days, fill
from planbuilder.schedule.extras import strength_sessions, with_second_runs
from planbuilder.schedule.group_night import until_the_end
from planbuilder.schedule.load import Target, WeekKind, usual_runs
from planbuilder.schedule.orders import write_easy
from planbuilder.schedule.race_week import USUAL_MIN, race_week_dates
from planbuilder.schedule.sessions import longer_warm_up, race_session, session_of, tune_up_session, week_of
from planbuilder.schedule.state import Planner
from planbuilder.schedule.words import easy_night_why, why_as_written, why_for
from planbuilder.settings.models import WEEKDAYS

DAY: Final = dt.timedelta(days=1)
BESIDE_A_LONG_RUN: Final = (
    "loaded",
    "recovery",
    "easy_week",
    "away",
    "taper",
)  # other runs are held well below it
FULL: Final = 0.93  # of its aim: a week is full enough
SPARE_M: Final = 300.0  # above the least, for round minutes
LONGER_MIN: Final = 15  # more easy running before a key session
LONGEST_KEY_MIN: Final = 85
ROUND_MIN: Final = 4  # more, so that easy running of a round length is no shorter than was asked for
SHORT_KEY: Final = 0.6  # of a usual run


@dataclass(frozen=True, slots=True)
class Room:
    """What the runs of a week may grow to."""

    most_min: int  # the longest easy run besides the long one
    warm_ups: bool = False  # key sessions begin with more easy running
    even: bool = False  # easy runs of the same length, where they are longer than they should be
    fewer: int = 0  # so many easy runs fewer
    run_on: bool = False  # easy running goes on after the group is done


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

        def week(aim: Target, room: Room, dates: Mapping[dt.date, Written] = dates) -> Week:
            sessions = _sessions(planner, frame, board, dates, attempt.long, aim, room)
            return week_of(frame, sessions, recovery=recovery, purpose=purpose)

        yield _full_week(planner, attempt.long, target, week)
        yield week(target, Room(_easy_most(planner, target, attempt.long), fewer=1))


def _full_week(
    planner: Planner,
    long: Written | None,
    target: Target,
    write: Callable[[Target, Room], Week],
) -> Week:
    """The week as full as it should be: longer warm-ups come before longer easy runs."""
    room = Room(_easy_most(planner, target, long))
    week = write(target, room)
    if week.distance_m >= max(target.least_m, FULL * target.volume_m):
        return week
    enough_m = target.least_m if long is None else _enough_m(planner, target, long)
    if long is not None and target.kind in BESIDE_A_LONG_RUN:
        room = replace(room, warm_ups=True)
        week = write(target, room)
        if week.distance_m >= enough_m:
            return week
        target = replace(target, volume_m=min(target.volume_m, enough_m + SPARE_M))
        easy = sum(one.role == "easy" for one in week.sessions)
        missing_min = (target.volume_m - week.distance_m) * planner.easy_s_per_km / 60_000 / max(easy, 1)
        room = replace(room, most_min=room.most_min + math.ceil(missing_min / 5) * 5, even=True)
        week = write(target, room)
        if week.distance_m >= enough_m:
            return week
    room = replace(room, most_min=_easy_most(planner, target, long, as_long=True))
    week = write(target, room)
    if target.kind == "taper" and week.distance_m < target.least_m:
        return write(target, replace(room, warm_ups=True))
    if target.kind == "loaded" and long is not None and week.distance_m < enough_m:
        return write(target, replace(room, run_on=True))
    return week


def _enough_m(planner: Planner, target: Target, long: Written) -> float:
    """The least metres for which no easy run beside a long one has to grow.

    The week rather stays below its aim; but a loaded week does not fall below what a first week may hold, nor
    so far that the long run has too large a share of it.
    """
    if target.kind != "loaded" or long.draft.kind == "race_simulation":  # a rehearsal may lighten its week
        return target.least_m
    limits = planner.context.limits
    low = limits.numbers("load.first_week")[0] * planner.context.baseline.weekly_m
    by_long = long.draft.distance_m / limits.number("load.long_share") * 1.005
    return max(target.least_m, min(max(low, by_long), target.volume_m))


def _sessions(
    planner: Planner,
    frame: Frame,
    board: Board,
    dates: Mapping[dt.date, Written],
    long: Written | None,
    target: Target,
    room: Room,
) -> list[Session]:
    long_on = next((date for date, one in dates.items() if one is long), None)
    sessions = races_of(planner, frame)
    for date, one in dates.items():
        role = "long" if one is long else "club" if date in board.club else one.want.role
        why = (
            one.want.why if one.draft.kind == one.want.kind else why_for(planner, one.draft.kind, frame.phase)
        )
        why = why_as_written(why, one.draft)
        session = session_of(planner, one.draft, date, role, why, one.want.reasons)
        if role in ("key", "club") and (
            target.kind == "loaded" or (room.warm_ups and target.kind == "taper")
        ):
            longest = _touch_most(planner, frame) if session.kind == "race_touch" else LONGEST_KEY_MIN
            session = _with_easy_ends(planner, session, target, longest, warm_up=room.warm_ups)
        sessions.append(session)
    race_week = planner.context.race_week(frame)
    easy_on = _easy_dates(
        planner, frame, board, list(dates), long_on, target, room.fewer, race_week=race_week
    )
    if race_week and len(easy_on) <= 2:
        extra = _before_the_touch(planner, target, sessions, len(easy_on))
        sessions = [
            longer_warm_up(
                planner, one, extra, most_min=_touch_most(planner, frame), after=one.role == "club"
            )
            if one.kind == "race_touch"
            else one
            for one in sessions
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
    stressed_before = {one.date for one in board.before if one.hard or one.role == "long"}
    spare = target.work_s - sum(one.draft.work_s for one in dates.values())
    days = easy_days(
        planner, rest, hard_on, long_on, phase=phase, club=board.club, earlier=stressed_before,
        most_min=room.most_min,
        strides=spare > STRIDES_S and planner.context.allowed.fast and
        planner.context.allowed.anything_above_easy, turn=frame.number,
    )  # fmt: skip
    if room.even:
        days = [replace(day, weight=1.0) for day in days]
    days = _short_day(planner, days) if room.run_on else until_the_end(planner, _short_day(planner, days))
    for date, draft in fill(planner, days, phase, target, covered).items():
        role = "club" if date in board.club else "easy"
        sessions.append(session_of(planner, draft, date, role, why_for(planner, draft.kind, phase)))
    sessions = _easy_nights(planner, frame, target, board, sessions)
    sessions = with_second_runs(planner, phase, target.kind, sessions)
    return [*sessions, *strength_sessions(planner, frame, target.kind, sessions)]


def _easy_nights(
    planner: Planner, frame: Frame, target: Target, board: Board, sessions: Sequence[Session]
) -> list[Session]:
    """The same sessions; whoever runs easily with the group reads why in this week."""
    hard = [one.date for one in (*board.before, *sessions) if one.hard or one.role in ("race", "tune_up")]
    return [
        replace(one, why=easy_night_why(planner, frame.phase, target.kind, near_hard=_within(one.date, hard)))
        if one.kind == "group_easy"
        else one
        for one in sessions
    ]


def _within(date: dt.date, others: Sequence[dt.date]) -> bool:
    return any(abs((date - other).days) <= 2 for other in others)


def _touch_most(planner: Planner, frame: Frame) -> int:
    """How long the last touch may become, minutes."""
    weeks = [*planner.weeks, week_of(frame, (), recovery=False, purpose="")]
    return int(touch_most_s(weeks, len(planner.weeks), planner.context) // 60)


def _with_easy_ends(
    planner: Planner, session: Session, target: Target, longest_min: int, *, warm_up: bool
) -> Session:
    """A key session not much shorter than a usual run; with a longer warm-up where the days are few.

    On a club night, which begins and is coached together, what is added comes after it.
    """
    club = session.role == "club"
    day = WEEKDAYS[session.date.weekday()]
    day_min = planner.request.runner.minutes.get(day, LONGEST_KEY_MIN)
    usual_min = target.volume_m * planner.easy_s_per_km / 60_000 / usual_runs(planner.context)
    missing_min = math.ceil((SHORT_KEY * usual_min - session.duration_s / 60) / 5) * 5
    more_min = max(LONGER_MIN if warm_up and not club else 0, min(missing_min, LONGER_MIN))
    if more_min <= 0 or session.date in planner.request.nights:
        return session
    most_min = min(longest_min, day_min)
    return longer_warm_up(planner, session, more_min + ROUND_MIN, most_min=most_min, after=club)


def _before_the_touch(planner: Planner, target: Target, sessions: Sequence[Session], easy_runs: int) -> int:
    """Minutes of easy running more before the touch where few other runs stand, if they are missing."""
    limits, minute_m = planner.context.limits, 60_000 / planner.easy_s_per_km
    shortest, shakeout = limits.number("load.shortest_run"), limits.number("day.shakeout")
    ran_m = sum(session.distance_m for session in sessions if session.role != "race")
    room_min = (target.most_m - ran_m) / minute_m - easy_runs * shortest
    others_min = shakeout + (easy_runs - 1) * USUAL_MIN if easy_runs else 0.0
    missing_min = math.ceil(((target.volume_m - ran_m) / minute_m - others_min) / 5) * 5
    return max(0, min(15 if easy_runs == 2 else 25, int(room_min), missing_min))


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


def _easy_most(planner: Planner, target: Target, long: Written | None, *, as_long: bool = False) -> int:
    """The longest easy run besides the long one, minutes."""
    context = planner.context
    cap = min(run_time_cap_s(context), target.run_cap_m * planner.easy_s_per_km / 1000 * 0.97)
    if target.kind == "taper" and target.long_s == 0:  # the last days, each of which has its own cap
        cap = min(cap, float(context.by_distance("taper.long_week_before")) * (70 if as_long else 60))
    if target.kind == "tune_up":  # the race stands for the long run
        usual_s = target.long_s / context.limits.number("load.recovery_long")
        cap = min(cap, midweek_cap_s(usual_s, context), _usual_easy_s(planner))
    if target.kind in ("recovery", "easy_week"):  # one run alone never passes what the week may hold
        cap = min(cap, target.most_m * planner.easy_s_per_km / 1000)
    if target.away:
        cap = min(cap, context.limits.numbers("load.away_run")[1] * 60)
    if long is not None:
        if target.kind in BESIDE_A_LONG_RUN and not as_long:
            rehearsal = long.draft.kind == "race_simulation"  # shorter than the long run it stands for
            longest_s = max(long.draft.duration_s, target.long_s if rehearsal else 0.0)
            cap = min(cap, midweek_cap_s(longest_s, context))
        cap = min(cap, max(long.draft.duration_s, 1500))
    return int(max(cap // 300 * 5, 15))


def _usual_easy_s(planner: Planner) -> float:
    """The longest easy run of the last loaded week, seconds; no end where there was none."""
    last = next((week for week in planner.weeks[::-1] if is_loaded(week, planner.context)), None)
    easy = [] if last is None else [one for one in last.sessions if one.role in ("easy", "club")]
    return max((one.duration_s for one in easy if not one.hard), default=math.inf)


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
        return race_week_dates(planner, frame, board, taken, fewer, target)
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


def races_of(planner: Planner, frame: Frame) -> list[Session]:
    """Tune-ups of the week, and the race."""
    context = planner.context
    found: list[Session] = []
    for plan in planner.tune_ups:
        if plan.race.date in frame.days:
            found.append(tune_up_session(planner, plan, frame.phase))
    if context.race_week(frame):
        found.append(race_session(planner))
    return found


def purpose_of(planner: Planner, frame: Frame, kind: WeekKind) -> str:
    """What the week is for."""
    if planner.context.race_week(frame):
        return "Race week: rest, a touch of race effort, race."
    if kind == "stub":
        return "A short first week: easy running only."
    if kind == "tune_up":
        names = [plan.race.name for plan in planner.tune_ups if plan.race.date in frame.days]
        return f"A lighter week around {' and '.join(names)}."
    if kind == "away":
        return "Days away: fewer runs, enough to keep the habit."
    if kind == "easy_week":
        return "A full easy week near the middle of a long block: easy running only, and less of it."
    if kind == "recovery":
        return "Recovery week: less of everything, so that the last weeks sink in."
    if not planner.context.allowed.anything_above_easy and frame.phase != "taper":
        return "Easy running only: the habit and the endurance stay while nothing hard is planned."
    if frame.phase == "build" and not planner.context.races:
        return "Build: threshold and quick repeats by turns, and no race to rest for."
    return {
        "base": "Base: regular easy running and the first quicker minutes.",
        "build": "Build: threshold and strength, the ground begins to look like the course.",
        "specific": "Specific: race effort on ground like the race, in its order.",
        "taper": "Taper: the load falls, the paces stay.",
        "after": "Recovery after the race.",
    }[frame.phase]
