"""Wishes: met where the limits allow, else given up, each with one note that holds both numbers.

Receives: all weeks of a block and a ``RuleContext``.
Gives: what was given up.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Final

from planbuilder.plan.types import Session, Week
from planbuilder.plan.walk import timeline
from planbuilder.rules.checks_sessions import exposures
from planbuilder.rules.checks_taper import touch_days
from planbuilder.rules.context import Breach, RuleContext, is_loaded, is_training_run
from planbuilder.rules.registry import wish
from planbuilder.settings.models import WEEKDAYS
from planbuilder.units import count_of, run_mark, say_date, say_grade, say_minutes, say_weekday

FLAT_RHYTHM: Final = (
    *("threshold_run", "threshold_repeats", "goal_repeats", "intervals", "race_touch", "test"),
    *("progression_run", "long_run_goal_effort", "race_simulation"),
)
LATE_KINDS: Final = ("hill_finish_long_run", "race_simulation")
DESCENT_DEMANDS: Final = ("downhill_start", "long_descent", "net_downhill", "downhill_race")


def _sessions(weeks: Sequence[Week]) -> Iterator[Session]:
    for week in weeks:
        yield from week.sessions


def _can_train(context: RuleContext) -> bool:
    return context.allowed.anything_above_easy


def _can_climb(context: RuleContext) -> bool:
    runner = context.runner
    return context.allowed.uphill and (runner.hills or bool(runner.treadmill) or bool(runner.substitutes))


@wish("wish.long_run_day")
def long_run_day(weeks: Sequence[Week], context: RuleContext) -> Iterator[Breach]:
    """The long run stands on the day the runner chose, nine weeks in ten."""
    longs = [session for session in _sessions(weeks) if session.role == "long"]
    kept = sum(WEEKDAYS[session.date.weekday()] == context.runner.long_run_day for session in longs)
    if longs and kept < 0.9 * len(longs):
        moved = next(one for one in longs if WEEKDAYS[one.date.weekday()] != context.runner.long_run_day)
        yield Breach(
            "wish.long_run_day",
            moved.id,
            moved.date,
            f"{kept} of {len(longs)} long runs stand on {context.runner.long_run_day.capitalize()}; 9 in 10 "
            f"were wished for. The first one moved is on {say_weekday(moved.date)}, so that hard days stay "
            "apart.",
        )


@wish("wish.phase_lengths", "phase.short_races", "phase.half_marathon", "phase.marathon")
def phase_lengths(weeks: Sequence[Week], context: RuleContext) -> Iterator[Breach]:
    """The phases have the lengths of the table, a week more or less."""
    for phase, wanted in zip(("base", "build", "specific", "taper"), context.phase_weeks, strict=True):
        found = sum(week.phase == phase and week.first_day.weekday() == 0 for week in weeks)
        if abs(found - wanted) > 1:
            yield Breach(
                "wish.phase_lengths",
                None,
                None,
                f"The {phase} phase has {found} weeks; {wanted} were wished for.",
            )


@wish("wish.taper_length", "taper.days", "taper.long_week_before")
def taper_length(weeks: Sequence[Week], context: RuleContext) -> Iterator[Breach]:
    """The taper lasts 7 to 10 days for 5 and 10 km, 10 to 14 for the half, 14 to 21 for the marathon."""
    low, high = (int(days) for days in context.by_distance("taper.days"))
    begin = _taper_begins(weeks, context, low, high)
    if begin is None or len(weeks) < 6:
        return
    days = context.days_to_race(begin) + 1
    if not low <= days <= high:
        yield Breach(
            "wish.taper_length",
            None,
            begin,
            f"With the race on a {say_weekday(context.race.date)} the taper begins on {say_date(begin)} and "
            f"lasts {count_of(days, 'day')}; {low} to {high} were wished for.",
        )


def _taper_begins(weeks: Sequence[Week], context: RuleContext, low: int, high: int) -> dt.date | None:
    """The first day of the taper: it need not be a Monday.

    Where whole weeks are too short, the days before them count as far back as ``low`` asks, while nothing
    on them is hard and no long run is of full length. Where they are too long, it begins with their first
    run.
    """
    begin = next((week.first_day for week in weeks if week.phase == "taper"), None)
    if begin is None:
        return None
    runs = [session for session in _sessions(weeks) if is_training_run(session)]
    longest_s = max((one.duration_s for one in runs if one.role == "long"), default=0.0)
    most_s = max(float(context.by_distance("taper.long_week_before")) * 60, 0.75 * longest_s)
    while context.days_to_race(begin) + 1 < low:
        day = begin - dt.timedelta(days=1)
        full = [one for one in runs if one.kind != "race_touch" and (one.hard or one.duration_s > most_s)]
        if any(one.date == day for one in full):
            break
        begin = day
    if context.days_to_race(begin) + 1 > high:
        return min((one.date for one in runs if one.date >= begin), default=begin)
    return begin


@wish("wish.race_touch", "taper.touch_days", "taper.last_hard")
def race_touch(weeks: Sequence[Week], context: RuleContext) -> Iterator[Breach]:
    """A short touch of race effort stands 3 to 5 days before the race, where there is a day for it."""
    first, last = (int(days) for days in context.limits.numbers("taper.touch_days"))
    days = touch_days(context)
    near_tune_up = any(0 <= context.days_to_race(race.date) <= 10 for race in context.tune_ups)
    if not days or near_tune_up or not _can_train(context):
        return
    sharp = [one.date for one in _sessions(weeks) if one.kind in FLAT_RHYTHM and one.date < context.race.date]
    if not any(context.days_to_race(date) <= max(last, context.days_to_race(days[0])) for date in sharp):
        found = (
            f"{count_of(context.days_to_race(sharp[-1]), 'day')} before the race"
            if sharp
            else "0 times in the plan"
        )
        yield Breach(
            "wish.race_touch",
            None,
            days[0],
            f"The last session at race effort or threshold stands {found}; {first} to {last} days before "
            "were wished for.",
        )


@wish("wish.longest_run", "load.long_peak_wish", "load.long_cap")
def longest_run(weeks: Sequence[Week], context: RuleContext) -> Iterator[Breach]:
    """Before a half marathon one run reaches 16 km or 100 min, before a marathon 25 km or 150 min."""
    if context.race.distance_m < 16_000 or context.finish_well or not context.races:
        return
    least_m, least_min = context.by_distance("load.long_peak_wish")
    longs = [session for session in _sessions(weeks) if session.role == "long"]
    far = max((session.distance_m for session in longs), default=0.0)
    long = max((session.duration_s for session in longs), default=0.0)
    if longs and far < least_m and long < least_min * 60:
        yield Breach(
            "wish.longest_run",
            None,
            None,
            f"Short of long runs: the longest is {run_mark(far)} in {say_minutes(long)}; {run_mark(least_m)} "
            f"or {least_min} min were wished for, and neither a week nor a run may grow that fast.",
        )


# The course ----------------------------------------------------------------------------------------------


def course_sessions(weeks: Sequence[Week], context: RuleContext) -> list[Session]:
    """Sessions of the specific phase that take their ground from the course; tune-ups over hills count."""
    found = [
        session
        for week in weeks
        if week.phase == "specific"
        for session in week.sessions
        if session.course_specific and session.role != "race"
    ]
    hilly = {race.date for race in context.tune_ups if race.course not in ("flat", "")}
    dates = {session.date for session in found}
    return found + [
        session
        for week in weeks
        if week.phase == "specific"
        for session in week.sessions
        if session.role == "tune_up" and session.date in hilly and session.date not in dates
    ]


@wish("wish.course_sessions", "course_work.sessions_specific", "course_work.hard_a_week")
def course_session_count(weeks: Sequence[Week], context: RuleContext) -> Iterator[Breach]:
    """The specific phase holds as many sessions on the ground of the course as its class asks for."""
    if not (_can_train(context) and _can_climb(context)) or len(weeks) < 10 or context.finish_well:
        return
    low, high = context.limits.table("course_work.sessions_specific")[context.demands.course_class]
    flagged = context.demands.has("hilly_finish", "late_climb", "downhill_start", "long_descent", "long_flat")
    loaded = sum(week.phase == "specific" and is_loaded(week, context) for week in weeks)
    a_week = min(context.hard_limit, int(context.limits.number("course_work.hard_a_week")))
    low = min(low, loaded * a_week)  # no more than the weeks can carry
    found = len(course_sessions(weeks, context))
    if found < low or (found > high and not flagged):
        yield Breach(
            "wish.course_sessions",
            None,
            None,
            f"The specific phase holds {count_of(found, 'session')} on the ground of the course; "
            f"{low:.0f} to {high} were wished for on a {context.demands.course_class} one.",
        )


def climb_match(session: Session, context: RuleContext) -> bool:
    """Whether a session has repeats that match the decisive climb in length and grade."""
    decisive = context.demands.decisive
    if decisive is None:
        return False
    race_pace = context.goal.race_flat_s_per_km or context.paces.easy_s_per_km * 0.85
    climb_s = decisive.length_m / 1000 * race_pace * (1 + 3.3 * max(decisive.grade, 0.0))
    low, high = context.limits.numbers("course_work.climb_match")
    least, most = max(60.0, climb_s * low), max(climb_s * high, 75.0)
    near = context.limits.number("course_work.grade_match") + 1e-9
    matching = 0
    for leg in timeline(session):
        grade = leg.ground.grade
        if grade is None or grade < 0.005 or not leg.is_work:
            continue
        long_climb = climb_s > 360 and leg.duration_s >= 240
        if abs(grade - decisive.grade) <= near and (long_climb or least <= leg.duration_s <= most):
            matching += 1
    return matching >= (2 if session.kind == "hill_finish_long_run" else 1)


@wish(
    "wish.climb_sessions", "course_work.climb_sessions", "course_work.climb_match", "course_work.grade_match"
)
def climb_sessions(weeks: Sequence[Week], context: RuleContext) -> Iterator[Breach]:
    """Build and specific hold at least 3 sessions that match the decisive climb, 5 on a hilly course."""
    decisive = context.demands.decisive
    if decisive is None or not (_can_train(context) and _can_climb(context)):
        return
    wanted = int(context.limits.table("course_work.climb_sessions")[context.demands.course_class])
    if context.easy_days > 1:  # fewer hard days in every week
        wanted = min(wanted, int(context.limits.table("course_work.climb_sessions")["rolling"]))
    if len(weeks) < 10 or context.level == "novice" or context.hard_limit <= 1:
        wanted = 2
    found = sum(
        climb_match(session, context)
        for week in weeks
        if week.phase in ("build", "specific")
        for session in week.sessions
        if session.role != "race"
    )
    if found < wanted:
        yield Breach(
            "wish.climb_sessions",
            None,
            None,
            f"Build and specific hold {count_of(found, 'session')} like the decisive climb "
            f"({say_grade(decisive.grade)}); {wanted} were wished for.",
        )


@wish("wish.rolling_ground", "course_work.rolling_share", "session.rolling_climb", "load.climb_rise")
def rolling_ground(weeks: Sequence[Week], context: RuleContext) -> Iterator[Breach]:
    """Before a hilly half or marathon every second long run rolls from build on, hill finishes aside."""
    hilly = context.demands.course_class in ("hilly", "very hilly") and context.race.distance_m > 16_000
    if not hilly or not (_can_train(context) and _can_climb(context) and context.allowed.downhill):
        return
    longs = [
        session
        for week in weeks
        if week.phase in ("build", "specific") and is_loaded(week, context)
        for session in week.sessions
        if session.role == "long" and session.kind not in LATE_KINDS
    ]
    wanted = int(context.limits.number("course_work.rolling_share") * len(longs))
    found = sum(
        session.kind == "rolling_long_run" or any(step.ground.kind == "rolling" for step in session.steps)
        for session in longs
    )
    if found < wanted:
        yield Breach(
            "wish.rolling_ground",
            None,
            None,
            f"{found} of {count_of(len(longs), 'long run')} in build and specific "
            f"{'goes' if found == 1 else 'go'} over rolling ground; {wanted} were wished for, and the "
            "climbing of a week may not grow that fast.",
        )


@wish("wish.hill_finish", "course_work.late_from", "course_work.simulation_window")
def hill_finish(weeks: Sequence[Week], context: RuleContext) -> Iterator[Breach]:
    """A hilly finish asks for two long runs that climb late, and a simulation or a hilly tune-up."""
    if not context.demands.has("hilly_finish") or not (_can_train(context) and _can_climb(context)):
        return
    late = [session for session in _sessions(weeks) if session.kind in LATE_KINDS]
    simulations = [session for session in late if session.kind == "race_simulation"]
    hilly = [race for race in context.tune_ups if race.course not in ("flat", "")]
    wanted = 1 if len(weeks) < 8 or context.finish_well else 2
    low, high = context.by_distance("course_work.simulation_window")
    finishes = len(late) - len(simulations)
    rehearsals = len(simulations) + len(hilly)
    if finishes < wanted or (not rehearsals and not context.finish_well):
        yield Breach(
            "wish.hill_finish",
            None,
            None,
            f"The plan has {count_of(finishes, 'long run')} with a hill finish and "
            f"{count_of(rehearsals, 'rehearsal')} of the late race; {wanted} and 1 were wished for.",
        )
    elif late and not low <= context.days_to_race(late[-1].date) <= high:
        yield Breach(
            "wish.hill_finish",
            late[-1].id,
            late[-1].date,
            f"The last hill finish stands {count_of(context.days_to_race(late[-1].date), 'day')} before the "
            f"race; {low} to {high} were wished for.",
        )


@wish("wish.descents", "course_work.descent_last")
def descent_count(weeks: Sequence[Week], context: RuleContext) -> Iterator[Breach]:
    """Descents in the race ask for two exposures at least, the last one in its window."""
    needed = context.demands.has(*DESCENT_DEMANDS) or context.demands.course_class == "very hilly"
    machine = context.runner.treadmill
    falls = context.runner.hills or (not isinstance(machine, bool) and machine.descent_percent > 0)
    if not needed or not _can_train(context) or not context.allowed.downhill or not falls:
        return
    found = exposures(weeks, len(weeks) - 1)
    low, high = context.by_distance("course_work.descent_last")
    if len(found) < 2:
        text = f"The plan has {count_of(len(found), 'session')} with descents; 2 were wished for."
        yield Breach("wish.descents", None, None, text)
    elif not low <= context.days_to_race(found[-1].date) <= high:
        yield Breach(
            "wish.descents",
            found[-1].id,
            found[-1].date,
            f"The last descents stand {count_of(context.days_to_race(found[-1].date), 'day')} before the "
            f"race; {low} to {high} were wished for.",
        )


@wish("wish.substitute")
def substitute(weeks: Sequence[Week], context: RuleContext) -> Iterator[Breach]:
    """Without hills near home each hill session names what stands in for the hill."""
    if context.runner.hills:
        return
    for session in _sessions(weeks):
        climbs = any((step.ground.grade or 0) > 0.01 for step in session.steps)
        if climbs and is_training_run(session) and not session.substitute:
            yield Breach(
                "wish.substitute",
                session.id,
                session.date,
                f"{session.title} on {say_date(session.date)} names 0 substitutes for a hill, not 1.",
            )
            return


def flat_rhythm_of(session: Session) -> bool:
    """Whether a session holds the rhythm of level ground: race-effort repeats may roll like the course."""
    rolls = any(step.kind == "work" and step.ground.kind == "rolling" for step in session.steps)
    return session.kind in FLAT_RHYTHM and not rolls


@wish("wish.flat_rhythm", "course_work.flat_rhythm")
def flat_rhythm(weeks: Sequence[Week], context: RuleContext) -> Iterator[Breach]:
    """In build and specific a flat session at threshold or goal effort comes at least every 14 days."""
    if not _can_train(context) or context.hard_limit == 0:
        return
    most = int(context.limits.number("course_work.flat_rhythm"))
    phase = [week for week in weeks if week.phase in ("build", "specific")]
    if not phase:
        return
    quick = [
        session.date for session in _sessions(weeks) if flat_rhythm_of(session) or session.role == "tune_up"
    ]
    begin, end = phase[0].first_day, phase[-1].last_day
    inside = [begin, *(day for day in quick if begin <= day <= end), end]
    widest = max(((second - first).days, first) for first, second in pairwise(inside))
    away = sum(dt.timedelta(days=day) + widest[1] in context.away for day in range(widest[0]))
    if widest[0] - away > most:
        yield Breach(
            "wish.flat_rhythm",
            None,
            widest[1],
            f"{widest[0]} days pass without a flat session at threshold or race effort after "
            f"{say_date(widest[1])}; {most} were wished for.",
        )


@wish("wish.marathon_effort", "course_work.marathon_effort")
def marathon_effort(weeks: Sequence[Week], context: RuleContext) -> Iterator[Breach]:
    """A marathon block holds two long runs with 12 km of marathon effort, or the minutes of the level."""
    if context.race.distance_m < 30_000 or context.finish_well or not (context.races and _can_train(context)):
        return
    least = float(context.limits.table("course_work.marathon_effort")[context.level])
    found = 0
    for session in _sessions(weeks):
        if session.role != "long":
            continue
        legs = [leg for leg in timeline(session) if leg.is_work]
        metres, seconds = sum(leg.distance_m for leg in legs), sum(leg.duration_s for leg in legs)
        found += metres >= 11_900 or seconds >= least * 60 - 10
    if found < 2:
        yield Breach(
            "wish.marathon_effort",
            None,
            None,
            f"The plan has {count_of(found, 'long run')} with {run_mark(12_000)} or {least:.0f} min of "
            "marathon effort; 2 were wished for.",
        )


@wish("wish.hard_sessions", "day.hard_sessions")
def hard_count(weeks: Sequence[Week], context: RuleContext) -> Iterator[Breach]:
    """Most loaded weeks of build and specific hold a hard session."""
    loaded = [week for week in weeks if is_loaded(week, context) and week.phase in ("build", "specific")]
    if not loaded or context.hard_limit == 0:
        return
    with_hard = sum(any(session.hard for session in week.sessions) for week in loaded)
    if with_hard < 0.6 * len(loaded):
        yield Breach(
            "wish.hard_sessions",
            None,
            None,
            f"In build and specific {with_hard} of {count_of(len(loaded), 'loaded week')} "
            f"{'holds' if len(loaded) == 1 else 'hold'} a hard session; {math.ceil(0.6 * len(loaded))} were "
            "wished for.",
        )
