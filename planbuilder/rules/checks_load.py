"""Rules of load: volume, the single run, the long run, work, climbing.

Receives: weeks and a ``RuleContext``.
Gives: breaches, one sentence each with both numbers.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from itertools import pairwise

from planbuilder.plan.types import Week
from planbuilder.rules.context import (
    Breach,
    RuleContext,
    has_tune_up,
    is_loaded,
    is_stub,
    is_training_run,
)
from planbuilder.rules.registry import limit
from planbuilder.units import apart_marks, height_mark, run_mark, say_minutes

SLACK = 1.0 + 1e-6  # for floating point only


def percent(share: float, *, beside: Sequence[float] = ()) -> str:
    """A share in whole percent; with a decimal where it would print like one that it is held ``beside``."""
    whole = f"{share * 100:.0f} %"
    return f"{share * 100:.1f} %" if whole in map(percent, beside) else whole


def loaded_before(weeks: Sequence[Week], index: int, context: RuleContext) -> list[Week]:
    """Loaded weeks before a week, latest last; no more than six, so that a long block costs no more."""
    found: list[Week] = []
    for position in range(index - 1, -1, -1):
        if is_loaded(weeks[position], context):
            found.append(weeks[position])
            if len(found) == 6:
                break
    return found[::-1]


def level_before(weeks: Sequence[Week], index: int, context: RuleContext) -> float:
    """The load a week is compared with: the highest loaded week of the 3 before, else the last loaded one."""
    near = [
        weeks[position].distance_m
        for position in range(max(0, index - 3), index)
        if is_loaded(weeks[position], context)
    ]
    if index < 3 or not near:
        earlier = loaded_before(weeks, index, context)
        near += [earlier[-1].distance_m] if earlier and not near else []
    if index < 3:
        near.append(context.baseline.weekly_m)
    return max(near, default=context.baseline.weekly_m)


def rise_cap(level_m: float, context: RuleContext) -> float:
    """The largest loaded week after a level of so many metres."""
    number = context.limits.number
    step = max(level_m * number("load.weekly_rise"), level_m + number("load.weekly_step"))
    return min(step, level_m * number("load.weekly_ceiling"))


def two_week_cap(weeks: Sequence[Week], index: int, context: RuleContext) -> float:
    """The largest loaded week after the loaded level two weeks before."""
    level = context.baseline.weekly_m
    for position in range(index - 2, -1, -1):
        if is_loaded(weeks[position], context):
            level = weeks[position].distance_m
            break
    return max(level, 1.0) * context.limits.number("load.two_week_ceiling")


def peak_cap(weeks: Sequence[Week], index: int, context: RuleContext) -> float:
    """The largest week the block allows by its start and the loaded weeks so far."""
    number, start = context.limits.number, context.baseline.weekly_m
    if start < number("load.low_start"):
        return start * number("load.peak_ceiling_low")
    loaded = 1 + sum(is_loaded(week, context) for week in weeks[:index])
    return start * min(1 + number("load.peak_per_loaded_week") * loaded, number("load.peak_ceiling"))


@limit("load.first_week", "load.first_week")
def first_week(weeks: Sequence[Week], index: int, context: RuleContext) -> Iterator[Breach]:
    """The first whole week stays near the mean of the last 4 weeks."""
    week = weeks[index]
    if is_stub(week) or any(not is_stub(earlier) for earlier in weeks[:index]):
        return
    low, high = context.limits.numbers("load.first_week")
    share = week.distance_m / context.baseline.weekly_m
    said = percent(share, beside=(low, high))
    text = (
        f"Week {week.number} holds {run_mark(week.distance_m)}, {said} of your mean of "
        f"{run_mark(context.baseline.weekly_m)}; the range is {percent(low)} to {percent(high)}."
    )
    if share > high * SLACK:
        yield Breach("load.first_week", None, week.first_day, text)
    elif share < low / SLACK:
        light = not is_loaded(week, context) or not context.allowed.run or context.sore
        yield Breach(
            "load.first_week", None, week.first_day, text, excepted=light or _days_hold_less(week, context)
        )


def _days_hold_less(week: Week, context: RuleContext) -> bool:
    """Whether the days cannot hold the load: each run is as long as its day, cap or distance allows.

    Who runs on club nights alone is done when the group is.
    """
    if context.club_days.issuperset(context.running_days):
        return True
    runs = [session for session in week.sessions if is_training_run(session)]
    longest_m = single_run_cap_m(context.baseline.longest_m, context)
    longest_s = run_time_cap_s(context)
    return all(
        session.distance_m > 0.8 * longest_m or session.duration_s > 0.8 * longest_s for session in runs
    ) or bool(context.runner.minutes)


@limit("load.weekly_rise", "load.weekly_rise", "load.weekly_step", "load.weekly_ceiling")
def weekly_rise(weeks: Sequence[Week], index: int, context: RuleContext) -> Iterator[Breach]:
    """A loaded week rises by a tenth or 4 km over the last loaded weeks, and never by more than a fifth."""
    week = weeks[index]
    if not is_loaded(week, context) or index == 0:
        return
    level = level_before(weeks, index, context)
    cap = rise_cap(level, context)
    if week.distance_m > cap * SLACK:
        held, most = apart_marks(week.distance_m, cap)
        yield Breach(
            "load.weekly_rise",
            None,
            week.first_day,
            f"Week {week.number} holds {held}; after {run_mark(level)} the most is {most}.",
        )


@limit("load.two_week_ceiling", "load.two_week_ceiling")
def two_week_rise(weeks: Sequence[Week], index: int, context: RuleContext) -> Iterator[Breach]:
    """Over two weeks the load rises by no more than 30 %."""
    week = weeks[index]
    if not is_loaded(week, context) or index < 2:
        return
    cap = two_week_cap(weeks, index, context)
    if week.distance_m > cap * SLACK:
        held, most = apart_marks(week.distance_m, cap)
        yield Breach(
            "load.two_week_ceiling",
            None,
            week.first_day,
            f"Week {week.number} holds {held}; two weeks after the load before, the most is {most}.",
        )


@limit(
    "load.peak",
    "load.peak_per_loaded_week",
    "load.peak_ceiling",
    "load.peak_ceiling_low",
    "load.low_start",
)
def peak(weeks: Sequence[Week], index: int, context: RuleContext) -> Iterator[Breach]:
    """The peak week stays near the start: 4 % more for each loaded week, never half as much again."""
    week = weeks[index]
    if not is_loaded(week, context):
        return
    cap = max(peak_cap(weeks, index, context), context.baseline.weekly_m)
    if week.distance_m > cap * SLACK:
        held, most = apart_marks(week.distance_m, cap)
        yield Breach(
            "load.peak",
            None,
            week.first_day,
            f"Week {week.number} holds {held}; from a start of {run_mark(context.baseline.weekly_m)} "
            f"the most by now is {most}.",
        )


def longest_before(weeks: Sequence[Week], index: int, context: RuleContext, date: dt.date) -> float:
    """The longest training run of the 30 days before a date, metres; the intake counts for the first 30.

    Behind a break that is longer than that, what the break leaves of the longest run before it.
    """
    window = int(context.limits.number("load.single_run_window"))
    first = date - dt.timedelta(days=window)
    longest = 0.0
    if first < context.first_day:
        earlier = [run.distance_m for run in context.done if first <= run.date < date]
        longest = max([context.baseline.longest_m, *earlier])
    for position in range(max(0, index - window // 7 - 1), index + 1):
        for session in weeks[position].sessions:
            if first <= session.date < date and is_training_run(session) and not session.cancelled:
                longest = max(longest, session.distance_m)
    empty = (week.distance_m == 0 for week in weeks[max(0, index - 2 * (window // 7 + 1)) : index])
    return max(longest, _left_by_a_break(weeks[: index + 1], context, date)) if any(empty) else longest


def _left_by_a_break(weeks: Sequence[Week], context: RuleContext, date: dt.date) -> float:
    """A share of the longest run before a break that ended in the 30 days before a date, metres; else 0."""
    window = dt.timedelta(days=context.limits.number("load.single_run_window"))
    ran = {
        session.date: session.distance_m
        for week in weeks
        for session in week.sessions
        if session.date < date and is_training_run(session) and not session.cancelled
    }
    days = [*sorted(ran), date]
    for before, after in pairwise(days):
        if after - before > window and date - after <= window:
            shares = context.limits.table("adapt.return_long")
            longest = max(metres for day, metres in ran.items() if before - window < day <= before)
            return longest * float(shares[max(shares, key=int)])
    return 0.0


def single_run_cap_m(longest_m: float, context: RuleContext) -> float:
    """The longest run allowed after a longest run of so many metres."""
    number = context.limits.number
    cap = longest_m * number("load.single_run_cap")
    return cap + number("load.single_run_allowance") if longest_m < 10_000 else cap


@limit("load.single_run_cap", "load.single_run_cap", "load.single_run_window", "load.single_run_allowance")
def single_run(weeks: Sequence[Week], index: int, context: RuleContext) -> Iterator[Breach]:
    """No run is longer than a tenth more than the longest of the 30 days before it."""
    # shorter than the start of the 30 days needs no look back
    for session in weeks[index].sessions:
        if not is_training_run(session) or session.cancelled:
            continue
        longest = longest_before(weeks, index, context, session.date)
        cap = single_run_cap_m(longest, context)
        if session.distance_m > cap * SLACK:
            run, most = apart_marks(session.distance_m, cap)
            yield Breach(
                "load.single_run_cap",
                session.id,
                session.date,
                f"This run of {run} is longer than {most}, the most after "
                f"a longest run of {run_mark(longest)} in the 30 days before.",
            )


@limit("load.long_share", "load.long_share")
def long_share(weeks: Sequence[Week], index: int, context: RuleContext) -> Iterator[Breach]:
    """The long run is at most half of a loaded week."""
    week = weeks[index]
    if not is_loaded(week, context) or week.distance_m <= 0:
        return
    most = context.limits.number("load.long_share")
    for session in week.sessions:
        if session.role != "long" or session.distance_m <= most * week.distance_m * SLACK:
            continue
        runs = sum(is_training_run(other) for other in week.sessions)
        share = percent(session.distance_m / week.distance_m, beside=[most])
        yield Breach(
            "load.long_share",
            session.id,
            session.date,
            f"The long run of {run_mark(session.distance_m)} is {share} of a week of "
            f"{run_mark(week.distance_m)}; the most is {percent(most)}.",
            excepted=runs < 3,
        )


@limit("load.long_cap", "load.long_cap", "safety.minor_long")
def long_cap(weeks: Sequence[Week], index: int, context: RuleContext) -> Iterator[Breach]:
    """No training run lasts longer than the race asks: 100 min for 5 km to 180 min for the marathon."""
    most = run_time_cap_s(context)
    for session in weeks[index].sessions:
        if is_training_run(session) and session.duration_s > most * SLACK:
            yield Breach(
                "load.long_cap",
                session.id,
                session.date,
                f"This run lasts {say_minutes(session.duration_s)}; the most is {say_minutes(most)}.",
            )


def run_time_cap_s(context: RuleContext) -> float:
    """The longest run in seconds."""
    most = float(context.by_distance("load.long_cap")) * 60
    return min(most, context.limits.number("safety.minor_long") * 60) if context.allowed.minor else most


def work_before(weeks: Sequence[Week], index: int, context: RuleContext) -> float:
    """The most work of the 4 weeks before a week, seconds; the intake stands for those before the block."""
    found = [weeks[position].work_s for position in range(max(0, index - 4), index)]
    if index < 4:
        found.append(context.baseline.work_s)
    return max(found)


def work_cap(weeks: Sequence[Week], index: int, context: RuleContext) -> float:
    """The most work a week may hold, seconds."""
    name = "load.work_rise_novice" if context.level == "novice" else "load.work_rise"
    return work_before(weeks, index, context) + context.limits.number(name) * 60


@limit("load.work_rise", "load.work_rise", "load.work_rise_novice")
def work_rise(weeks: Sequence[Week], index: int, context: RuleContext) -> Iterator[Breach]:
    """Work minutes rise by at most 12 over the most of the 4 weeks before, by 8 for a novice."""
    week, cap = weeks[index], work_cap(weeks, index, context)
    if week.work_s > cap + 1.0:
        yield Breach(
            "load.work_rise",
            None,
            week.first_day,
            f"Week {week.number} holds {say_minutes(week.work_s)} at RPE 5 and above; the most is "
            f"{say_minutes(cap)}.",
        )


def easy_share_least(week: Week, context: RuleContext) -> float:
    """The smallest easy share of a week."""
    number = context.limits.number
    if has_tune_up(week):
        return number("load.easy_share_tune_up")
    few = len(context.running_days) <= 3
    return number("load.easy_share_few_days") if few else number("load.easy_share")


@limit("load.easy_share", "load.easy_share", "load.easy_share_few_days", "load.easy_share_tune_up")
def easy_share(weeks: Sequence[Week], index: int, context: RuleContext) -> Iterator[Breach]:
    """At least three quarters of the running time of a week are easy."""
    week = weeks[index]
    if week.phase in ("taper", "after") or week.duration_s <= 0 or is_stub(week):
        return
    least, share = easy_share_least(week, context), 1 - week.work_s / week.duration_s
    if share < least / SLACK:
        yield Breach(
            "load.easy_share",
            None,
            week.first_day,
            f"Week {week.number} is {percent(share, beside=[least])} easy; the least is {percent(least)}.",
        )


def block_easy_share(context: RuleContext) -> float:
    """The smallest easy share of the block."""
    few = len(context.running_days) <= 3
    return context.limits.number("load.easy_share_few_days" if few else "load.easy_share_block")


@limit("load.easy_share_block", "load.easy_share_block", "load.easy_share_few_days")
def easy_share_of_block(weeks: Sequence[Week], index: int, context: RuleContext) -> Iterator[Breach]:
    """At least four fifths of the running time of the block are easy."""
    if index != len(weeks) - 1 or weeks[index].last_day < context.race.date:
        return
    total = sum(week.duration_s for week in weeks)
    share, least = 1 - sum(week.work_s for week in weeks) / max(total, 1.0), block_easy_share(context)
    if total > 0 and share < least / SLACK:
        yield Breach(
            "load.easy_share_block",
            None,
            weeks[index].first_day,
            f"The block is {percent(share, beside=[least])} easy; the least is {percent(least)}.",
        )


def climb_of(week: Week, context: RuleContext) -> float:
    """Metres climbed in training in a week; easy running is taken over the runner's usual ground."""
    usual = context.baseline.climb_m / max(context.baseline.weekly_m, 1.0)
    return sum(
        session.climb_m if session.climb_m > 0 or session.hard else usual * session.distance_m
        for session in week.sessions
        if is_training_run(session)
    )


def climb_before(weeks: Sequence[Week], index: int, context: RuleContext) -> float:
    """The most climbing of the 4 weeks before, metres; the intake stands for those before the block."""
    found = [climb_of(weeks[position], context) for position in range(max(0, index - 4), index)]
    return max([*found, context.baseline.climb_m] if index < 4 else found)


def climb_cap(weeks: Sequence[Week], index: int, context: RuleContext) -> float:
    """The most climbing a week may hold, metres."""
    number = context.limits.number
    highest = climb_before(weeks, index, context)
    return max(highest * number("load.climb_rise"), highest + number("load.climb_step"))


@limit("load.climb_rise", "load.climb_rise", "load.climb_step", "load.climb_start", "load.climb_trifle")
def climb_rise(weeks: Sequence[Week], index: int, context: RuleContext) -> Iterator[Breach]:
    """Metres climbed in a week rise by at most 30 %, or by 100 m, over the most of the 4 weeks before."""
    week, cap = weeks[index], climb_cap(weeks, index, context)
    climbed = climb_of(week, context)
    planned = sum(session.climb_m for session in week.sessions if is_training_run(session))
    if climbed > cap * SLACK and planned > context.limits.number("load.climb_trifle"):
        yield Breach(
            "load.climb_rise",
            None,
            week.first_day,
            f"Week {week.number} climbs {height_mark(climbed)}; the most is {height_mark(cap)}.",
        )
