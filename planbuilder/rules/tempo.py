"""Work in one piece: tempo runs, steady runs, a climb without a break, the start of the course downhill.

Receives: an ``Order``, a ``Template``, the limits.
Gives: ``Written``.
"""

from __future__ import annotations

from planbuilder.plan.types import Ground, Step
from planbuilder.rules.doses import round_down, round_recovery, whole_minutes
from planbuilder.rules.library import Template
from planbuilder.rules.orders import MainSet, Order, Written
from planbuilder.rules.parts import (
    FLAT,
    cool_down,
    doing_words,
    effort_of,
    grown_s,
    make_step,
    pace_of,
    race_pace_s_per_km,
    warm_up,
)
from planbuilder.rules.repeats import answered, chosen_ground, filled, fitted, rehearsed_m
from planbuilder.rules.terrain import Chosen
from planbuilder.settings.limits import Limits
from planbuilder.units import say_minutes


def write_continuous(order: Order, template: Template, limits: Limits) -> Written:
    """One stretch of work: a tempo run, a steady run, a climb in one piece."""
    if template.work_minutes is None:
        raise ValueError(f"{template.name} has no work_minutes")
    chosen = chosen_ground(order, template, limits)
    low, high = template.work_minutes.of(order.level)
    wanted_s = _round_work(grown_s(order, template, low, high))
    if order.previous is not None and order.previous.seconds == wanted_s and wanted_s - 120 >= low * 60:
        wanted_s -= 120
    effort = effort_of(order, template)
    words = doing_words(order, template, chosen.ground)
    pace = pace_of(order, template.band, chosen.ground, limits)

    def write(room_s: float, short: bool) -> tuple[list[Step], MainSet]:
        seconds = _round_work(max(min(wanted_s, room_s), 300.0))
        work = make_step(
            "work", seconds, effort, words, ground=chosen.ground, pace_s_per_km=pace, band=template.band
        )
        home = (
            (_way_home(chosen, seconds),)
            if chosen.ground.kind == "up" and chosen.real
            else ()
        )  # fmt: skip
        slope = chosen.ground if template.warm_up == "hill" and chosen.ground.kind == "up" else FLAT
        steps = [
            *warm_up(order, template, limits, slope=slope, short=short),
            work,
            *home,
            *cool_down(order, template, limits, short=short),
        ]
        return steps, MainSet(1, seconds)

    steps, main = fitted(order, write)
    rehearsed = rehearsed_m(order, template, chosen)
    return Written(
        steps=tuple(filled(order, template, steps)),
        rehearses_m=rehearsed,
        course_specific=bool(rehearsed),
        main_set=main,
        substitute=chosen.substitute,
        size=say_minutes(main.seconds),
    )


def _round_work(seconds: float) -> float:
    """Whole minutes below half an hour, multiples of five from there."""
    return whole_minutes(seconds, 1 if seconds < 1800 else 5)


def _way_home(chosen: Chosen, work_s: float) -> Step:
    """Down from the top of a long climb."""
    words = chosen.back_words or "easy back down"
    return make_step("recovery", round_recovery(work_s / 2), (1.0, 2.0), words, ground=chosen.back)


def write_downhill_start(order: Order, template: Template, limits: Limits) -> Written:
    """Down at race effort, then straight on without a break."""
    chosen = chosen_ground(order, template, limits)
    down = answered(order, template) or order.course.first("downhill_start")
    length_m = min(max(down.length_m if down else 1200.0, 1000.0), 1600.0)
    grade = chosen.ground.grade or 0.0
    down_s = _down_seconds(order, length_m, grade)
    if order.descent_limit_s is not None:
        down_s = min(down_s, round_down(order.descent_limit_s))
    if template.work_minutes is None:
        raise ValueError(f"{template.name} has no work_minutes")
    low, high = template.work_minutes.of(order.level)
    wanted_s = grown_s(order, template, low, high)
    effort = effort_of(order, template)
    pace = pace_of(order, "race effort", FLAT, limits)

    def write(room_s: float, short: bool) -> tuple[list[Step], MainSet]:
        total_s = min(wanted_s, room_s)
        on_s = min(max(whole_minutes(total_s - down_s), 240.0), 480.0)
        fall_s = min(down_s, max(total_s // 30 * 30 - on_s, 120.0))
        words = doing_words(order, template, chosen.ground)
        fall = make_step("work", fall_s, (5.0, 5.0), words, ground=chosen.ground)
        on = make_step(
            "work", on_s, effort, "straight on at race effort", ground=FLAT, pace_s_per_km=pace,
            band="race effort",
        )  # fmt: skip
        before = warm_up(order, template, limits, slope=Ground("down", grade / 2), short=short)
        return [*before, fall, on, *cool_down(order, template, limits, short=short)], MainSet(1, on_s)

    steps, main = fitted(order, write)
    down_s = next(step.duration_s or 0.0 for step in steps if step.kind == "work")
    run_m = (down_s + main.seconds) / _down_seconds(order, 1000.0, grade) * 1000
    stretch = (
        ((down.start_m, min(down.start_m + run_m, order.course.distance_m)),)
        if down is not None and chosen.real
        else ()
    )
    return Written(
        steps=tuple(steps),
        rehearses_m=stretch,
        course_specific=bool(stretch),
        main_set=main,
        substitute=chosen.substitute,
        size=f"{say_minutes(down_s)} down, {say_minutes(main.seconds)} on",
    )


def _down_seconds(order: Order, length_m: float, grade: float) -> float:
    """How long the descent lasts at race effort, to half a minute."""
    seconds = length_m / 1000 * race_pace_s_per_km(order, grade)
    return max(round(seconds / 30) * 30.0, 120.0)
