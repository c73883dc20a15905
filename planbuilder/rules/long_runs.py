"""Long runs with something in them: rolling ground, a hill finish, race effort, the late race in its order.

Receives: an ``Order``, a ``Template``, the limits. The duration comes with the order.
Gives: ``Written``.
"""

from __future__ import annotations

from math import ceil, floor

from planbuilder.demands.types import Demand
from planbuilder.plan.types import Ground, Reason, Step
from planbuilder.plan.walk import effort_factor, grade_factor
from planbuilder.rules.doses import choose_set, round_down, round_lengths, round_recovery, whole_minutes
from planbuilder.rules.library import Template
from planbuilder.rules.orders import MainSet, Order, Written
from planbuilder.rules.parts import (
    ANY,
    FLAT,
    ROLLING,
    cue_of,
    doing_words,
    dose_of,
    grown_s,
    make_step,
    minutes_of,
    pace_of,
    race_kind,
    race_time_s,
)
from planbuilder.rules.repeats import answered, race_dose, set_words
from planbuilder.rules.terrain import Chosen, grade_asked, matched_lengths, one_climb_s, uphill
from planbuilder.settings.limits import Limits
from planbuilder.units import say_grade, say_minutes

_LONG_RPE = (3.0, 4.0)
_ROLLING_MISS = 0.2  # of the wanted climb: near enough to take turns
HILLY = ("hilly", "very hilly")  # courses whose ups and downs every rolling long run rehearses
END_S = 300.0  # easy home after the last piece of work


def long_run_s(order: Order, template: Template) -> float:
    """The run as a whole, in multiples of five minutes."""
    return max(whole_minutes(minutes_of(order, template), 5), 1800.0)


def easy_stretch(
    order: Order, limits: Limits, seconds: float, words: str, *, ground: Ground = ANY, first: bool = False
) -> Step:
    if first:
        return make_step("warm_up", seconds, (2.0, 3.0), words, ground=ground)
    pace = pace_of(order, "long", ground, limits)
    return make_step("easy", seconds, _LONG_RPE, words, ground=ground, pace_s_per_km=pace, band="long")


def way_home(seconds: float) -> Step:
    return make_step("cool_down", seconds, (1.0, 2.0), "easy home, walk the last minute", ground=FLAT)


# Rolling -------------------------------------------------------------------------------------------------


def write_rolling(order: Order, template: Template, limits: Limits) -> Written:
    """Many small climbs at easy effort, climbing as much per kilometre as the race does."""
    total_s = long_run_s(order, template)
    demand = answered(order, template) or order.course.first("rolling") or order.course.first("early_hills")
    first_s, end_s = 900.0, 600.0
    middle_s = total_s - first_s - end_s
    main, grade = _rolling_set(order, template, total_s, middle_s)
    chosen = uphill(order, template, grade)
    between_s = _floor_half(middle_s / main.repeats - main.seconds)
    early = demand is not None and demand.kind == "early_hills"
    late = demand is not None and demand.share_done > 0.6
    if early or late:
        between_s = min(between_s, round_recovery(main.seconds * 2))
    set_s = main.repeats * (main.seconds + between_s)
    if chosen.ground.kind == "up" and not (early or late):
        set_s = middle_s
    flat_s = middle_s - set_s
    if chosen.ground.kind == "up":
        hills = [_loop(order, template, main, grade, set_s)]
    else:
        climb = make_step(
            "easy", main.seconds, _LONG_RPE, doing_words(order, template, chosen.ground),
            ground=chosen.ground, repeat=main.repeats, set_no=1,
        )  # fmt: skip
        between = make_step(
            "easy", between_s, (2.0, 3.0), "down and along, easy", ground=ROLLING, repeat=main.repeats,
            set_no=1,
        )  # fmt: skip
        hills = [climb, between]
    level = (
        easy_stretch(order, limits, flat_s, "easy on level ground", ground=FLAT) if flat_s >= 300 else None
    )
    spare_s = 0.0 if level is not None else flat_s
    warm = easy_stretch(order, limits, first_s + spare_s, "very easy to begin", first=True)
    middle = [level, *hills] if late else [*hills, level]
    steps = [warm, *[step for step in middle if step is not None], way_home(end_s)]
    stretch = ((demand.start_m, demand.end_m),) if demand is not None and chosen.real else ()
    return Written(
        steps=tuple(steps),
        rehearses_m=stretch,
        course_specific=chosen.real and (bool(stretch) or order.course.course_class in HILLY),
        main_set=main,
        substitute=chosen.substitute,
        size=f"{say_minutes(total_s)} with {set_words(main)} uphill"
        if chosen.ground.kind != "up"
        else f"{say_minutes(total_s)} over about {main.repeats} rises of {say_minutes(main.seconds)}",
        reasons=(
            Reason(
                "number",
                f"{main.repeats} climbs of {say_minutes(main.seconds)} bring {_much(order)} climbing per "
                "kilometre as the race has.",
                "session.rolling_climb",
            ),
        ),
    )


def _loop(order: Order, template: Template, main: MainSet, grade: float, seconds: float) -> Step:
    """The rises as a runner finds them: a loop to look for, no count to keep. Its ground has the mean grade
    of the way up, so that the climbing of the week is known."""
    flat_pace = order.paces.easy_s_per_km * effort_factor(sum(_LONG_RPE) / 2)
    climb_m = main.total_s / (flat_pace * grade_factor(grade)) * 1000 * grade
    level = climb_m / (seconds / flat_pace * 1000)
    mean = level / (1 - (grade_factor(0.01) - 1) * 100 * level)  # the slope itself slows the run
    rises = f"about {main.repeats} rises of {say_minutes(main.seconds)}, near {say_grade(grade)}"
    words = f"choose a loop with {rises}; easy up, down and along, {cue_of(order, template)}"
    return make_step("easy", seconds, _LONG_RPE, words, ground=Ground("rolling", round(mean, 5)))


def _much(order: Order) -> str:
    return "about as much" if order.climb_limit_m is None else "as much as the week leaves for it, near the"


def _floor_half(seconds: float) -> float:
    return max(int(seconds // 30) * 30.0, 60.0)


def _rolling_set(order: Order, template: Template, total_s: float, middle_s: float) -> tuple[MainSet, float]:
    """Climbs, and their grade, whose gain per kilometre is nearest to the race's; each time another set."""
    if template.repeats is None or template.repeat_seconds is None:
        raise ValueError(f"{template.name} needs repeats and repeat_seconds")
    low, high = (int(number) for number in template.repeats.of(order.level))
    wanted_m = max(order.course.climb_m_per_km * total_s / order.paces.easy_s_per_km, 10.0)
    if order.climb_limit_m is not None:
        wanted_m = max(min(wanted_m, order.climb_limit_m), 10.0)
    options = [
        MainSet(count, length)
        for length in round_lengths(*template.repeat_seconds.of(order.level))
        for count in range(low, high + 1)
        if count * (length + 90) <= middle_s
    ] or [MainSet(max(2, int(middle_s // 180)), 60.0)]
    least, most = template.grade_percent or (2.0, 6.0)

    def miss(option: MainSet, grade: float) -> float:
        climb_s_per_km = order.paces.easy_s_per_km * effort_factor(sum(_LONG_RPE) / 2) * grade_factor(grade)
        off = option.total_s / climb_s_per_km * 1000 * grade / wanted_m - 1
        too_much = order.climb_limit_m is not None and off * wanted_m > order.climb_limit_m - wanted_m
        return abs(off) + too_much

    grades = sorted(
        (half / 200 for half in range(round(least * 2), round(most * 2) + 1)),
        key=lambda grade: (round(min(miss(option, grade) for option in options), 1), abs(grade - 0.04)),
    )
    grade = grades[0]
    near = sorted(options, key=lambda option: (miss(option, grade), option.seconds))
    good = [option for option in near[:4] if miss(option, grade) <= _ROLLING_MISS] or near[:1]
    good.sort(key=lambda option: (option.total_s, option.seconds))
    fresh = [option for option in good if option != order.previous] or good
    return fresh[order.occurrence % len(fresh)], grade


# Hill finish ---------------------------------------------------------------------------------------------


def climb_demand(order: Order) -> Demand | None:
    if order.demand is not None and order.demand.grade > 0:
        return order.demand
    for kind in ("late_climb", "hilly_finish", "early_hills", "finish_drag"):
        found = order.course.first(kind)
        if found is not None and found.grade > 0:
            return found
    return None


def _climb_s(order: Order, demand: Demand | None, limits: Limits) -> float:
    if demand is None:
        return {"novice": 90.0, "intermediate": 120.0}.get(order.level, 180.0)
    return one_climb_s(order, demand, limits)


def write_hill_finish(order: Order, template: Template, limits: Limits) -> Written:
    """Flat first, then one to three climbs like the decisive one, then easy home."""
    total_s = long_run_s(order, template)
    demand = climb_demand(order)
    chosen = uphill(order, template, grade_asked(template, demand, limits))
    turn = _finish_turn(order)
    middle = limits.numbers("session.hill_finish_effort")[turn]
    effort = (float(floor(middle)), float(ceil(middle)))
    room_s = work_room_s(order, template, total_s)
    late_most_s = (1 - limits.number("session.climbs_after_share")) * total_s - END_S
    grade = grade_asked(template, demand, limits)
    climbs, climb_s = _late_climbs(order, demand, grade, limits, turn + 1, room_s, late_most_s)
    down_s = round_recovery(climb_s * 1.1)
    drag = order.course.first("finish_drag") if turn else None
    drag_s = 0.0
    spare_s = room_s - climbs * climb_s
    late_s = climbs * climb_s + (climbs - 1) * down_s
    if drag is not None and order.hills:
        drag_s = whole_minutes(min(spare_s, late_most_s - late_s - down_s, 300.0))
        drag_s = drag_s if drag_s >= 120 else 0.0
    spare_s -= drag_s
    before_s = whole_minutes(min(spare_s, 900.0 if turn == 1 else 600.0)) if turn else 0.0
    before_s = before_s if before_s >= 300 else 0.0
    tail_s = late_s + (down_s + drag_s if drag_s else 0.0)
    end_s = min(600.0, max(END_S, total_s - tail_s - 0.8 * total_s))
    end_s = whole_minutes(end_s)
    flat_s = total_s - tail_s - end_s - before_s
    if flat_s < 960:
        flat_s, before_s = flat_s + before_s, 0.0
    first_s = min(900.0, flat_s - 60.0)
    steps = [
        easy_stretch(order, limits, first_s, "very easy to begin", first=True, ground=FLAT),
        easy_stretch(order, limits, flat_s - first_s, "easy on the flat, whole sentences", ground=FLAT),
    ]
    if before_s:
        steps.append(_before_the_climb(order, limits, turn, before_s))
    steps += _climb_steps(order, template, chosen, climbs, climb_s, down_s, effort)
    if drag_s and drag is not None:
        slope = Ground("drag", round(drag.grade, 3), "a gentle slope like the finish")
        pace = pace_of(order, "race effort", slope, limits)
        down_words = chosen.back_words or "easy down"
        steps.append(make_step("recovery", down_s, (1.0, 2.0), down_words, ground=chosen.back))
        steps.append(
            make_step(
                "work", drag_s, effort, "up a gentle slope like the finish, lift the cadence",
                ground=slope, pace_s_per_km=pace, band="race effort",
            )
        )  # fmt: skip
    steps.append(way_home(end_s))
    stretches = [demand] if demand is not None and chosen.real else []
    if drag_s and drag is not None:
        stretches.append(drag)
    rehearsed = tuple(sorted({(found.start_m, found.end_m) for found in stretches}))
    return Written(
        steps=tuple(steps),
        rehearses_m=rehearsed,
        course_specific=bool(rehearsed),
        main_set=MainSet(climbs, climb_s),
        substitute=late_machine(chosen),
        size=f"{say_minutes(total_s)}, {set_words(MainSet(climbs, climb_s))} uphill at the end",
        climbs_begin_share=(flat_s + before_s) / total_s,
        reasons=(
            Reason(
                "rule",
                f"The climbs begin after {round((flat_s + before_s) / total_s * 100)} % of the run, because "
                "the race brings its climb to legs that have already run; coaches do this, no trial shows "
                "it.",
                "session.climbs_after_share",
            ),
        ),
    )


def late_machine(chosen: Chosen) -> str:
    if chosen.ground.kind == "treadmill":
        return f"{chosen.substitute} End the flat part within ten minutes of the machine."
    return chosen.substitute


def work_room_s(order: Order, template: Template, total_s: float) -> float:
    """Seconds of work that this run may hold."""
    if template.work_minutes is None:
        high_s = 0.15 * total_s
    else:
        low, high = template.work_minutes.of(order.level)
        high_s = grown_s(order, template, low, high)
    return min(high_s, order.work_limit_s if order.work_limit_s is not None else high_s)


def _finish_turn(order: Order) -> int:
    """0 to 2: by feel, after steady running, after race effort; the first kind belongs to build alone."""
    first_was_gentle = order.previous is not None and order.previous.repeats == 1
    later = order.phase == "specific" and not (first_was_gentle and order.occurrence > 0)
    turn = order.occurrence + (1 if later else 0)
    return turn if turn <= 2 else 2 - turn % 2


def _late_climbs(
    order: Order,
    demand: Demand | None,
    grade: float,
    limits: Limits,
    most: int,
    room_s: float,
    late_most_s: float,
) -> MainSet:
    """As many climbs as work, time and the late gain of the race allow, each as long as they allow."""
    wanted_s = _climb_s(order, demand, limits)
    matched = matched_lengths(order, demand, limits) if demand is not None else (wanted_s,)
    lengths = sorted({length for length in matched if length <= wanted_s} | {wanted_s}, reverse=True)
    m_per_s = 1000 / (order.paces.easy_s_per_km * effort_factor(6.5) * grade_factor(grade)) * grade
    guide_m = order.course.late_gain_m * limits.number("session.late_climb_share")
    for count in range(most, 0, -1):
        for length in lengths:
            late_s = count * length + (count - 1) * round_recovery(length * 1.1)
            guided = (
                count > 2 or order.course.course_class not in HILLY
            )  # two match a climb of a hilly course
            gains = count == 1 or not guided or guide_m <= 0 or count * length * m_per_s <= guide_m
            if gains and count * length <= room_s and late_s <= late_most_s:
                return MainSet(count, length)
    return MainSet(1, max(round_down(min(room_s, late_most_s)), 60.0))


def _before_the_climb(order: Order, limits: Limits, turn: int, seconds: float) -> Step:
    if turn == 1:
        pace = pace_of(order, "steady", FLAT, limits)
        return make_step(
            "work", seconds, (5.0, 5.0), "steady on the flat, short sentences", ground=FLAT,
            pace_s_per_km=pace, band="steady",
        )  # fmt: skip
    rpe = race_rpe(order)
    pace = pace_of(order, "race effort", FLAT, limits)
    return make_step(
        "work",
        seconds,
        rpe,
        "at race effort on the flat",
        ground=FLAT,
        pace_s_per_km=pace,
        band="race effort",
    )


def race_rpe(order: Order) -> tuple[float, float]:
    """RPE of the race's own middle third."""
    return order.finish_rpe or {
        "5 km": (8.0, 8.0), "10 km": (7.0, 8.0), "half marathon": (6.0, 7.0), "marathon": (5.0, 6.0)
    }[race_kind(order.course.distance_m)]  # fmt: skip


def _climb_steps(
    order: Order,
    template: Template,
    chosen: Chosen,
    climbs: int,
    climb_s: float,
    down_s: float,
    effort: tuple[float, float],
) -> list[Step]:
    words = doing_words(order, template, chosen.ground)
    steps = [make_step("work", climb_s, effort, words, ground=chosen.ground, repeat=climbs, set_no=1)]
    if climbs > 1:
        back = chosen.back_words or "easy back down"
        steps.append(
            make_step(
                "recovery", down_s, (1.0, 2.0), back, ground=chosen.back, repeat=climbs - 1, set_no=1
            )
        )  # fmt: skip
    return steps


def _lead(order: Order, limits: Limits, seconds: float) -> Step:
    """Easy running before race effort, over ground like that of a hilly race where it may be."""
    up_and_down = order.hills and not order.banned & {"uphill", "downhill"}
    if up_and_down and order.course.course_class in HILLY:
        return easy_stretch(
            order, limits, seconds, "easy over rolling ground, whole sentences", ground=ROLLING
        )
    return easy_stretch(order, limits, seconds, "easy, whole sentences")


# Race effort in a long run -------------------------------------------------------------------------------


def write_long_goal(order: Order, template: Template, limits: Limits) -> Written:
    """Easy first, then one to three stretches at race effort, then easy home."""
    total_s = long_run_s(order, template)
    dose = race_dose(order, template)
    if dose is None:
        raise ValueError(f"{template.name} has no dose for {race_kind(order.course.distance_m)}")
    low, high = dose.work_minutes.of(order.level)
    start, grows = dose_of(order, template)
    high = min(high, dose.most_of_race * race_time_s(order) / 60)
    rest_s = round_recovery(dose.recovery_seconds[0 if order.occurrence >= 2 else 1])
    lead_least_s, end_s = limits.number("session.goal_effort_after") * 60, END_S
    room_s = total_s - lead_least_s - end_s - rest_s
    limit_s = min(order.work_limit_s if order.work_limit_s is not None else room_s, room_s)
    main = choose_set(
        repeats=(int(dose.repeats[0]), int(dose.repeats[1])),
        lengths=round_lengths(*dose.repeat_seconds),
        low_s=low * 60,
        high_s=max(high, low) * 60,
        limit_s=limit_s,
        start=start,
        grows=grows,
        occurrence=order.occurrence,
        previous=order.previous,
    )
    demand = answered(order, template) or order.course.first("long_flat")
    rolling = order.course.has("rolling") and not order.course.has("long_flat") and order.occurrence % 2 == 1
    ground = ROLLING if rolling else FLAT
    pace = pace_of(order, "race effort", ground, limits)
    set_s = main.total_s + (main.repeats - 1) * rest_s
    lead_s = max(total_s - set_s - end_s, 600.0)
    steps = [
        easy_stretch(order, limits, 600.0, "very easy to begin", first=True),
        *([_lead(order, limits, lead_s - 600.0)] if lead_s > 600 else []),
        make_step(
            "work", main.seconds, dose.effort, f"at race effort, {cue_of(order, template)}", ground=ground,
            repeat=main.repeats, pace_s_per_km=pace, band="race effort", set_no=1,
        ),
    ]  # fmt: skip
    if main.repeats > 1:
        steps.append(
            make_step(
                "recovery", rest_s, (2.0, 3.0), "easy", ground=ground, repeat=main.repeats - 1, set_no=1
            )
        )
    steps.append(way_home(end_s))
    if demand is None and rolling:
        demand = order.course.first("rolling")
    stretch = ((demand.start_m, demand.end_m),) if demand is not None else ()
    return Written(
        steps=tuple(steps),
        rehearses_m=stretch,
        course_specific=bool(stretch),
        main_set=main,
        size=f"{say_minutes(total_s)} with {set_words(main)} at race effort",
    )
