"""The profile: heights on an even grid, smoothed at a stated scale, with grade and climb.

Receives: distance and whole heights of a trace.
Gives: smoothed heights and grades at even steps; ascent and descent of any stretch of them.

The scale is ours and fixed: a Gaussian of 40 m, and rises of 3 m or more. Climb is a coastline problem
(Rapaport 2010, arXiv:1011.4778): the figure means something only beside its scale.
"""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

_STEP_M: Final = 10.0
_GRADE_HALF_M: Final = 50.0  # grades are read over 100 m
_EASING: Final = 1 / 6  # a rise counts from 5/6 of the threshold, in full from 7/6


def step_count(length_m: float) -> int:
    """How many steps near 10 m a course is cut into."""
    return max(round(length_m / _STEP_M), 1)


def on_grid(distance_m: Array, height_m: Array, steps: int) -> Array:
    """Heights at even steps, each the exact mean of the straight-line profile over one step around it.

    distance_m, height_m: shape (n,), distance from 0 and not decreasing. Returns shape (steps + 1,); the ends
    are the heights of the first and the last point.
    """
    length = float(distance_m[-1])
    half = length / steps / 2
    area = np.concatenate(([0.0], np.cumsum((height_m[1:] + height_m[:-1]) / 2 * np.diff(distance_m))))
    edges = np.linspace(0.0, length, steps + 1)[1:] - half
    inside = np.clip(np.searchsorted(distance_m, edges, side="right") - 1, 0, len(distance_m) - 2)
    run = distance_m[inside + 1] - distance_m[inside]
    rise = height_m[inside + 1] - height_m[inside]
    part = edges - distance_m[inside]
    slope = np.divide(rise, run, out=np.zeros_like(rise), where=run > 0)
    at_edges = area[inside] + height_m[inside] * part + slope * part**2 / 2
    means = np.diff(at_edges) / (2 * half)
    return np.concatenate((height_m[:1], means, height_m[-1:]))


def smoothed(height_m: Array, step_m: float, sigma_m: float) -> Array:
    """Heights under a Gaussian of standard deviation sigma [m]; the ends keep height and slope.

    height_m: shape (n + 1,) at even steps. The profile is continued beyond both ends as its point mirror.
    """
    reach = math.ceil(4 * sigma_m / step_m)
    kernel = np.exp(-0.5 * (np.arange(-reach, reach + 1) * step_m / sigma_m) ** 2)
    kernel /= kernel.sum()
    if len(height_m) < 2:
        return height_m.copy()
    result: Array = np.convolve(np.pad(height_m, reach, mode="reflect", reflect_type="odd"), kernel, "valid")
    result[0], result[-1] = height_m[0], height_m[-1]
    return result


def grades(height_m: Array, step_m: float) -> Array:
    """Grade at every grid point over the 100 m around it, a fraction; shape as given."""
    reach = math.ceil(_GRADE_HALF_M / step_m) + 1
    padded = np.pad(height_m, reach, mode="reflect", reflect_type="odd")
    at = (np.arange(len(padded)) - reach) * step_m
    here = np.arange(len(height_m)) * step_m
    rise = np.interp(here + _GRADE_HALF_M, at, padded) - np.interp(here - _GRADE_HALF_M, at, padded)
    result: Array = rise / (2 * _GRADE_HALF_M)
    return result


def rise_and_fall(height_m: Array, threshold_m: float) -> tuple[float, float]:
    """Ascent and descent in metres between turning points that stand out by the threshold.

    A wave smaller than the threshold is no climb. Around the threshold a wave counts in part, so that a
    centimetre cannot tip three metres. Ascent minus descent is end minus start.
    """
    turns = _turning_points(height_m)
    if len(turns) < 2:
        return 0.0, 0.0
    counted = max(
        sum(_weighed(wave, threshold_m) for wave in _waves(turns)),
        sum(_weighed(wave, threshold_m) for wave in _waves(turns[::-1])),
    )
    net = turns[-1] - turns[0]
    return counted + max(net, 0.0), counted + max(-net, 0.0)


def climb_of_whole(height_m: Array, threshold_m: float) -> tuple[float, float]:
    """Ascent and descent of a whole course: as above, and never less than its highest point asks."""
    ascent, _ = rise_and_fall(height_m, threshold_m)
    start, end = float(height_m[0]), float(height_m[-1])
    ascent = max(ascent, float(height_m.max()) - start, end - float(height_m.min()))
    return ascent, ascent - (end - start)


def _turning_points(height_m: Array) -> list[float]:
    moved = height_m[np.concatenate(([True], np.diff(height_m) != 0))]
    if len(moved) < 3:
        return [float(value) for value in moved]
    direction = np.sign(np.diff(moved))
    turn = np.concatenate(([True], direction[1:] != direction[:-1], [True]))
    return [float(value) for value in moved[turn]]


def _waves(turns: list[float]) -> list[float]:
    """Sizes of all waves, smallest first inside larger ones, until start and end alone remain."""
    waves: list[float] = []
    open_: list[float] = []
    for turn in turns:
        open_.append(turn)
        while len(open_) >= 4:
            before, inner = abs(open_[-3] - open_[-4]), abs(open_[-2] - open_[-3])
            if inner > before or inner > abs(open_[-1] - open_[-2]):
                break
            waves.append(inner)
            del open_[-3:-1]
    while len(open_) > 2:
        sizes = [abs(b - a) for a, b in pairwise(open_)]
        if sizes[0] <= sizes[1]:
            waves.append(sizes[0])
            del open_[1]
        else:
            waves.append(sizes[-1])
            del open_[-2]
    return waves


def _weighed(wave_m: float, threshold_m: float) -> float:
    low, span = threshold_m * (1 - _EASING), threshold_m * 2 * _EASING
    return wave_m * min(max((wave_m - low) / span, 0.0), 1.0)
