"""The sessions of a week, written down: as wanted, else the nearest thing that fits.

Receives: a ``Planner``, a want, the work, the climbing and the distance that the week leaves.
Gives: ``Written``, the want with its draft.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from planbuilder.plan.types import Reason
from planbuilder.plan.walk import HARD_S
from planbuilder.rules.checks_load import run_time_cap_s
from planbuilder.rules.doses import worth_warming_up
from planbuilder.rules.orders import Draft
from planbuilder.rules.parts import race_kind
from planbuilder.rules.phases import Frame
from planbuilder.rules.wishes_variety import QUICK_SETS
from planbuilder.schedule.group_night import group_draft
from planbuilder.schedule.load import Target
from planbuilder.schedule.orders import write_want
from planbuilder.schedule.state import Planner
from planbuilder.schedule.types import Want
from planbuilder.schedule.wants import stand_ins
from planbuilder.schedule.words import why_for
from planbuilder.units import height_mark, run_mark, say_minutes

LEAST_WORK_S: Final = 170.0
FEWER_S: Final = 30.0  # of work less, for one repeat fewer
LEAST_SHARE: Final = {"descents": 0.7, "race effort": 0.4}  # of the low end of the dose
HOURS: Final = ("long_run_goal_effort", "race_simulation")  # that may take an hour of marathon effort
SHORTER_CLIMB: Final = ("race_simulation", "descent_long_run")  # where the week leaves less climbing
EVEN_SETS: Final = (
    *("threshold_repeats", "threshold_run", "goal_repeats", "intervals", "fartlek", "uphill_tempo"),
)


@dataclass(slots=True)
class Written:
    """A want with its draft."""

    want: Want
    draft: Draft


def long_draft(planner: Planner, want: Want, frame: Frame, target: Target, climb_m: float) -> Draft | None:
    """The long run within distance, time, work and climbing; it leaves work for a key session if it can."""
    plain = want.kind in ("long_run", "rolling_long_run")
    hour = planner.context.race.distance_m > 30_000 and want.kind in HOURS
    share = 0.62 if want.decisive else 0.5
    work_s = (
        target.work_s if plain else max(target.work_s * share, min(target.work_s, 3900.0 if hour else 0.0))
    )
    if want.kind == "hill_finish_long_run" and planner.context.hard_limit <= 1:
        work_s = min(work_s, HARD_S - 10)  # not hard, so that a flat key session stays
    most_m = target.run_cap_m
    if not plain and target.kind == "loaded":  # what is quicker goes farther in the same time
        most_m = min(most_m, planner.context.limits.number("load.long_share") * target.volume_m)
    seconds = target.long_s // 300 * 300
    if plain and target.long_copy_s == seconds:
        seconds = seconds * planner.context.limits.number("load.long_step_back") // 300 * 300
    while seconds >= 1800:
        draft = write_want(planner, want, frame.phase, duration_s=seconds, work_limit_s=work_s)
        if draft.kind == "rolling_long_run" and draft.climb_m > climb_m:  # shorter rises, or fewer
            draft = write_want(planner, want, frame.phase, duration_s=seconds, climb_limit_m=climb_m)
            if draft.climb_m < rolling_least_m(planner, draft.distance_m):
                return None
        elif draft.kind in SHORTER_CLIMB and draft.climb_m > climb_m:
            draft = write_want(
                planner, want, frame.phase, duration_s=seconds, work_limit_s=work_s, climb_limit_m=climb_m
            )
        if draft.distance_m <= most_m and draft.duration_s <= run_time_cap_s(planner.context) + 1:
            bad = draft.work_s > work_s + 61 or draft.climb_m > climb_m
            return None if bad and draft.kind != "long_run" else draft
        seconds -= 300
    return None


def rolling_least_m(planner: Planner, distance_m: float) -> float:
    """The least climbing of a rolling long run over this distance: a share of what the race climbs."""
    share = planner.context.limits.numbers("session.rolling_climb")[0]
    return share * planner.request.demands.climb_m_per_km * distance_m / 1000


def key_written(
    planner: Planner,
    want: Want,
    frame: Frame,
    work_s: float,
    climb_m: float,
    target: Target,
    others: set[str],
) -> Written | None:
    """The session as wanted, else with fewer climbs, else a flat one that fits, else none."""
    if want.most_work_s is not None:
        work_s = min(work_s, want.most_work_s)
    if work_s < LEAST_WORK_S and want.kind != "controlled_downhill":
        return None
    if want.night is not None:
        long_m = target.long_s / planner.long_s_per_km * 1000 or math.inf
        night = group_draft(planner, want, frame.phase, work_s, climb_m, target.run_cap_m, stays_m=long_m)
        return None if night is None else Written(want, night)
    most_s = want.most_duration_s
    draft = _within(planner, want, frame, work_s)
    misses = _misses(planner, draft, work_s, climb_m, target)
    if misses and draft.climb_m > climb_m:
        fewer = write_want(planner, want, frame.phase, work_limit_s=draft.work_s * climb_m / draft.climb_m)
        repeats = 0 if fewer.main_set is None else fewer.main_set.repeats
        enough = repeats >= planner.context.limits.numbers("session.worth_warming_up")[0]
        if enough and _misses(planner, fewer, work_s, climb_m, target) is None:
            return Written(want, fewer)
    if misses is None:
        return Written(want, draft)
    if want.role == "test":
        return None
    for other in stand_ins(planner, want, frame, others, known_only=target.kind != "loaded"):
        if frame.phase == "taper" and other.kind not in planner.count:
            continue
        draft = write_want(planner, other, frame.phase, duration_s=most_s, work_limit_s=work_s)
        if _misses(planner, draft, work_s, climb_m, target) is None:
            return Written(replace(other, reasons=(misses,)), draft)
    return None


def _within(planner: Planner, want: Want, frame: Frame, work_s: float) -> Draft:
    """The session within its minutes: a touch of race effort has fewer repeats, others a shorter warm-up."""
    most_s = want.most_duration_s
    if want.kind == "race_touch" and most_s is not None:
        draft = write_want(planner, want, frame.phase, work_limit_s=work_s)
        while draft.duration_s > most_s:
            fewer = write_want(planner, want, frame.phase, work_limit_s=draft.work_s - FEWER_S)
            if fewer.work_s >= draft.work_s:
                break
            draft = fewer
        if draft.duration_s <= most_s:
            return draft
    return write_want(planner, want, frame.phase, duration_s=most_s, work_limit_s=work_s)


def _misses(planner: Planner, draft: Draft, work_s: float, climb_m: float, target: Target) -> Reason | None:
    """What a session would need more than the week leaves; None where it fits and is worth its warm-up."""
    due = f"Considered before it: {draft.title.lower()};"
    if draft.work_s > work_s + 1:
        needs, left = say_minutes(draft.work_s), say_minutes(work_s)
        return Reason(
            "considered", f"{due} it needs {needs} of work, and the week leaves {left}.", "load.work_rise"
        )
    if draft.climb_m > climb_m:
        needs, left = height_mark(draft.climb_m), height_mark(climb_m)
        return Reason(
            "considered", f"{due} it climbs {needs}, and the week leaves {left}.", "load.climb_rise"
        )
    if draft.distance_m > target.run_cap_m:
        needs, left = run_mark(draft.distance_m), run_mark(target.run_cap_m)
        return Reason(
            "considered", f"{due} it covers {needs}, and no run may pass {left} yet.", "load.single_run_cap"
        )
    least = planner.context.limits.numbers("session.worth_warming_up")
    main = draft.main_set
    if draft.kind in QUICK_SETS and main is not None and not worth_warming_up(main, least):
        size = f"{main.repeats} × {say_minutes(main.seconds)}"
        return Reason(
            "considered",
            f"{due} {size}, all that the week leaves, are not worth a warm-up.",
            "session.worth_warming_up",
        )
    smallest_s = _smallest_s(planner, draft.kind)
    if main is not None and main.total_s < smallest_s - 1:
        size = say_minutes(main.total_s)
        return Reason(
            "considered",
            f"{due} {size} of it, all that the week leaves, are too few.",
            "session.smallest_set",
        )
    return None


def _smallest_s(planner: Planner, kind: str) -> float:
    """The least main set of a kind that takes a day for itself, seconds; less where its dose begins lower."""
    template, level = planner.request.library.template(kind), planner.request.level
    race = template.races.get(race_kind(planner.request.course.distance_m))
    dose = race.work_minutes if race else template.work_minutes
    low_min = dose.of(level)[0] if dose else 0.0
    if kind == "controlled_downhill":
        return LEAST_SHARE["descents"] * low_min * 60
    if kind not in EVEN_SETS:
        return 0.0
    least_min = float(planner.context.limits.table("session.smallest_set")[level])
    return max(min(least_min, low_min), LEAST_SHARE["race effort"] * low_min if race else 0.0) * 60


def on_the_course(planner: Planner, frame: Frame, keys: Sequence[Written], climb_m: float) -> list[Written]:
    """A level session takes the ground of the course where the one that was to have it found no place.

    ``climb_m`` is the climbing that the week leaves.
    """
    spared = next((one for one in keys if one.want.spare is not None), None)
    if spared is None or spared.want.kind != spared.draft.kind or any(k.draft.course_specific for k in keys):
        return list(keys)
    demand = spared.want.spare
    why = why_for(planner, spared.want.kind, frame.phase, demand)
    want = replace(spared.want, demand=demand, spare=None, why=why)
    draft = write_want(planner, want, frame.phase, work_limit_s=spared.draft.work_s)
    if draft.climb_m > climb_m:
        return list(keys)
    return [Written(want, draft) if one is spared else one for one in keys]
