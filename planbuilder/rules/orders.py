"""What the schedule asks of the session library, and what it gets.

``Order`` goes in, ``Draft`` comes out; the schedule turns a draft into a ``Session`` by giving it a day, an
id and a why.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

from planbuilder.demands.types import CourseDemands, Demand
from planbuilder.plan.types import Phase, Reason, Step
from planbuilder.rules.ruled_out import OnTheDay
from planbuilder.runner.types import Level, Paces
from planbuilder.settings.session_models import Banned, Substitute
from planbuilder.units import System


class MainSet(NamedTuple):
    """The repeats of a session: how many, and how long each."""

    repeats: int
    seconds: float

    @property
    def total_s(self) -> float:
        """Seconds of the main set without recoveries."""
        return self.repeats * self.seconds


@dataclass(frozen=True, slots=True)
class Order:
    """One session that the schedule wants written.

    ``duration_s`` is the whole session for easy and long kinds (rounded down to five minutes), a cap for the
    others. ``work_limit_s`` is the most seconds at RPE 5 and above, strides included.
    """

    kind: str
    level: Level
    phase: Phase
    paces: Paces
    course: CourseDemands  # distance, class, late gain and all demands of the goal course
    occurrence: int = 0  # how many of this kind came before in the block
    dose: float | None = None  # 0 to 1 inside the level's range; None: the library's dose for the phase
    duration_s: float | None = None
    work_limit_s: float | None = None
    climb_limit_m: float | None = None  # the most climbing, heeded on rolling ground and by a simulation
    descent_limit_s: float | None = None  # the most seconds of descents at race effort
    demand: Demand | None = None  # what the session answers
    second_demand: Demand | None = None
    race_time_s: float | None = None  # expected time in the goal race; else estimated from the paces
    race_fuel: tuple[float, float] | None = None  # grams of carbohydrate an hour in it; None: not run
    goal_pace: bool = True  # False: race effort is run at predicted pace, not at the goal's
    finish_rpe: tuple[float, float] | None = None  # race effort where the race is run for finishing well
    hills: bool = True  # a hill of a minute or more near home
    treadmill_grade: float = 0.0  # steepest climb of the machine, a fraction; 0: no machine
    treadmill_descent: float = 0.0  # steepest descent of the machine, a fraction
    substitutes: tuple[Substitute, ...] = ()  # bridge, ramp, steps near home
    banned: frozenset[Banned] = frozenset()  # what a sore place or an open health answer rules out
    day: OnTheDay = field(default_factory=OnTheDay)  # what the library's own entries ask about
    minor: bool = False
    units: System = "km"
    previous: MainSet | None = None  # main set of the last one of this kind; None: guessed from occurrence
    race_distance_m: float | None = None  # of a tune-up race
    race_words: str = ""  # name of a tune-up race
    race_effort_rpe: tuple[float, float] | None = None  # of a tune-up race; None: all-out
    new_to_strength: bool = True
    known: frozenset[str] | None = None  # the only kinds a club night may be run as; None: any
    whistle: bool = False  # repeats and recoveries are the template's own, the same for a whole group


@dataclass(frozen=True, slots=True)
class Draft:
    """A written session without a day."""

    kind: str
    title: str
    steps: tuple[Step, ...]
    distance_m: float
    duration_s: float
    work_s: float  # at RPE 5 and above
    hard_s: float  # at RPE 6 and above
    hard: bool
    climb_m: float
    descent_work_s: float
    course_specific: bool
    rehearses_m: tuple[tuple[float, float], ...]
    purpose: str
    progression: str  # what changed since the last one, or how it will grow
    caution: str
    substitute: str  # names what stands in for missing ground, "" where nothing does
    fuelling: str
    reasons: tuple[Reason, ...]
    main_set: MainSet | None = None  # hand it back as ``previous`` next time
    climbs_begin_share: float | None = None  # share of the run done, in time, when the late climbs begin


class DoseRange(NamedTuple):
    """What a kind can be: from the smallest to the largest session of a runner's level."""

    min_work_s: float
    max_work_s: float
    min_duration_s: float
    max_duration_s: float


@dataclass(frozen=True, slots=True)
class Written:
    """What a writer of one shape returns; the rest of the draft is the same for all."""

    steps: tuple[Step, ...]
    rehearses_m: tuple[tuple[float, float], ...] = ()
    course_specific: bool = False
    main_set: MainSet | None = None
    substitute: str = ""
    size: str = ""  # "6 × 3 min"
    reasons: tuple[Reason, ...] = field(default=())
    climbs_begin_share: float | None = None
