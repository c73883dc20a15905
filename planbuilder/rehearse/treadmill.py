"""A stretch of the race on a treadmill, minute by minute, within what the machine and the runner may do.

The level: Jones AM, Doust JH. J Sports Sci 14:321-327, 1996: from 2.92 to 5.0 m/s (10.5 to 18 km/h) a
treadmill at 1 % costs what level road costs; below about 12 km/h 0 % does as well. They measured level
running only; adding the same point to a hill is common practice.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from planbuilder.course.types import Course, Feature
from planbuilder.demands.types import Demand
from planbuilder.physiology.gradient import UP_COST, pace_factor
from planbuilder.plan.local import TreadmillMinute, TreadmillProgramme, Wanted
from planbuilder.plan.walk import effort_factor
from planbuilder.rehearse.library import Array
from planbuilder.rehearse.wanted import demand_name
from planbuilder.rules.safety import Allowed, allowed_for
from planbuilder.runner.types import Band, Paces
from planbuilder.settings.limits import Limits
from planbuilder.settings.models import RunnerSettings, TrainingSettings, Treadmill
from planbuilder.settings.notes import Note
from planbuilder.units import length_mark, pace_mark, place_mark, say_grade

RULE: Final = "rehearse.treadmill_level"
_SAME: Final = 0.0026  # the display moves in steps of half a percent: less than this is the same grade
_WALK_STEP_M: Final = 5.0
CAUTIONS: Final = (
    "Clip the safety key on before the belt moves, and learn how this machine stops.",
    "Hands off the rails, fan on, a drink within reach; the belt is hotter work than the road.",
    "Effort first: if it feels harder than the effort named here, take speed off before grade.",
    "Stop for pain in calf, heel or shin, for dizziness or a tight chest.",
)


@dataclass(frozen=True, slots=True)
class _Machine:
    """The treadmill, with what this runner may do on it."""

    top_grade: float
    lowest_grade: float
    top_speed_mps: float
    corrects: bool

    @classmethod
    def of(cls, treadmill: Treadmill, allowed: Allowed, limits: Limits) -> _Machine:
        step = limits.number("rehearse.treadmill_grade_step")
        top = math.floor(treadmill.max_grade_percent / 100 / step + 1e-9) * step if allowed.uphill else 0.0
        low = -math.floor(treadmill.descent_percent / 100 / step + 1e-9) * step if allowed.downhill else 0.0
        return cls(top, low, treadmill.max_speed_mps, corrects=top > 0)


@dataclass(frozen=True, slots=True)
class _Pace:
    """How hard and how fast: speeds on the level; None where the runner trains by effort."""

    effort_rpe: tuple[float, float]
    slow_mps: float | None
    fast_mps: float | None
    assumed_mps: float  # always there, to place the minutes on the course

    @classmethod
    def of(cls, band: Band, paces: Paces) -> _Pace:
        effort = (band.rpe_low, band.rpe_high)
        if band.fast_s_per_km is None or band.slow_s_per_km is None:
            factor = effort_factor(sum(effort) / 2)
            return cls(effort, None, None, 1000 / (paces.easy_s_per_km * factor))
        slow, fast = 1000 / band.slow_s_per_km, 1000 / band.fast_s_per_km
        return cls(effort, slow, fast, 2000 / (band.slow_s_per_km + band.fast_s_per_km))


def treadmill_programme(
    course: Course,
    stretch: Wanted | Feature | Demand,
    runner: RunnerSettings,
    paces: Paces,
    treadmill: Treadmill,
    limits: Limits,
    *,
    training: TrainingSettings | None = None,
    first_day: dt.date | None = None,
) -> TreadmillProgramme:
    """The stretch at race effort on this machine: warm-up, every minute of the stretch, cool-down.

    Effort is kept where the machine cannot follow the road: too steep, a descent, or too fast. What is lost
    by that stands in ``cannot``. A runner who may not run hard, or not uphill, gets what is allowed.
    """
    allowed = allowed_for(
        runner, training or TrainingSettings(), limits, race_distance_m=course.distance_m, first_day=first_day
    )
    name = demand_name(stretch) if isinstance(stretch, Demand) else stretch.name
    title = f"{name[0].upper()}{name[1:]} on the treadmill"
    if not (allowed.block and allowed.run):
        refusal = "No treadmill programme for now: the plan says what is allowed, and who to ask first."
        return TreadmillProgramme(title, (), "", (), (), (Note(RULE, refusal, "refusal"),))
    machine = _Machine.of(treadmill, allowed, limits)
    easy = _Pace.of(paces.band("easy"), paces)
    pace = _Pace.of(paces.band("race effort"), paces) if allowed.anything_above_easy else easy
    places, starts_s = _minutes(course, stretch.start_m, stretch.end_m, pace.assumed_mps)
    notes: list[Note] = []
    most_s = limits.number("rehearse.treadmill_longest")
    if starts_s[-1] > most_s:
        first = int(np.searchsorted(starts_s, starts_s[-1] - most_s - 1e-6))
        places, starts_s = places[first:], starts_s[first:]
        text = (
            f"Only the last {length_mark(float(places[-1] - places[0]))} of {name}: an hour of work on "
            "the belt is enough."
        )
        notes.append(Note("rehearse.treadmill_longest", text, "given_up"))
    if not allowed.anything_above_easy:
        text = "At easy effort, as the rest of the plan for now; keep the talk test."
        notes.append(Note(RULE, text, "caution"))
    if not allowed.uphill:
        notes.append(Note(RULE, "The belt stays level in this programme.", "caution"))
    warm_s = limits.number("rehearse.treadmill_warm_up")
    minutes = [_level("warm-up", 0.0, warm_s, easy, machine, limits)]
    for first_m, last_m, start_s, end_s in zip(places, places[1:], starts_s, starts_s[1:], strict=False):
        at_s = warm_s + float(start_s - starts_s[0])
        minutes.append(
            _minute(
                course, (float(first_m), float(last_m)), at_s, float(end_s - start_s), pace, machine, limits
            )
        )
    last = minutes[-1]
    cool_s = limits.number("rehearse.treadmill_cool_down")
    minutes.append(_level("cool-down", last.start_s + last.duration_s, cool_s, easy, machine, limits))
    return TreadmillProgramme(
        title,
        tuple(minutes),
        _correction_words(pace, machine, limits),
        _cannot(minutes, machine),
        CAUTIONS,
        tuple(notes),
    )


def treadmill_of(runner: RunnerSettings) -> Treadmill | None:
    """The runner's machine: as described, an ordinary one where only its presence is known, or None."""
    if isinstance(runner.treadmill, Treadmill):
        return runner.treadmill
    return Treadmill() if runner.treadmill else None


def level_correction(speed_mps: float, limits: Limits) -> float:
    """Grade added on a treadmill at this speed so that level costs what level road costs, a fraction.

    1 % from 2.92 m/s on; slower than that nothing, since the air hardly matters and nobody measured it.
    Jones & Doust 1996; above their 5.0 m/s the same point is kept, which is no longer measured.

    >>> from planbuilder.settings.limits import default_limits
    >>> level_correction(3.5, default_limits()), level_correction(2.5, default_limits())
    (0.01, 0.0)
    """
    slowest, _ = limits.numbers("rehearse.treadmill_level_range")
    return limits.number("rehearse.treadmill_level") if speed_mps >= slowest else 0.0


def _minutes(course: Course, start_m: float, end_m: float, level_mps: float) -> tuple[Array, Array]:
    """Places on the course at every full minute of even effort, and their times; the last minute may be
    short."""
    grid = np.linspace(start_m, end_m, max(2, math.ceil((end_m - start_m) / _WALK_STEP_M) + 1))
    middle = (grid[1:] + grid[:-1]) / 2
    grade = np.interp(middle, course.at_m, course.grade)
    spent = np.append(0.0, np.cumsum(np.diff(grid) / level_mps * pace_factor(grade)))
    full = np.arange(0.0, spent[-1], 60.0)
    if len(full) > 1 and spent[-1] - full[-1] < 15.0:
        full = full[:-1]
    times = np.append(full, spent[-1])
    return np.interp(times, spent, grid), times


def _minute(
    course: Course,
    span_m: tuple[float, float],
    start_s: float,
    duration_s: float,
    pace: _Pace,
    machine: _Machine,
    limits: Limits,
) -> TreadmillMinute:
    road = course.mean_grade(*span_m)
    speed = pace.assumed_mps / pace_factor(road)
    added = level_correction(speed, limits) if machine.corrects else 0.0
    shown = min(max(_stepped(road + added, limits), machine.lowest_grade), machine.top_grade)
    words = _difference(road + added, shown)
    if pace.fast_mps is None or pace.slow_mps is None:
        return TreadmillMinute(
            "stretch", start_s, duration_s, span_m, road, shown, None, pace.effort_rpe, words
        )
    slow, fast = _speeds(pace.slow_mps, pace.fast_mps, shown - added)
    if slow > machine.top_speed_mps:
        lifted = (pace.assumed_mps / machine.top_speed_mps - 1) / UP_COST + added
        if lifted > shown:
            shown = min(_stepped(lifted, limits), machine.top_grade)
            words = "faster on the road than this belt goes: grade in place of speed"
    band = (min(slow, machine.top_speed_mps), min(fast, machine.top_speed_mps))
    return TreadmillMinute("stretch", start_s, duration_s, span_m, road, shown, band, pace.effort_rpe, words)


def _speeds(slow_mps: float, fast_mps: float, grade: float) -> tuple[float, float]:
    """Speed band of equal effort: uphill from the energy cost (slow end) to the treadmill response (quick
    end); downhill from the latter alone, because energy cost promises more than runners manage."""
    slow_model = pace_factor(grade, "energy cost") if grade > 0 else pace_factor(grade)
    return slow_mps / slow_model, fast_mps / pace_factor(grade)


def _level(
    part: str, start_s: float, duration_s: float, easy: _Pace, machine: _Machine, limits: Limits
) -> TreadmillMinute:
    added = level_correction(easy.assumed_mps, limits) if machine.corrects else 0.0
    shown = min(_stepped(added, limits), machine.top_grade)
    slow, fast = easy.slow_mps, easy.fast_mps
    top = machine.top_speed_mps
    band = None if slow is None or fast is None else (min(slow, top), min(fast, top))
    name: Final = "warm-up" if part == "warm-up" else "cool-down"
    words = "build up gently" if name == "warm-up" else "ease off until breath and pulse are quiet"
    return TreadmillMinute(name, start_s, duration_s, None, None, shown, band, easy.effort_rpe, words)


def _stepped(grade: float, limits: Limits) -> float:
    step = limits.number("rehearse.treadmill_grade_step")
    return round(math.floor(grade / step + 0.5) * step, 6)


def _difference(asked: float, shown: float) -> str:
    if abs(asked - shown) <= _SAME:
        return ""
    if asked > shown:
        return f"asks for {say_grade(asked)}: hold {say_grade(shown)}, quicker, at the same effort"
    return "falls on the road: the same effort here, without the descent"


def _correction_words(pace: _Pace, machine: _Machine, limits: Limits) -> str:
    if not machine.corrects:
        return ""
    slowest, fastest = limits.numbers("rehearse.treadmill_level_range")
    added = limits.number("rehearse.treadmill_level")
    measured = (
        f"Level road is run at {say_grade(added)}: on a treadmill there is no wind to push through. "
        f"Measured from {pace_mark(1000 / slowest)} to {pace_mark(1000 / fastest)} on the level (Jones and "
        f"Doust 1996); slower than about {pace_mark(300)} a level belt does as well. On hills the same point "
        "is common practice."
    )
    if pace.assumed_mps < slowest:
        return f"{measured} These speeds are slower than that, so nothing is added."
    if pace.assumed_mps > fastest:
        return f"{measured} These speeds are faster than that, so the point is a guess here."
    return measured


def _cannot(minutes: list[TreadmillMinute], machine: _Machine) -> tuple[str, ...]:
    road = [minute for minute in minutes if minute.course_grade is not None and minute.course_m is not None]
    found = []
    falls = [minute for minute in road if (minute.course_grade or 0.0) < machine.lowest_grade - 0.01 - _SAME]
    if falls:
        found.append(
            f"The descent{'s' if len(falls) > 1 else ''} ({_places(falls)}): a belt that does not tilt down "
            "trains no braking. Slow step-downs, three sets of six to eight each leg, and relaxed strides on "
            "any gentle path downhill are the nearest; expect sore legs from the race's descent and take its "
            "first part with care."
        )
    steep = [minute for minute in road if (minute.course_grade or 0.0) > machine.top_grade + _SAME]
    if steep:
        found.append(
            f"Ground steeper than {say_grade(machine.top_grade)} ({_places(steep)}): the effort is the same, "
            "the short step of a steep climb is not."
        )
    found.append(
        "Wind, bends, camber and other runners; and the road's own rhythm, which the belt sets for you."
    )
    return tuple(found)


def _places(minutes: list[TreadmillMinute]) -> str:
    """From the first to the last of these minutes, as places on the course."""
    spans = [minute.course_m for minute in minutes if minute.course_m is not None]
    first, last = place_mark(spans[0][0]), place_mark(spans[-1][1])
    return f"{'between ' if len(spans) > 1 else ''}{first} {'and' if len(spans) > 1 else 'to'} {last}"
