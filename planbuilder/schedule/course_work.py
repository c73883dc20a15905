"""Course demands become sessions: which long run of which week finishes on hills, where descents stand.

Receives: a ``Planner`` and the kinds of the weeks.
Gives: for every week a ``Want`` for its long run, and the weeks of the downhill exposures.

That a course turns into sessions in this way is common practice among coaches; no trial compares it with the
same training on any ground. It never changes how far a week goes.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace

from planbuilder.demands.types import Demand, DemandKind
from planbuilder.rules.phases import Frame
from planbuilder.rules.wishes import LATE_KINDS
from planbuilder.schedule.load import WeekKind
from planbuilder.schedule.state import Planner
from planbuilder.schedule.types import Want
from planbuilder.schedule.words import why_for
from planbuilder.settings.models import WEEKDAYS

ROLLING_EVERY = 13  # days, so every second week
DESCENTS: tuple[DemandKind, ...] = ("downhill_start", "long_descent", "net_downhill", "downhill_race")


def long_date(planner: Planner, frame: Frame) -> dt.date:
    """The day the long run would stand on."""
    day = WEEKDAYS.index(planner.request.runner.long_run_day)
    return (
        frame.last_day
        if frame.last_day.weekday() < day
        else frame.first_day + dt.timedelta(days=day - frame.first_day.weekday())
    )


def climb_demand(planner: Planner) -> Demand | None:
    """The decisive climb, wherever it stands; else the early hills or the hilly finish."""
    demands = planner.request.demands
    climbs = [demand for demand in demands.demands if demand.kind == "late_climb"]
    decisive = [demand for demand in climbs if demand.feature == demands.decisive]
    return next(iter([*decisive, *climbs]), demands.first("early_hills") or demands.first("hilly_finish"))


def late_demand(planner: Planner) -> Demand | None:
    """What long runs with a hill finish answer: the decisive climb if it comes late, else a hilly finish."""
    demands = planner.request.demands
    climb = climb_demand(planner)
    if climb is not None and climb.kind == "late_climb" and climb.share_done >= 0.5:
        return climb
    late = [demand for demand in demands.demands if demand.kind == "late_climb" and demand.share_done >= 0.5]
    return demands.first("hilly_finish") or next(iter(late), None)


def wants_descents(planner: Planner) -> bool:
    """Whether the course asks for practice in running down."""
    demands = planner.request.demands
    return planner.can_descend and (demands.has(*DESCENTS) or demands.course_class == "very hilly")


def plan_long_runs(planner: Planner, kinds: Sequence[WeekKind]) -> dict[int, Want]:
    """A want for the long run of every loaded week in build and specific that is not simply easy."""
    context, frames = planner.context, planner.context.frames
    if not context.allowed.anything_above_easy:
        return {}
    loaded = [
        number
        for number, (frame, kind) in enumerate(zip(frames, kinds, strict=True))
        if kind == "loaded" and frame.phase in ("build", "specific")
    ]
    found: dict[int, Want] = {}
    if late_demand(planner) is not None and planner.can_climb:
        _hill_finishes(planner, loaded, found)
    _goal_efforts(planner, loaded, found)
    _late_descent(planner, loaded, found)
    if rolls(planner) and context.race.distance_m > 30_000:
        _room_for_rolling(planner, loaded, found)
    _rolling(planner, kinds, found)
    return found


def _want(planner: Planner, frame: Frame, kind: str, demand: Demand | None, *, decisive: bool) -> Want:
    return Want(kind, "long", why_for(planner, kind, frame.phase, demand), demand, decisive=decisive)


def _hill_finishes(planner: Planner, loaded: Sequence[int], found: dict[int, Want]) -> None:
    context = planner.context
    demand = late_demand(planner)
    low, high = (int(day) for day in context.by_distance("course_work.simulation_window"))
    days = {number: context.days_to_race(long_date(planner, context.frames[number])) for number in loaded}
    near_race = [context.days_to_race(plan.race.date) for plan in planner.tune_ups if plan.raced]
    fits = [
        number
        for number in loaded
        if low <= days[number] <= high
        and all(not 0 <= race - days[number] <= 9 for race in near_race)
        and context.frames[number].phase == "specific"
    ]
    last = None
    if fits:
        last = fits[-1]
        simple = context.finish_well or (context.level == "novice" and len(loaded) < 4)
        kind = "hill_finish_long_run" if simple else "race_simulation"
        found[last] = _want(planner, context.frames[last], kind, demand, decisive=True)
    gap = int(context.limits.number("course_work.hill_finish_gap"))
    most = 2 if len(context.frames) < 10 else 4
    close_pair = last is not None and found[last].kind == "race_simulation"  # may follow within a week
    for number in reversed(loaded):
        if len(found) >= most or (last is None and days[number] < low):
            continue
        first_one = not any(other < number for other in loaded) or len(found) == most - 1
        gentle = first_one and context.frames[number].phase == "build"  # at RPE 5: see the library's turns
        near = 7 if close_pair or gentle else gap
        if last is not None and days[number] - days[last] < near:
            continue
        found[number] = _want(
            planner, context.frames[number], "hill_finish_long_run", demand, decisive=len(found) < 3
        )
        close_pair = False
        last = number


def _goal_efforts(planner: Planner, loaded: Sequence[int], found: dict[int, Want]) -> None:
    """A marathoner's long runs with race effort, and those of a long flat course."""
    context, demands = planner.context, planner.request.demands
    marathon = context.race.distance_m > 30_000
    if context.finish_well or not context.races or not (marathon or (context.race.distance_m > 16_000)):
        return
    demand = demands.first("long_flat")
    specific = [number for number in loaded if context.frames[number].phase == "specific"]
    late_build = [number for number in loaded if context.frames[number].phase == "build"][-2:]
    weeks = [*late_build, *specific] if marathon else specific
    wanted = 3 if marathon else 1 if found else 2
    lowest = 10 if not marathon else 14
    for number in reversed(weeks):
        if wanted <= 0 or (wanted == 1 and number in late_build[:-1]):  # so early only where one is missing
            return
        if number in found or (number + 1 in found and not marathon):
            continue
        if number + 1 in found and found[number + 1].kind == "long_run_goal_effort":
            continue
        if context.days_to_race(long_date(planner, context.frames[number])) < lowest:
            continue
        want = _want(planner, context.frames[number], "long_run_goal_effort", demand, decisive=marathon)
        found[number] = replace(want, dose=0.55) if marathon else want
        wanted -= 1


def _late_descent(planner: Planner, loaded: Sequence[int], found: dict[int, Want]) -> None:
    """One long run of the specific phase comes down where the race does, where one is free for it.

    On rolling ground long runs come down anyway, and climb more.
    """
    context, demands = planner.context, planner.request.demands
    falls = [one for one in demands.demands if one.kind == "long_descent" and one.share_done >= 0.5]
    if (
        not falls
        or _takes_rolling(planner)
        or not (planner.can_descend and planner.can_climb and planner.request.runner.hills)
    ):
        return
    nearest = int(context.by_distance("course_work.descent_last")[0])
    free = [
        number
        for number in loaded
        if number not in found
        and context.frames[number].phase == "specific"
        and context.days_to_race(long_date(planner, context.frames[number])) >= nearest
    ]
    if free:
        demand = min(falls, key=lambda one: one.gain_m)
        frame = context.frames[free[-1]]
        found[free[-1]] = _want(planner, frame, "descent_long_run", demand, decisive=False)


def rolls(planner: Planner) -> bool:
    """Whether long runs rehearse rolling ground all through build and specific: a hilly half or marathon."""
    hilly = planner.request.demands.course_class in ("hilly", "very hilly")
    return hilly and planner.context.race.distance_m > 16_000 and planner.can_climb and planner.can_descend


def _room_for_rolling(planner: Planner, loaded: Sequence[int], found: dict[int, Want]) -> None:
    """Before a marathon, hill finishes leave every second week to rolling ground; the last ones stay."""
    late = [number for number in loaded if number in found and found[number].kind in LATE_KINDS]
    kept = 3 if planner.request.demands.has("hilly_finish") else 2
    last: dt.date | None = None
    for at, number in enumerate(loaded):
        date = long_date(planner, planner.context.frames[number])
        due = last is None or (date - last).days >= ROLLING_EVERY
        free = number in found and number in late[:-kept] and loaded[at + 1 : at + 2] != []
        if due and free and (last is not None or all(later in found for later in loaded[at:])):
            del found[number]
        if due and number not in found:
            last = date


def _takes_rolling(planner: Planner) -> bool:
    """Whether the course asks for rolling long runs, and this runner may take them."""
    demands = planner.request.demands
    hilly = demands.course_class in ("rolling", "hilly", "very hilly")
    return (hilly or demands.has("rolling", "early_hills")) and planner.can_climb and planner.can_descend


def _rolling(planner: Planner, kinds: Sequence[WeekKind], found: dict[int, Want]) -> None:
    """Rolling ground for long runs that have nothing else in them; every second one takes it."""
    demands, context = planner.request.demands, planner.context
    if not _takes_rolling(planner):
        return
    demand = demands.first("rolling") or demands.first("early_hills")
    if demands.has("late_climb"):  # hills stand in the first third, where the race has them
        demand = demands.first("early_hills") or demand
    for number, kind in enumerate(kinds):
        frame = context.frames[number]
        if kind != "loaded" or number in found or context.days_to_race(frame.last_day) < 11:
            continue
        if frame.phase == "base" and demands.course_class == "rolling":
            continue
        found[number] = _want(planner, frame, "rolling_long_run", demand, decisive=False)


def plan_descents(planner: Planner, kinds: Sequence[WeekKind]) -> dict[int, Want]:
    """Weeks with descents at race effort: two to four, the last one in its window."""
    if not wants_descents(planner):
        return {}
    context, demands = planner.context, planner.request.demands
    low, high = (int(day) for day in context.by_distance("course_work.descent_last"))
    falls = [one for kind in DESCENTS for one in demands.demands if one.kind == kind]
    gentle, steepest = next(iter(falls), None), min(falls, key=lambda one: one.grade, default=None)
    open_weeks = [
        number
        for number, kind in enumerate(kinds)
        if kind == "loaded" and context.frames[number].phase in ("build", "specific")
    ]
    near = [
        number
        for number in open_weeks
        if low <= context.days_to_race(context.frames[number].first_day + dt.timedelta(days=3)) <= high
    ]
    if not near:
        near = open_weeks[-1:]
    if not near:
        return {}
    chosen = [near[-1]]
    for number in reversed(open_weeks):
        if len(chosen) < 3 and chosen[-1] - number >= 2:
            chosen.append(number)
    if len(chosen) < 2:
        chosen += [number for number in reversed(open_weeks) if number < chosen[-1]][:1]
    wants: dict[int, Want] = {}
    for number in chosen:
        frame = context.frames[number]
        start = demands.has("downhill_start") and number == chosen[0] and len(chosen) > 1
        kind = "downhill_start" if start and frame.phase == "specific" else "controlled_downhill"
        later = steepest if number != chosen[-1] else gentle  # the first ones are short and gentle
        wanted = demands.first("downhill_start") if kind == "downhill_start" else later
        wants[number] = Want(
            kind, "key", why_for(planner, kind, frame.phase, wanted), wanted, decisive=number == chosen[0]
        )
    return wants
