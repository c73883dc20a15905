"""The late part of the race in its own order, inside a long run.

Receives: an ``Order``, a ``Template``, the limits. The duration comes with the order.
Gives: ``Written``, with the metres of the course that it rehearses.
"""

from __future__ import annotations

from dataclasses import dataclass

from planbuilder.demands.types import Demand
from planbuilder.plan.types import Ground, Step
from planbuilder.plan.walk import measure
from planbuilder.rules.doses import round_down, round_recovery, whole_minutes
from planbuilder.rules.library import Template
from planbuilder.rules.long_runs import (
    END_S,
    climb_demand,
    easy_stretch,
    late_machine,
    long_run_s,
    race_rpe,
    way_home,
    work_room_s,
)
from planbuilder.rules.orders import Order, Written
from planbuilder.rules.parts import (
    FLAT,
    cue_of,
    make_step,
    on_ground,
    pace_of,
    race_kind,
    race_pace_s_per_km,
)
from planbuilder.rules.terrain import climb_seconds, grade_asked, uphill
from planbuilder.settings.limits import Limits
from planbuilder.units import say_minutes


def write_simulation(order: Order, template: Template, limits: Limits) -> Written:
    """Easy, then the pieces of the late race in the order in which the course brings them."""
    share = limits.table("session.simulation_share")[race_kind(order.course.distance_m)]
    most_m = share * order.course.distance_m
    total_s = long_run_s(order, template)
    while True:
        written = _simulation_of(order, template, limits, total_s)
        length_m = measure(written.steps, easy_s_per_km=order.paces.easy_s_per_km).distance_m
        if length_m <= most_m or total_s <= 2400:
            return written
        total_s -= 300


@dataclass(frozen=True, slots=True)
class _Piece:
    """A part of the late race."""

    at_m: float  # where it stands on the course: the pieces are run in its order
    steps: tuple[Step, ...]
    work_s: float
    rehearses_m: tuple[tuple[float, float], ...] = ()
    substitute: str = ""


def _simulation_of(order: Order, template: Template, limits: Limits, total_s: float) -> Written:
    """A simulation of so many seconds: what room there is goes to the climb, then the drag, then the flat."""
    demand = climb_demand(order)
    if demand is not None and demand.kind == "finish_drag":
        demand = None
    drag = order.course.first("finish_drag")
    room_s = _room_s(order, template, limits, total_s)
    pieces: list[_Piece] = []
    if demand is not None:
        climb_limit_m = order.climb_limit_m
        if drag is not None and climb_limit_m is not None:
            climb_limit_m -= measure(_drag(order, limits, drag, room_s).steps).climb_m
        pieces.append(_climb(order, template, limits, demand, room_s, climb_limit_m))
        room_s -= pieces[-1].work_s
    if drag is not None and room_s >= 120:
        pieces.append(_drag(order, limits, drag, room_s))
        room_s -= pieces[-1].work_s
    flat_s = whole_minutes(min(room_s, limits.number("session.simulation_flat_share") * total_s))
    if not pieces:
        flat_s = max(flat_s, 300.0)
    if flat_s >= 120:
        pieces.append(_flat(order, limits, demand, drag, flat_s))
    work = [step for piece in sorted(pieces, key=lambda piece: piece.at_m) for step in piece.steps]
    lead_s = max(total_s - sum(step.duration_s or 0 for step in work) - END_S, 1200.0)
    where = "on the course itself if it can be reached, " if order.occurrence else ""
    begin = f"very easy to begin, {where}{cue_of(order, template)}"
    steps = [
        easy_stretch(order, limits, 900.0, begin, first=True, ground=FLAT),
        easy_stretch(order, limits, lead_s - 900.0, "easy on the flat", ground=FLAT),
        *work,
        way_home(END_S),
    ]
    stretches = tuple(sorted(stretch for piece in pieces for stretch in piece.rehearses_m))
    return Written(
        steps=tuple(steps),
        rehearses_m=stretches,
        course_specific=bool(stretches),
        substitute="".join(piece.substitute for piece in pieces),
        size=say_minutes(total_s),
        climbs_begin_share=_begin_share(steps, total_s),
        main_set=None,
    )


def _room_s(order: Order, template: Template, limits: Limits, total_s: float) -> float:
    """Seconds of work: before a marathon as many as make it a long run with marathon effort, if they fit."""
    room_s = work_room_s(order, template, total_s)
    if race_kind(order.course.distance_m) != "marathon":
        return room_s
    least_s = float(limits.table("course_work.marathon_effort")[order.level]) * 60
    return max(room_s, min(least_s, order.work_limit_s if order.work_limit_s is not None else least_s))


def _strong(order: Order) -> tuple[float, float]:
    """A point above race effort, as on the late climb of a race."""
    low, high = race_rpe(order)
    return min(low + 1, 8.0), min(high + 1, 8.0)


def _climb(
    order: Order,
    template: Template,
    limits: Limits,
    demand: Demand,
    room_s: float,
    climb_limit_m: float | None,
) -> _Piece:
    """The decisive climb, or as much of its end as half of the room holds, and easily down its far side."""
    form = _uphill_form(template)
    chosen = uphill(order, form, grade_asked(form, demand, limits))
    words = f"{on_ground('up', chosen.ground)}, as in the race: by effort, never by pace"
    minute = make_step("work", 60.0, _strong(order), words, ground=chosen.ground)
    minute_m = measure((minute,), easy_s_per_km=order.paces.easy_s_per_km).climb_m
    whole_s = climb_seconds(order, demand)
    most_s = room_s * 0.5
    if climb_limit_m is not None and minute_m > 0:
        most_s = min(most_s, climb_limit_m / minute_m * 60)
    climb_s = max(round_down(min(whole_s, most_s)), 60.0)
    share = 1.0 if most_s >= whole_s else min(climb_s / whole_s, 1.0)
    run_m = share * demand.length_m
    down_words = chosen.back_words or "easy down the far side"
    over_s = round_recovery(max(climb_s, 120.0))
    return _Piece(
        demand.start_m,
        (
            make_step("work", climb_s, _strong(order), words, ground=chosen.ground),
            make_step("recovery", over_s, (2.0, 3.0), down_words, ground=chosen.back),
        ),
        climb_s,
        ((demand.end_m - run_m, demand.end_m),) if chosen.real else (),
        late_machine(chosen),
    )


def _drag(order: Order, limits: Limits, drag: Demand, room_s: float) -> _Piece:
    """The drag to the line, or its last part."""
    seconds = drag.length_m / 1000 * race_pace_s_per_km(order, drag.grade)
    drag_s = max(whole_minutes(min(seconds, room_s * 0.6, 600.0)), 120.0)
    slope = Ground("drag", round(drag.grade, 3), "a gentle slope like the finish")
    pace = pace_of(order, "race effort", slope, limits)
    step = make_step(
        "work", drag_s, _strong(order), "up the drag, eyes on the next lamp post", ground=slope,
        pace_s_per_km=pace, band="race effort",
    )  # fmt: skip
    run_m = min(drag.length_m, drag.length_m * drag_s / seconds)
    return _Piece(drag.start_m, (step,), drag_s, ((drag.end_m - run_m, drag.end_m),))


def _flat(order: Order, limits: Limits, climb: Demand | None, drag: Demand | None, flat_s: float) -> _Piece:
    """Race effort on the flat, before the climb of a course that climbs late, else behind it."""
    pace = pace_of(order, "race effort", FLAT, limits)
    step = make_step(
        "work", flat_s, race_rpe(order), "at race effort on the flat", ground=FLAT, pace_s_per_km=pace,
        band="race effort",
    )  # fmt: skip
    flat, at_m = order.course.first("long_flat"), -1.0
    if climb is not None:
        at_m = climb.start_m - 1 if climb.share_done >= 0.5 else climb.end_m
    if flat is None:
        return _Piece(at_m if drag is None else min(at_m, drag.start_m - 1), (step,), flat_s)
    at_m = flat.start_m if drag is None else min(flat.start_m, drag.start_m - 1)
    run_m = flat_s / race_pace_s_per_km(order) * 1000
    return _Piece(at_m, (step,), flat_s, ((max(flat.start_m, flat.end_m - run_m), flat.end_m),))


def _uphill_form(template: Template) -> Template:
    """The same kind, with its main part uphill: for the climb inside a simulation."""
    return template.model_copy(update={"ground": "up"})


def _begin_share(steps: list[Step], total_s: float) -> float | None:
    passed_s = 0.0
    for step in steps:
        if (step.ground.grade or 0.0) >= 0.01 and step.kind == "work":
            return passed_s / total_s
        passed_s += step.duration_s or 0.0
    return None
