"""The plan and its parts: only the types that are handed on from the schedule to every output."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from typing import Literal

from planbuilder.course.types import Course, Feature, Remark
from planbuilder.demands.types import CourseDemands
from planbuilder.plan.local import Rehearsal
from planbuilder.race.types import RacePlan
from planbuilder.runner.types import Form, Level, Paces
from planbuilder.settings.notes import Note
from planbuilder.units import System

Phase = Literal["base", "build", "specific", "taper", "after"]
GroundKind = Literal[
    "any", "flat", "rolling", "up", "down", "drag", "treadmill", "bridge", "ramp", "steps", "indoors"
]
StepKind = Literal[
    "warm_up",
    "work",
    "recovery",
    "cool_down",
    "easy",
    "strides",
    "drills",
    "race",
    "strength",
    "cross_training",
]
Role = Literal["long", "club", "key", "easy", "race", "tune_up", "test", "strength", "cross", "after"]


@dataclass(frozen=True, slots=True)
class Ground:
    """Where a step is run."""

    kind: GroundKind
    grade: float | None = None  # fraction, positive up; None where it does not matter
    words: str = ""  # the hill, the loop, the machine, where it is named


@dataclass(frozen=True, slots=True)
class Step:
    """Part of a session. Steps that share a ``set_no`` above 0 alternate, round after round, until each has
    been done ``repeat`` times: six of work and five of recovery in one set end on work."""

    kind: StepKind
    repeat: int
    duration_s: float | None  # of one repeat; one of duration and distance is given
    distance_m: float | None  # of one repeat
    effort_rpe: tuple[float, float]
    pace_s_per_km: tuple[float, float] | None  # quick, slow; None: by effort
    ground: Ground
    words: str  # "3 min up the hill, jog down": what to do, with unit marks
    set_no: int = 0
    band: str = ""  # name of the pace band it belongs to, by effort too; "" where there is none


ReasonKind = Literal["demand", "phase", "rule", "number", "considered", "would change"]


@dataclass(frozen=True, slots=True)
class Reason:
    """A link of the chain behind a session."""

    kind: ReasonKind
    text: str  # with unit marks
    rule: str = ""  # name of the rule or limit


@dataclass(frozen=True, slots=True)
class Session:
    """One day's training; the race and tune-ups are sessions, rest days are not."""

    id: str  # "w07-long": the week it was born in and its role
    role: Role
    date: dt.date
    start_time: dt.time | None  # local to the block's zone; None: any time that day
    place: str
    kind: str  # a name of the session library, or race, tune_up, strength, cross_training
    title: str  # "Long hill repeats": kind in words, no size
    steps: tuple[Step, ...]
    distance_m: float  # stored once; for sessions dosed in time, an estimate from the bands
    duration_s: float
    hard: bool
    work_s: float  # at RPE 5 and above
    hard_s: float  # at RPE 6 and above
    climb_m: float
    descent_work_s: float  # descending at race effort
    course_specific: bool
    rehearses_m: tuple[tuple[float, float], ...]  # stretches of the course
    why: str  # one sentence that names its phase or the feature it answers
    reasons: tuple[Reason, ...]
    caution: str = ""
    substitute: str = ""  # what stands in for missing ground
    fuelling: str = ""
    private_note: str = ""  # health, coach's page only
    cancelled: bool = False
    group_ends: dt.time | None = None  # a club night with one end for all: when they are in

    @property
    def group_s(self) -> float | None:
        """How long the club night lasts, which may end behind midnight; None without an end for all."""
        if self.start_time is None or self.group_ends is None:
            return None
        start, end = (dt.datetime.combine(self.date, at) for at in (self.start_time, self.group_ends))
        return (end - start).total_seconds() % 86_400


@dataclass(frozen=True, slots=True)
class Week:
    """Monday to Sunday; the last one holds the race, the first may be short."""

    number: int  # 1 for the first
    first_day: dt.date
    last_day: dt.date
    phase: Phase
    recovery: bool
    purpose: str  # what the week is for
    distance_m: float  # running, races left out
    duration_s: float  # running, races left out
    work_s: float
    sessions: tuple[Session, ...]  # by date


@dataclass(frozen=True, slots=True)
class PlanRunner:
    """Who the plan is for: nothing about health."""

    key: str
    name: str
    units: System
    level: Level
    refused: bool  # the plan holds what is allowed and says why
    reminder: bool = False
    busy: bool = False
    page_link: bool = False


@dataclass(frozen=True, slots=True)
class PlanRace:
    """The race the plan counts back from."""

    key: str  # key of the block
    name: str
    date: dt.date
    start: dt.datetime  # this runner's own start, local with zone
    timezone: str
    distance_m: float
    place: str
    markers: System
    course_file: str = ""  # as the block names it; "" where the course has no file


@dataclass(frozen=True)
class Plan:
    """Everything one runner gets."""

    runner: PlanRunner
    race: PlanRace
    course: Course
    features: tuple[Feature, ...]
    remarks: tuple[Remark, ...]
    demands: CourseDemands
    form: Form
    paces: Paces
    race_plan: RacePlan
    weeks: tuple[Week, ...]
    notes: tuple[Note, ...]  # most important first; a refusal stands at the head
    version: int = 1  # of plan.json
    private_notes: tuple[Note, ...] = field(default=())
    rehearsal: Rehearsal | None = None  # on the runner's own page and feed, never on the board

    @property
    def sessions(self) -> tuple[Session, ...]:
        """All sessions by date."""
        return tuple(session for week in self.weeks for session in week.sessions)

    @property
    def race_session(self) -> Session | None:
        """The race on its day; None where it is left out. A day it was moved from may stand in the past."""
        day = self.race.start.date()
        return next((one for one in self.sessions if one.role == "race" and one.date == day), None)
