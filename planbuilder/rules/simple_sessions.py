"""Easy runs with and without strides, progression runs, walk-run, strength, cross-training, races, tests.

Receives: an ``Order``, a ``Template``, the limits.
Gives: ``Written``.
"""

from __future__ import annotations

from typing import Final

from planbuilder.plan.types import Ground, Step
from planbuilder.rules.doses import choose_set, round_lengths, round_recovery, whole_minutes
from planbuilder.rules.library import Template
from planbuilder.rules.orders import MainSet, Order, Written
from planbuilder.rules.parts import (
    ANY,
    FLAT,
    STRIDE_RPE,
    cool_down,
    cue_of,
    doing_words,
    dose_of,
    effort_of,
    grown_s,
    make_step,
    minutes_of,
    on_ground,
    pace_of,
    strides_allowed,
    warm_up,
)
from planbuilder.rules.repeats import set_words
from planbuilder.rules.terrain import Chosen, grade_asked, uphill
from planbuilder.settings.limits import Limits
from planbuilder.units import say_minutes

_GROUND: Final = {"flat": FLAT}
_LEVEL: Final = Chosen(FLAT, FLAT, "", "", True)


def _whole_s(order: Order, template: Template) -> float:
    """The session in multiples of five minutes, single minutes below twenty."""
    seconds = minutes_of(order, template)
    return max(whole_minutes(seconds, 5 if seconds >= 1200 else 1), 600.0)


def write_easy(order: Order, template: Template, limits: Limits) -> Written:
    """One easy stretch."""
    seconds = _whole_s(order, template)
    ground = _GROUND.get(template.ground, ANY)
    run = make_step(
        "easy",
        seconds,
        template.effort,
        doing_words(order, template, ground),
        ground=ground,
        pace_s_per_km=pace_of(order, template.band, ground, limits),
        band=template.band,
    )
    return Written((run,), size=say_minutes(seconds))


def write_strides(order: Order, template: Template, limits: Limits) -> Written:
    """An easy run, a few short quick runs near its end, a few minutes home."""
    if template.repeats is None or template.repeat_seconds is None or template.recovery_seconds is None:
        raise ValueError(f"{template.name} needs repeats, repeat_seconds and recovery_seconds")
    if not strides_allowed(order):
        return write_easy(order, template, limits)
    seconds = _whole_s(order, template)
    hill = template.ground == "up"
    chosen = uphill(order, template, grade_asked(template, None, limits)) if hill else _LEVEL
    start, grows = dose_of(order, template)
    counts, lengths = template.repeats.of(order.level), template.repeat_seconds.of(order.level)
    main = choose_set(
        repeats=(int(counts[0]), int(counts[1])),
        lengths=round_lengths(*lengths),
        low_s=counts[0] * lengths[0],
        high_s=counts[1] * lengths[1],
        limit_s=order.work_limit_s if order.work_limit_s is not None else 1e9,
        start=start,
        grows=grows,
        occurrence=order.occurrence,
        previous=order.previous,
    )
    rest_s = round_recovery(sum(template.recovery_seconds) / 2)
    easy_s = seconds - main.total_s - (main.repeats - 1) * rest_s
    least_s = 120.0 if seconds < 1800 else 300.0
    round_s = max(whole_minutes(easy_s - least_s, 5), 300.0)
    end_s = max(whole_minutes(min(easy_s - round_s + 30.0, easy_s - 300.0)), least_s)
    lead_s = max(easy_s - end_s, 300.0)  # within half a minute of the round length
    ground = _GROUND.get(template.ground, ANY)
    pace = pace_of(order, template.band, ground, limits)
    build_up = ", two short build-ups near the end" if hill else ""
    what = on_ground("up", chosen.ground) if hill else "stride"
    back = chosen.back_words or template.recovery_words
    steps = [
        make_step(
            "easy", lead_s, template.effort, f"easy{build_up}", pace_s_per_km=pace, band=template.band,
            ground=ground,
        ),
        make_step(
            "strides", main.seconds, (7.0, 8.0) if hill else STRIDE_RPE,
            f"{what}, {cue_of(order, template)}", ground=chosen.ground, repeat=main.repeats, set_no=1,
        ),
        make_step("cool_down", end_s, template.effort, "easy", ground=FLAT if hill else ANY),
    ]  # fmt: skip
    if main.repeats > 1:
        rest = make_step(
            "recovery", rest_s, (1.0, 1.0), back, ground=chosen.back, repeat=main.repeats - 1, set_no=1
        )
        steps.insert(2, rest)
    return Written(
        tuple(steps),
        main_set=main,
        substitute=chosen.substitute,
        size=f"{say_minutes(seconds)} with {set_words(main)}",
    )


def write_progression(order: Order, template: Template, limits: Limits) -> Written:
    """Three parts: easy, brisker, then RPE 6, the last one short enough to stay a training run."""
    end_s = 300.0
    last_most_s = limits.number("session.progression_last_third") * 60
    if order.work_limit_s is not None:
        last_most_s = min(last_most_s, order.work_limit_s)
    if template.minutes is None:
        raise ValueError(f"{template.name} needs minutes")
    low, high = template.minutes.of(order.level)
    wanted_s = grown_s(order, template, low, high)
    total_s = max(whole_minutes(min(wanted_s, order.duration_s or wanted_s), 5), 1500.0)
    pace = pace_of(order, template.band, FLAT, limits)
    third_s = whole_minutes((total_s - end_s) / 3)
    last_s = max(min(third_s, whole_minutes(last_most_s)), 180.0)
    first_s = max(total_s - end_s - third_s - last_s, 600.0)
    third_s = total_s - end_s - first_s - last_s
    steps = (
        make_step("warm_up", first_s, (3.0, 3.0), "easy, chatting", ground=FLAT),
        make_step("easy", third_s, (4.0, 4.0), "a little brisker, still whole sentences", ground=FLAT),
        make_step(
            "work", last_s, effort_of(order, template), doing_words(order, template, FLAT), ground=FLAT,
            pace_s_per_km=pace, band=template.band,
        ),
        *cool_down(order, template, limits, short=True),
    )  # fmt: skip
    return Written(steps, main_set=MainSet(1, last_s), size=f"{say_minutes(total_s)}, the last third strong")


def write_walk_run(order: Order, template: Template, limits: Limits) -> Written:
    """Walking, running and walking by turns; the running grows by a fifth at most each time."""
    rise = 1 + limits.number("session.walk_run_rise")
    total_s = _whole_s(order, template)
    main = order.previous or _WALK_RUN[0]
    turns = order.occurrence if order.previous is None else 1
    for _ in range(turns):
        main = _longer_walk_run(main, rise)
    room_s = total_s - 600.0
    walk_s = _walk_s(main)
    while main.repeats > 2 and main.repeats * (main.seconds + walk_s) > room_s:
        main = MainSet(main.repeats - 1, main.seconds)
    steps = (
        make_step("warm_up", 300, (1.0, 1.0), "brisk walk", ground=FLAT),
        make_step(
            "easy", main.seconds, template.effort, doing_words(order, template, FLAT), ground=FLAT,
            repeat=main.repeats, set_no=1,
        ),
        make_step("recovery", walk_s, (1.0, 1.0), "walk", ground=FLAT, repeat=main.repeats - 1, set_no=1),
        make_step("cool_down", 300, (1.0, 1.0), "walk", ground=FLAT),
    )  # fmt: skip
    return Written(steps, main_set=main, size=f"{set_words(main)} running, walking between")


# Running times that coaches use, shortest first: repeats and seconds. Common practice, no source.
_WALK_RUN: Final = (
    *(MainSet(5, 60), MainSet(6, 60), MainSet(7, 60), MainSet(8, 60), MainSet(9, 60), MainSet(5, 120)),
    *(MainSet(6, 120), MainSet(7, 120), MainSet(8, 120), MainSet(6, 180), MainSet(7, 180), MainSet(8, 180)),
    *(MainSet(7, 240), MainSet(8, 240)),
)


def _walk_s(main: MainSet) -> float:
    return 120.0 if main.seconds <= 120 else 60.0


def _longer_walk_run(main: MainSet, rise: float) -> MainSet:
    longer = [
        option
        for option in _WALK_RUN
        if main.total_s < option.total_s <= main.total_s * rise + 1e-6
    ]  # fmt: skip
    return max(longer, key=lambda option: (option.total_s, option.seconds), default=main)


def write_strength(order: Order, template: Template, _limits: Limits) -> Written:
    """Exercises in rounds; hops only where nothing speaks against them."""
    total_s = _whole_s(order, template)
    rounds = 2 if order.new_to_strength and order.occurrence < 2 else 3
    names = [
        "squats or step-ups, 8 each leg",
        "hip hinges, 8, back straight",
        "split squats, 6 each leg",
        "plank, front and each side",
    ]
    if "uphill" not in order.banned:
        names.insert(2, "calf raises with straight and with bent knee, 8 each")
    if "downhill" not in order.banned:
        names.insert(3, "slow step-downs, 6 to 8 each leg, the other foot reaching for the floor")
    hops = (
        order.level != "novice"
        and order.phase in ("build", "specific")
        and order.occurrence >= 4
        and not order.banned & {"hops", "fast"}
        and not order.minor
    )
    if hops:
        names.append("small two-legged hops, 8, soft and quiet")
    warm_s = 300.0
    each_s = max(whole_minutes((total_s - warm_s) / len(names)), 60.0)
    warm_s = total_s - each_s * len(names)
    indoors = Ground("indoors")
    effort = (5.0, 6.0) if order.new_to_strength and order.occurrence < 2 else template.effort
    loosen = "of brisk walking, leg swings and loose squats"
    steps = (
        make_step("strength", warm_s, (2.0, 3.0), loosen, ground=indoors),
        *(
            make_step("strength", each_s, effort, f"for {rounds} rounds of {name}", ground=indoors)
            for name in names
        ),
    )
    return Written(steps, size=f"{say_minutes(total_s)}, {rounds} rounds")


def write_cross_training(order: Order, template: Template, _limits: Limits) -> Written:
    """The minutes and the effort of the run it replaces, without impact."""
    seconds = _whole_s(order, template)
    words = doing_words(order, template, ANY)
    step = make_step("cross_training", seconds, template.effort, words, ground=ANY)
    return Written((step,), size=say_minutes(seconds))


def _distance_step(kind: str, distance_m: float, effort: tuple[float, float], words: str) -> Step:
    return Step(
        kind="race" if kind == "race" else "work",
        repeat=1,
        duration_s=None,
        distance_m=distance_m,
        effort_rpe=effort,
        pace_s_per_km=None,
        ground=ANY if kind == "race" else FLAT,
        words=words,
    )


def write_tune_up(order: Order, template: Template, limits: Limits) -> Written:
    """Warm-up, the race, a jog."""
    if order.race_distance_m is None:
        raise ValueError("a tune-up race needs race_distance_m")
    effort = order.race_effort_rpe or template.effort
    name = order.race_words or "the race"
    gentle = effort[1] <= 4
    how = "at easy effort, as a long run with company" if gentle else template.cue
    race = _distance_step("race", order.race_distance_m, effort, f"{name}: {how}")
    if gentle:
        return Written((race,), size=name)
    return Written((*warm_up(order, template, limits), race, *cool_down(order, template, limits)), size=name)


def write_test(order: Order, template: Template, limits: Limits) -> Written:
    """A measured trial, all-out but even."""
    trial = _distance_step(
        "test",
        3000.0,
        template.effort,
        "3000 m on a track (seven and a half laps) or a measured flat path, "
        f"{doing_words(order, template, FLAT)}",
    )
    steps = (*warm_up(order, template, limits), trial, *cool_down(order, template, limits))
    return Written(steps, size="3000 m")
