"""Local ground and treadmill programmes: what stands in for the race's ground where the runner lives.

Nothing here can place a route on a map: names, distances along the route, and heights above the first metre
of the stretch. Sentences carry unit marks (see ``planbuilder.units``).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from planbuilder.settings.notes import Note

Direction = Literal["as recorded", "the other way"]
Manner = Literal["straight", "out and back", "laps"]
WantedKind = Literal[
    "decisive climb", "flat then hill", "finish", "start", "climb", "descent", "flat", "rolling", "drag"
]


@dataclass(frozen=True, slots=True)
class Profile:
    """The ground along a stretch, at even steps, in the order in which it is run."""

    step_m: float
    height_m: tuple[float, ...]  # above the first metre of the stretch, which is 0
    ascent_m: float  # rises of 3 m and more
    descent_m: float

    @property
    def length_m(self) -> float:
        """Length, metres."""
        return self.step_m * (len(self.height_m) - 1)

    @property
    def gain_m(self) -> float:
        """Height of the end above the start, metres."""
        return self.height_m[-1]

    @property
    def grade(self) -> float:
        """Mean grade, a fraction."""
        return self.gain_m / self.length_m


@dataclass(frozen=True, slots=True)
class Wanted:
    """A stretch of the race that local ground shall stand in for."""

    kind: WantedKind
    name: str  # "the decisive climb", "the finish", "climb 2"
    start_m: float  # on the course
    end_m: float
    profile: Profile

    @property
    def length_m(self) -> float:
        """Length, metres."""
        return self.end_m - self.start_m

    @property
    def climbs(self) -> bool:
        """Whether its work is going up, so that laps of a shorter hill can stand in for it."""
        return self.kind in ("decisive climb", "climb", "drag")


@dataclass(frozen=True, slots=True)
class Match:
    """A stretch of a local route, and how to run it."""

    route: str
    from_m: float  # where it starts, along the route as it was recorded
    to_m: float  # where it ends; smaller than from_m where the route is run the other way
    turn_m: float | None  # out and back: where to turn
    direction: Direction  # of the first part
    manner: Manner
    laps: int  # how many times the ground is run; 1 unless the manner is laps
    rms_cost: float  # root mean square of the difference in energy cost, as a fraction of the cost on level
    resembles: bool  # within the threshold, ascent and descent too
    grade_difference: float  # local minus wanted mean grade, a fraction
    where: str  # "4 times the hill from km 3.2 to km 3.7 of quarry lane, jog back"
    words: str  # "8 m less climb, a steeper top"
    dose: str  # how to change the time where the grade differs, or ""
    local: Profile  # what the runner meets, laps one after the other without the way back
    wanted: Profile  # the race's ground, on the same steps


@dataclass(frozen=True, slots=True)
class DemandGround:
    """What the local routes hold for one stretch of the race."""

    wanted: Wanted
    matches: tuple[Match, ...]  # closest first; empty where no route can serve at all
    words: str  # the headline: the best match, or that nothing resembles it and what comes nearest

    @property
    def found(self) -> bool:
        """Whether anything here resembles the stretch."""
        return any(match.resembles for match in self.matches)


@dataclass(frozen=True, slots=True)
class LeadIn:
    """A hill with the flat ground that lies right before it on the same route."""

    wanted: Wanted
    match: Match
    flat_before_m: float


@dataclass(frozen=True, slots=True)
class FlatStretch:
    """The longest flat of a route."""

    route: str
    from_m: float
    to_m: float

    @property
    def length_m(self) -> float:
        """Length, metres."""
        return self.to_m - self.from_m


@dataclass(frozen=True, slots=True)
class LocalGround:
    """What the local routes hold for the whole race. For this runner's own page and feed only."""

    grounds: tuple[DemandGround, ...]  # the most important first
    lead_ins: tuple[LeadIn, ...]
    hills: tuple[
        Match, ...
    ]  # steady hills of usual grades and lengths, for hill work of no particular stretch
    flats: tuple[FlatStretch, ...]  # longest first
    routes: int  # how many routes were searched
    notes: tuple[Note, ...]


@dataclass(frozen=True, slots=True)
class SecondChoice:
    """What stands in for ground that is not there."""

    kind: Literal["bridge", "ramp", "treadmill", "wind", "steps", "strides", "strength", "trip"]
    words: str  # what to do: the same minutes and effort
    cannot: str  # what it does not rehearse


@dataclass(frozen=True, slots=True)
class TreadmillMinute:
    """One line of a treadmill programme."""

    part: Literal["warm-up", "stretch", "cool-down"]
    start_s: float  # from the start of the programme
    duration_s: float
    course_m: tuple[float, float] | None  # where on the course this is
    course_grade: float | None  # fraction
    grade: float  # what the machine shows, fraction
    speed_mps: tuple[float, float] | None  # slow and quick end; None: by effort
    effort_rpe: tuple[float, float]
    words: str  # what is different from the road, or ""


@dataclass(frozen=True, slots=True)
class TreadmillProgramme:
    """A stretch of the race on a treadmill, minute by minute."""

    title: str
    minutes: tuple[TreadmillMinute, ...]
    level_correction: str  # the 1 % rule, its source and range
    cannot: tuple[str, ...]  # what this machine cannot rehearse
    cautions: tuple[str, ...]
    notes: tuple[Note, ...]

    @property
    def duration_s(self) -> float:
        """Length of the whole programme, seconds."""
        return sum(minute.duration_s for minute in self.minutes)


@dataclass(frozen=True, slots=True)
class Rehearsal:
    """Where one runner rehearses the race. For this runner's own page and feed only."""

    ground: LocalGround | None  # None: no routes were given
    programmes: tuple[TreadmillProgramme, ...]
    choices: tuple[SecondChoice, ...]
