"""A step of a session on one line: the same words in the feed and in the table."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from planbuilder.plan.types import Session, Step
from planbuilder.units import (
    System,
    length_mark,
    say_effort,
    say_grade,
    say_in,
    say_length,
    say_minutes,
    say_pace_band,
    say_run,
    say_time,
)

_STEP_WORDS: Final = {"warm_up": "Warm-up", "cool_down": "Cool-down", "recovery": "Recovery"}
_GROUND_WORDS: Final = {
    "flat": "flat ground",
    "rolling": "rolling ground",
    "up": "uphill",
    "down": "downhill",
    "drag": "a long drag",
    "treadmill": "treadmill",
    "bridge": "a bridge",
    "ramp": "a ramp",
    "steps": "steps",
    "indoors": "indoors",
}
_BARE_GROUND: Final = ("flat", "rolling", "any", "indoors")  # a grade beside these words would say nothing


def dose_of(step: Step, system: System) -> str:
    """How long one repeat of a step is."""
    if step.duration_s is not None:
        return say_minutes(step.duration_s)
    distance_m = step.distance_m or 0.0
    return say_run(distance_m, system) if distance_m >= 3000 else say_length(distance_m, system)


def main_part(session: Session) -> str | None:
    """The work of a session in short, with marks: "5 × 2:30 min", "14 min"; "" where it is of many sizes.

    None for running that has no work in it, and for long runs and races, whose whole length tells more.
    """
    work = [step for step in session.steps if step.kind == "work"]
    if not work or session.role not in ("club", "key", "test"):
        return None
    if len(work) > 1:
        return ""
    (step,) = work
    metres = step.distance_m or 0.0
    length = f"{metres:.0f} m" if metres % 100 == 0 else length_mark(metres)  # a track keeps its metres
    size = length if step.duration_s is None else say_minutes(step.duration_s)
    if step.repeat > 1 and step.duration_s is not None and step.duration_s > 90 and step.duration_s % 60:
        size = f"{say_time(step.duration_s)} min"
    return f"{step.repeat} × {size}" if step.repeat > 1 else size


def raced_m(session: Session) -> float:
    """The metres of a session that are raced, without warming up and cooling down; 0 where none are."""
    return sum(step.repeat * (step.distance_m or 0.0) for step in session.steps if step.kind == "race")


def step_line(step: Step, system: System) -> str:
    """One step on one line: what, how hard, how fast, on what ground."""
    words = say_in(step.words, system).rstrip(".")
    dose = dose_of(step, system)
    measured = say_length(step.distance_m, system) if step.distance_m else dose
    if dose not in words and measured not in words:
        words = f"{dose}{': ' if words[:1].isupper() else ', '}{words}" if words else dose
    if step.repeat > 1 and not words.startswith((f"{step.repeat} ×", f"{step.repeat} x")):
        words = f"{step.repeat} × {words}"
    lead = _STEP_WORDS.get(step.kind)
    if lead and lead.lower() not in words.lower():
        words = f"{lead}: {words}"
    return " · ".join((words, *_measures(step, words, system)))


def _measures(step: Step, words: str, system: System) -> Iterable[str]:
    yield rpe(step.effort_rpe)
    if step.pace_s_per_km is not None:
        yield say_pace_band(*step.pace_s_per_km, system)
    if ground := _ground(step, words):
        yield ground


def _ground(step: Step, words: str) -> str:
    """The ground, as far as the words of the step do not name it already."""
    ground = step.ground
    kind = _GROUND_WORDS.get(ground.kind, "")
    name = say_in(ground.words, "km")
    if ground.grade is not None and ground.kind not in _BARE_GROUND:
        grade = say_grade(abs(ground.grade) if ground.kind == "down" else ground.grade)
        kind = "" if grade in f"{words} {name}" else f"{kind} at {grade}"
    return ", ".join(part for part in (kind, name) if part and part not in words)


def rpe(effort_rpe: tuple[float, float]) -> str:
    """An effort on the scale from 0 to 10."""
    return f"RPE {say_effort(effort_rpe)}"
