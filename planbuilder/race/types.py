"""What the race room hands on."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Final, Literal

from planbuilder.settings.notes import Note

Strategy = Literal["even effort", "hold back", "pace group"]
Verdict = Literal[
    "no goal",
    "no form",
    "within form",
    "realistic",
    "ambitious",
    "stretch",
    "not this block",
    "finish well",
    "easy running only",
    "left out",
]
Part = Literal["races", "runs easily", "stays out"]  # what safety leaves of a race to a runner
Aim = Literal["time", "finish well", "walk and run"]  # what a race is run for
FINISHING: Final[tuple[Aim, ...]] = ("finish well", "walk and run")  # the line is the goal


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of the race with how to run it: a feature, a split, or a coach's own stretch.

    Without a clock (no form and no goal, or air too hot for a time) times, paces and the cost are None and
    the stretch is run by effort.
    """

    name: str  # "km 12", "mile 7", "climb 2"
    from_m: float
    to_m: float
    time_s: float | None
    clock_s: float | None  # race clock at its end
    pace_s_per_km: float | None
    pace_low_s_per_km: float | None  # quick end of the band
    pace_high_s_per_km: float | None  # slow end
    effort_rpe: tuple[float, float]
    grade: float  # mean, fraction
    gain_m: float
    ground: str  # what the ground does, with unit marks
    cue: str  # what to do
    cost_s: float | None  # seconds against level ground at the same effort; negative gives back
    by_effort: bool  # steeper than 1.5 %, or no clock: show the band, never one number


@dataclass(frozen=True, slots=True)
class Outcome:
    """One of the plans A, B and C."""

    name: Literal["A", "B", "C"]
    time_s: float | None  # None: no clock
    words: str  # what success is, with unit marks
    cue: str


@dataclass(frozen=True, slots=True)
class DecisionPoint:
    """A place where the runner checks and steps from A to B, or B to C."""

    at_m: float
    clock_a_s: float | None
    clock_b_s: float | None
    words: str


@dataclass(frozen=True, slots=True)
class Adjustment:
    """Seconds that the day adds: heat, altitude, wind."""

    kind: Literal["heat", "altitude", "wind"]
    seconds: float
    why: str


@dataclass(frozen=True, slots=True)
class Intake:
    """Something to eat or drink at a place and time."""

    at_m: float
    clock_s: float | None  # None: no clock
    words: str


@dataclass(frozen=True, slots=True)
class TimedLine:
    """A line of the evening sheet, counted back from this runner's own start."""

    when: dt.datetime  # local, with zone
    words: str


@dataclass(frozen=True, slots=True)
class GoalCheck:
    """The goal against what form and course say."""

    goal_time_s: float | None
    predicted_time_s: float | None  # on this course, expected weather
    predicted_low_s: float | None
    predicted_high_s: float | None
    gap: float | None  # 1 - goal / prediction; positive: the goal is quicker
    verdict: Verdict
    sentence: str  # kindly, with the next checkpoint
    goal_for_sessions: bool  # whether goal-effort sessions may use the goal
    race_flat_s_per_km: float | None  # flat-equivalent pace of race effort that training uses
    days_lost: int = 0  # without running since the results; 0 where no break of two weeks or more lies there


@dataclass(frozen=True, slots=True)
class RacePlan:
    """How this runner runs this course."""

    finish_time_s: float | None  # plan A
    strategy: Strategy
    strategy_costs: tuple[tuple[str, float, str], ...]  # (strategy, seconds against even effort, words)
    goal: GoalCheck
    model: str  # name of the grade model
    course_factor: float  # time over this course / time over a flat one at the same effort
    features: tuple[Stretch, ...]  # feature by feature, without gaps, from start to line
    splits_km: tuple[Stretch, ...]  # every kilometre and the line
    splits_mi: tuple[Stretch, ...]
    splits_5k: tuple[Stretch, ...]
    outcomes: tuple[Outcome, ...]  # A, B, C; C alone where the line is the goal
    decisions: tuple[DecisionPoint, ...]
    adjustments: tuple[Adjustment, ...]
    intakes: tuple[Intake, ...]
    fuelling: str  # the range and the words "to thirst"
    fuel_g_per_hour: tuple[float, float] | None  # carbohydrate, from and to; None: the race is left out
    evening: tuple[TimedLine, ...]
    lay_out: tuple[str, ...]
    cues: tuple[str, ...]  # at most three
    first_minutes: str
    do_not_start: tuple[str, ...]
    notes: tuple[Note, ...]

    @property
    def for_finishing(self) -> bool:
        """Whether plan C, which needs no clock, is the only one."""
        return bool(self.outcomes) and self.outcomes[0].name == "C"


@dataclass(frozen=True, slots=True)
class PreviewStretch:
    """A stretch of the course as a coach tells it to everybody, whoever runs it."""

    name: str
    from_m: float
    to_m: float
    grade: float  # mean, fraction
    gain_m: float  # net
    decisive: bool
    ground: str  # what the ground does, with unit marks
    todo: str  # what to do, with unit marks
    mistake: str  # where people go wrong, with unit marks
    costs_s_per_km: tuple[float, ...]  # one for each sample pace, in their order; negative gives back
