"""What the course room hands on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from planbuilder.settings.notes import Note

FeatureKind = Literal[
    "climb", "descent", "flat", "rolling", "drag", "downhill_start", "hilly_finish", "finish_drag"
]
CourseSource = Literal["recorded", "planned", "surveyed table", "typed points", "described", "unknown"]


@dataclass(frozen=True, eq=False)
class Course:
    """Distance and elevation at even steps, trusted.

    ``height_m[i]`` is the smoothed height above the start at ``i * step_m``; the last point is the line, so
    ``(len(height_m) - 1) * step_m == distance_m``. ``grade[i]`` is the grade there over 100 m, a fraction.
    Courses are public, coordinates are not: nothing here can place the course on a map.
    """

    name: str
    distance_m: float  # certified where known, else measured
    measured_m: float  # as the file measures it
    step_m: float  # near 10 m; distance_m is a whole number of steps
    height_m: NDArray[np.float64]  # shape (n + 1,), metres above the start
    grade: NDArray[np.float64]  # shape (n + 1,), fraction over 100 m
    ascent_m: float
    descent_m: float
    ascent_low_m: float
    ascent_high_m: float
    source: CourseSource
    known: bool  # False: no course or no heights were given, the ground is a guess
    climb_uncertain: bool
    notes: tuple[Note, ...]  # what was repaired, what is doubtful
    certified: bool = False  # distance_m is the length the race is measured to, not the file's
    sparse: bool = False  # points too far apart for a list of climbs

    @property
    def scale(self) -> float:
        """Certified over measured distance."""
        return self.distance_m / self.measured_m

    @property
    def at_m(self) -> NDArray[np.float64]:
        """Positions of the grid points, shape (n + 1,), metres."""
        return np.linspace(0.0, self.distance_m, len(self.height_m))

    def height_at(self, position_m: float) -> float:
        """Height above the start at a place, metres."""
        return float(np.interp(position_m, self.at_m, self.height_m))

    def mean_grade(self, start_m: float, end_m: float) -> float:
        """Mean grade between two places, a fraction."""
        return (self.height_at(end_m) - self.height_at(start_m)) / (end_m - start_m)


@dataclass(frozen=True, slots=True)
class Feature:
    """A stretch of the course with a name. Features may overlap; they come in the order of ``start_m``."""

    kind: FeatureKind
    name: str  # unique on the course: "climb 2", "the long flat", "finish drag"
    start_m: float
    end_m: float
    gain_m: float  # height at the end minus height at the start
    ascent_m: float
    descent_m: float
    grade: float  # mean, fraction
    steepest_grade: float  # over 100 m, fraction, sign as the feature's
    share_done: float  # of the race at its foot, 0 to 1
    decisive: bool
    words: str  # what the ground does, a sentence with unit marks

    @property
    def length_m(self) -> float:
        """Length, metres."""
        return self.end_m - self.start_m


@dataclass(frozen=True, slots=True)
class Split:
    """One kilometre or mile of the course; the last one may be short."""

    number: int  # 1 for the first
    from_m: float
    to_m: float
    net_m: float
    ascent_m: float
    descent_m: float
    grade: float  # mean, fraction
    steepest_grade: float  # of largest size over 100 m, fraction
    words: str  # one line on what the ground does


@dataclass(frozen=True, slots=True)
class Remark:
    """The coach's words, or a station, at a place."""

    at_m: float
    text: str
    station: bool
