"""Rules of rhythm: how many loaded weeks follow one another, and how light the lighter ones are.

Receives: weeks and a ``RuleContext``.
Gives: breaches, one sentence each with both numbers.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from planbuilder.plan.types import Week
from planbuilder.rules.checks_load import SLACK, level_before, loaded_before, percent
from planbuilder.rules.context import (
    Breach,
    RuleContext,
    away_days,
    has_tune_up,
    is_loaded,
    is_race,
    is_stub,
    is_training_run,
)
from planbuilder.rules.registry import limit, wish
from planbuilder.units import apart_marks, run_mark


def loaded_limit(context: RuleContext) -> int:
    """How many loaded weeks may follow one another; from 50 the runner may answer the default."""
    number = context.limits.number
    most = int(number("load.loaded_weeks"))
    if context.careful:
        return int(number("load.loaded_weeks_careful"))
    answered = context.runner.loaded_weeks
    if answered is not None:
        return min(answered, most)
    return int(number("load.loaded_weeks_from_50")) if context.older else most


@limit(
    "load.recovery_rhythm",
    "load.loaded_weeks",
    "load.loaded_weeks_careful",
    "load.loaded_weeks_from_50",
)
def recovery_rhythm(weeks: Sequence[Week], index: int, context: RuleContext) -> Iterator[Breach]:
    """After at most 3 loaded weeks comes a lighter one; after 2 for novices, minors, the sore, from 50."""
    most = loaded_limit(context)
    run = 0
    for position in range(index, -1, -1):
        if not is_loaded(weeks[position], context):
            break
        run += 1
    if run > most:
        yield Breach(
            "load.recovery_rhythm",
            None,
            weeks[index].first_day,
            f"Week {weeks[index].number} is loaded week {run} in a row; the most is {most}.",
        )


def load_before(weeks: Sequence[Week], index: int, context: RuleContext) -> float:
    """The last loaded week before a week, metres; the intake where there is none."""
    before = loaded_before(weeks, index, context)
    return before[-1].distance_m if before else context.baseline.weekly_m


def raced_m(week: Week) -> float:
    """Metres of the tune-up race of a week, with its warm-up; the distance of a week leaves them out."""
    return sum(one.distance_m for one in week.sessions if one.role == "tune_up" and not one.cancelled)


@limit("load.recovery_share", "load.recovery_share")
def recovery_share(weeks: Sequence[Week], index: int, context: RuleContext) -> Iterator[Breach]:
    """A recovery week holds 65 to 85 % of the last loaded week; a tune-up race counts towards the 65."""
    week = weeks[index]
    if not week.recovery or week.phase == "taper" or not context.allowed.trains:
        return
    level = load_before(weeks, index, context)
    low, high = context.limits.numbers("load.recovery_share")
    share, raced = week.distance_m / max(level, 1.0), raced_m(week) / max(level, 1.0)
    if (low / SLACK <= share + raced and share <= high * SLACK) or is_full_easy(weeks, index, context):
        return
    shortest_s = context.limits.number("load.shortest_run") * 60
    no_shorter = all(one.duration_s <= shortest_s for one in week.sessions if is_training_run(one))
    special = has_tune_up(week) or away_days(week, context) > 0 or is_stub(week)
    yield Breach(
        "load.recovery_share",
        None,
        week.first_day,
        f"Recovery week {week.number} holds {run_mark(week.distance_m)}, "
        f"{percent(share, beside=(low, high))} of the {run_mark(level)} before; "
        f"the range is {percent(low)} to {percent(high)}"
        + (", and a race or days away fall in it." if special else "."),
        excepted=no_shorter
        or (
            share + raced < low
            and (special or len(context.running_days) <= 2 or bool(context.runner.minutes))
        ),
    )


# The way back from hardly any running ---------------------------------------------------------------------


def way_back_cap(weeks: Sequence[Week], index: int, context: RuleContext) -> float:
    """The largest loaded week behind one that held hardly any running, metres; infinite behind any other."""
    if index == 0 or is_stub(weeks[index - 1]):
        return math.inf
    level, before = level_before(weeks, index, context), weeks[index - 1]
    raced = sum(one.distance_m for one in before.sessions if is_race(one) and not one.cancelled)
    if before.distance_m + raced >= context.limits.numbers("load.full_easy_share")[0] * level / SLACK:
        return math.inf
    return context.limits.number("load.way_back") * level


@limit("load.way_back", "load.way_back", "load.full_easy_share")
def way_back(weeks: Sequence[Week], index: int, context: RuleContext) -> Iterator[Breach]:
    """Behind a week lighter than any light week should be, a loaded one holds at most 80 % of the load."""
    week, cap = weeks[index], way_back_cap(weeks, index, context)
    if is_loaded(week, context) and week.distance_m > cap * SLACK:
        held, most = apart_marks(week.distance_m, cap)
        yield Breach(
            "load.way_back",
            None,
            week.first_day,
            f"Week {week.number} holds {held} behind one of {run_mark(weeks[index - 1].distance_m)}; "
            f"the most is {most}.",
        )


# A full easy week in a long block ------------------------------------------------------------------------


def full_easy_window(context: RuleContext) -> range:
    """Positions near the middle of a long block, one of which is a full easy week; empty in a shorter one."""
    count = len(context.frames)
    if sum(context.phase_weeks) <= context.limits.number("load.full_easy_from"):
        return range(0)
    low, high = context.limits.numbers("load.full_easy_middle")
    return range(round(low * (count - 1)), round(high * (count - 1)) + 1)


def share_of_load(weeks: Sequence[Week], index: int, context: RuleContext) -> float:
    """The distance of a week against the last loaded one."""
    return weeks[index].distance_m / max(load_before(weeks, index, context), 1.0)


def is_light(weeks: Sequence[Week], index: int, context: RuleContext) -> bool:
    """Whether a week near the middle of a long block is light enough for its full easy week."""
    if index not in full_easy_window(context) or any(session.hard for session in weeks[index].sessions):
        return False
    most = context.limits.numbers("load.full_easy_share")[1]
    return share_of_load(weeks, index, context) <= most * SLACK


def is_full_easy(weeks: Sequence[Week], index: int, context: RuleContext) -> bool:
    """Whether a week is the full easy one of a long block, and not lighter than that."""
    least = context.limits.numbers("load.full_easy_share")[0]
    light = is_light(weeks, index, context)
    return light and share_of_load(weeks, index, context) >= least / SLACK


@wish("wish.full_easy_week", "load.full_easy_from", "load.full_easy_share", "load.full_easy_middle")
def full_easy_week(weeks: Sequence[Week], context: RuleContext) -> Iterator[Breach]:
    """A block of more than 16 weeks has one full easy week near its middle, with nothing hard in it."""
    window = [position for position in full_easy_window(context) if position < len(weeks)]
    if not window or any(is_light(weeks, position, context) for position in window):
        return
    lightest = min(window, key=lambda position: share_of_load(weeks, position, context))
    share = share_of_load(weeks, lightest, context)
    most = context.limits.numbers("load.full_easy_share")[1]
    yield Breach(
        "wish.full_easy_week",
        None,
        weeks[lightest].first_day,
        f"The lightest week near the middle of these {sum(context.phase_weeks)} is week "
        f"{weeks[lightest].number} with {percent(share)} of the load before; a full easy week of "
        f"{percent(most)} or less with nothing hard in it was wished for.",
    )
