"""The weekly load: which weeks are loaded and which are light, how far, how long the long run, how much work.

Receives: a ``Planner`` and the frames of the block.
Gives: the kind of every week, and a ``Target`` for the next one.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

from planbuilder.plan.types import Week
from planbuilder.rules.checks_growth import held
from planbuilder.rules.checks_load import (
    block_easy_share,
    climb_before,
    climb_cap,
    easy_share_least,
    level_before,
    loaded_before,
    peak_cap,
    rise_cap,
    run_time_cap_s,
    single_run_cap_m,
    two_week_cap,
    work_before,
    work_cap,
)
from planbuilder.rules.checks_rhythm import full_easy_window, loaded_limit, raced_m, way_back_cap
from planbuilder.rules.checks_taper import taper_range
from planbuilder.rules.checks_trips import way_home_cap, way_home_long_cap
from planbuilder.rules.context import RuleContext, is_loaded, near_race
from planbuilder.rules.phases import Frame
from planbuilder.rules.trips import WEEK, hardly_run, way_home
from planbuilder.schedule.state import Planner
from planbuilder.settings.models import WEEKDAYS

LITTLE_WORK_S: Final = 720.0
USUAL_SHARE: Final = 0.7  # of a week over the usual ground; about a third is something else
ROUNDING_S: Final = 60.0  # by which a session may hold more work than was asked for
WeekKind = Literal["loaded", "recovery", "easy_week", "taper", "tune_up", "away", "stub"]
LIGHT: Final[tuple[WeekKind, ...]] = ("recovery", "easy_week", "tune_up", "away")


@dataclass(frozen=True, slots=True)
class Target:
    """What a week aims at, and what it must not pass."""

    kind: WeekKind
    volume_m: float  # aim
    least_m: float  # below this a limit is broken, 0 where there is none
    most_m: float
    long_s: float  # aim for the long run, 0: none
    work_s: float  # most work
    climb_m: float  # most climbing
    run_cap_m: float  # longest run
    away: bool = False  # whether days of it are spent away
    long_copy_s: float | None = None  # a plain long run of this length would be one too many


def week_kinds(context: RuleContext) -> tuple[WeekKind, ...]:
    """Loaded or light, week by week: races, travel and the taper first, then recovery weeks between them.

    In a long block the light week nearest to the middle becomes a full easy one.
    """
    fixed: list[WeekKind] = [_fixed_kind(frame, context) for frame in context.frames]
    low = context.limits.numbers("load.recovery_share")[0]
    for position in range(1, len(fixed)):  # behind hardly any running the next week is a step back anyhow
        monday = context.frames[position].first_day
        step = way_home(monday, context)
        few = step is not None and step.number == 1 and hardly_run(monday - WEEK, context)
        if fixed[position] == "loaded" and few and step is not None and step.load >= low:
            fixed[position] = "recovery"
    kinds, window = _with_recovery(fixed, context), full_easy_window(context)
    if not window:
        return tuple(kinds)
    middle = (len(kinds) - 1) / 2
    able = [position for position in window if kinds[position] in ("recovery", "away")]
    if not able:
        able = [position for position in window if kinds[position] == "loaded"]
        if able:
            fixed[min(able, key=lambda position: abs(position - middle))] = "recovery"
            kinds = _with_recovery(fixed, context)
            able = [position for position in window if kinds[position] == "recovery"]
    if able:
        kinds[min(able, key=lambda position: abs(position - middle))] = "easy_week"
    return tuple(kinds)


def _with_recovery(fixed: Sequence[WeekKind], context: RuleContext) -> list[WeekKind]:
    """The same weeks with lighter ones among the loaded."""
    kinds, most = list(fixed), loaded_limit(context)
    start = 0
    while start < len(kinds):
        if kinds[start] != "loaded":
            start += 1
            continue
        end = start
        while end < len(kinds) and kinds[end] == "loaded":
            end += 1
        begins = all(kind == "stub" for kind in kinds[:start]) or kinds[start - 1] == "away"
        for position in _recovery_positions(end - start, most, begins=begins):
            kinds[start + position] = "recovery"
        start = end
    return kinds


def _fixed_kind(frame: Frame, context: RuleContext) -> WeekKind:
    if frame.phase == "taper" or near_race(frame.first_day, context):
        return "taper"
    if frame.stub:
        return "stub"
    if any(context.tune_up_on(day) is not None for day in frame.days):
        return "tune_up"
    return "away" if any(day in context.away for day in frame.days) else "loaded"


def _all_away(days: Sequence[dt.date], context: RuleContext) -> bool:
    """Whether there are running days among these and none of them is spent at home."""
    running = [day for day in days if WEEKDAYS[day.weekday()] in context.running_days]
    return bool(running) and all(day in context.away for day in running)


def _takes_a_long_run(frame: Frame, context: RuleContext) -> bool:
    """Whether a usual day of the long run is away in this week, the one before it or the next."""
    day = WEEKDAYS.index(context.runner.long_run_day)
    near = frame.last_day + dt.timedelta(days=day - frame.last_day.weekday())
    return any(near + dt.timedelta(weeks=weeks) in context.away for weeks in (-1, 0, 1))


def _recovery_positions(length: int, most: int, *, begins: bool) -> list[int]:
    """Where the light weeks stand in a run of weeks: the last loaded stretch is the longest.

    Where the run ``begins`` the block, or follows on days away, none comes behind a single week if there is
    room for two before it.
    """
    light = max(0, math.ceil((length - most) / (most + 1)))
    if not light:
        return []
    loaded, chunks = length - light, light + 1
    size, more = divmod(loaded, chunks)
    first = begins and size == 1 and more > 0
    longer = {0, *range(chunks - more + 1, chunks)} if first else set(range(chunks - more, chunks))
    sizes = [size + (chunk in longer) for chunk in range(chunks)]
    positions, at = [], 0
    for size in sizes[:-1]:
        at += size
        positions.append(at)
        at += 1
    return positions


def aim_factor(context: RuleContext) -> float:
    """Peak week aimed at, as a multiple of the start."""
    table = context.limits.table("load.aim")
    start = context.baseline.weekly_m
    if context.sore:
        return 1.0
    factor = float(table[max((key for key in table if float(key) <= start), key=float)])
    if context.race.distance_m > 30_000 and not context.careful:
        week_m, most = context.limits.numbers("load.aim_marathon")
        factor = max(factor, min(most, week_m / max(start, 1.0)))
    return factor


def usual_runs(context: RuleContext) -> int:
    """Runs of an ordinary week."""
    days = len(context.running_days)
    if context.allowed.minor:
        days = min(days, int(context.limits.number("safety.minor_runs")))
    return max(1, min(days, 5 if context.careful else 6))


def long_peak_m(planner: Planner) -> float:
    """The longest run aimed at, metres: by distance and weekly load, held by time and by its share."""
    context = planner.context
    low, high = (float(value) for value in context.by_distance("load.long_peak_aim"))
    peak_week = context.baseline.weekly_m * aim_factor(context)
    share = min(max((peak_week - 30_000) / 50_000, 0.0), 1.0)
    wanted = low + share * (high - low)
    by_time = run_time_cap_s(context) / planner.long_s_per_km * 1000
    guide = 0.47 if len(context.running_days) <= 3 else 0.42
    wish = context.by_distance("load.long_peak_wish")
    held = min(wanted, by_time, peak_week * guide)
    if context.race.distance_m > 16_000:
        least = min(float(wish[0]), float(wish[1]) * 60 / planner.long_s_per_km * 1000)
        to_race = 25_000 if context.race.distance_m > 30_000 else 0.73 * context.race.distance_m
        held = max(held, min(max(least, to_race), by_time, peak_week * 0.49))
    return held


def _progress(kinds: Sequence[WeekKind], index: int, until: int) -> float:
    """How far a loaded week is on the way to the peak, 0 to 1."""
    loaded = [position for position, kind in enumerate(kinds) if kind == "loaded" and position <= until]
    if len(loaded) <= 1:
        return 1.0
    done = sum(position < index for position in loaded)
    return min(done / (len(loaded) - 1), 1.0)


def peak_position(kinds: Sequence[WeekKind]) -> int:
    """The week of the peak load: three quarters of the way through the loaded weeks."""
    loaded = [position for position, kind in enumerate(kinds) if kind == "loaded"]
    return loaded[min(len(loaded) - 1, round(len(loaded) * 0.75))] if loaded else 0


def target_for(
    planner: Planner, shells: Sequence[Week], index: int, kinds: Sequence[WeekKind], longest_m: float
) -> Target:
    """What week ``index`` aims at; ``shells`` are the weeks so far with an empty one at the end.

    ``longest_m`` is the longest run of the 30 days before its long run.
    """
    context = planner.context
    kind, start, limits = kinds[index], context.baseline.weekly_m, context.limits
    last = loaded_before(shells, index, context)
    last_m = last[-1].distance_m if last else start
    least = 0.0
    if kind == "loaded":
        volume, most = _loaded_volume(planner, shells, index, kinds)
        if not any(not frame.stub for frame in context.frames[:index]):
            least, high = (share * start for share in context.limits.numbers("load.first_week"))
            volume, most = min(start, volume), min(most, high)
            if context.sore:
                share = limits.number("adapt.pain_volume")
                volume, least = share * volume, share * least
    elif kind == "taper":
        least, most = taper_range(shells, index, context)
        race_week = context.frames[index].last_day >= context.race.date
        volume = least + (most - least) * (0.2 if race_week else 0.5)
    elif kind == "stub":
        days = len(context.frames[index].days)
        volume = most = start * min(days / 7, 0.8)
    else:
        full = kind == "easy_week"
        low, high = context.limits.numbers("load.full_easy_share" if full else "load.recovery_share")
        least, most = low * last_m, high * last_m
        aim = (low + 2 * high) / 3 if full else context.limits.number("load.recovery_aim")
        volume = last_m * (aim if kind in ("recovery", "easy_week") else (low + aim) / 2)
        if kind == "tune_up":  # the race is most of the week's long running
            raced, usual_m = raced_m(shells[index]), max([last_m, *(week.distance_m for week in last[-2:])])
            least = max(least - raced, 0.0)
            volume = max(aim * usual_m - raced, limits.number("load.tune_up_least") * usual_m, least)
            volume = min(volume, (low + aim) / 2 * usual_m, most)
        home_m = way_home_cap(shells, index, context)
        if kind == "away":  # the last days of a trip stand in the first week at home
            least = min(least, home_m)
        most = max(least, min(most, home_m))
        volume = min(volume, most)
        if index == 0 or all(frame.stub for frame in context.frames[:index]):
            most = min(most, context.limits.numbers("load.first_week")[1] * start)
    run_cap_m = single_run_cap_m(longest_m, context)
    if kind in ("loaded", "recovery", "easy_week"):
        run_cap_m = min(run_cap_m, way_home_long_cap(shells, index, context))
    target = Target(
        kind=kind,
        volume_m=volume,
        least_m=least,
        most_m=most,
        long_s=_long_s(planner, shells, index, kinds, volume, run_cap_m),
        work_s=_work_s(planner, shells, index, kind, volume),
        climb_m=max(0.0, climb_cap(shells, index, context) - _usual_climb(context, volume)),
        run_cap_m=run_cap_m,
        away=any(day in context.away for day in context.frames[index].days),
        long_copy_s=_long_copy_s(planner, kinds, index) if kind == "loaded" else None,
    )
    return _one_thing(planner, shells, index, target, longest_m) if kind == "loaded" else target


def _one_thing(
    planner: Planner, shells: Sequence[Week], index: int, target: Target, longest_m: float
) -> Target:
    """The target with one thing near its cap at most: the long run first, then distance, work, climbing."""
    context = planner.context
    level, work = level_before(shells, index, context), work_before(shells, index, context)
    volume_held = held(level, rise_cap(level, context), context)
    work_held = held(work, work_cap(shells, index, context), context)
    climbed = climb_before(shells, index, context)
    climb_held = held(climbed, climb_cap(shells, index, context), context)
    long_held = 0.98 * held(longest_m, target.run_cap_m, context) * planner.long_s_per_km / 1000
    if work < LITTLE_WORK_S and target.work_s > work_held:  # the first quick minutes need all the room
        target = replace(target, long_s=min(target.long_s, long_held))
    near = target.long_s > long_held
    if near or target.volume_m <= volume_held:
        target = replace(
            target, volume_m=min(target.volume_m, volume_held), most_m=min(target.most_m, volume_held)
        )
    else:
        near = True
    if near:
        target = replace(target, work_s=min(target.work_s, max(work_held - ROUNDING_S, work)))
    elif target.work_s > work_held:
        near = True
    if near:
        spare = max(0.0, climb_held - _usual_climb(context, target.volume_m))
        target = replace(target, climb_m=min(target.climb_m, spare))
    return target


def _usual_climb(context: RuleContext, volume_m: float) -> float:
    """What the easy running of a week climbs by itself, metres."""
    return context.baseline.climb_m / max(context.baseline.weekly_m, 1.0) * volume_m * USUAL_SHARE


def _loaded_volume(
    planner: Planner, shells: Sequence[Week], index: int, kinds: Sequence[WeekKind]
) -> tuple[float, float]:
    context = planner.context
    start, factor = context.baseline.weekly_m, aim_factor(context)
    peak = peak_position(kinds)
    aim = start * (1 + (factor - 1) * _progress(kinds, index, peak))
    if index > peak:
        aim *= 0.96
    longer_m, share = context.limits.numbers("load.after_tune_up")
    behind = context.frames[index].first_day - dt.timedelta(days=7)
    if any(
        plan.raced and plan.race.distance_m > longer_m and plan.race.date >= behind
        for plan in planner.tune_ups
        if plan.race.date < context.frames[index].first_day
    ):
        aim *= share
    cap = min(
        rise_cap(level_before(shells, index, context), context),
        two_week_cap(shells, index, context) if index >= 2 else math.inf,
        max(peak_cap(shells, index, context), start),
        way_back_cap(shells, index, context),
        _sore_cap(shells, index, context),
        way_home_cap(shells, index, context),
    )
    return min(aim, cap * 0.995), cap


def _sore_cap(shells: Sequence[Week], index: int, context: RuleContext) -> float:
    """With a sore place the load comes back from its eased first week by the usual steps, not at once."""
    before = loaded_before(shells, index, context)
    return rise_cap(before[-1].distance_m, context) if context.sore and before else math.inf


def _long_s(
    planner: Planner,
    shells: Sequence[Week],
    index: int,
    kinds: Sequence[WeekKind],
    volume_m: float,
    run_cap_m: float,
) -> float:
    context = planner.context
    pace = planner.long_s_per_km / 1000
    cap_s = min(run_time_cap_s(context), run_cap_m * pace)
    kind = kinds[index]
    frame = context.frames[index]
    last_longs = [
        session.duration_s
        for week in shells[:index]
        if week.phase != "taper" and not week.recovery
        for session in week.sessions
        if session.role == "long"
    ]
    last_s = last_longs[-1] if last_longs else min(context.baseline.longest_m * pace, cap_s)
    if kind == "loaded":
        peak = long_peak_m(planner)
        begin = min(context.baseline.longest_m, peak)
        wanted = begin + (peak - begin) * _share_of_peak(context, kinds, index)
        wanted = max(wanted, _with_shorter_runs(context, volume_m, max(peak, context.baseline.longest_m)))
        guide = 0.49
        if len(context.running_days) > 3 and (context.race.distance_m < 16_000 or volume_m > 48_000):
            least = 24_000 if context.race.distance_m > 30_000 else 15_000
            enough = context.race.distance_m < 16_000 or volume_m * 0.40 > least
            guide = 0.40 if enough else 0.49
        return min(math.ceil(wanted * pace / 300) * 300.0, cap_s, volume_m * guide * pace)
    if kind == "taper":
        if frame.last_day >= context.race.date:
            return 0.0
        days = context.days_to_race(frame.last_day)
        peak_s = max(last_longs, default=last_s)
        most = float(context.by_distance("taper.long_week_before")) * 60
        near = 0.65 if context.race.distance_m > 16_000 else 0.8
        wanted = min(peak_s * near, most) if days <= 10 else peak_s * 0.70
        wanted = max(wanted, 1.1 * volume_m / usual_runs(context) * pace)
        return min(wanted, cap_s, volume_m * 0.42 * pace)
    if kind == "stub":
        return 0.0
    share = context.limits.number("load.full_easy_long" if kind == "easy_week" else "load.recovery_long")
    if kind == "away" and _all_away(frame.days, context):
        cap_s = min(cap_s, context.limits.numbers("load.away_long")[1] * 60)
    elif kind == "away" and _takes_a_long_run(frame, context):
        share = context.limits.number("load.beside_trip")
    return min(last_s * share, cap_s, volume_m * 0.45 * pace)


def _long_copy_s(planner: Planner, kinds: Sequence[WeekKind], index: int) -> float | None:
    """The length that a plain long run steps back from, because those before it were as long.

    The last one before the taper never does; where it would, the one before it does in its place.
    """
    context = planner.context
    runs, least_min = context.limits.numbers("load.long_alike")
    later = [position for position in range(index + 1, len(kinds)) if kinds[position] == "loaded"]
    if not later:
        return None
    if later == [index + 1] and _share_of_peak(context, kinds, index) >= 1:
        runs -= 1
    last = [week for week in planner.weeks[index - int(runs) : index] if is_loaded(week, context)]
    lengths = [one.duration_s for week in last for one in week.sessions if one.role == "long"]
    alike = len(lengths) == runs and len(set(lengths)) == 1
    return lengths[0] if alike and lengths[0] >= least_min * 60 else None


def _share_of_peak(context: RuleContext, kinds: Sequence[WeekKind], index: int) -> float:
    """How much of the way from the longest run so far to the longest one a week asks for, 0 to 1."""
    near = float(context.by_distance("taper.last_long")[0])
    far_enough = (
        position
        for position, kind in enumerate(kinds)
        if kind == "loaded" and context.days_to_race(context.frames[position].last_day) >= near
    )
    return min(1.0, 0.12 + 1.15 * _progress(kinds, index, max(far_enough, default=index)))


def _with_shorter_runs(context: RuleContext, volume_m: float, usual_m: float) -> float:
    """The long run beside which the other runs of a week can stay as short as they should."""
    runs, share = usual_runs(context), context.limits.number("load.midweek_share")
    return min(volume_m / (1 + share * (runs - 1)), max(1.2 * volume_m / runs, usual_m))


def _work_s(planner: Planner, shells: Sequence[Week], index: int, kind: WeekKind, volume_m: float) -> float:
    context = planner.context
    if not context.allowed.anything_above_easy or kind in ("stub", "easy_week"):
        return 0.0
    limits = context.limits
    last = loaded_before(shells, index, context)
    last_s = last[-1].work_s if last else context.baseline.work_s
    estimate_s = volume_m * planner.easy_s_per_km / 1000
    cap = min(
        work_cap(shells, index, context), estimate_s * (1 - easy_share_least(shells[index], context) - 0.01)
    )
    total = sum(week.duration_s for week in shells[:index]) + estimate_s
    spent = sum(week.work_s for week in shells[:index])
    cap = min(cap, max(0.0, total * (1 - block_easy_share(context) - 0.005) - spent))
    aim = float(limits.table("load.work_aim")[context.level]) * 60
    if context.race.distance_m > 30_000:
        aim *= 1.5
    if kind == "loaded":
        return min(cap, max(aim, context.baseline.work_s))
    if kind == "taper":
        cut = limits.table("taper.work_cut")
        race_week = context.frames[index].last_day >= context.race.date
        floor = 7 * 60 if race_week else 10 * 60
        most = 9 * 60 * 4
        return min(cap, most, max(last_s * float(cut["race_week" if race_week else "week_before"]), floor))
    if kind == "tune_up":
        return min(cap, max(last_s * 0.4, 10 * 60))
    return min(cap, max(last_s * limits.number("load.recovery_work"), 10 * 60))
