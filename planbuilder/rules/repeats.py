"""Sessions with a warm-up, a main set and a cool-down: repeats on the flat, up, down, on a drag; tempo runs.

Receives: an ``Order``, a ``Template``, the limits.
Gives: ``Written``.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from planbuilder.demands.types import Demand
from planbuilder.plan.types import Ground, Reason, Step
from planbuilder.plan.walk import measure
from planbuilder.rules.doses import choose_set, round_lengths, round_recovery, round_warm_up, whole_minutes
from planbuilder.rules.library import Template
from planbuilder.rules.orders import MainSet, Order, Written
from planbuilder.rules.parts import (
    ANY,
    FLAT,
    ROLLING,
    cool_down,
    cue_of,
    doing_words,
    dose_of,
    effort_of,
    make_step,
    minutes_of,
    pace_of,
    race_kind,
    race_time_s,
    warm_up,
)
from planbuilder.rules.terrain import Chosen, climb_seconds, downhill, grade_asked, matched_lengths, uphill
from planbuilder.settings.limits import Limits
from planbuilder.settings.session_models import RaceDose
from planbuilder.units import say_grade, say_minutes

_WHOLE_SET: Final = 1
GENTLE_FALL: Final = 0.009  # level enough to run down at threshold without practice in descents


def chosen_ground(order: Order, template: Template, limits: Limits) -> Chosen:
    """Ground of the main set."""
    grade = grade_asked(template, answered(order, template), limits)
    match template.ground:
        case "up" | "drag":
            return uphill(order, template, grade)
        case "down":
            steepest = limits.number("session.steepest_descent") / 100
            return downhill(order, max(grade, -steepest))
        case "rolling":
            return Chosen(ROLLING, ROLLING, "", "", True)
        case "flat":
            demand = answered(order, template)
            if demand is not None and demand.kind == "rolling":  # it climbs as much as the race does
                rises = Ground("rolling", round(order.course.climb_m_per_km / 1000, 5))
                return Chosen(rises, ROLLING, "", "", True)
            return Chosen(FLAT, FLAT, "", "", True)
    return Chosen(ANY, ANY, "", "", True)


def answered(order: Order, template: Template) -> Demand | None:
    """The demand of the order, if this kind of session answers it."""
    demand = order.demand
    return demand if demand is not None and demand.kind in template.answers else None


def rehearsed_m(order: Order, template: Template, chosen: Chosen) -> tuple[tuple[float, float], ...]:
    """The metres of the course that the session stands for."""
    if answered(order, template) is None or not template.course_specific or not chosen.real:
        return ()
    both = (order.demand, order.second_demand)
    return tuple(
        (demand.start_m, demand.end_m)
        for demand in both
        if demand is not None and demand.kind in template.answers
    )


def _matches_a_climb(order: Order, template: Template) -> bool:
    return template.course_specific and template.ground == "up" and answered(order, template) is not None


def race_dose(order: Order, template: Template) -> RaceDose | None:
    """The doses for the goal race, where the kind has such and the coach of a club night typed no others."""
    if order.whistle and template.repeats is not None:
        return None
    return template.races.get(race_kind(order.course.distance_m))


def _main_set(order: Order, template: Template, limits: Limits, limit_s: float) -> MainSet:
    """How many repeats, and how long; the crest counts as part of a repeat."""
    dose = race_dose(order, template)
    start, grows = dose_of(order, template)
    crest = template.crest_seconds
    parted = not crest
    if dose is not None:
        low, high = dose.work_minutes.of(order.level)
        high = min(high, max(low, dose.most_of_race * race_time_s(order) / 60))
        repeats, seconds = dose.repeats, dose.repeat_seconds
        lengths = round_lengths(*seconds)
    else:
        if template.work_minutes is None or template.repeats is None or template.repeat_seconds is None:
            raise ValueError(f"{template.name} has no dose for {race_kind(order.course.distance_m)}")
        low, high = template.work_minutes.of(order.level)
        repeats, seconds = template.repeats.of(order.level), template.repeat_seconds.of(order.level)
        lengths = round_lengths(*seconds)
        matched = _matches_a_climb(order, template) and not crest and not order.whistle
        if matched and order.demand is not None:
            lengths = matched_lengths(order, order.demand, limits)
            fewest = 3 if 3 * lengths[0] <= (low + 0.7 * (high - low)) * 60 else 2
            repeats = (fewest, max(repeats[1], int(high * 60 // lengths[0])))
            parted = False
        elif crest and order.demand is not None and _matches_a_climb(order, template):
            like = matched_lengths(order, order.demand, limits)
            lengths = tuple(length for length in lengths if like[0] <= length <= like[-1]) or lengths
    if order.whistle and len(set(seconds)) == 1:  # as many of the group's repeats as fit
        each_s = seconds[0] + crest
        most = int(min(limit_s, high * 60, repeats[1] * each_s) // each_s)
        return MainSet(max(most, 1), seconds[0])
    previous = order.previous
    if previous is not None and crest:
        previous = MainSet(previous.repeats, previous.seconds + crest)
    found = choose_set(
        repeats=(int(repeats[0]), int(repeats[1])),
        lengths=tuple(length + crest for length in lengths),
        low_s=low * 60,
        high_s=high * 60,
        limit_s=limit_s,
        start=start,
        grows=grows,
        occurrence=order.occurrence,
        previous=previous,
        parted=parted,
    )
    return MainSet(found.repeats, found.seconds - crest)


def recovery_s(order: Order, template: Template, repeat_s: float) -> float:
    """One recovery, round; shorter from the third time on where it is counted in seconds."""
    dose = race_dose(order, template)
    seconds = dose.recovery_seconds if dose is not None else template.recovery_seconds
    if seconds is not None and order.whistle and seconds[0] == seconds[1]:
        return seconds[0]
    if seconds is not None:
        return round_recovery(seconds[0] if order.occurrence >= 2 else seconds[1])
    low, high = template.recovery_share or (1.0, 1.0)
    found = round_recovery(repeat_s * (low + high) / 2)
    return found if found >= low * repeat_s else round_recovery(repeat_s * high)


def _set_steps(order: Order, template: Template, limits: Limits, chosen: Chosen, main: MainSet) -> list[Step]:
    """Work, crest and recovery, in one set that ends on work."""
    effort = effort_of(order, template)
    pace = pace_of(order, template.band, chosen.ground, limits)
    rest_s = recovery_s(order, template, main.seconds)
    rest_words = chosen.back_words or template.recovery_words
    words = doing_words(order, template, chosen.ground, once=main.repeats == 1)
    if template.up_and_down and chosen.real and chosen.ground.kind == "up":
        return _up_and_down(order, template, effort, chosen, main, rest_s)
    steps = [
        make_step(
            "work",
            main.seconds,
            effort,
            words,
            ground=chosen.ground,
            repeat=main.repeats,
            pace_s_per_km=pace,
            band=template.band,
            set_no=_WHOLE_SET,
        )
    ]
    if template.crest_seconds:
        steps.append(
            make_step(
                "work",
                template.crest_seconds,
                effort,
                "on over the top, same effort",
                ground=FLAT,
                repeat=main.repeats,
                pace_s_per_km=pace_of(order, "race effort", FLAT, limits),
                band="race effort",
                set_no=_WHOLE_SET,
            )
        )
    if main.repeats > 1:
        steps.append(
            make_step(
                "recovery",
                rest_s,
                (1.0, 1.0) if rest_words.startswith("walk") else (1.0, 2.0),
                rest_words,
                ground=chosen.back,
                repeat=main.repeats - 1,
                set_no=_WHOLE_SET,
            )
        )
    return steps


def _up_and_down(
    order: Order,
    template: Template,
    effort: tuple[float, float],
    chosen: Chosen,
    main: MainSet,
    rest_s: float,
) -> list[Step]:
    grade = chosen.ground.grade or 0.0
    ups, downs = (main.repeats + 1) // 2, main.repeats // 2
    gentle = min(grade, GENTLE_FALL)
    fall = Ground("down", -gentle, f"a gentler road back, falling about {say_grade(gentle)}")
    up_words = f"up {chosen.ground.words}, {template.doing}, {cue_of(order, template)}"
    jog = template.recovery_words

    def rest(repeat: int) -> Step:
        return make_step("recovery", rest_s, (1.0, 2.0), jog, ground=FLAT, repeat=repeat, set_no=_WHOLE_SET)

    up = make_step(
        "work", main.seconds, effort, up_words, ground=chosen.ground, repeat=ups, set_no=_WHOLE_SET
    )
    down = make_step(
        "work",
        main.seconds,
        effort,
        f"down {fall.words}, at the same effort, no quicker",
        ground=fall,
        repeat=downs,
        set_no=_WHOLE_SET,
    )
    after_up = main.repeats - 1 - max(downs - (main.repeats % 2 == 0), 0)
    after_down = main.repeats - 1 - after_up
    return [step for step in (up, rest(after_up), down, rest(after_down)) if step.repeat > 0]


def set_words(main: MainSet) -> str:
    """The size of the main set: "6 × 3 min"."""
    return f"{main.repeats} × {say_minutes(main.seconds)}" if main.repeats > 1 else say_minutes(main.seconds)


def fitted(
    order: Order, write: Callable[[float, bool], tuple[list[Step], MainSet]]
) -> tuple[list[Step], MainSet]:
    """The session within the minutes of the day and the work of the week.

    ``write`` takes the most seconds of main set and whether the warm-up is short.
    """
    most_work_s = order.work_limit_s if order.work_limit_s is not None else float("inf")
    most_s = order.duration_s if order.duration_s is not None else float("inf")
    room_s, short = float("inf"), False
    last: MainSet | None = None
    while True:
        steps, main = write(room_s, short)
        found = measure(steps)
        over_work_s, over_time_s = found.work_s - most_work_s, found.duration_s - most_s
        if over_work_s <= 0 and over_time_s <= 0:
            return steps, main
        smallest = main == last
        if short and smallest:
            return steps, main
        if not short and (smallest or over_work_s <= 0):
            short, last = True, None
            continue
        last = main
        room_s = min(room_s, main.total_s) - max(
            1.0, over_work_s, 0.08 * main.total_s if over_time_s > 0 else 0
        )
        room_s = max(room_s, 1.0)


def write_repeats(order: Order, template: Template, limits: Limits) -> Written:
    """A main set of repeats."""
    chosen = chosen_ground(order, template, limits)

    def write(room_s: float, short: bool) -> tuple[list[Step], MainSet]:
        main = _main_set(order, template, limits, room_s)
        slope = chosen.ground if template.warm_up in ("hill", "downhill") and chosen.real else FLAT
        if template.warm_up == "hill" and chosen.ground.kind != "up":
            slope = FLAT
        steps = [
            *warm_up(order, template, limits, slope=slope, short=short),
            *_set_steps(order, template, limits, chosen, main),
            *cool_down(order, template, limits, short=short),
        ]
        return steps, main

    steps, main = fitted(order, write)
    steps = filled(order, template, steps)
    return Written(
        steps=tuple(steps),
        rehearses_m=rehearsed_m(order, template, chosen),
        course_specific=bool(rehearsed_m(order, template, chosen)),
        main_set=main,
        substitute=chosen.substitute,
        size=set_words(main),
        reasons=_match_reasons(order, template, limits, main),
    )


def filled(order: Order, template: Template, steps: list[Step]) -> list[Step]:
    """The same session with the easy running before it as long as the order wants."""
    if template.minutes is None or not steps or steps[0].kind != "warm_up":
        return steps
    most_s = template.minutes.of(order.level)[1] * 60
    spare_s = whole_minutes(min(minutes_of(order, template), most_s) - measure(steps).duration_s)
    if spare_s < 60:
        return steps
    before = make_step(
        "warm_up", round_warm_up((steps[0].duration_s or 0) + spare_s), (2.0, 3.0), "easy, whole sentences"
    )
    return [before, *steps[1:]]


def _match_reasons(order: Order, template: Template, limits: Limits, main: MainSet) -> tuple[Reason, ...]:
    """How the repeats answer the climb."""
    if not _matches_a_climb(order, template) or order.demand is None:
        return ()
    seconds = climb_seconds(order, order.demand)
    low, high = limits.numbers("session.match_share")
    shown = say_minutes(round(seconds / 15) * 15)
    return (
        Reason(
            "number",
            f"The climb takes you about {shown} at race effort; repeats of {say_minutes(main.seconds)} at "
            f"about {say_grade(grade_asked(template, order.demand, limits))} stand for it (matching repeats "
            f"last {low:g} to {high:g} times the climb, or 4 to 6 min for a long one).",
            "session.match_share",
        ),
        Reason(
            "would change",
            "A longer or steeper climb on the course would make these repeats longer or steeper; on a course "
            "without one they would go.",
        ),
        Reason(
            "considered",
            "Only a steeper hill near? Run 60 to 75 % of the time at the same effort. Only a gentler one? "
            "Run 120 % of it. Only a short one? More repeats, or a lap that joins two hills.",
        ),
    )
