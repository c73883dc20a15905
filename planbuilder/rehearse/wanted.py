"""Which stretches of the race are worth rehearsing on local ground, and in which order."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from planbuilder.course.types import Course, Feature
from planbuilder.demands.types import CourseDemands, Demand, DemandKind
from planbuilder.plan.local import Profile, Wanted, WantedKind
from planbuilder.rehearse.library import Array, cells_of, climb_so_far, on_grid
from planbuilder.settings.limits import Limits

_KINDS: Final[dict[DemandKind, WantedKind]] = {
    "downhill_start": "descent",
    "early_hills": "rolling",
    "long_flat": "flat",
    "rolling": "rolling",
    "late_climb": "climb",
    "hilly_finish": "rolling",
    "finish_drag": "drag",
    "long_descent": "descent",
}  # "net_downhill" and "downhill_race" speak of the whole course, which no stretch can stand in for
_NAMES: Final[dict[DemandKind, str]] = {
    "downhill_start": "the downhill start",
    "early_hills": "the early hills",
    "long_flat": "the long flat",
    "rolling": "the rolling part",
    "late_climb": "the late climb",
    "hilly_finish": "the hilly finish",
    "finish_drag": "the finish drag",
    "long_descent": "the long descent",
    "net_downhill": "the way down",
    "downhill_race": "the way down",
}


def wanted_stretches(
    course: Course, features: Sequence[Feature], demands: CourseDemands, limits: Limits
) -> tuple[Wanted, ...]:
    """The decisive climb, the flat before it with the hill, the finish and the start, then every other demand
    in race order; a stretch that says nothing new is left out. None where the ground is not known."""
    if not course.known:
        return ()
    found: list[Wanted] = []
    decisive = demands.decisive
    if decisive is not None:
        found.append(
            wanted(course, "decisive climb", decisive.name, decisive.start_m, decisive.end_m, limits=limits)
        )
        lead_m = _flat_before(course, features, decisive, limits)
        if lead_m > 0:
            name, start_m = f"the flat into {decisive.name}", decisive.start_m - lead_m
            found.append(wanted(course, "flat then hill", name, start_m, decisive.end_m, limits=limits))
    last_m = min(limits.number("rehearse.longest_finish"), course.distance_m / 4)
    finish_m = course.distance_m - last_m
    found.append(wanted(course, "finish", "the finish", finish_m, course.distance_m, limits=limits))
    first_m = min(limits.number("rehearse.longest_start"), course.distance_m / 4)
    found.append(wanted(course, "start", "the start", 0.0, first_m, limits=limits))
    for demand in demands.demands:
        if demand.kind in _KINDS:
            found.append(_of_demand(course, demand, limits))
    return _without_repeats(found, limits)


def wanted(
    course: Course, kind: WantedKind, name: str, start_m: float, end_m: float, *, limits: Limits
) -> Wanted:
    """A stretch of the course with its profile on cells of about 20 m."""
    places = np.linspace(start_m, end_m, cells_of(end_m - start_m) + 1)
    height = np.interp(places, course.at_m, course.height_m)
    length_m = end_m - start_m
    return Wanted(
        kind, name, start_m, end_m, profile(height, length_m, reversal_m=limits.number("rehearse.reversal"))
    )


def shortened(course: Course, stretch: Wanted, length_m: float, *, limits: Limits) -> Wanted:
    """The first part of a start, the last part of anything else."""
    if stretch.kind in ("start",):
        start_m, end_m = stretch.start_m, stretch.start_m + length_m
    else:
        start_m, end_m = stretch.end_m - length_m, stretch.end_m
    return wanted(course, stretch.kind, stretch.name, start_m, end_m, limits=limits)


def profile(height_m: Array, length_m: float, *, reversal_m: float) -> Profile:
    """Heights at even steps as a profile that starts at 0."""
    from_start = height_m - height_m[0]
    ascent = float(climb_so_far(from_start, reversal_m)[-1])
    heights = tuple(float(height) for height in from_start)
    return Profile(length_m / (len(heights) - 1), heights, ascent, ascent - heights[-1])


def on_steps(given: Profile, cells: int) -> Array:
    """The heights of a profile at ``cells + 1`` even places."""
    return on_grid(np.array(given.height_m), given.length_m, cells)


def demand_name(demand: Demand) -> str:
    """What people call it."""
    return demand.feature.name if demand.feature is not None else _NAMES[demand.kind]


def _of_demand(course: Course, demand: Demand, limits: Limits) -> Wanted:
    start_m = max(demand.start_m, demand.end_m - limits.number("rehearse.longest_stretch"))
    return wanted(course, _KINDS[demand.kind], demand_name(demand), start_m, demand.end_m, limits=limits)


def _flat_before(course: Course, features: Sequence[Feature], hill: Feature, limits: Limits) -> float:
    """How much of the ground right before the hill is flat, metres: all that is asked for, or nothing."""
    asked_m = limits.number("rehearse.lead_to_hill")
    if hill.start_m < asked_m:
        return 0.0
    lead = wanted(course, "flat", "", hill.start_m - asked_m, hill.start_m, limits=limits).profile
    named_flat = any(
        feature.kind == "flat" and feature.start_m <= hill.start_m - asked_m and feature.end_m >= hill.start_m
        for feature in features
    )
    flat = lead.ascent_m <= limits.number("rehearse.flat_climb") * asked_m / 1000
    return asked_m if named_flat or flat else 0.0


def _without_repeats(found: Sequence[Wanted], limits: Limits) -> tuple[Wanted, ...]:
    shortest = limits.number("rehearse.shortest_hill")
    same = limits.number("rehearse.same_stretch")
    kept: list[Wanted] = []
    for stretch in found:
        if stretch.length_m >= shortest and all(_shared(stretch, other) < same for other in kept):
            kept.append(stretch)
    return tuple(kept)


def _shared(one: Wanted, other: Wanted) -> float:
    both = min(one.end_m, other.end_m) - max(one.start_m, other.start_m)
    return both / max(one.length_m, other.length_m)
