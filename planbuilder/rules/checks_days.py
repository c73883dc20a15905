"""Rules of days: dates, club nights, hard days and the days between them, rest, races.

Receives: weeks and a ``RuleContext``.
Gives: breaches, one sentence each with both numbers.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import pairwise

from planbuilder.plan.types import Session, Week
from planbuilder.rules.context import (
    Breach,
    RuleContext,
    has_tune_up,
    hours_between,
    is_easy,
    is_loaded,
    is_run,
    is_training_run,
    recent,
)
from planbuilder.rules.registry import limit
from planbuilder.rules.trips import right_behind
from planbuilder.rules.tune_ups import days_after, effort_by_date, goal_rpe, plan_tune_ups
from planbuilder.settings.models import WEEKDAYS
from planbuilder.units import count_of, in_minutes, say_date, say_weekday

DAY = dt.timedelta(days=1)
LONG_GAP_KINDS = ("race_simulation", "controlled_downhill", "downhill_start")


@limit("day.race_on_its_date")
def race_on_its_date(weeks: Sequence[Week], index: int, context: RuleContext) -> Iterator[Breach]:
    """The race is on its own date and no training follows it."""
    for session in weeks[index].sessions:
        if session.role == "race" and session.date != context.race.date:
            yield Breach(
                "day.race_on_its_date",
                session.id,
                session.date,
                f"The race stands on {say_date(session.date)}; its date is {say_date(context.race.date)}.",
            )
        if (
            context.races
            and is_training_run(session)
            and session.date >= context.race.date
            and session.role != "after"
        ):
            yield Breach(
                "day.race_on_its_date",
                session.id,
                session.date,
                f"Training on {say_date(session.date)} is not before the race on "
                f"{say_date(context.race.date)}.",
            )
    if index == len(weeks) - 1 and weeks[index].last_day >= context.race.date:
        races = sum(session.role == "race" for week in weeks[-2:] for session in week.sessions)
        if races != 1 and context.allowed.trains and context.allowed.race_distance:
            yield Breach(
                "day.race_on_its_date", None, context.race.date, f"The plan holds {races} races, not 1."
            )


@limit("day.one_run_a_day", "day.two_a_day_from")
def one_run_a_day(weeks: Sequence[Week], index: int, context: RuleContext) -> Iterator[Breach]:
    """One run a day, inside its week; two only above 80 km a week for runners who want them."""
    week = weeks[index]
    per_day = Counter(session.date for session in week.sessions if is_run(session))
    slots = Counter((session.date, session.start_time, session.role) for session in week.sessions)
    metres, days = context.limits.numbers("day.two_a_day_from")
    two = (
        context.runner.two_a_day
        and context.baseline.weekly_m > metres
        and len(context.running_days) >= int(days)
    )
    for date, count in per_day.items():
        if count > (2 if two else 1):
            yield Breach(
                "day.one_run_a_day",
                None,
                date,
                f"{say_date(date)} holds {count_of(count, 'run')}, not {2 if two else 1}.",
            )
    for (date, _, _), count in slots.items():
        if count > 1:
            yield Breach("day.one_run_a_day", None, date, f"{say_date(date)} holds {count} of a kind, not 1.")
    for session in week.sessions:
        if not week.first_day <= session.date <= week.last_day:
            yield Breach(
                "day.one_run_a_day",
                session.id,
                session.date,
                f"{say_date(session.date)} is not in week {week.number}, which ends on "
                f"{say_date(week.last_day)}.",
            )


@limit("day.available")
def available(weeks: Sequence[Week], index: int, context: RuleContext) -> Iterator[Breach]:
    """Runs stand on days the runner has; only races stand on others."""
    for session in weeks[index].sessions:
        if is_training_run(session) and WEEKDAYS[session.date.weekday()] not in context.running_days:
            yield Breach(
                "day.available",
                session.id,
                session.date,
                f"A run on {say_date(session.date)}; your days are {', '.join(context.running_days)}.",
            )


@limit("day.minutes")
def minutes(weeks: Sequence[Week], index: int, context: RuleContext) -> Iterator[Breach]:
    """No session is longer than its day allows."""
    for session in weeks[index].sessions:
        day = WEEKDAYS[session.date.weekday()]
        most = context.runner.minutes.get(day)
        if most is not None and is_training_run(session) and session.duration_s > most * 60 + 1:
            yield Breach(
                "day.minutes",
                session.id,
                session.date,
                f"{in_minutes(session.duration_s)} min on a {say_weekday(session.date)} "
                f"that holds {most} min.",
            )


@limit("day.away")
def away(weeks: Sequence[Week], index: int, context: RuleContext) -> Iterator[Breach]:
    """Days away hold no more runs than the runner said, and nothing hard but a short session."""
    week = weeks[index]
    runs = [session for session in week.sessions if session.date in context.away and is_training_run(session)]
    if not runs:
        return
    most = max(
        (
            trip.runs
            for trip in context.runner.away
            if trip.first_day <= week.last_day and trip.last_day >= week.first_day
        ),
        default=0,
    )
    if len(runs) > most:
        yield Breach(
            "day.away",
            None,
            runs[0].date,
            f"{count_of(len(runs), 'run')} while away in week {week.number}; you said {most}.",
        )


@limit("day.club_nights")
def club_nights(weeks: Sequence[Week], index: int, context: RuleContext) -> Iterator[Breach]:
    """A club night you attend carries the club session, or an easy run with the group."""
    week = weeks[index]
    if not context.allowed.trains:
        return
    for offset in range((week.last_day - week.first_day).days + 1):
        date = week.first_day + offset * DAY
        if not context.club_on(date):
            continue
        if date == context.race.date or context.tune_up_on(date) is not None:
            continue
        if not any(session.date == date and session.role == "club" for session in week.sessions):
            yield Breach(
                "day.club_nights", None, date, f"{say_date(date)} is a club night and holds no club session."
            )


def counted_hard(week: Week) -> list[Session]:
    """Hard sessions of a week; the goal race is not counted."""
    return [session for session in week.sessions if session.hard and session.role != "race"]


def hard_most(weeks: Sequence[Week], index: int, context: RuleContext) -> int:
    """How many hard sessions a week may hold; on three days a second one in alternate weeks.

    Right behind days away no more than the loaded weeks before them held.
    """
    most = context.hard_limit
    if right_behind(weeks[index].first_day, context):
        loaded = [week for week in weeks[:index] if is_loaded(week, context)][-3:]
        most = min(most, max([1, *(len(counted_hard(week)) for week in loaded)]))
    if most == 1 and len(context.running_days) == 3 and context.level != "novice" and not context.finish_well:
        before = len(counted_hard(weeks[index - 1])) if index else 1
        return 2 if before <= 1 else 1
    return most


@limit("day.hard_sessions", "day.hard_sessions", "day.hard_sessions_minor")
def hard_sessions(weeks: Sequence[Week], index: int, context: RuleContext) -> Iterator[Breach]:
    """A week holds no more hard sessions than its days carry: 1 on three days, 2 on four or five, then 3."""
    hard, most = counted_hard(weeks[index]), hard_most(weeks, index, context)
    if len(hard) > most:
        forced = sum(session.role == "tune_up" for session in hard) == len(hard)
        yield Breach(
            "day.hard_sessions",
            hard[-1].id,
            hard[-1].date,
            f"Week {weeks[index].number} holds {count_of(len(hard), 'hard session')}; the most is {most}.",
            excepted=forced,
        )


@limit("day.hard_gap", "day.hard_gap", "day.hard_gap_long", "day.easy_days_from_50")
def hard_gap(weeks: Sequence[Week], index: int, context: RuleContext) -> Iterator[Breach]:
    """Between hard sessions lie 44 hours and an easy day; 72 hours after a race, a simulation or descents."""
    hard = [session for session in recent(weeks, index, 8) if session.hard and session.role != "race"]
    short, long = context.limits.number("day.hard_gap"), context.limits.number("day.hard_gap_long")
    for first, second in pairwise(hard):
        if second.date < weeks[index].first_day or (first.role == "tune_up" and second.role == "tune_up"):
            continue
        heavy = (
            first.kind in LONG_GAP_KINDS
            or first.descent_work_s >= 180
            or (first.role == "tune_up" and first.distance_m >= 9_900)
        )
        least = long if heavy else short
        hours, days = hours_between(first, second), (second.date - first.date).days - 1
        if hours < least or days < context.easy_days:
            yield Breach(
                "day.hard_gap",
                second.id,
                second.date,
                f"{hours:.0f} h and {days} easy days after the hard session of {say_date(first.date)}; "
                f"the least is {least:.0f} h and {context.easy_days}.",
            )


@limit("day.test_after_long", "day.test_after_long")
def test_after_long(weeks: Sequence[Week], index: int, context: RuleContext) -> Iterator[Breach]:
    """A test stands at least 4 days behind a long run that holds work; the club's trial keeps its night."""
    least = int(context.limits.number("day.test_after_long"))
    longs = [one for one in recent(weeks, index, least) if one.role == "long" and one.work_s > 0]
    for session in weeks[index].sessions:
        if session.cancelled or session.role == "club" or "test" not in (session.role, session.kind):
            continue
        days = min(
            ((session.date - one.date).days for one in longs if one.date < session.date), default=least
        )
        if days < least:
            yield Breach(
                "day.test_after_long",
                session.id,
                session.date,
                f"A test {count_of(days, 'day')} behind a long run that holds work; the least is {least}.",
            )


@limit("day.before_hard")
def day_before(weeks: Sequence[Week], index: int, context: RuleContext) -> Iterator[Breach]:
    """The day before a hard session or a long run is easy or rest, and so is the day after."""
    runs = [session for session in recent(weeks, index, 1) if is_run(session)]
    for first, second in pairwise(runs):
        if (second.date - first.date).days != 1 or second.date < weeks[index].first_day:
            continue
        if is_easy(first) or is_easy(second):
            continue
        yield Breach(
            "day.before_hard",
            second.id,
            second.date,
            f"{second.title} stands on the day after {first.title.lower()}; there should be 1 easy day "
            f"between, not 0.",
        )


@limit("day.rest", "day.short_day")
def rest(weeks: Sequence[Week], index: int, context: RuleContext) -> Iterator[Breach]:
    """One day in seven is a rest day; experienced runners on seven days may have a short easy one instead."""
    week = weeks[index]
    spent: dict[dt.date, float] = {}
    for session in recent(weeks, index, 6):
        if is_run(session):
            spent[session.date] = spent.get(session.date, 0.0) + session.duration_s
            if session.hard or session.role in ("race", "tune_up"):
                spent[session.date] += 86_400
    experienced = len(context.running_days) == 7 and not context.careful
    short = context.limits.number("day.short_day") * 60
    for offset in range((week.last_day - week.first_day).days + 1):
        last = week.first_day + offset * DAY
        window = [last - back * DAY for back in range(7)]
        if window[-1] < context.first_day:
            continue
        if any(day not in spent for day in window):
            continue
        if experienced and any(spent[day] <= short for day in window):
            yield Breach(
                "day.rest",
                None,
                last,
                f"Seven days of running up to {say_date(last)}, one of them no longer than "
                f"{in_minutes(short)} min.",
                excepted=True,
            )
            continue
        yield Breach(
            "day.rest", None, last, f"0 rest days in the 7 days to {say_date(last)}; the least is 1."
        )


@limit("day.two_rest_days")
def two_rest_days(weeks: Sequence[Week], index: int, context: RuleContext) -> Iterator[Breach]:
    """Novices, runners under 18 and after an injury rest on two days a week."""
    week = weeks[index]
    if not context.careful or (week.last_day - week.first_day).days != 6:
        return
    days = {session.date for session in week.sessions if is_run(session)}
    if len(days) > 5:
        yield Breach(
            "day.two_rest_days",
            None,
            week.first_day,
            f"Week {week.number} holds {count_of(7 - len(days), 'rest day')}; the least is 2.",
            excepted=has_tune_up(week) or len(context.club_days) > 4,
        )


@limit("tune_up.effort", "tune_up.late", "day.tune_ups", "day.tune_up_gap")
def tune_up_effort(weeks: Sequence[Week], index: int, context: RuleContext) -> Iterator[Breach]:
    """A tune-up race is run no harder than its date allows; an entered one is never refused."""
    week = weeks[index]
    entered = {race.date: race for race in context.tune_ups}
    for session in week.sessions:
        if session.role != "tune_up" or session.date not in entered:
            continue
        race = entered[session.date]
        allowed, why = effort_by_date(race, context)
        most = {"all-out": 10.0, "goal effort": goal_rpe(context.race.distance_m)[1], "easy": 5.0}[allowed]
        planned = max(
            (step.effort_rpe[1] for step in session.steps if step.kind in ("race", "work")), default=0.0
        )
        if planned > most + 1e-9:
            yield Breach(
                "tune_up.effort",
                session.id,
                session.date,
                f"{race.name} is planned at RPE {planned:.0f}; the most is {most:.0f}: {why}",
            )
    if not context.allowed.trains:
        return
    for date, race in entered.items():
        if week.first_day <= date <= week.last_day and not any(
            session.role == "tune_up" and session.date == date for session in week.sessions
        ):
            yield Breach("tune_up.effort", None, date, f"{race.name} is entered and missing from the plan.")


@limit("tune_up.days_around", "day.before_tune_up", "day.after_tune_up", "day.after_half_careful")
def days_around_tune_up(weeks: Sequence[Week], index: int, context: RuleContext) -> Iterator[Breach]:
    """No hard session stands in the 4 days before a raced tune-up, nor too soon after it."""
    if not context.tune_ups:
        return
    near = list(recent(weeks, index, 8))
    before = int(context.limits.number("day.before_tune_up"))
    for plan in plan_tune_ups(context):
        race = next((s for s in near if s.role == "tune_up" and s.date == plan.race.date), None)
        if race is None or not race.hard:
            continue
        after = days_after(plan, context)
        for session in near:
            days = (session.date - race.date).days
            if session.date < weeks[index].first_day and race.date < weeks[index].first_day:
                continue
            if (
                session.hard
                and session is not race
                and session.role not in ("tune_up", "race")
                and -before <= days <= after
            ):
                yield Breach(
                    "tune_up.days_around",
                    session.id,
                    session.date,
                    f"A hard session {count_of(abs(days), 'day')} {'before' if days < 0 else 'after'} "
                    f"{plan.race.name}; the least is {before + 1 if days < 0 else after + 1}.",
                )


# The end -------------------------------------------------------------------------------------------------


@limit("taper.last_hard", "taper.last_hard")
def last_hard(weeks: Sequence[Week], index: int, context: RuleContext) -> Iterator[Breach]:
    """The last hard session stands at least 4 days before the race, 3 before a 5 km."""
    least = int(context.by_distance("taper.last_hard"))
    for session in weeks[index].sessions:
        days = context.days_to_race(session.date)
        if session.hard and session.role not in ("race", "tune_up") and 0 < days < least:
            yield Breach(
                "taper.last_hard",
                session.id,
                session.date,
                f"A hard session {count_of(days, 'day')} before the race; the least is {least}.",
            )


@limit("taper.frequency", "taper.runs_fewer")
def taper_frequency(weeks: Sequence[Week], index: int, context: RuleContext) -> Iterator[Breach]:
    """The taper keeps the runs of a usual week, at most two fewer, the race counted."""
    week = weeks[index]
    if week.phase != "taper" or (week.last_day - week.first_day).days < 5:
        return
    usual = [
        len({session.date for session in earlier.sessions if is_run(session)})
        for earlier in weeks[max(0, index - 6) : index]
        if earlier.phase != "taper" and not earlier.recovery
    ]
    if not usual or not context.allowed.run:
        return
    most = sorted(usual)[len(usual) // 2]
    runs = len({session.date for session in week.sessions if is_run(session)})
    fewer = int(context.limits.number("taper.runs_fewer"))
    if runs < most - fewer:
        days = sum(
            week.first_day + offset * DAY not in context.away
            and WEEKDAYS[(week.first_day + offset * DAY).weekday()] in context.running_days
            for offset in range((week.last_day - week.first_day).days + 1)
        )
        yield Breach(
            "taper.frequency",
            None,
            week.first_day,
            f"Week {week.number} holds {count_of(runs, 'run')}; a usual week has {most}, "
            f"the least is {most - fewer}.",
            excepted=days < most - fewer + 1,
        )


@limit("taper.nothing_new", "taper.nothing_new")
def nothing_new(weeks: Sequence[Week], index: int, context: RuleContext) -> Iterator[Breach]:
    """No kind of hard session is used for the first time in the last 14 days."""
    days = int(context.limits.number("taper.nothing_new"))
    if context.days_to_race(weeks[index].last_day) >= days:
        return
    new = [
        session
        for session in weeks[index].sessions
        if context.days_to_race(session.date) < days
        and session.role not in ("race", "tune_up")
        and session.kind
        not in ("shakeout", "race_touch", "group_easy", "recovery_run", "easy_run", "long_run")
    ]
    for session in new:
        seen = any(
            other.kind == session.kind
            for week in weeks[: index + 1]
            for other in week.sessions
            if context.days_to_race(other.date) >= days
        )
        if not seen and len(context.frames) > 3:
            yield Breach(
                "taper.nothing_new",
                session.id,
                session.date,
                f"{session.title} is new {count_of(context.days_to_race(session.date), 'day')} before "
                f"the race; nothing is new in the last {days}.",
            )
