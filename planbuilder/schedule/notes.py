"""What there is to say about a plan as a whole.

Receives: a ``Planner`` that has written all weeks.
Gives: notes, the most important first.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from planbuilder.plan.types import Session, Week
from planbuilder.rules import wishes
from planbuilder.rules.checks_load import percent, run_time_cap_s
from planbuilder.rules.checks_rhythm import loaded_limit
from planbuilder.rules.checks_taper import taper_level, taper_shares, week_share
from planbuilder.rules.context import RuleContext, in_load, is_loaded, is_stub, is_training_run
from planbuilder.rules.trips import way_home
from planbuilder.rules.tune_ups import effort_by_date, tune_up_window, window_of
from planbuilder.schedule.state import Planner
from planbuilder.settings.notes import Note
from planbuilder.units import count_of, run_mark, say_date, say_minutes

ROUNDING_M: Final = 250.0  # distances are said in half kilometres


def notes_of(
    planner: Planner,
    weeks: Sequence[Week],
    *,
    lived: Sequence[Week] | None = None,
    today: dt.date = dt.date.min,
) -> tuple[Note, ...]:
    """Exceptions that were used, wishes given up, what was assumed, tune-ups, the days after the race.

    ``lived`` are the weeks with what was run in place of what was planned, where something was told of them;
    ``today`` is the last day that is known of.
    """
    lived = weeks if lived is None else lived
    context = planner.context
    if not context.allowed.block:
        return ()
    found = [*_waived(planner), *planner.notes, *_tune_up_notes(planner, today)]
    found += _once([Note(one.rule, one.text, "exception", one.session) for one in planner.excepted])
    if context.allowed.run:
        found += _once([Note(one.rule, one.text, "given_up", one.session) for one in wishes(weeks, context)])
    found += [Note("load.first_week", text, "exception") for text in context.baseline.assumed]
    found += [*_older(planner), *_race_length(planner, lived), *_long_share(planner, lived)]
    found += [*_race_week(planner, weeks), *_tune_up_advice(planner, today), *_too_long(planner)]
    found += _way_home(planner, lived)
    found += _after(planner)
    return tuple(found)


def _once(notes: Sequence[Note]) -> list[Note]:
    """One note a rule: the first, with how often it happened."""
    first: dict[str, Note] = {}
    count: dict[str, int] = {}
    for note in notes:
        first.setdefault(note.rule, note)
        count[note.rule] = count.get(note.rule, 0) + 1
    return [
        replace(note, text=f"{note.text} The same holds {_again(count[rule] - 1)}.")
        if count[rule] > 1
        else note
        for rule, note in first.items()
    ]


def _again(times: int) -> str:
    return "once more" if times == 1 else f"{times} times more"


def _waived(planner: Planner) -> list[Note]:
    """Course work that the runner's needs or ground leave out, without a word about health."""
    context, demands = planner.context, planner.request.demands
    if not context.allowed.anything_above_easy:
        return []
    found = []
    hilly = demands.decisive is not None or demands.has("hilly_finish", "early_hills", "rolling")
    help_with_hills = (
        " A bridge or a ramp near home, or a weekend among hills 3 to 5 weeks before the race, would help: "
        "tell your coach."
        if context.allowed.uphill
        else ""
    )
    if hilly and not planner.can_climb:
        found.append(
            Note(
                "wish.climb_sessions",
                "0 sessions rehearse the hills of this course, and 2 or more were wished for; the effort of "
                f"level sessions and the race plan stand in for them.{help_with_hills}",
                "given_up",
            )
        )
    descents = demands.has("downhill_start", "long_descent", "net_downhill", "downhill_race")
    if descents and not planner.can_descend:
        found.append(
            Note(
                "wish.descents",
                "0 sessions rehearse the descents of this course; 2 were wished for. Start them with care "
                "on the day.",
                "given_up",
            )
        )
    return found


def _tune_up_notes(planner: Planner, today: dt.date) -> list[Note]:
    """How hard each tune-up is run and what to learn from it; which candidates would fit."""
    context = planner.context
    found = []
    for plan in planner.tune_ups:
        learn = ""
        if plan.raced and plan.race.course not in ("flat", ""):
            learn = " Compare effort and the splits on the climbs, not the time."
        correct = (
            " Its result is corrected for course and weather before it touches any pace."
            if plan.raced
            else ""
        )
        found.append(Note("tune_up.effort", f"{plan.race.name}: {plan.why}{learn}{correct}", "info"))
    candidates = [
        race
        for race in (*context.training.tune_ups, *context.runner.tune_ups)
        if not race.entered and max(context.first_day, today) <= race.date < context.race.date
    ]
    for race in candidates:
        effort, why = effort_by_date(race, context)
        low, high = window_of(race, context)
        days = context.days_to_race(race.date)
        if low <= days <= high:
            text = f"{race.name} fits: {why} It would replace that week's long run and a hard session."
        elif effort == "easy":
            text = f"{race.name} comes too near: {why} We would leave it out."
        else:
            text = f"{race.name} stands outside the best window of {low} to {high} days: {why}"
        found.append(Note("tune_up.candidate", text, "info"))
    return found


def _tune_up_advice(planner: Planner, today: dt.date) -> list[Note]:
    """Which tune-up race would fit where the coach has named none, while there is time for one."""
    context = planner.context
    named = [*context.training.tune_ups, *context.runner.tune_ups]
    if named or context.finish_well or not (context.races and context.allowed.anything_above_easy):
        return []
    goal_m = context.race.distance_m
    usual_m = 3000.0 if goal_m < 7_500 else 5000.0 if goal_m < 16_000 else 10_000.0
    if goal_m > 30_000:
        usual_m = 21_097.5
    low, high = tune_up_window(usual_m, context)
    first, last = _at_home(context, *(context.race.date - dt.timedelta(days=days) for days in (high, low)))
    if today > first:
        first, last = _at_home(context, today, last)
    if first >= last or first < context.first_day + dt.timedelta(days=14):
        return []
    hilly = context.demands.decisive is not None
    kind = " over hills like those of the goal" if hilly else ""
    return [
        Note(
            "tune_up.candidate",
            f"A tune-up race of about {run_mark(usual_m)}{kind} would fit between {say_date(first)} and "
            f"{say_date(last)}; it would replace that week's long run and a hard session.",
            "info",
        )
    ]


def _at_home(context: RuleContext, first: dt.date, last: dt.date) -> tuple[dt.date, dt.date]:
    """A window without the days away at its ends."""
    while first < last and first in context.away:
        first += dt.timedelta(days=1)
    while last > first and last in context.away:
        last -= dt.timedelta(days=1)
    return first, last


def _way_home(planner: Planner, weeks: Sequence[Week]) -> list[Note]:
    """How the load comes back behind two weeks and more with hardly a run."""
    context, found = planner.context, []
    for index, week in enumerate(weeks):
        step = way_home(week.first_day, context)
        if step is None or step.number > 1 or step.away < 2 or not in_load(week, context):
            continue
        back = [one for one in weeks[index : index + 4] if way_home(one.first_day, context)]
        if len(back) > 1:
            steps = ", ".join(run_mark(one.distance_m) for one in back)
            text = (
                f"Behind {count_of(step.away, 'week')} away the load comes back in steps, {steps}, and the "
                "long run with it; then the block goes on."
            )
            found.append(Note("load.way_home", text, "info"))
    return found


def _too_long(planner: Planner) -> list[Note]:
    """A block longer than the table is planned again later."""
    most = int(planner.context.limits.number("phase.longest_block"))
    weeks = sum(planner.context.phase_weeks)
    if weeks <= most:
        return []
    return [
        Note(
            "phase.longest_block",
            f"{weeks} weeks are long for one block: take the first ones as base, and plan again when {most} "
            "weeks remain.",
            "info",
        )
    ]


def _older(planner: Planner) -> list[Note]:
    context = planner.context
    if not context.older or context.careful:
        return []
    return [
        Note(
            "load.loaded_weeks_from_50",
            "From 50 many runners do well with a lighter week after every 2 loaded ones and 2 easy days "
            f"after a hard one. Here at most {loaded_limit(context)} loaded weeks follow one another, and "
            f"at least {context.easy_days} easy days follow a hard session; tell your coach if 3 and 1 suit "
            "you.",
            "info",
        )
    ]


def _last_runs(planner: Planner, weeks: Sequence[Week]) -> list[Session]:
    """The training runs before the race by which it is judged."""
    context, days = planner.context, planner.context.limits.number("load.single_run_window")
    return [
        session
        for week in weeks
        for session in week.sessions
        if is_training_run(session)
        and not session.cancelled
        and 0 < context.days_to_race(session.date) <= days
    ]


def _race_length(planner: Planner, weeks: Sequence[Week]) -> list[Note]:
    """How far the race goes beyond the longest run of the 30 days before it."""
    context = planner.context
    longest = _longest_m(_last_runs(planner, weeks))
    more = context.race.distance_m / longest - 1 if longest else 0.0
    if more <= 0.1 or not context.races:
        return []
    return [
        Note(
            "load.single_run_cap",
            f"The race is {more * 100:.0f} % longer than your longest run of the 30 days before it, "
            f"{run_mark(longest)}: a reason to start with restraint.",
            "info",
        )
    ]


def _long_share(planner: Planner, weeks: Sequence[Week]) -> list[Note]:
    """The largest share of the long run, where it is above the usual one."""
    context = planner.context
    shares = [
        session.distance_m / week.distance_m
        for week in weeks
        if is_loaded(week, context) and week.distance_m > 0
        for session in week.sessions
        if session.role == "long" and not session.cancelled
    ]
    most = context.limits.number("load.long_share_note")
    asks = "the distance of the race" if context.race.distance_m > 16_000 else "your weekly distance"
    if max(shares, default=0.0) <= most:
        return []
    return [
        Note(
            "load.long_share_note",
            f"The long run is up to {max(shares) * 100:.0f} % of a week, above the usual {most * 100:.0f} %: "
            f"{asks} asks for it on these days.",
            "info",
        )
    ]


def _race_week(planner: Planner, weeks: Sequence[Week]) -> list[Note]:
    """Race week, where its few short runs hold less than the usual share of the load before."""
    context = planner.context
    index = next((number for number, week in enumerate(weeks) if week.last_day >= context.race.date), None)
    if index is None or not context.races or is_stub(weeks[index]):
        return []
    week, level_m = weeks[index], taper_level(weeks, index, context)
    least, most = week_share(week.first_day, week.last_day, taper_shares(context), context.race.date)
    if week.distance_m >= 0.9 * least * level_m:
        return []
    return [
        Note(
            "taper.last_days_run",
            f"The last week holds {run_mark(week.distance_m)} before the race, "
            f"{percent(week.distance_m / level_m, beside=(least, most))} of the load before; "
            f"{percent(least)} to {percent(most)} is usual. On your days the short runs of the "
            "last days hold no more, and we leave it at that: fresh legs count now, not distance.",
            "info",
        )
    ]


def _after(planner: Planner) -> list[Note]:
    if not planner.context.races:
        return []
    distance = planner.context.race.distance_m
    days = "5 to 10" if distance > 30_000 else "2 to 5" if distance > 16_000 else "1 to 3"
    weeks = "3 to 4 weeks" if distance > 30_000 else "10 to 14 days" if distance > 16_000 else "about a week"
    text = f"After the race: walk, eat, and no running for {days} days; nothing hard for {weeks}."
    return [Note("phase.after", text, "info")]


def _what_binds(planner: Planner, longest_m: float) -> str:
    """What holds the longest run where it is: time, club nights, its share, else how fast it may grow."""
    context = planner.context
    week_m = max((week.distance_m for week in planner.weeks if is_loaded(week, context)), default=0.0)
    longest_s = longest_m / 1000 * planner.long_s_per_km
    if longest_s > 0.97 * run_time_cap_s(context):
        most = say_minutes(run_time_cap_s(context))
        return f"In {most}, the most for one run, the longest run reaches {run_mark(longest_m)}"
    if not longest_m and context.club_days.issuperset(context.running_days):
        return (
            "All your running days are club nights, so no long run fits: add a day, or leave one of them to "
            "a long run of your own"
        )
    share = context.limits.number("load.long_share")
    if longest_m > 0.94 * share * week_m:
        return (
            f"The long run is at most half of its week; in these weeks and on your days a week may grow to "
            f"{run_mark(week_m)}, so the longest run is {run_mark(longest_m)}"
        )
    return f"Growing no faster than the rules allow, the longest run reaches {run_mark(longest_m)}"


def race_advice(
    planner: Planner, *, lived: Sequence[Week] | None = None, laid_out: Sequence[Week] | None = None
) -> list[Note]:
    """Whether the longest run is long enough to race on, and after what was lost whether it still is.

    In the weeks as ``lived`` what was run in the last days before the race counts, and what is still to come.
    Where the plan as ``laid_out`` had more it is advice to a runner who may race all the same.
    """
    context = planner.context
    if not _counts_long_runs(planner):
        return []
    lived = planner.weeks if lived is None else lived
    laid_out = planner.weeks if laid_out is None else laid_out
    least = run_mark(24_000 if context.race.distance_m > 30_000 else 0.7 * context.race.distance_m)
    if short_of_runs(planner, laid_out):
        longest_m = _longest_m(_long_runs(lived))
        text = (
            f"{_what_binds(planner, longest_m)}; {least} are the least to race on. "
            "We advise a shorter race or a later date; if you start all the same, walk and run by turns, and "
            "check the closing time of the course."
        )
        return [Note("phase.runway", text, "refusal")]
    runs = _last_runs(planner, lived)
    longest_m = _longest_m(runs)
    if _enough(planner, runs) or longest_m >= _longest_m(_last_runs(planner, laid_out)) - ROUNDING_M:
        return []
    days = context.limits.number("load.single_run_window")
    text = (
        f"The longest run of the {days:.0f} days before the race is {run_mark(longest_m)}; {least} are the "
        "least to race on. Our advice is a shorter race that day, or this one at a later date; if you start "
        "all the same, walk and run by turns for the finish, and check the closing time of the course."
    )
    return [Note("load.single_run_window", text, "caution")]


def short_of_runs(planner: Planner, weeks: Sequence[Week]) -> bool:
    """Whether the longest run of these weeks is too short to race on: then the race is run and walked."""
    return _counts_long_runs(planner) and not _enough(planner, _long_runs(weeks))


def _counts_long_runs(planner: Planner) -> bool:
    """Whether the race is long enough that the longest run decides on it."""
    return planner.context.race.distance_m >= 16_000 and planner.context.races


def _long_runs(weeks: Sequence[Week]) -> list[Session]:
    return [one for week in weeks for one in week.sessions if one.role == "long" and not one.cancelled]


def _longest_m(runs: Sequence[Session]) -> float:
    return max((session.distance_m for session in runs), default=0.0)


def _enough(planner: Planner, runs: Sequence[Session]) -> bool:
    """Whether the longest of these runs reaches the least to race on."""
    race_m, longest_m = planner.context.race.distance_m, _longest_m(runs)
    longest_s = max((session.duration_s for session in runs), default=0.0)
    if race_m > 30_000:
        return longest_m >= 24_000 or longest_s >= 9000
    return longest_m >= 0.7 * race_m - ROUNDING_M
