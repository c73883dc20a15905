"""Stretches with time, band, effort, ground and cue, for any row of places along the course.

Receives: rows (what the course alone says about each stretch) and a run (the clock of one runner).
Gives: ``Stretch`` rows whose times add up to the time of the plan, because all come from one running sum.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from planbuilder.course.types import Course
from planbuilder.demands.terrain import Ground, Terrain, running_sum
from planbuilder.race.ladder import Ladder
from planbuilder.race.types import Stretch
from planbuilder.settings.limits import Limits
from planbuilder.units import height_mark, say_grade

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Run:
    """One way over the course: running sums at the grid points, each of shape (n + 1,)."""

    at_m: Array
    flat_m: Array
    clock_s: Array | None  # None: no clock
    level_s: Array | None  # the same effort on level ground

    def clock_at(self, position_m: float) -> float | None:
        """Race clock at a place, seconds."""
        return None if self.clock_s is None else float(np.interp(position_m, self.at_m, self.clock_s))


def make_run(terrain: Terrain, speeds_mps: Array | None) -> Run:
    """Running sums for flat-equivalent speeds of shape (n,), or without a clock."""
    flat_m = terrain.flat_m
    return Run(
        at_m=terrain.ground.at_m,
        flat_m=running_sum(flat_m),
        clock_s=None if speeds_mps is None else running_sum(flat_m / speeds_mps),
        level_s=None if speeds_mps is None else running_sum(terrain.ground.step_m / speeds_mps),
    )


@dataclass(frozen=True, slots=True)
class Margins:
    """How wide bands are and where effort leads."""

    band: float  # of the pace, each side
    steep: float  # grade as a fraction
    climb_rpe: float

    @classmethod
    def of(cls, limits: Limits, *, marathon: bool) -> Margins:
        """The margins of a race."""
        return cls(
            limits.number("race.band_marathon" if marathon else "race.band"),
            limits.number("race.by_effort_grade"),
            limits.number("race.climb_rpe"),
        )


@dataclass(frozen=True, eq=False)
class Rows:
    """Neighbouring stretches with all that does not depend on the runner's speed; one entry a stretch."""

    edges_m: Array  # shape (k + 1,), from the start to the line
    lengths_m: Array  # shape (k,)
    grades: Array  # shape (k,)
    rule: Array  # shape (k,), mean treadmill grade response: one edge of the bands
    least: Array  # shape (k,), mean of the speed limits: no band is quicker
    cost: Array  # shape (k,), mean ratio of energy costs: the other edge uphill
    margins: Margins
    fixed: tuple[tuple[str, float, float], ...]  # name, from, to
    efforts: tuple[tuple[float, float], ...]
    shapes: tuple[tuple[float, float, str, str, bool], ...]  # grade, gain, ground, cue, steep


def make_rows(
    course: Course,
    ground: Ground,
    *,
    names: Sequence[str],
    edges_m: Sequence[float],
    cues: Sequence[str],
    grounds: Sequence[str],
    ladder: Ladder,
    margins: Margins,
    first_effort: tuple[float, float] | None,
    first_effort_to_m: float,
) -> Rows:
    """Rows between neighbouring edges.

    ``first_effort`` stands in for the ladder where the middle of a stretch comes before
    ``first_effort_to_m``: the first mile of a downhill start. Empty ``grounds`` are put in words here.
    """
    edges = np.asarray(edges_m, dtype=np.float64)
    lengths = np.diff(edges)
    rises = np.diff(course.height_m)
    sums = (course.height_m, running_sum(np.maximum(rises, 0.0)), running_sum(np.maximum(-rises, 0.0)))
    gains, ups, downs = (np.diff(np.interp(edges, ground.at_m, one)).tolist() for one in sums)
    grades = np.asarray(gains) / lengths
    shares = edges / course.distance_m
    efforts = tuple(
        effort_on_ground(
            first_effort
            if first_effort is not None and start + end < 2 * first_effort_to_m / course.distance_m
            else ladder.between(start, end),
            grade,
            margins,
        )
        for start, end, grade in zip(shares[:-1].tolist(), shares[1:].tolist(), grades.tolist(), strict=True)
    )
    shapes = tuple(
        (grade, gain, said or ground_words(grade, gain, up, down), cue, abs(grade) > margins.steep)
        for grade, gain, up, down, said, cue in zip(
            grades.tolist(), gains, ups, downs, grounds, cues, strict=True
        )
    )

    def mean(sums_m: Array) -> Array:
        means: Array = np.diff(np.interp(edges, ground.at_m, sums_m)) / lengths
        return means

    return Rows(
        edges_m=edges,
        lengths_m=lengths,
        grades=grades,
        rule=mean(ground.rule_m),
        least=mean(ground.least_m),
        cost=mean(ground.cost_m),
        margins=margins,
        fixed=tuple(zip(names, edges[:-1].tolist(), edges[1:].tolist(), strict=True)),
        efforts=efforts,
        shapes=shapes,
    )


def run_stretches(rows: Rows, run: Run) -> tuple[Stretch, ...]:
    """The rows as one runner runs them."""
    return tuple(
        Stretch(
            name, start, end, time_s, clock_s, pace, quick, slow, effort, grade, gain, ground, cue, cost_s,
            steep or pace is None,
        )
        for (name, start, end), effort, (grade, gain, ground, cue, steep), (
            time_s, clock_s, pace, quick, slow, cost_s,
        ) in zip(rows.fixed, rows.efforts, rows.shapes, _clock_rows(rows, run), strict=True)
    )  # fmt: skip


_Clock = tuple[float | None, float | None, float | None, float | None, float | None, float | None]


def _clock_rows(rows: Rows, run: Run) -> list[_Clock]:
    """Time, clock, pace, quick and slow end of the band, cost; for each stretch."""
    if run.clock_s is None or run.level_s is None:
        return [(None,) * 6] * len(rows.fixed)
    clock = np.interp(rows.edges_m, run.at_m, run.clock_s)
    times = np.diff(clock)
    pace = times / rows.lengths_m * 1000
    flat_m = np.diff(np.interp(rows.edges_m, run.at_m, run.flat_m))
    cost = times - np.diff(np.interp(rows.edges_m, run.at_m, run.level_s))
    quick, slow = pace_bands(rows, pace, times / flat_m * 1000)
    columns = (times, clock[1:], pace, quick, slow, cost)
    return list(zip(*(column.tolist() for column in columns), strict=True))


def pace_bands(rows: Rows, pace: Array, effort_pace: Array) -> tuple[Array, Array]:
    """Quick and slow end of the band of each stretch, s/km, shape (k,); ``effort_pace`` is its
    flat-equivalent pace. The target is always inside, with a margin on each side: nearly level ground has
    that margin alone; a climb reaches from the treadmill grade response, or the margin, to the ratio of
    energy costs; a descent from that response to no credit at all. No band is quicker than the speed limits:
    where a start falls more steeply than the first mile may use, the limit and not the grade response is its
    quick end, and a descent that is run at what it gives back has no margin below it."""
    ruled, costed = effort_pace * rows.rule, effort_pace * rows.cost
    steep, margin = rows.margins.steep, rows.margins.band
    up, down = rows.grades > steep, rows.grades < -steep
    quick = np.where(down, np.minimum(ruled, pace), pace * (1 - margin))
    slow = np.where(
        down, np.maximum(np.maximum(pace * (1 + margin), effort_pace), ruled), pace * (1 + margin)
    )
    quick = np.where(up, np.minimum(np.minimum(ruled, costed), pace * (1 - margin)), quick)
    quick = np.minimum(np.maximum(quick, effort_pace * rows.least), pace)
    return quick, np.where(up, np.maximum(np.maximum(ruled, costed), pace * (1 + margin)), slow)


def effort_on_ground(effort: tuple[float, float], grade: float, margins: Margins) -> tuple[float, float]:
    """A climb may feel a little harder than its rung, a descent a little easier."""
    low, high = effort
    if grade > margins.steep:
        return (low, min(high + margins.climb_rpe, 10.0))
    if grade < -margins.steep:
        return (max(low - margins.climb_rpe, 1.0), high)
    return effort


def ground_words(grade: float, gain_m: float, ascent_m: float, descent_m: float) -> str:
    """What a stretch of ground does, in a few words with unit marks.

    >>> ground_words(0.03, 30.0, 30.0, 0.0)
    'climbs {h:30.0} at 3 %'
    """
    small = 4.0  # metres: less than this nobody notices within a kilometre
    if ascent_m < small and descent_m < small:
        return "level"
    if min(ascent_m, descent_m) < 0.2 * max(ascent_m, descent_m):
        verb = "climbs" if gain_m > 0 else "falls"
        return f"{verb} {height_mark(abs(gain_m))} at {say_grade(abs(grade))}"
    return f"up {height_mark(ascent_m)}, down {height_mark(descent_m)}"


def marker_edges(distance_m: float, unit_m: float) -> list[float]:
    """Edges at every whole unit and at the line; a last piece shorter than a metre joins the one before."""
    count = int(distance_m // unit_m)
    edges = [unit_m * i for i in range(count + 1)]
    if distance_m - edges[-1] < 1.0 and len(edges) > 1:
        edges[-1] = distance_m
    else:
        edges.append(distance_m)
    return edges
