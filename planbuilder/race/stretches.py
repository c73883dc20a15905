"""Stretches with time, band, effort, ground and cue, for any row of places along the course.

Receives: the terrain, the solved speeds, the effort ladder.
Gives: ``Stretch`` rows whose times add up to the time of the plan, because all come from one running sum.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from planbuilder.race.ladder import Ladder
from planbuilder.race.terrain import Terrain, running_sum
from planbuilder.race.types import Stretch
from planbuilder.settings.limits import Limits
from planbuilder.units import height_mark, say_grade

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Run:
    """One way over the course: running sums at the grid points, each of shape (n + 1,)."""

    terrain: Terrain
    clock_s: Array | None  # None: no clock
    level_s: Array | None  # the same effort on level ground
    flat_m: Array
    rule_m: Array
    cost_m: Array
    ascent_m: Array
    descent_m: Array

    def clock_at(self, position_m: float) -> float | None:
        """Race clock at a place, seconds."""
        if self.clock_s is None:
            return None
        return float(np.interp(position_m, self.terrain.at_m, self.clock_s))


def make_run(terrain: Terrain, speeds_mps: Array | None) -> Run:
    """Running sums for flat-equivalent speeds of shape (n,), or without a clock."""
    rises = np.diff(terrain.height_m)
    step_m = terrain.step_m
    return Run(
        terrain=terrain,
        clock_s=None if speeds_mps is None else running_sum(terrain.flat_m / speeds_mps),
        level_s=None if speeds_mps is None else running_sum(step_m / speeds_mps),
        flat_m=running_sum(terrain.flat_m),
        rule_m=running_sum(terrain.rule_factor * step_m),
        cost_m=running_sum(terrain.cost_factor * step_m),
        ascent_m=running_sum(np.maximum(rises, 0.0)),
        descent_m=running_sum(np.maximum(-rises, 0.0)),
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


def make_stretches(
    run: Run,
    *,
    names: Sequence[str],
    edges_m: Sequence[float],
    ladder: Ladder,
    margins: Margins,
    cues: Sequence[str],
    first_effort: tuple[float, float] | None = None,
    first_effort_to_m: float = 0.0,
    grounds: Sequence[str] | None = None,
) -> tuple[Stretch, ...]:
    """Stretches between neighbouring edges, from the start (0) to the line.

    ``first_effort`` stands in for the ladder where the middle of a stretch comes before
    ``first_effort_to_m``: the first mile of a downhill start. ``grounds`` replaces the words on the ground
    where they are not empty.
    """
    edges = np.asarray(edges_m, dtype=np.float64)
    at_m = run.terrain.at_m

    def between(sums: Array) -> Array:
        return np.diff(np.interp(edges, at_m, sums))

    lengths = np.diff(edges)
    gains = between(run.terrain.height_m)
    grades = gains / lengths
    ascents, descents = between(run.ascent_m), between(run.descent_m)
    shares = (edges[:-1] + edges[1:]) / (2 * at_m[-1])
    clock = _clock_columns(run, edges, lengths, grades, between, margins)
    rows = zip(
        names,
        cues,
        edges[:-1].tolist(),
        edges[1:].tolist(),
        grades.tolist(),
        gains.tolist(),
        ascents.tolist(),
        descents.tolist(),
        shares.tolist(),
        *clock,
        strict=True,
    )
    stretches: list[Stretch] = []
    for i, (name, cue, start, end, grade, gain, up, down, share, *times) in enumerate(rows):
        effort = ladder.at(share)
        if first_effort is not None and (start + end) / 2 < first_effort_to_m:
            effort = first_effort
        ground = grounds[i] if grounds is not None and grounds[i] else ground_words(grade, gain, up, down)
        time_s, clock_s, pace, quick, slow, cost = times
        stretches.append(
            Stretch(
                name=name,
                from_m=start,
                to_m=end,
                time_s=time_s,
                clock_s=clock_s,
                pace_s_per_km=pace,
                pace_low_s_per_km=quick,
                pace_high_s_per_km=slow,
                effort_rpe=_on_ground(effort, grade, margins),
                grade=grade,
                gain_m=gain,
                ground=ground,
                cue=cue,
                cost_s=cost,
                by_effort=pace is None or abs(grade) > margins.steep,
            )
        )
    return tuple(stretches)


def _clock_columns(
    run: Run, edges: Array, lengths: Array, grades: Array, between: Callable[[Array], Array], margins: Margins
) -> tuple[Sequence[float | None], ...]:
    """Time, clock, pace, quick and slow end of the band, cost: one column each."""
    if run.clock_s is None or run.level_s is None:
        return tuple([None] * len(lengths) for _ in range(6))
    clock = np.interp(edges, run.terrain.at_m, run.clock_s)
    times = np.diff(clock)
    pace = times / lengths * 1000
    effort_pace = times / between(run.flat_m) * 1000  # flat-equivalent pace of the stretch
    ruled = effort_pace * between(run.rule_m) / lengths
    costed = effort_pace * between(run.cost_m) / lengths
    quick, slow = pace * (1 - margins.band), pace * (1 + margins.band)
    up, down = grades > margins.steep, grades < -margins.steep
    quick = np.where(up, np.minimum(np.minimum(ruled, costed), pace), quick)
    slow = np.where(up, np.maximum(np.maximum(ruled, costed), pace), slow)
    quick = np.where(down, np.minimum(ruled, pace), quick)
    slow = np.where(down, np.maximum(slow, effort_pace), slow)
    cost = times - between(run.level_s)
    return tuple(column.tolist() for column in (times, clock[1:], pace, quick, slow, cost))


def _on_ground(effort: tuple[float, float], grade: float, margins: Margins) -> tuple[float, float]:
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
    'climbs {h:30.0} at 3.0 %'
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
