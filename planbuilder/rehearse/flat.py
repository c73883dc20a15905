"""Flat ground: right before a hill, and the longest of each route."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from planbuilder.plan.local import FlatStretch, Match
from planbuilder.rehearse.library import Array, RouteLibrary
from planbuilder.settings.limits import Limits

_GRADE_OVER_M = 100.0


def flat_before(library: RouteLibrary, match: Match, limits: Limits) -> float:
    """How many metres of flat the runner meets on the same route right before a match, in the direction in
    which it is run; 0 where the hill starts the route or the ground before it is not flat. A match may begin
    a little way up its hill: the foot may lie some metres before it, and they count."""
    route = next(route for route in library.routes if route.name == match.route)
    height, ups = route.height_m, route.climbed_m
    step_m = route.length_m / (len(height) - 1)
    at = round(match.from_m / step_m)
    if match.direction == "as recorded":
        # Walk away from the foot: the ground before the hill, nearest point first.
        away, climbed = height[at::-1], ups[at] - ups[at::-1]
    else:
        downs = ups - height
        away, climbed = height[at:], downs[at:] - downs[at]
    gentle = ~_steep(away, step_m, limits)
    slack = round(limits.number("rehearse.foot_slack") / step_m)
    if not gentle[: slack + 1].any():
        return 0.0
    foot = int(np.argmax(gentle))
    end = len(away) - 1 if gentle[foot:].all() else foot + int(np.argmin(gentle[foot:]))
    lengths = step_m * np.arange(foot, end + 1)
    allowed_m = limits.number("rehearse.flat_climb") * np.maximum((lengths - lengths[0]) / 1000, 1.0)
    flat = climbed[foot : end + 1] - climbed[foot] <= allowed_m
    return float(lengths[flat][-1]) if end > foot else 0.0


def flat_stretches(library: RouteLibrary, limits: Limits) -> tuple[FlatStretch, ...]:
    """The longest flat of each route that has at least a kilometre of it, longest first."""
    most = int(limits.number("rehearse.most_matches"))
    found = []
    for route in library.routes:
        step_m = route.length_m / (len(route.height_m) - 1)
        first, last = _longest_run(~_steep(route.height_m, step_m, limits))
        flat = FlatStretch(route.name, first * step_m, last * step_m)
        climbed_m = route.climbed_m[last] - route.climbed_m[first]
        enough = flat.length_m >= limits.number("rehearse.shortest_flat")
        if enough and climbed_m <= limits.number("rehearse.flat_climb") * flat.length_m / 1000:
            found.append(flat)
    return tuple(sorted(found, key=lambda flat: (-flat.length_m, flat.route))[:most])


def _steep(height_m: Array, step_m: float, limits: Limits) -> NDArray[np.bool_]:
    """Whether the 100 m that follow each point, or what is left of the route, are steeper than flat."""
    span = max(1, round(_GRADE_OVER_M / step_m))
    ahead = np.minimum(np.arange(len(height_m)) + span, len(height_m) - 1)
    run = np.maximum(ahead - np.arange(len(height_m)), 1) * step_m
    return np.abs(height_m[ahead] - height_m) / run > limits.number("rehearse.flat_grade")


def _longest_run(flags: NDArray[np.bool_]) -> tuple[int, int]:
    """First and last point of the longest run of true flags; equal where there is none."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], flags, [False]]).astype(np.int8)))
    if not len(edges):
        return 0, 0
    starts, ends = edges[::2], edges[1::2] - 1
    best = int(np.argmax(ends - starts))
    return int(starts[best]), int(ends[best])
