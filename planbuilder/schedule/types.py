"""What the schedule is asked for, and what it answers."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field

from planbuilder.course.types import Course, Feature
from planbuilder.demands.types import CourseDemands, Demand
from planbuilder.plan.types import Reason, Role, Session, Week
from planbuilder.race.types import RacePlan
from planbuilder.rules.library import Library
from planbuilder.rules.typed_night import TypedNight
from planbuilder.runner.types import Form, Level, Paces
from planbuilder.settings.limits import Limits
from planbuilder.settings.models import RaceSettings, RunnerSettings, TrainingSettings
from planbuilder.settings.notes import Note


@dataclass(frozen=True)
class Request:
    """Everything the schedule looks at; the plan is a function of it alone."""

    race: RaceSettings
    training: TrainingSettings
    runner: RunnerSettings
    runner_key: str
    first_day: dt.date
    demands: CourseDemands
    features: tuple[Feature, ...]
    course: Course
    form: Form
    paces: Paces
    race_plan: RacePlan
    level: Level
    library: Library
    limits: Limits
    nights: Mapping[dt.date, TypedNight] = field(default_factory=dict)  # what the squad does on a club night
    done: tuple[Session, ...] = ()  # what was really run before the first day


@dataclass(frozen=True, slots=True)
class Schedule:
    """The weeks of a block and what there is to say about them."""

    weeks: tuple[Week, ...]  # up to the race
    notes: tuple[Note, ...]  # most important first
    private_notes: tuple[Note, ...]  # health: the coach's page only
    refused: bool
    after: tuple[Week, ...] = ()  # behind the race: phase "after"
    walks: bool = False  # the long runs stay too short to race on: the race is walked and run by turns

    @property
    def all_weeks(self) -> tuple[Week, ...]:
        """The whole plan: up to the race and behind it."""
        return (*self.weeks, *self.after)


@dataclass(frozen=True, slots=True)
class Want:
    """A session a week should hold, before it has a size and a day."""

    kind: str
    role: Role
    why: str  # one sentence
    demand: Demand | None = None
    second: Demand | None = None
    reasons: tuple[Reason, ...] = ()
    decisive: bool = False  # among the last to be given up
    dose: float | None = None
    most_work_s: float | None = None  # at RPE 5 and above
    most_duration_s: float | None = None  # in all, warm-up and cool-down among them
    fixed: dt.date | None = None  # a club night of a given kind
    night: TypedNight | None = None  # what the whole group does then
    known: frozenset[str] | None = None  # the only kinds it may be run as; None: any
    spare: Demand | None = None  # answered where no other key session of the week is on the course's ground
