"""Which ground a session is run on, and what stands in for ground that is missing.

Receives: an ``Order`` (what is near home, what the course asks), a ``Template``.
Gives: ``Chosen`` ground with its grade, and the sentence that names a substitute.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from planbuilder.demands.types import Demand
from planbuilder.plan.types import Ground
from planbuilder.rules.doses import round_down, round_lengths
from planbuilder.rules.library import Template
from planbuilder.rules.orders import Order
from planbuilder.rules.parts import race_pace_s_per_km
from planbuilder.settings.limits import Limits
from planbuilder.settings.session_models import Substitute
from planbuilder.units import say_grade

# Order of preference: common practice, no source.
_PREFERENCE: Final[tuple[Substitute, ...]] = ("bridge", "ramp", "treadmill", "steps")


@dataclass(frozen=True, slots=True)
class Chosen:
    """Ground for the main part of a session."""

    ground: Ground
    back: Ground  # for the way back: downhill, or the level on a machine
    back_words: str  # how to recover, "" where the library's words fit
    substitute: str  # sentence, "" on the right ground
    real: bool  # whether the legs get the grade that was asked for


def grade_asked(template: Template, demand: Demand | None, limits: Limits) -> float:
    """The grade to look for, a fraction with its sign: the demand's where it can be, else the usual one."""
    low, high = template.grade_percent or (2.0, 6.0)
    sign = -1.0 if template.ground == "down" else 1.0
    if demand is None or demand.grade * sign <= 0:
        return sign * (low + high) / 200
    wanted = abs(demand.grade) * 100
    points = limits.number("session.match_grade_points")
    nearest = min(max(min(max(wanted, low), high), wanted - points), wanted + points)
    return sign * round(nearest, 1) / 100


def climb_seconds(order: Order, demand: Demand) -> float:
    """How long the climb of a demand takes at race effort, seconds."""
    return demand.length_m / 1000 * race_pace_s_per_km(order, demand.grade)


def matched_lengths(order: Order, demand: Demand, limits: Limits) -> tuple[float, ...]:
    """Round lengths for repeats that match a climb, seconds.

    A climb up to six minutes: between a half and six fifths of it, a minute at least. A longer one: four to
    six minutes.
    """
    seconds = climb_seconds(order, demand)
    if seconds > limits.number("session.longest_matched_climb") * 60:
        low, high = limits.numbers("session.long_climb_repeat")
        return round_lengths(low * 60, high * 60)
    low_share, high_share = limits.numbers("session.match_share")
    return round_lengths(max(60.0, low_share * seconds), max(60.0, high_share * seconds))


def one_climb_s(order: Order, demand: Demand, limits: Limits) -> float:
    """A single climb for the end of a long run: as long as the course's, within what repeats may be."""
    lengths = matched_lengths(order, demand, limits)
    wanted = round_down(climb_seconds(order, demand))
    return min(lengths, key=lambda length: (abs(length - wanted), length))


def uphill(order: Order, template: Template, grade: float) -> Chosen:
    """Ground that climbs at this grade, or the best substitute near home, named."""
    percent = say_grade(grade)
    drag = template.ground == "drag"
    if order.hills or (drag and grade <= 0.01):
        words = f"a steady slope of about {percent}" if drag else f"a hill of about {percent}"
        ground = Ground("drag" if drag else "up", grade, words)
        return Chosen(ground, *_way_back(order, grade), "", True)
    for kind in _PREFERENCE:
        if kind in template.substitutes and _near(order, kind):
            return _substitute(order, kind, grade)
    return Chosen(
        Ground("flat", 0.0, "level ground, into the wind where you can"),
        Ground("flat", 0.0),
        "easy jog",
        f"No hill, bridge, ramp or treadmill is near: the {percent} climb is replaced by the same minutes at "
        "the same effort on the flat, into the wind where you can. The climb itself stays unrehearsed; one "
        "trip to a hill, three to five weeks before the race, helps most.",
        False,
    )


def _near(order: Order, kind: Substitute) -> bool:
    if kind == "treadmill":
        return order.treadmill_grade >= 0.01
    return kind in order.substitutes


def _substitute(order: Order, kind: Substitute, grade: float) -> Chosen:
    percent = say_grade(grade)
    same = "Same minutes, same effort."
    match kind:
        case "bridge":
            words = f"the approach of a bridge or overpass, near {percent}"
            text = (
                f"A bridge or overpass approach stands in for the hill, as near to {percent} as it comes, "
                f"where running is allowed. {same}"
            )
        case "ramp":
            words = f"a ramp, near {percent}"
            text = (
                f"A ramp stands in for the hill, as near to {percent} as it comes: with permission, in "
                f"daylight, free of cars. {same}"
            )
        case "steps":
            words = "steps"
            text = (
                "Steps stand in for the hill: run up, walk down, one hand near the rail. "
                f"{same} They build strength, not the rhythm of a climb."
            )
            return Chosen(Ground("steps", None, words), Ground("steps", None), "walk back down", text, False)
        case "treadmill":
            set_to = min(round(grade * 200 + 0.5) / 200, order.treadmill_grade)
            words = f"a treadmill at {say_grade(set_to)}"
            text = (
                f"A treadmill at {say_grade(set_to)} stands in for the hill. {same} "
                "Hands off the rails, fan on."
            )
            flat = Ground("treadmill", 0.01)
            return Chosen(
                Ground("treadmill", set_to, words), flat, "easy jog at 1 %", text, set_to >= grade - 0.015
            )
    return Chosen(Ground(kind, grade, words), *_way_back(order, grade), text, True)


def _way_back(order: Order, grade: float) -> tuple[Ground, str]:
    """Down again: at a walk for a runner who is to leave descents out."""
    if "downhill" in order.banned:
        return Ground("any"), "walk back down, gently"
    return Ground("down", -grade), ""


def downhill(order: Order, grade: float) -> Chosen:
    """Ground that falls at this (negative) grade: a slope near home, or a machine that can."""
    percent = say_grade(-grade)
    if order.hills or order.treadmill_descent < 0.01:
        ground = Ground("down", grade, f"a smooth slope of about {percent}")
        if "uphill" in order.banned:
            return Chosen(ground, Ground("any"), "walk back up, gently", "", True)
        return Chosen(ground, Ground("up", -grade), "", "", True)
    set_to = -min(-grade, order.treadmill_descent)
    return Chosen(
        Ground("treadmill", set_to, f"a treadmill at {say_grade(set_to)}"),
        Ground("treadmill", 0.01),
        "easy jog at 1 %",
        f"A treadmill at {say_grade(set_to)} stands in for the slope. Same minutes, same effort.",
        set_to <= grade + 0.015,
    )
