"""Writing one session: from what the schedule orders and what the library says to steps a runner can follow.

Receives: an ``Order``, the ``Library``, the limits.
Gives: a ``Draft``; ``DoseRange`` for budgeting beforehand; ``why_not`` for kinds that must not be ordered.

>>> from planbuilder.rules.library import load_library
>>> "long_hill_reps" in load_library()
True
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Final

from planbuilder.plan.types import Reason
from planbuilder.plan.walk import measure
from planbuilder.race.ladder import CLASSES, race_class
from planbuilder.rules.late_descent import write_late_descent
from planbuilder.rules.library import Library, Template
from planbuilder.rules.long_runs import write_hill_finish, write_long_goal, write_rolling
from planbuilder.rules.orders import DoseRange, Draft, MainSet, Order, Written
from planbuilder.rules.parts import effort_of, once_title
from planbuilder.rules.repeats import set_words, write_repeats
from planbuilder.rules.ruled_out import left_out
from planbuilder.rules.simple_sessions import (
    write_cross_training,
    write_easy,
    write_progression,
    write_strength,
    write_strides,
    write_test,
    write_tune_up,
    write_walk_run,
)
from planbuilder.rules.simulation import write_simulation
from planbuilder.rules.tempo import write_continuous, write_downhill_start
from planbuilder.settings.limits import Limits
from planbuilder.settings.session_models import Shape

__all__ = [
    "DoseRange",
    "Draft",
    "MainSet",
    "Order",
    "dose_range",
    "draft_of",
    "why_not",
    "write_session",
]

_Writer = Callable[[Order, Template, Limits], Written]

_WRITERS: Final[dict[Shape, _Writer]] = {
    "easy": write_easy,
    "strides": write_strides,
    "repeats": write_repeats,
    "continuous": write_continuous,
    "progression": write_progression,
    "downhill_start": write_downhill_start,
    "rolling": write_rolling,
    "hill_finish": write_hill_finish,
    "late_descent": write_late_descent,
    "simulation": write_simulation,
    "long_goal": write_long_goal,
    "walk_run": write_walk_run,
    "strength": write_strength,
    "cross_training": write_cross_training,
    "tune_up": write_tune_up,
    "test": write_test,
}

_BANNED_WORDS: Final = {
    "uphill": "climbs",
    "downhill": "descents",
    "fast": "fast running",
    "hops": "hops",
    "all_out": "all-out running",
    "race": "the race it is for",
}
_HEAT: Final = "In heat go shorter and slower; stop and cool down if you feel chilled, dizzy or confused."
_CLIMBING: Final = frozenset({"hill_finish", "simulation"})


def why_not(order: Order, library: Library) -> str:
    """Why this kind must not be ordered for this runner now; an empty string where it may be.

    The template's ``instead`` names the kind to order in its place.
    """
    template = library.template(order.kind)
    ruled_out = order.banned & frozenset(template.needs)
    if order.banned & {"uphill"} and template.shape in _CLIMBING:
        ruled_out |= {"uphill"}
    if ruled_out:
        words = " and ".join(_BANNED_WORDS[word] for word in sorted(ruled_out))
        return f"{template.title} needs {words}, which this runner leaves out for now."
    if against := left_out(template, order.day):
        return f"{template.title}: {against}."
    if "downhill" in template.needs and not order.hills and order.treadmill_descent < 0.01:
        return f"{template.title} needs a slope to run down, and there is none near home."
    if template.shape == "strides" and template.ground == "up" and not _sprint_ground(order, template):
        return f"{template.title} needs a hill, and there is none near home."
    return ""


def _sprint_ground(order: Order, template: Template) -> bool:
    """Whether there is ground for a few seconds uphill; the flat is no substitute for a sprint."""
    return order.hills or bool(set(order.substitutes) & set(template.substitutes))


def write_session(order: Order, library: Library, limits: Limits) -> Draft:
    """The session that was ordered.

    Where even the smallest form is over ``work_limit_s`` or ``duration_s``, the smallest form is written: ask
    ``dose_range`` before ordering. Raises ValueError for a kind that ``why_not`` speaks against, KeyError for
    an unknown kind.
    """
    template = library.template(order.kind)
    if reason := why_not(order, library):
        raise ValueError(reason)
    return draft_of(order, template, _WRITERS[template.shape](order, template, limits), limits)


def draft_of(order: Order, template: Template, written: Written, limits: Limits) -> Draft:
    """The draft of what a writer of one shape wrote."""
    found = measure(written.steps, easy_s_per_km=order.paces.easy_s_per_km)
    once = template.shape == "repeats" and written.main_set is not None and written.main_set.repeats == 1
    return Draft(
        kind=order.kind,
        title=once_title(template.title) if once else template.title,
        steps=written.steps,
        distance_m=round(found.distance_m, 1),
        duration_s=found.duration_s,
        work_s=found.work_s,
        hard_s=found.hard_s,
        hard=found.hard or (template.counts_as == "race" and _raced(order, template)),
        climb_m=round(found.climb_m, 1),
        descent_work_s=found.descent_work_s,
        course_specific=written.course_specific,
        rehearses_m=written.rehearses_m,
        purpose=template.purpose,
        progression=_progression(order, template, written),
        caution=_caution(order, template, written, found.duration_s),
        substitute=written.substitute,
        fuelling=_fuelling(order, found.duration_s, limits) if template.counts_as != "none" else "",
        reasons=_reasons(order, template, written),
        main_set=written.main_set,
        climbs_begin_share=written.climbs_begin_share,
    )


def _raced(order: Order, template: Template) -> bool:
    """A race run at easy effort does not count as hard."""
    effort = order.race_effort_rpe or template.effort
    return effort[1] > 4


def dose_range(order: Order, library: Library, limits: Limits) -> DoseRange:
    """From the smallest to the largest session of this kind for this runner; limits of the order count."""
    template = library.template(order.kind)
    low, high = template.minutes.of(order.level) if template.minutes is not None else (None, None)
    whole = template.shape not in ("repeats", "continuous", "downhill_start", "tune_up", "test")
    smallest = replace(
        order, dose=0.0, occurrence=0, previous=None, duration_s=low * 60 if whole and low else None
    )
    cap_s = order.duration_s
    largest_s = high * 60 if whole and high else cap_s
    if cap_s is not None and largest_s is not None:
        largest_s = min(largest_s, cap_s)
    largest = replace(order, dose=1.0, occurrence=0, previous=None, duration_s=largest_s)
    first, last = write_session(smallest, library, limits), write_session(largest, library, limits)
    return DoseRange(
        min(first.work_s, last.work_s),
        max(first.work_s, last.work_s),
        min(first.duration_s, last.duration_s),
        max(first.duration_s, last.duration_s),
    )


def fuelling(
    duration_s: float, limits: Limits, *, race_fuel: tuple[float, float] | None, race_m: float
) -> str:
    """What to drink and eat on a run of this length: always to thirst, carbohydrate from the long ones on.

    The amount of race day, ``race_fuel`` in g an hour, is practised where a run is long enough for it; else
    both amounts are named. None: there is no race to practise for.
    """
    minutes = duration_s / 60
    if minutes < limits.number("session.drink_from"):
        return ""
    drink = "Take water and drink to thirst."
    if minutes < limits.number("session.fuel_from"):
        return drink
    low, high = (0.0, 30.0) if minutes < 120 else (30.0, 60.0)
    grams = "about 60 g" if minutes > 150 else _grams(low, high)
    here = f"{drink} On a run of this length {grams} of carbohydrate an hour is enough"
    if race_fuel is None:
        return f"{here}."
    least, most = race_fuel
    if most == 0:
        return f"{here}; the race itself is short enough to need none."
    on_the_day = f"on race day it will be {_grams(least, most)}"
    if least < low:
        return f"{here}; {on_the_day}."
    if most > high:
        runs = limits.numbers("race.fuel_rehearsed")[CLASSES.index(race_class(race_m))]
        practise = f"Practise that in at least {runs:.0f} long runs, as it agrees with you."
        return f"{here}; {on_the_day}. {practise}"
    return (
        f"{drink} Practise what you will eat on race day: {_grams(least, most)} of carbohydrate an hour, as "
        "it agrees with you."
    )


def _fuelling(order: Order, duration_s: float, limits: Limits) -> str:
    return fuelling(duration_s, limits, race_fuel=order.race_fuel, race_m=order.course.distance_m)


def _grams(low: float, high: float) -> str:
    return f"{low:.0f} to {high:.0f} g" if low else f"up to {high:.0f} g"


def _caution(order: Order, template: Template, written: Written, duration_s: float) -> str:
    indoors = template.ground == "up" and any(step.ground.kind == "treadmill" for step in written.steps)
    parts = [template.caution] if template.caution and not indoors else []
    if (
        template.counts_as in ("hard", "race")
        and effort_of(order, template)[1] >= 9
        and "chest" not in template.caution
    ):
        parts.append("Stop at any chest discomfort, dizziness or unusual breathlessness, and get help.")
    elif duration_s >= 5400:
        parts.append(_HEAT)
    if template.ground in ("up", "drag") and order.hills and template.shape != "rolling":
        parts.append("After dark, a lit route you know.")
    if template.not_when.words:
        parts.append(template.not_when.words)
    return " ".join(parts)


def _progression(order: Order, template: Template, written: Written) -> str:
    last = order.previous
    now = written.main_set
    if last is None or now is None or last == now:
        return template.progression
    return f"Last time {set_words(last)}, now {set_words(now)}."


def _reasons(order: Order, template: Template, written: Written) -> tuple[Reason, ...]:
    found: list[Reason] = []
    for demand in (order.demand, order.second_demand):
        if demand is not None and written.course_specific:
            found.append(Reason("demand", demand.why))
    found.append(Reason("phase", f"Coaches place it in these phases: {', '.join(template.phases)}."))
    if written.size:
        found.append(
            Reason("number", f"The dose for a runner of your level here is {written.size} ({template.mark}).")
        )
    found.extend(written.reasons)
    if template.source:
        found.append(Reason("rule", f"{template.source}.", f"sessions.{template.name}"))
    if template.course_specific:
        found.append(
            Reason(
                "rule",
                "Turning the course into sessions is common practice among coaches; no trial shows that it "
                "beats the same training on any ground.",
                f"sessions.{template.name}",
            )
        )
    return tuple(found)
