"""Raw heights made whole: sentinels, drop-outs, settling, cliffs and spikes taken out, holes filled.

Receives: distance and raw heights of a trace.
Gives: finite heights, and notes on what was repaired.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from planbuilder.settings.limits import Limits
from planbuilder.settings.notes import Note
from planbuilder.units import count_of, length_mark, place_mark

Array = NDArray[np.float64]

LOWEST_M, HIGHEST_M = -500.0, 9000.0  # outside lie only sentinels
_ZERO_NEIGHBOUR_M: Final = 15.0
_SETTLING_M: Final = 100.0
_CLIFF_PAIR_M: Final = 800.0
_CLIFFS_AHEAD: Final = 5
_WINDOW: Final = 5  # points on each side of the median window
_TREND_M: Final = 200.0  # an end without heights carries on the trend of so much ground
_TREND_REACH_M: Final = 300.0
_STEEPEST_TREND: Final = 0.10
_BENT_FROM_M, _BENT_TO_M = 50.0, 600.0  # holes of such a length are bridged by a curve
_BEND_M: Final = 100.0
_BEND_POINTS: Final = 200


@dataclass(frozen=True, eq=False)
class Heights:
    """Heights without holes, or None where there is nothing to stand on."""

    height_m: Array | None
    notes: tuple[Note, ...]


def whole_heights(distance_m: Array, height_m: Array, limits: Limits) -> Heights:
    """Repair the heights of a trace; all arrays of shape (n,).

    Every threshold scales with the file's own steps, so that hilly ground is no spike.
    """
    z = height_m.astype(np.float64, copy=True)
    given = np.isfinite(z)
    notes: list[Note] = []
    z[~np.isfinite(z) | (z < LOWEST_M) | (z > HIGHEST_M)] = np.nan
    sentinels = int(np.sum(given & np.isnan(z)))
    if sentinels:
        notes.append(
            Note("course.repairs", f"Counted as missing: {count_of(sentinels, 'impossible height')}.")
        )
    for repair, word in (
        (_zero_runs, "of exactly 0, which stands for no data"),
        (_start_settling, "at the start, where the barometer settled"),
        (_cliffs, "between two cliffs, as at a bridge, a tunnel or a roof"),
        (_spikes, "that stand out as spikes"),
    ):
        gone = repair(distance_m, z)
        if gone.any():
            at = place_mark(float(distance_m[int(np.argmax(gone))]))
            z[gone] = np.nan
            notes.append(
                Note(
                    "course.repairs", f"Replaced from {at} on: {count_of(int(gone.sum()), 'height')} {word}."
                )
            )
    return _filled(distance_m, z, notes, limits)


def _filled(d: Array, z: Array, notes: list[Note], limits: Limits) -> Heights:
    finite = np.isfinite(z)
    length = float(d[-1])
    missing, longest, at = _holes(d, finite)
    share = missing / length
    constant = finite.sum() >= 2 and float(np.ptp(z[finite])) == 0.0
    if finite.sum() < 2 or share > limits.number("course.most_missing_share") or constant:
        why = (
            "All heights in the file are the same; that is a file without heights."
            if constant
            else "The file has no heights, or too few to stand on."
        )
        return Heights(None, (*notes, Note("course.most_missing_share", why, "caution")))
    if longest > limits.number("course.hole_note_m"):
        wide = longest > limits.number("course.hole_warn_m") or share > limits.number(
            "course.hole_warn_share"
        )
        notes.append(
            Note(
                "course.hole_note_m",
                f"Heights are missing over {length_mark(longest)} from {place_mark(at)}; "
                "what stands in is a guess.",
                "caution" if wide else "info",
            )
        )
    return Heights(_fill(d, z), tuple(notes))


def _holes(d: Array, finite: NDArray[np.bool_]) -> tuple[float, float, float]:
    """Length without heights in all, the longest hole, and where it begins; metres."""
    known = np.flatnonzero(finite)
    if known.size == 0:
        return float(d[-1]), float(d[-1]), 0.0
    bounds = np.concatenate(([0.0], d[known], [d[-1]]))
    gaps = np.diff(bounds)
    has_hole = np.concatenate(([known[0] > 0], np.diff(known) > 1, [known[-1] < len(d) - 1]))
    holes = np.where(has_hole, gaps, 0.0)
    longest = int(np.argmax(holes))
    return float(holes.sum()), float(holes[longest]), float(bounds[longest])


def _fill(d: Array, z: Array) -> Array:
    finite = np.isfinite(z)
    filled = np.interp(d, d[finite], z[finite])
    _bend(d, z, filled)
    first, last = (int(i) for i in np.flatnonzero(finite)[[0, -1]])
    if first > 0:
        slope = _trend(d[finite] - d[first], z[finite], _TREND_M)
        filled[:first] -= slope * np.minimum(d[first] - d[:first], _TREND_REACH_M)
    if last < len(d) - 1:
        slope = -_trend((d[last] - d[finite])[::-1], z[finite][::-1], _TREND_M)
        filled[last + 1 :] += slope * np.minimum(d[last + 1 :] - d[last], _TREND_REACH_M)
    return filled


def _bend(d: Array, z: Array, filled: Array) -> None:
    """Carry the slopes on both sides of a hole of moderate length into it, as a cubic curve."""
    known = np.flatnonzero(np.isfinite(z))
    widths = np.diff(d[known])
    holes = np.flatnonzero((np.diff(known) > 1) & (widths > _BENT_FROM_M) & (widths <= _BENT_TO_M))
    for hole in holes:
        start, end = int(known[hole]), int(known[hole + 1])
        before, after = known[: hole + 1][-_BEND_POINTS:][::-1], known[hole + 1 :][:_BEND_POINTS]
        width = float(d[end] - d[start])
        slope_in = -_trend(d[start] - d[before], z[before], _BEND_M) * width
        slope_out = _trend(d[after] - d[end], z[after], _BEND_M) * width
        rise = float(z[end] - z[start])
        t = (d[start + 1 : end] - d[start]) / width
        filled[start + 1 : end] += t * (1 - t) * ((slope_in - rise) * (1 - t) + (rise - slope_out) * t)


def _trend(away_m: Array, z: Array, reach_m: float) -> float:
    near = away_m <= reach_m
    if near.sum() < 2:
        near = np.arange(len(away_m)) < 2
    x, y = away_m[near], z[near]
    spread = float(np.sum((x - x.mean()) ** 2))
    slope = float(np.sum((x - x.mean()) * (y - y.mean()))) / spread if spread > 0 else 0.0
    return float(np.clip(slope, -_STEEPEST_TREND, _STEEPEST_TREND))


def _zero_runs(_d: Array, z: Array) -> NDArray[np.bool_]:
    zero = z == 0.0
    gone = np.zeros(len(z), dtype=bool)
    if not zero.any() or zero.all():
        return gone
    edges = np.flatnonzero(np.diff(np.concatenate(([False], zero, [False])).astype(np.int8)))
    for start, end in edges.reshape(-1, 2):
        neighbours = [z[i] for i in (start - 1, end) if 0 <= i < len(z)]
        if any(abs(value) > _ZERO_NEIGHBOUR_M for value in neighbours if np.isfinite(value)):
            gone[start:end] = True
    return gone


def _start_settling(d: Array, z: Array) -> NDArray[np.bool_]:
    gone = np.zeros(len(z), dtype=bool)
    near = int(np.searchsorted(d, _SETTLING_M))
    if near < 2:
        return gone
    dz, dd = np.diff(z[: near + 1]), np.diff(d[: near + 1])
    jumps = np.flatnonzero((np.abs(dz) > 3.0) & (np.abs(dz) > dd))
    if jumps.size and float(np.abs(np.diff(z[near:])).max(initial=0.0)) < np.abs(dz[jumps]).max():
        gone[: jumps[-1] + 1] = True
    return gone


def _known_steps(d: Array, z: Array) -> tuple[NDArray[np.intp], Array, Array]:
    known = np.flatnonzero(np.isfinite(z))
    return known, np.diff(z[known]), np.maximum(np.diff(d[known]), 0.01)


def _cliffs(d: Array, z: Array) -> NDArray[np.bool_]:
    gone = np.zeros(len(z), dtype=bool)
    known, dz, dd = _known_steps(d, z)
    if dz.size < 2:
        return gone
    least = max(12.0, 4 * float(np.percentile(np.abs(dz), 95)))
    cliffs = np.flatnonzero((np.abs(dz) > least) & (np.abs(dz) > 0.6 * dd))
    used = -1
    for place, up in enumerate(cliffs):
        if up <= used:
            continue
        for down in cliffs[place + 1 : place + 1 + _CLIFFS_AHEAD]:
            apart = d[known[down]] - d[known[up + 1]]
            ratio = abs(dz[down] / dz[up])
            if apart <= _CLIFF_PAIR_M and dz[up] * dz[down] < 0 and 0.5 <= ratio <= 2:
                gone[known[up + 1] : known[down] + 1] = True
                used = down
                break
    return gone


def _spikes(d: Array, z: Array) -> NDArray[np.bool_]:
    gone = np.zeros(len(z), dtype=bool)
    for _ in range(3):
        found = _spikes_once(d, np.where(gone, np.nan, z))
        if not found.any():
            break
        gone |= found
    return gone


def _spikes_once(d: Array, z: Array) -> NDArray[np.bool_]:
    gone = np.zeros(len(z), dtype=bool)
    known, dz, dd = _known_steps(d, z)
    if dz.size < 2 * _WINDOW:
        return gone
    least = max(8.0, 2 * float(np.percentile(np.abs(dz), 95)))
    steep = np.abs(dz) > 0.3 * dd
    beside = np.concatenate(([False], steep)) | np.concatenate((steep, [False]))
    suspects = np.flatnonzero(beside)
    if suspects.size == 0:
        return gone
    values = z[known]
    padded = np.pad(values, _WINDOW, mode="reflect")
    windows = np.lib.stride_tricks.sliding_window_view(padded, 2 * _WINDOW + 1)[suspects]
    slope = np.median(np.diff(windows, axis=1), axis=1)
    level = windows - slope[:, None] * np.arange(-_WINDOW, _WINDOW + 1)
    medians = np.median(level, axis=1)
    off = np.abs(values[suspects] - medians)
    spread = 1.4826 * np.median(np.abs(level - medians[:, None]), axis=1)
    gone[known[suspects[(off > least) & (off > 5 * spread)]]] = True
    return gone
