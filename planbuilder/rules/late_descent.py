"""A long run that comes down where the race does: late, at easy effort.

Receives: an ``Order``, a ``Template``, the limits. The duration comes with the order.
Gives: ``Written``, with the metres of the descent that are run.
"""

from __future__ import annotations

from planbuilder.plan.types import Ground, Step
from planbuilder.plan.walk import measure
from planbuilder.rules.doses import whole_minutes
from planbuilder.rules.library import Template
from planbuilder.rules.long_runs import END_S, easy_stretch, long_run_s, way_home
from planbuilder.rules.orders import Order, Written
from planbuilder.rules.parts import FLAT, doing_words, make_step
from planbuilder.rules.repeats import answered, chosen_ground, rehearsed_m
from planbuilder.settings.limits import Limits
from planbuilder.units import say_minutes

FIRST_S = 900.0  # very easy to begin
LEAST_S = 180.0  # of running down that is worth the way up


def write_late_descent(order: Order, template: Template, limits: Limits) -> Written:
    """Easy, gaining height; down at the share of the run at which the race comes down; easy home."""
    total_s = long_run_s(order, template)
    demand = answered(order, template)
    chosen = chosen_ground(order, template, limits)
    low, high = template.effort
    words = doing_words(order, template, chosen.ground)

    def down(seconds: float) -> Step:
        return make_step("easy", seconds, (low, high), words, ground=chosen.ground)

    minute = measure((down(60.0),), easy_s_per_km=order.paces.easy_s_per_km)
    fall_m = minute.distance_m * abs(chosen.ground.grade or 0.0)  # in a minute
    most_s = limits.number("course_work.descent_cap") * 60
    if demand is not None:
        most_s = min(most_s, demand.length_m / minute.distance_m * 60)
    if order.climb_limit_m is not None and fall_m > 0:
        most_s = min(most_s, order.climb_limit_m / fall_m * 60)
    down_s = max(whole_minutes(most_s), LEAST_S)
    share = demand.share_done if demand is not None else limits.number("session.climbs_after_share")
    before_s = whole_minutes(min(share * total_s, total_s - down_s - END_S))
    after_s = total_s - before_s - down_s - END_S
    lead_s = before_s - FIRST_S
    lead = easy_stretch(
        order, limits, lead_s, "easy, on a way that gains height and keeps it until you turn",
        ground=_rising(order, lead_s, down_s / 60 * fall_m) if chosen.ground.kind == "down" else FLAT,
    )  # fmt: skip
    steps = [
        easy_stretch(order, limits, FIRST_S, "very easy to begin", first=True),
        lead,
        down(down_s),
        *([easy_stretch(order, limits, after_s, "easy on the level", ground=FLAT)] if after_s else []),
        way_home(END_S),
    ]
    run_m = down_s / 60 * minute.distance_m
    stretches = tuple((start, min(end, start + run_m)) for start, end in rehearsed_m(order, template, chosen))
    return Written(
        steps=tuple(steps),
        rehearses_m=stretches,
        course_specific=bool(stretches),
        substitute=chosen.substitute,
        size=f"{say_minutes(total_s)}, {say_minutes(down_s)} of it down",
    )


def _rising(order: Order, seconds: float, rise_m: float) -> Ground:
    """Ground on which an easy run of so many seconds gains so many metres."""
    level_m = seconds / order.paces.easy_s_per_km * 1000
    return Ground("rolling", round(rise_m / level_m, 5))
