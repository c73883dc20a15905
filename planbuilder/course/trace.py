"""From the lines of a file to one measured trace: joined, without jumps and repeats.

Receives: the lines of a GPX file.
Gives: a ``Trace``, distance along the ground with raw heights, and notes on what was left out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from planbuilder.course.counting import lines_text
from planbuilder.course.geodesy import arc_m, earth_points_m, legs_m
from planbuilder.course.gpx import GpxFile, Line
from planbuilder.settings.limits import Limits
from planbuilder.settings.notes import Note
from planbuilder.settings.problems import InputProblems, Problem
from planbuilder.units import count_of, length_mark, place_mark

_TELEPORT_PASSES: Final = 5
_TELEPORT_POINTS: Final = 20  # a jump away and back within so many points is a glitch
_LONG_LEG_M: Final = 200.0  # a longer leg is mentioned
_SCRAP_M: Final = 20.0  # a shorter line is not worth a word
_REPEAT_M: Final = 1.0  # points nearer than this to the last kept one are merged


@dataclass(frozen=True, eq=False)
class Trace:
    """Distance along the ground with raw heights; arrays of shape (n,)."""

    distance_m: NDArray[np.float64]  # from 0, increasing
    height_m: NDArray[np.float64]  # nan where missing
    closing_gap_m: float  # from the last point straight back to the first; 0 where nobody can tell
    leg_m: float  # median distance between points of the file
    notes: tuple[Note, ...] = ()

    @property
    def length_m(self) -> float:
        """Length, metres."""
        return float(self.distance_m[-1])


@dataclass(frozen=True, eq=False)
class _Run:
    """Points on the ground, in order."""

    points: NDArray[np.float64]  # shape (n, 3)
    height_m: NDArray[np.float64]
    line: NDArray[np.int64]
    track: int

    @property
    def length_m(self) -> float:
        return float(np.sum(legs_m(self.points)))


def trace_of(file: GpxFile, shown_as: str, limits: Limits, *, certified_m: float | None) -> Trace:
    """Join, clean and measure the lines of a file.

    certified_m: length of the race [m], used only to choose between several separate lines.
    Raises InputProblems where less than 200 m of course remain or a jump tears it apart.
    """
    notes: list[Note] = []
    runs = [_run(line) for line in file.lines]
    runs, teleports = _without_teleports(runs)
    if teleports:
        notes.append(
            Note(
                "course.teleports",
                f"Left out: {count_of(len(teleports), 'point')} far off the line ({lines_text(teleports)}).",
            )
        )
    parts = _joined(runs, limits)
    if not parts:
        problem = Problem(
            shown_as,
            None,
            "must hold a line on the ground",
            "not single points far apart",
            "Export the course again as a track.",
        )
        raise InputProblems([problem])
    chosen, left_out = _choose(parts, runs, certified_m)
    if left_out:
        lengths = ", ".join(length_mark(part.length_m) for part in left_out)
        notes.append(
            Note(
                "course.joining_gap_m",
                f"The file holds {len(left_out) + 1} separate lines; the course is the one of "
                f"{length_mark(chosen.length_m)}. Left out: {lengths}.",
                "caution",
            )
        )
    legs = legs_m(chosen.points)
    _refuse_torn(chosen, legs, shown_as)
    trace = replace(_merged(chosen, legs), leg_m=_median_leg_m(legs))
    shortest = limits.number("course.shortest_m")
    refuse_long(trace.length_m, shown_as, limits, "Does it hold a journey, or points that jump?")
    if trace.length_m < shortest:
        raise InputProblems(
            [
                Problem(
                    shown_as,
                    None,
                    f"must be a course of at least {shortest:.0f} m",
                    f"not {trace.length_m:.0f} m",
                    "Is it a way point or a warm-up?",
                )
            ]
        )
    notes.extend(_gap_notes(chosen, legs, limits))
    return replace(trace, notes=(*file.notes, *notes))


def refuse_long(length_m: float, shown_as: str, limits: Limits, todo: str) -> None:
    """Raises InputProblems for a length that no course has."""
    longest = limits.number("course.longest_m")
    if length_m > longest:
        must = f"must be a course of at most {longest / 1000:.0f} km"
        raise InputProblems([Problem(shown_as, None, must, f"not {length_m / 1000:.0f} km", todo)])


def _run(line: Line) -> _Run:
    points = earth_points_m(line.latitude_deg, line.longitude_deg)
    return _Run(points, line.height_m, line.line, line.track)


def _median_leg_m(legs: NDArray[np.float64]) -> float:
    """Median distance between points that are not the same place, metres."""
    moving = legs[legs > 0.01]
    return float(np.median(moving)) if moving.size else 0.0


def _together(runs: list[_Run]) -> _Run:
    return _Run(
        np.concatenate([run.points for run in runs]),
        np.concatenate([run.height_m for run in runs]),
        np.concatenate([run.line for run in runs]),
        runs[0].track,
    )


def _without_teleports(runs: list[_Run]) -> tuple[list[_Run], list[int]]:
    dropped: list[int] = []
    kept_runs = []
    for run in runs:
        for _ in range(_TELEPORT_PASSES):
            gone = _teleports(run.points)
            if not gone.any():
                break
            dropped.extend(int(number) for number in run.line[gone])
            run = _Run(run.points[~gone], run.height_m[~gone], run.line[~gone], run.track)
        kept_runs.append(run)
    return kept_runs, dropped


def _teleports(points: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Points to which the line jumps and from which it comes straight back."""
    gone = np.zeros(len(points), dtype=bool)
    if len(points) < 4:
        return gone
    legs = legs_m(points)
    big = np.flatnonzero(legs > max(100.0, 20 * _median_leg_m(legs)))
    last_out = -1
    for out, back in pairwise(big):
        if out <= last_out or back - out > _TELEPORT_POINTS:
            continue
        straight = float(np.linalg.norm(points[out] - points[back + 1]))
        if straight < 0.3 * (legs[out] + legs[back]):
            gone[out + 1 : back + 1] = True
            last_out = int(back)
    if big.size and not gone.any():
        _mark_stray_ends(gone, legs, big)
    return gone


def _mark_stray_ends(gone: NDArray[np.bool_], legs: NDArray[np.float64], big: NDArray[np.intp]) -> None:
    """A single first or last point more than half the rest of the line away is no part of it."""
    if big[0] == 0 and legs[0] > 0.5 * float(np.sum(legs[1:])):
        gone[0] = True
    if big[-1] == len(legs) - 1 and legs[-1] > 0.5 * float(np.sum(legs[:-1])):
        gone[-1] = True


def _joined(runs: list[_Run], limits: Limits) -> list[_Run]:
    """Neighbouring lines whose ends lie near each other, as one; the gap between them counts."""
    legs = np.concatenate([legs_m(run.points) for run in runs])
    near = max(limits.number("course.joining_gap_m"), 2 * _median_leg_m(legs))
    within_track = limits.number("course.pause_gap_m")
    groups: list[list[_Run]] = []
    for run in runs:
        if groups:
            last = groups[-1][-1]
            gap = float(np.linalg.norm(run.points[0] - last.points[-1]))
            if gap <= (within_track if run.track == last.track else near) or gap <= near:
                groups[-1].append(run)
                continue
        groups.append([run])
    return [_together(group) for group in groups if sum(len(run.line) for run in group) > 1]


def _choose(parts: list[_Run], runs: list[_Run], certified_m: float | None) -> tuple[_Run, list[_Run]]:
    """The longest part; where the certified length is known, the part or the single track nearest to it."""
    if certified_m is None:
        chosen = max(parts, key=lambda part: part.length_m)
        return chosen, [part for part in parts if part is not chosen and part.length_m > _SCRAP_M]
    by_track: dict[int, list[_Run]] = {}
    for run in runs:
        by_track.setdefault(run.track, []).append(run)
    tracks = [_together(group) for group in by_track.values()] if len(by_track) > 1 else []
    chosen = min([*parts, *tracks], key=lambda part: abs(math.log(max(part.length_m, 1.0) / certified_m)))
    others = parts if any(chosen is part for part in parts) else tracks
    return chosen, [part for part in others if part is not chosen and part.length_m > _SCRAP_M]


def _refuse_torn(run: _Run, legs: NDArray[np.float64], shown_as: str) -> None:
    total = float(np.sum(legs))
    longest = int(np.argmax(legs))
    if legs[longest] > max(2000.0, 20 * _median_leg_m(legs)) and legs[longest] > 0.3 * total:
        raise InputProblems(
            [
                Problem(
                    shown_as,
                    int(run.line[longest + 1]),
                    "must be one line on the ground",
                    f"not one that jumps {legs[longest] / 1000:.0f} km between two points here",
                    "Cut the file at the jump.",
                )
            ]
        )


def _merged(run: _Run, legs: NDArray[np.float64]) -> Trace:
    """Points at least 1 m apart, the height of a merged one the mean of its heights; ends kept."""
    closing = float(arc_m(np.linalg.norm(run.points[-1:] - run.points[:1], axis=1))[0])
    starts = _starts(run.points, legs)
    heights = _mean_heights(run.height_m, starts)
    distance = np.concatenate(([0.0], np.cumsum(legs_m(run.points[starts]))))
    return Trace(distance, heights, closing, 0.0)


def _starts(points: NDArray[np.float64], legs: NDArray[np.float64]) -> NDArray[np.intp]:
    if bool(np.all(legs >= _REPEAT_M)):
        return np.arange(len(points))
    kept = [0]
    close = legs < _REPEAT_M
    at_x, at_y, at_z = points[0]
    after_drop = False
    xs, ys, zs = points[:, 0].tolist(), points[:, 1].tolist(), points[:, 2].tolist()
    for i, is_close in enumerate(close.tolist(), start=1):
        if is_close or after_drop:
            x, y, z = xs[i] - at_x, ys[i] - at_y, zs[i] - at_z
            if x * x + y * y + z * z < _REPEAT_M**2:
                after_drop = True
                continue
        kept.append(i)
        after_drop = False
        at_x, at_y, at_z = xs[i], ys[i], zs[i]
    if kept[-1] != len(points) - 1 and float(np.linalg.norm(points[-1] - points[kept[-1]])) > 0.01:
        kept.append(len(points) - 1)
    return np.array(kept, dtype=np.intp)


def _mean_heights(height_m: NDArray[np.float64], starts: NDArray[np.intp]) -> NDArray[np.float64]:
    if len(starts) == len(height_m):
        return height_m.copy()
    finite = np.isfinite(height_m)
    sums = np.add.reduceat(np.where(finite, height_m, 0.0), starts)
    counts = np.add.reduceat(finite.astype(np.float64), starts)
    means: NDArray[np.float64] = np.divide(sums, counts, out=np.full(len(starts), np.nan), where=counts > 0)
    return means


def _gap_notes(run: _Run, legs: NDArray[np.float64], limits: Limits) -> list[Note]:
    at = np.concatenate(([0.0], np.cumsum(legs)))
    long_gap = limits.number("course.pause_gap_m")
    notes = []
    for gap in np.flatnonzero(legs > max(_LONG_LEG_M, 20 * _median_leg_m(legs))):
        notes.append(
            Note(
                "course.pause_gap_m",
                f"No points for {length_mark(float(legs[gap]))} after {place_mark(float(at[gap]))} "
                f"(line {int(run.line[gap])}); a straight line stands in.",
                "caution" if legs[gap] > long_gap else "info",
            )
        )
    return notes[:5]
