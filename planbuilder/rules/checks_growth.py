"""Rules of growth: one thing changes at a time, and long runs with hard minutes come in turns.

Receives: weeks and a ``RuleContext``.
Gives: breaches, one sentence each with both numbers; ``rises``, what a week changes.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from planbuilder.plan.types import Session, Week
from planbuilder.rules.checks_load import (
    climb_before,
    climb_cap,
    climb_of,
    level_before,
    longest_before,
    percent,
    rise_cap,
    single_run_cap_m,
    work_before,
    work_cap,
)
from planbuilder.rules.context import Breach, RuleContext, is_loaded, is_training_run, near_race
from planbuilder.rules.registry import limit, wish
from planbuilder.units import count_of, say_minutes

Thing = Literal["weekly distance", "long run", "work", "climbing"]


@dataclass(frozen=True, slots=True)
class Rise:
    """One thing that a week may change: what it was, what it is, and the most it may be."""

    thing: Thing
    before: float  # metres, seconds of work or metres climbed
    now: float
    cap: float

    @property
    def share(self) -> float:
        """How much of the permitted rise is used; 0 where nothing rises."""
        return max(self.now - self.before, 0.0) / max(self.cap - self.before, 1e-9)


def held(before: float, cap: float, context: RuleContext) -> float:
    """The most of a thing in a week in which another one is near its cap."""
    return before + (cap - before) * context.limits.number("load.one_thing")


def rises(weeks: Sequence[Week], index: int, context: RuleContext) -> tuple[Rise, ...]:
    """Distance, long run, work and climbing of a week against what came before and what is permitted."""
    week, level = weeks[index], level_before(weeks, index, context)
    found = [Rise("weekly distance", level, week.distance_m, rise_cap(level, context))]
    long = next((one for one in week.sessions if one.role == "long" and not one.cancelled), None)
    if long is not None:
        longest = longest_before(weeks, index, context, long.date)
        found.append(Rise("long run", longest, long.distance_m, single_run_cap_m(longest, context)))
    work = work_before(weeks, index, context)
    found.append(Rise("work", work, week.work_s, work_cap(weeks, index, context)))
    climbed = climb_before(weeks, index, context)
    if sum(one.climb_m for one in week.sessions if is_training_run(one)) > context.limits.number(
        "load.climb_trifle"
    ):
        cap = climb_cap(weeks, index, context)
        found.append(Rise("climbing", climbed, climb_of(week, context), cap))
    return tuple(found)


def near_caps(weeks: Sequence[Week], index: int, context: RuleContext) -> list[Rise]:
    """What a week raises near to its cap."""
    most = context.limits.number("load.one_thing") + 1e-3
    return [rise for rise in rises(weeks, index, context) if rise.share > most]


@limit("load.one_thing", "load.one_thing")
def one_thing(weeks: Sequence[Week], index: int, context: RuleContext) -> Iterator[Breach]:
    """One thing grows at a time: of distance, long run, work and climbing at most one rises near its cap."""
    week = weeks[index]
    if not is_loaded(week, context):
        return
    near, most = near_caps(weeks, index, context), context.limits.number("load.one_thing")
    if len(near) > 1:
        names = " and ".join(f"{rise.thing} ({percent(rise.share)})" for rise in near)
        yield Breach(
            "load.one_thing",
            None,
            week.first_day,
            f"Week {week.number} raises {names}, each in percent of the rise it may make; only 1 of them may "
            f"use more than {percent(most)}.",
        )


def runs_of(week: Week) -> int:
    """Days on which a week is run, races included; a second run on a day adds nothing."""
    days = {one.date for one in week.sessions if not one.cancelled and one.role not in ("strength", "cross")}
    return len(days)


def most_runs(weeks: Sequence[Week], index: int, context: RuleContext) -> int | None:
    """The most running days of a loaded week after the loaded weeks before it; None before the first one."""
    runs, span = (int(value) for value in context.limits.numbers("load.frequency_rise"))
    days: list[tuple[int, int]] = [
        (position, runs_of(weeks[position]))
        for position in range(index)
        if is_loaded(weeks[position], context)
    ][-6:]
    if not days:
        return None
    highest, rose = days[0][1], False
    for position, count in days[1:]:
        if count > highest:
            highest, rose = count, index - position < span
    return highest if rose else highest + runs


@wish("wish.frequency", "load.frequency_rise")
def frequency(weeks: Sequence[Week], context: RuleContext) -> Iterator[Breach]:
    """A running day is added at most every 3 weeks, one at a time."""
    for index, week in enumerate(weeks):
        if not is_loaded(week, context):
            continue
        most, found = most_runs(weeks, index, context), runs_of(week)
        if most is not None and found > most:
            yield Breach(
                "wish.frequency",
                None,
                week.first_day,
                f"Week {week.number} has {count_of(found, 'running day')}; {most} were wished for, so that "
                "days come one at a time.",
            )
            return


# Long runs with hard minutes -----------------------------------------------------------------------------


def working_long(week: Week) -> Session | None:
    """The long run of a week, where it holds hard minutes."""
    return next((one for one in week.sessions if one.role == "long" and one.hard and not one.cancelled), None)


def long_turns(phase: str, context: RuleContext) -> tuple[int, int]:
    """So many long runs of so many weeks in a row may hold hard minutes in this phase."""
    runs, span = context.limits.table("load.working_long").get(phase, (1, 1))
    return int(runs), int(span)


@limit("load.working_long", "load.working_long")
def working_longs(weeks: Sequence[Week], index: int, context: RuleContext) -> Iterator[Breach]:
    """Long runs hold hard minutes in 3 weeks of 4 at most in specific, 1 of 3 in build, none in base."""
    week, long = weeks[index], working_long(weeks[index])
    if long is None or week.phase not in context.limits.table("load.working_long"):
        return
    most, span = long_turns(week.phase, context)
    found = sum(
        working_long(weeks[position]) is not None and weeks[position].phase == week.phase
        for position in range(max(0, index - span + 1), index + 1)
    )
    if found > most:
        yield Breach(
            "load.working_long",
            long.id,
            long.date,
            f"{found} long runs of the last {span} weeks of the {week.phase} phase hold hard minutes; the "
            f"most is {most}.",
        )


# The other easy runs -------------------------------------------------------------------------------------


def midweek_cap_s(long_s: float, context: RuleContext) -> float:
    """The longest easy run beside a long run of so many seconds; one of ordinary length is always right."""
    number = context.limits.number
    return max(long_s * number("load.midweek_share"), number("load.midweek_always") * 60)


@wish("wish.midweek_easy", "load.midweek_share", "load.midweek_always")
def midweek_easy(weeks: Sequence[Week], context: RuleContext) -> Iterator[Breach]:
    """The longest easy run besides the long one is at most 65 % of it, nine weeks in ten."""
    counted, over = 0, []
    for week in weeks:
        long = next((one for one in week.sessions if one.role == "long" and not one.cancelled), None)
        easy = [one for one in week.sessions if is_training_run(one) and one.role in ("easy", "club")]
        easy = [one for one in easy if not one.hard and one.work_s <= 360 and not one.cancelled]
        rehearsal = long is not None and long.kind == "race_simulation"  # stands for a longer run
        if long is None or rehearsal or not easy or near_race(week.first_day, context):
            continue
        counted += 1
        longest = max(easy, key=lambda one: one.duration_s)
        if longest.duration_s > midweek_cap_s(long.duration_s, context) + 1:
            over.append((longest, midweek_cap_s(long.duration_s, context)))
    if len(over) > 0.1 * counted:
        run, most_s = max(over, key=lambda pair: pair[0].duration_s - pair[1])
        share = context.limits.number("load.midweek_share")
        where = f"In {len(over)} of {counted} weeks" if counted > 1 else "In the one week with a long run"
        yield Breach(
            "wish.midweek_easy",
            run.id,
            run.date,
            f"{where} an easy run is longer than {percent(share)} of the long run, "
            f"up to {say_minutes(run.duration_s)} where {say_minutes(most_s)} were wished for: the distance "
            "you run asks for it on these days.",
        )
