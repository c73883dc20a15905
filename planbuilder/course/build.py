"""A trace, a table or a description made into a ``Course``: scaled, put on the grid, smoothed, judged.

Receives: distance and whole heights, and the certified length where it is known.
Gives: a ``Course`` with its climb, the range of its climb and the notes of its judgement.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from planbuilder.course.profile import climb_of_whole, grades, on_grid, smoothed, step_count
from planbuilder.course.types import Course, CourseSource
from planbuilder.settings.limits import Limits
from planbuilder.settings.notes import Note
from planbuilder.settings.problems import InputProblems, Problem
from planbuilder.units import height_mark, length_mark, place_mark

Array = NDArray[np.float64]

_RULE_SCALE = "course.scale_refuse"


@dataclass(frozen=True, eq=False)
class Ground:
    """Distance with heights, as read; arrays of shape (n,)."""

    name: str
    distance_m: Array  # from 0, not decreasing
    height_m: Array  # finite
    source: CourseSource
    known: bool
    leg_m: float  # median spacing of what was measured; 0 where lines were drawn on purpose
    notes: tuple[Note, ...] = ()
    typed: bool = False  # a table typed by hand: taken as the points of a printed profile


def build_course(
    ground: Ground, shown_as: str, limits: Limits, *, certified_m: float | None, force: bool
) -> Course:
    """The course on its grid. Raises InputProblems where the length is that of another course."""
    notes = list(ground.notes)
    measured = float(ground.distance_m[-1])
    length = measured if certified_m is None else certified_m
    if certified_m is not None:
        notes.extend(_scale_notes(measured, certified_m, shown_as, limits, force=force))
    steps = step_count(measured)
    file_step, step = measured / steps, length / steps  # smoothed before it is scaled: scale moves no climb
    raw = on_grid(ground.distance_m, ground.height_m - ground.height_m[0], steps)
    height = smoothed(raw, file_step, limits.number("course.smoothing_m"))
    ascent, descent = climb_of_whole(height, limits.number("course.rise_m"))
    low, high = _range(raw, file_step, ascent, limits)
    grade = grades(height, step)
    ratio, apart = limits.numbers("course.uncertain_range")
    uncertain = high - low > apart and high > ratio * max(low, 0.1)
    sparse = ground.leg_m > limits.number("course.typed_sparse_m" if ground.typed else "course.sparse_m")
    if ground.known:
        notes.append(
            _climb_note(
                ascent_m=ascent,
                descent_m=descent,
                low_m=low,
                high_m=high,
                limits=limits,
                uncertain=uncertain or sparse,
            )
        )
        notes.extend(_doubts(grade, step, ground, limits, sparse=sparse))
    return Course(
        name=ground.name,
        distance_m=length,
        measured_m=measured,
        step_m=step,
        height_m=height,
        grade=grade,
        ascent_m=ascent,
        descent_m=descent,
        ascent_low_m=low,
        ascent_high_m=high,
        source=ground.source,
        known=ground.known,
        climb_uncertain=uncertain or sparse or not ground.known,
        notes=tuple(notes),
        certified=certified_m is not None,
        sparse=sparse,
    )


def _range(raw: Array, step_m: float, ascent_m: float, limits: Limits) -> tuple[float, float]:
    bounds = []
    for name in ("course.low_scale", "course.high_scale"):
        sigma, rise = limits.numbers(name)
        bounds.append(climb_of_whole(smoothed(raw, step_m, sigma), rise)[0])
    return min(*bounds, ascent_m), max(*bounds, ascent_m)


def _scale_notes(
    measured_m: float, certified_m: float, shown_as: str, limits: Limits, *, force: bool
) -> Iterable[Note]:
    scale = certified_m / measured_m
    lowest, highest = limits.numbers(_RULE_SCALE)
    if not lowest <= scale <= highest:
        if not force:
            raise InputProblems(
                [
                    Problem(
                        shown_as,
                        None,
                        f"must be the course of the race, {certified_m / 1000:.2f} km",
                        f"not one of {measured_m / 1000:.2f} km",
                        "Is it another course, a lap of it, or does it lack a part? "
                        "Laps, from and to can be set under race.course.",
                    )
                ]
            )
        yield Note(
            _RULE_SCALE,
            f"The file measures {length_mark(measured_m)} and the race {length_mark(certified_m)}; "
            "that looks like another course, and was used because you asked for it.",
            "caution",
        )
        return
    quiet_low, quiet_high = limits.numbers("course.scale_quiet")
    if quiet_low <= scale <= quiet_high:
        return
    serious = scale < limits.number("course.scale_warn") or scale > quiet_high
    yield Note(
        "course.scale_warn",
        f"The file measures {measured_m / 1000:.2f} km, the race {certified_m / 1000:.2f} km; every distance "
        f"in it was multiplied by {scale:.3f}. "
        + (
            "Check that it is the whole course and nothing more."
            if serious
            else "That much is usual for a recording."
        ),
        "caution" if serious else "info",
    )


def _climb_note(
    *,
    ascent_m: float,
    descent_m: float,
    low_m: float,
    high_m: float,
    limits: Limits,
    uncertain: bool,
) -> Note:
    sigma, rise = limits.number("course.smoothing_m"), limits.number("course.rise_m")
    doubt = " The climb is uncertain: this file cannot carry a better figure." if uncertain else ""
    return Note(
        "course.smoothing_m",
        f"Up {height_mark(ascent_m)}, down {height_mark(descent_m)} (rises of {height_mark(rise)} and more, "
        f"smoothed over {height_mark(sigma)}); "
        f"other scales say {height_mark(low_m)} to {height_mark(high_m)}.{doubt}",
        "caution" if uncertain else "info",
    )


def _doubts(grade: Array, step_m: float, ground: Ground, limits: Limits, *, sparse: bool) -> Iterable[Note]:
    steepest = int(np.argmax(np.abs(grade)))
    if abs(float(grade[steepest])) > limits.number("course.steepest_road"):
        yield Note(
            "course.steepest_road",
            f"A grade of {abs(float(grade[steepest])) * 100:.0f} % at {place_mark(steepest * step_m)} "
            "is more than a road has; check the heights there.",
            "caution",
        )
    apart = f"The points lie about {length_mark(ground.leg_m)} apart"
    if sparse:
        rule = "course.typed_sparse_m" if ground.typed else "course.sparse_m"
        hills = ", and one at the foot and the top of each hill" if ground.typed else ""
        yield Note(
            rule,
            f"{apart}: too far for a list of climbs. "
            f"A point every {length_mark(limits.number(rule))} would do{hills}.",
            "caution",
        )
    elif not ground.typed and ground.leg_m > limits.number("course.coarse_m"):
        yield Note("course.coarse_m", f"{apart}; short rises between them are lost.", "caution")
