"""Where there is no such ground: bridges, ramps, a treadmill, wind, steps; and what they leave out."""

from __future__ import annotations

import datetime as dt
import math
from typing import Final

from planbuilder.plan.local import SecondChoice, Wanted
from planbuilder.rules.safety import Allowed, allowed_for
from planbuilder.settings.limits import Limits
from planbuilder.settings.models import RunnerSettings, TrainingSettings
from planbuilder.units import height_mark, length_mark, say_minutes

_NO_DESCENT: Final = "The race's descent; a slope up does not train the legs to brake."


def second_choices(
    stretch: Wanted,
    minutes_s: float,
    effort_rpe: tuple[float, float],
    runner: RunnerSettings,
    limits: Limits,
    *,
    training: TrainingSettings | None = None,
    first_day: dt.date | None = None,
) -> tuple[SecondChoice, ...]:
    """What stands in for a climb or descent, in the order a coach prefers: bridge, ramp, treadmill, headwind,
    steps; each with the same minutes (``minutes_s``, seconds at this effort) as the ground it replaces. Only
    what the runner says is near, and what the plan allows them; nothing for flat ground or where running is
    not allowed. Common practice, no source.
    """
    allowed = allowed_for(
        runner, training or TrainingSettings(), limits, race_distance_m=stretch.end_m, first_day=first_day
    )
    if not (allowed.block and allowed.run):
        return ()
    if stretch.kind == "descent":
        return _for_descent(allowed)
    if stretch.kind == "flat":
        return ()
    effort = f"RPE {effort_rpe[0]:g}–{effort_rpe[1]:g}" if allowed.anything_above_easy else "easy effort"
    work = f"{say_minutes(minutes_s)} of climbing in all at {effort}"
    found: list[SecondChoice] = []
    if allowed.uphill:
        found += [
            choice
            for choice in (_bridge(work, minutes_s), _ramp(work, minutes_s))
            if choice.kind in runner.substitutes
        ]
        if runner.treadmill:
            found.append(_treadmill(stretch))
    if allowed.anything_above_easy:
        found.append(
            SecondChoice(
                "wind",
                f"Flat, into a steady headwind: {say_minutes(minutes_s)} in all at {effort}, easy back.",
                "The lift of a climb: wind holds the chest back, a hill asks calves and hips.",
            )
        )
    if allowed.uphill and "steps" in runner.substitutes:
        found.append(_steps(stretch))
    if allowed.uphill:
        found.append(
            SecondChoice(
                "trip",
                "One outing to real hills, three to five weeks before the race, is worth several of these.",
                "",
            )
        )
    return tuple(found)


def _repeats(minutes_s: float, each_s: float) -> str:
    return f"about {max(1, math.ceil(minutes_s / each_s))} times {say_minutes(each_s)}"


def _bridge(work: str, minutes_s: float) -> SecondChoice:
    words = f"The approach of a bridge or overpass, {_repeats(minutes_s, 60)}, jog back: {work}."
    return SecondChoice("bridge", words, f"A long climb without a break. {_NO_DESCENT}")


def _ramp(work: str, minutes_s: float) -> SecondChoice:
    words = (
        f"A ramp of a stadium or a car park, {_repeats(minutes_s, 60)}, jog down: {work}. Only with "
        "the owner's leave, in daylight, with no cars on it."
    )
    return SecondChoice("ramp", words, f"A steady line: ramps turn. {_NO_DESCENT}")


def _treadmill(stretch: Wanted) -> SecondChoice:
    words = f"The treadmill, minute by minute as {stretch.name} climbs."
    return SecondChoice("treadmill", words, _NO_DESCENT)


def _steps(stretch: Wanted) -> SecondChoice:
    words = (
        f"Steps, for strength only: about {height_mark(max(stretch.profile.ascent_m, 0.0))} up in all, one "
        "step at a time, and walk down holding the rail where there is one."
    )
    return SecondChoice("steps", words, "Running: steps train the push, not the stride.")


def _for_descent(allowed: Allowed) -> tuple[SecondChoice, ...]:
    cannot = (
        "Braking at race pace cannot be copied without a hill: go carefully down the race's first descent."
    )
    if not allowed.downhill:
        return ()
    strides = SecondChoice(
        "strides",
        f"Relaxed strides of {length_mark(80)} on any path that falls about 2 %, four to six, walk back.",
        cannot,
    )
    strength = SecondChoice(
        "strength", "Slow step-downs from a low step, three sets of six to eight each leg.", cannot
    )
    return (strides, strength) if allowed.anything_above_easy else (strength,)
