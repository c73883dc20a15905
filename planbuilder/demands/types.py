"""What the demands room hands on."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from planbuilder.course.types import Feature

CourseClass = Literal["flat", "rolling", "hilly", "very hilly"]
DemandKind = Literal[
    "downhill_start",
    "early_hills",
    "long_flat",
    "rolling",
    "late_climb",  # the decisive climb, wherever it stands, and the second one
    "hilly_finish",
    "finish_drag",
    "long_descent",
    "net_downhill",
    "downhill_race",
]


@dataclass(frozen=True, slots=True)
class Demand:
    """One thing the course asks of a runner, with where it comes in the race."""

    kind: DemandKind
    start_m: float
    end_m: float
    grade: float  # mean, fraction
    gain_m: float  # net, negative for descents
    share_done: float  # of the race at its start, 0 to 1
    feature: Feature | None  # the feature it comes from, where there is one
    why: str  # a sentence with unit marks: what the ground asks

    @property
    def length_m(self) -> float:
        """Length, metres."""
        return self.end_m - self.start_m


@dataclass(frozen=True, slots=True)
class CourseDemands:
    """Everything training has to prepare for on this course."""

    course_class: CourseClass
    class_why: str  # how it was decided, a sentence with unit marks
    climb_m_per_km: float
    demands: tuple[Demand, ...]  # in the order of start_m; only flagged ground and the decisive climb
    decisive: Feature | None  # a climb or drag; None on a flat course
    second: Feature | None
    late_gain_m: float  # metres climbed in the last quarter
    distance_m: float
    descent_m: float

    def none(self) -> CourseDemands:
        """Of the same course where its race is not run: nothing to prepare for."""
        return replace(self, course_class="flat", demands=(), decisive=None, second=None, late_gain_m=0.0)

    def has(self, *kinds: DemandKind) -> bool:
        """Whether the course asks for any of these."""
        return any(demand.kind in kinds for demand in self.demands)

    def first(self, kind: DemandKind) -> Demand | None:
        """The first demand of a kind, in race order."""
        return next((demand for demand in self.demands if demand.kind == kind), None)
