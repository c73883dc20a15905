"""The chain behind each session of a finished week: phase, rule, number, day, what else was possible.

Receives: a ``Planner``, a week that has been chosen, its target.
Gives: the same week with reasons that ``planbuilder why`` prints.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Final

from planbuilder.plan.types import Reason, Session, Week
from planbuilder.plan.walk import HARD_DESCENT_S
from planbuilder.rules.checks_days import LONG_GAP_KINDS
from planbuilder.rules.checks_growth import long_turns, midweek_cap_s, near_caps
from planbuilder.rules.checks_load import longest_before, single_run_cap_m, work_cap
from planbuilder.rules.checks_rhythm import loaded_limit
from planbuilder.rules.checks_trips import way_home_cap, way_home_words
from planbuilder.rules.context import in_load, is_training_run, main_work_s
from planbuilder.rules.night_row import night_share
from planbuilder.rules.trips import home_days, way_home
from planbuilder.schedule.days import tires, too_soon_after, typed_next
from planbuilder.schedule.group_night import (
    group_reason,
    group_want,
    least_work_s,
    nothing_is_new,
    out_of_reach,
    runs_easily,
    whistle_of,
)
from planbuilder.schedule.load import Target
from planbuilder.schedule.state import Planner
from planbuilder.settings.models import WEEKDAYS
from planbuilder.units import count_of, height_mark, run_mark, say_date, say_minutes, say_weekday

ONE_MINUTE_S: Final = 60.0  # the step in which one long stretch is dosed
OF_THE_WEEK: Final = (  # kind and rule of what is said of a session in the week it was laid out in
    ("phase", "wish.phase_lengths"),
    ("rule", "load.one_thing"),
    ("rule", "load.recovery_share"),
    ("rule", "load.way_home"),
    ("rule", "load.full_easy_share"),
    ("rule", "load.long_alike"),
    ("number", "load.single_run_cap"),
    ("number", "load.working_long"),
    ("number", "load.work_rise"),
    ("number", "load.aim"),
    ("number", "load.midweek_share"),
    ("considered", "day.hard_gap"),
)


def explained(planner: Planner, week: Week, target: Target) -> Week:
    """The week with the whole chain in each of its training sessions."""
    weeks = [*planner.weeks, week]
    about = (*_phase(week), *_rhythm(planner, weeks, target))
    sessions = tuple(_explained(planner, weeks, one, target, about) for one in week.sessions)
    return replace(week, sessions=sessions)


def explained_one(planner: Planner, weeks: list[Week], session: Session, target: Target) -> Session:
    """A session of the last of these weeks with the whole chain behind it."""
    about = (*_phase(weeks[-1]), *_rhythm(planner, weeks, target))
    return _explained(planner, weeks, session, target, about)


def _explained(
    planner: Planner, weeks: list[Week], session: Session, target: Target, about: Sequence[Reason]
) -> Session:
    if not is_training_run(session):
        return session
    chain = (
        *about,
        *_numbers(planner, weeks, session, target),
        *_beside_the_group(planner, weeks[-1], session, target),
        *_less_than_the_group(planner, weeks, session, target),
        *_day(planner, weeks, session),
    )
    return replace(session, reasons=(*session.reasons, *chain, *_would_change(session)))


def _phase(week: Week) -> Iterator[Reason]:
    yield Reason("phase", f"Week {week.number}: {week.purpose}", "wish.phase_lengths")


def _rhythm(planner: Planner, weeks: list[Week], target: Target) -> Iterator[Reason]:
    """Why the week is light, or what grows in it."""
    context, limits = planner.context, planner.context.limits
    step = way_home(weeks[-1].first_day, context)
    if step is not None and in_load(weeks[-1], context):
        most_m = way_home_cap(weeks, len(weeks) - 1, context)
        yield Reason("rule", way_home_words(step, most_m), "load.way_home")
    elif target.kind == "easy_week":
        most, longer_than = limits.numbers("load.full_easy_share")[1], limits.number("load.full_easy_from")
        yield Reason(
            "rule",
            f"A block of more than {longer_than:.0f} weeks holds one full easy week near its middle, with at "
            f"most {most * 100:.0f} % of the load before and nothing hard.",
            "load.full_easy_share",
        )
    elif target.kind == "recovery":
        low, high = (share * 100 for share in limits.numbers("load.recovery_share"))
        yield Reason(
            "rule",
            f"At most {loaded_limit(context)} loaded weeks follow one another; then comes one with "
            f"{low:.0f} to {high:.0f} % of the load.",
            "load.recovery_share",
        )
    elif target.kind == "loaded" and (near := near_caps(weeks, len(weeks) - 1, context)):
        share = f"{limits.number('load.one_thing') * 100:.0f} %"
        text = (
            f"What grows this week is the {near[0].thing}; nothing else uses more than {share} of its rise."
        )
        yield Reason("rule", text, "load.one_thing")


def _numbers(planner: Planner, weeks: list[Week], session: Session, target: Target) -> Iterator[Reason]:
    context, limits = planner.context, planner.context.limits
    if session.role == "long":
        yield _of_the_longest(planner, weeks, session)
        if target.long_copy_s is not None and session.duration_s < target.long_copy_s:
            share = f"{limits.number('load.long_step_back') * 100:.0f} %"
            text = (
                f"After {say_minutes(target.long_copy_s)} it steps back to about {share}: long runs are not "
                "copied from week to week."
            )
            yield Reason("rule", text, "load.long_alike")
        if session.hard and weeks[-1].phase in context.limits.table("load.working_long"):
            runs, span = long_turns(weeks[-1].phase, context)
            text = f"Long runs hold hard minutes in at most {runs} of {span} weeks in this phase."
            yield Reason("number", text, "load.working_long")
    yield from _of_the_work(planner, weeks, session)
    yield from _of_the_week(planner, weeks[-1], session, f"the aim was {run_mark(target.volume_m)}")


def _of_the_longest(planner: Planner, weeks: Sequence[Week], session: Session) -> Reason:
    context = planner.context
    longest = longest_before(weeks, len(weeks) - 1, context, session.date)
    return Reason(
        "number",
        f"Its {run_mark(session.distance_m)} stay within {run_mark(single_run_cap_m(longest, context))}, "
        f"the most after a longest run of {run_mark(longest)} in the 30 days before.",
        "load.single_run_cap",
    )


def _of_the_work(planner: Planner, weeks: Sequence[Week], session: Session) -> Iterator[Reason]:
    if session.hard:
        cap = work_cap(weeks, len(weeks) - 1, planner.context)
        held, most = say_minutes(weeks[-1].work_s), say_minutes(cap)
        text = f"The week holds {held} at RPE 5 and above; the most is {most}."
        yield Reason("number", text, "load.work_rise")


def _of_the_week(planner: Planner, week: Week, session: Session, against: str) -> Iterator[Reason]:
    if session.role not in ("easy", "club") or session.hard:
        return
    yield Reason("number", f"It brings the week to {run_mark(week.distance_m)}; {against}.", "load.aim")
    long = next((one for one in week.sessions if one.role == "long" and not one.cancelled), None)
    if long is not None:
        most_min = say_minutes(midweek_cap_s(long.duration_s, planner.context))
        text = f"Beside a long run of {say_minutes(long.duration_s)} it would rather not pass {most_min}."
        yield Reason("number", text, "load.midweek_share")


def as_it_stands(
    planner: Planner, weeks: Sequence[Week], session: Session, laid_out_m: float
) -> Iterator[Reason]:
    """What the last of these weeks holds and what it may hold, after it was changed from so many metres."""
    yield from _phase(weeks[-1])
    if session.cancelled:
        return
    if session.role == "long":
        yield _of_the_longest(planner, weeks, session)
    yield from _of_the_work(planner, weeks, session)
    against = f"it was laid out with {run_mark(laid_out_m)}"
    yield from _of_the_week(planner, weeks[-1], session, against)


def _beside_the_group(planner: Planner, week: Week, session: Session, target: Target) -> Iterator[Reason]:
    """Why a runner runs easily while the group works."""
    night = planner.request.nights.get(session.date)
    if session.role != "club" or night is None or group_reason(session) or runs_easily(night):
        return
    group = f"The group runs {night.template.title.lower()}; you run easily with it:"
    least_s = least_work_s(night, planner.context.limits)
    if not planner.context.allowed.anything_above_easy:
        yield Reason("considered", f"{group} your plan is easy running only, for now.", "day.club_nights")
    elif least_s is not None and least_s > target.work_s:
        least, left = say_minutes(least_s), say_minutes(target.work_s // 60 * 60)
        text = f"{group} the least of it is {least} of work, and this week holds {left}."
        yield Reason("considered", text, "load.work_rise")
    elif week.recovery:
        yield Reason("considered", f"{group} this is a lighter week of yours.", "load.recovery_share")
    elif (reason := _ruled_out(planner, session)) is not None:
        yield replace(reason, text=f"{group} {reason.text}")
    elif (missing := _out_of_reach(planner, week, session.date, target)) is not None:
        yield replace(missing, text=f"{group} {missing.text}")
    elif (near := _right_beside(week, session)) is not None:
        text = f"{group} {near.title.lower()} stands on {say_date(near.date)}, right beside it."
        yield Reason("considered", text, "day.hard_gap")
    else:
        yield _taken(group, week, session)


def _ruled_out(planner: Planner, session: Session) -> Reason | None:
    """The rule that keeps a day free of this hard running, whatever else the week holds."""
    night, date = planner.request.nights[session.date], session.date
    if date in home_days(planner.context):
        return Reason("considered", "the first run behind your days away is easy.", "day.home_easy")
    if date in planner.no_hard:
        return Reason("considered", "it stands too near to a race.", "tune_up.days_around")
    if nothing_is_new(planner, date) and night.base not in planner.count:
        days = planner.context.limits.number("taper.nothing_new")
        text = f"it would be new to you, and nothing is new in the last {days:.0f} days."
        return Reason("considered", text, "taper.nothing_new")
    before = planner.weeks[-1].sessions if planner.weeks else ()
    tired = too_soon_after(planner, before, date)
    if tired is None:
        return None
    text = f"it comes too soon after {tired.title.lower()} on {say_date(tired.date)}."
    return Reason("considered", text, "day.hard_gap")


def _right_beside(week: Week, session: Session) -> Session | None:
    """A hard session or the long run on the day before or after."""
    near = (one for one in week.sessions if abs((one.date - session.date).days) == 1)
    return next((one for one in near if one.hard or one.role == "long"), None)


def _out_of_reach(planner: Planner, week: Week, date: dt.date, target: Target) -> Reason | None:
    frame = next(one for one in planner.context.frames if one.number == week.number)
    want = group_want(planner, frame, date)
    if want is None:
        return None
    return out_of_reach(planner, want, frame.phase, target.work_s, target.climb_m, target.run_cap_m)


def _taken(group: str, week: Week, session: Session) -> Reason:
    """The other sessions of the week that hold its hard running."""
    others = [one for one in week.sessions if one.date != session.date]
    hard = [one for one in others if one.hard] or [one for one in others if one.work_s >= 300]
    if not hard:
        text = f"{group} the days around it leave it no room this week."
        return Reason("considered", text, "day.hard_gap")
    named = ", ".join(f"{one.title.lower()} on {say_date(one.date)}" for one in hard)
    return Reason(
        "considered", f"{group} {named}: that is the hard running of this week.", "day.hard_sessions"
    )


def _less_than_the_group(
    planner: Planner, weeks: Sequence[Week], session: Session, target: Target
) -> Iterator[Reason]:
    """Why a runner does less than those who do most."""
    night = planner.request.nights.get(session.date)
    if night is None or not group_reason(session) or any(step.distance_m for step in session.steps):
        return
    whistle = whistle_of(night, planner.context.limits)
    mine_s = main_work_s(session)
    if whistle is None or mine_s >= whistle.work_s - 30:
        return
    whole, mine = say_minutes(whistle.work_s), say_minutes(mine_s)
    most_s = night_share(planner.request.level) * whistle.work_s
    fewer_s = max(work for work, _ in whistle.stretches) if len(whistle.stretches) > 1 else ONE_MINUTE_S
    if mine_s > most_s - fewer_s:
        why = Reason("number", "as much as a runner at your level does of such a night.", "day.club_nights")
    elif session.climb_m and target.work_s >= most_s:
        why = Reason(
            "number", f"this week holds {height_mark(target.climb_m)} of climbing.", "load.climb_rise"
        )
    else:
        why = _beside_other_work(weeks[-1], session, target)
    yield replace(why, text=f"Those who do most work for {whole}, you for {mine}: {why.text}")


def _beside_other_work(week: Week, session: Session, target: Target) -> Reason:
    """That the week's work is shared, and with which sessions."""
    others = [one for one in week.sessions if one.date != session.date and one.hard and not one.cancelled]
    text = f"this week holds {say_minutes(target.work_s)} of work in all"
    if others:
        text += ", and " + ", ".join(f"{one.title.lower()} on {say_date(one.date)}" for one in others)
        text += f" {'takes its' if len(others) == 1 else 'take their'} part of it"
    return Reason("number", f"{text}.", "load.work_rise")


def _day(planner: Planner, weeks: list[Week], session: Session) -> Iterator[Reason]:
    context, day = planner.context, WEEKDAYS[session.date.weekday()]
    if session.role == "club":
        yield Reason("rule", f"{say_weekday(session.date)} is a club night you attend.", "day.club_nights")
    elif session.role == "long" and day == context.runner.long_run_day:
        yield Reason(
            "rule", f"{say_weekday(session.date)} is your day for the long run.", "wish.long_run_day"
        )
    elif session.role == "long" and (night := _leaves_rest_for(planner, weeks[-1], session)) is not None:
        text = (
            f"It stands on {say_weekday(session.date)} this week, so that you come rested to the club night "
            f"of {say_date(night)}."
        )
        yield Reason("considered", text, "wish.long_run_day")
    if not session.hard:
        return
    before = [one for week in weeks[-2:] for one in week.sessions if one.hard and one.date < session.date]
    if before:
        days = (session.date - before[-1].date).days
        yield Reason(
            "considered",
            f"Other days were looked at; this one lies {count_of(days, 'day')} after the hard session of "
            f"{say_date(before[-1].date)}, and no hard or long run stands on the day before or after.",
            "day.hard_gap",
        )
    home = frozenset(home_days(context))
    blocked = [day for day in _week_days(weeks[-1]) if day in planner.no_hard - home]
    if blocked:
        yield Reason(
            "considered",
            f"{count_of(len(blocked), 'day of this week stays', 'days of this week stay')} free of hard "
            "running because of a race.",
            "tune_up.days_around",
        )


def _leaves_rest_for(planner: Planner, week: Week, session: Session) -> dt.date | None:
    """The typed night of the next week that a hard long run on its usual day would have come too near."""
    frame = next(one for one in planner.context.frames if one.number == week.number)
    usual = next(
        day for day in _week_days(week) if WEEKDAYS[day.weekday()] == planner.context.runner.long_run_day
    )
    if not session.hard or usual < session.date:
        return None
    heavy = session.kind in LONG_GAP_KINDS or session.descent_work_s >= HARD_DESCENT_S
    nights = typed_next(planner, frame)
    return next((night for night in nights if tires(planner, heavy, usual, (night,))), None)


def _week_days(week: Week) -> list[dt.date]:
    count = (week.last_day - week.first_day).days + 1
    return [week.first_day + dt.timedelta(days=day) for day in range(count)]


def _would_change(session: Session) -> Iterator[Reason]:
    """What would make another session of this one."""
    if session.course_specific:
        text = "On a course without this stretch it would be the same kind of effort on level ground."
    elif session.role == "test":
        text = "With a fresh result, or a race in its place, it would be an ordinary session."
    elif session.role == "long":
        text = "A longer run in the last 30 days or another race distance would change its length."
    elif session.hard:
        text = (
            "Another level, phase or week of work behind you would change its dose; a coach may set its kind."
        )
    else:
        text = "More or fewer running days, or another weekly distance, would change its length."
    yield Reason("would change", text)
