"""Everything the rules look at besides the weeks themselves.

Receives: settings, limits, form, demands.
Gives: ``RuleContext`` and ``Breach``, and small questions about sessions that all rules ask in the same
words.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, Final

from planbuilder.demands.types import CourseDemands
from planbuilder.plan.types import Session, Week
from planbuilder.race.types import GoalCheck
from planbuilder.rules.library import Library
from planbuilder.rules.phases import Frame, frames
from planbuilder.rules.ruled_out import OnTheDay, on_the_day
from planbuilder.rules.safety import Allowed, allowed_for, careful, eased, flagged
from planbuilder.runner.types import Form, Level, Paces
from planbuilder.runner.volume import trusted_volume
from planbuilder.settings.limits import Limits
from planbuilder.settings.models import WEEKDAYS, RaceSettings, RunnerSettings, TrainingSettings, TuneUp
from planbuilder.units import run_mark

NO_RACE_DAYS: Final = 10_000  # to a race that is not run


@dataclass(frozen=True, slots=True)
class Breach:
    """A broken limit, or a limit's exception that was used, with both numbers."""

    rule: str
    session: str | None
    date: dt.date | None
    text: str  # a sentence with unit marks
    excepted: bool = False  # the rule allows this; it becomes a note of the plan


@dataclass(frozen=True, slots=True)
class Baseline:
    """What a runner really ran before the block."""

    weekly_m: float  # mean of the last 4 weeks
    longest_m: float  # of the last 30 days
    work_s: float  # a week at RPE 5 and above
    climb_m: float  # a week
    assumed: tuple[str, ...] = ()  # sentences on what was missing or contradicted itself


@dataclass(frozen=True)
class RuleContext:
    """Who the weeks are for and what they count back to."""

    race: RaceSettings
    training: TrainingSettings
    runner: RunnerSettings
    first_day: dt.date
    level: Level
    form: Form
    paces: Paces
    demands: CourseDemands
    goal: GoalCheck
    library: Library
    limits: Limits
    baseline: Baseline
    finish_well: bool = False  # too short a runway: at most one hard session a week
    no_time_goal: bool = False  # and the race is for finishing well, by effort
    taper_from_m: float = 0.0  # the taper counts from at least this: the load a long break led away from
    race_stands: bool = False  # in a plan that was accepted before the runner was kept from it by age
    done: tuple[Session, ...] = ()  # what was really run before the first week, newest last

    @cached_property
    def allowed(self) -> Allowed:
        """What safety leaves to this runner."""
        race = self.race
        return allowed_for(
            self.runner,
            self.training,
            self.limits,
            race_distance_m=race.distance_m,
            minimum_age=race.minimum_age,
            first_day=self.first_day,
        )

    @cached_property
    def sore(self) -> bool:
        """Whether a sore place asks for less running, and for no more of it than before."""
        return any(flagged(injury) and eased(injury, self.limits) for injury in self.runner.injuries)

    @property
    def races(self) -> bool:
        """Whether the weeks lead to the race of the block: nobody is kept from it by a stop or by age."""
        return self.allowed.part != "stays out" or self.race_stands

    @cached_property
    def careful(self) -> bool:
        """Whether the rules for novices, minors and recent injuries hold."""
        return careful(self.runner, self.level)

    @cached_property
    def older(self) -> bool:
        """Whether the rules from 50 hold."""
        return self.runner.age is not None and self.runner.age >= 50

    @cached_property
    def frames(self) -> tuple[Frame, ...]:
        """The calendar weeks of the block with their phases."""
        low, high = self.by_distance("taper.days")
        return frames(
            self.first_day,
            self.race.date,
            race_distance_m=self.race.distance_m,
            limits=self.limits,
            taper_days=(float(low), float(high)),
            races=self.races,
        )

    @cached_property
    def phase_weeks(self) -> tuple[int, int, int, int]:
        """Weeks of base, build, specific and taper."""
        count = Counter(frame.phase for frame in self.frames if not frame.stub)
        return count["base"], count["build"], count["specific"], count["taper"]

    @cached_property
    def easy_days(self) -> int:
        """Easy days between hard sessions."""
        if self.runner.easy_days_after_hard is not None:
            return self.runner.easy_days_after_hard
        return int(self.limits.number("day.easy_days_from_50")) if self.older else 1

    @cached_property
    def tune_ups(self) -> tuple[TuneUp, ...]:
        """Entered tune-up races of the squad and of this runner, by date."""
        both = {(race.date, race.name): race for race in (*self.training.tune_ups, *self.runner.tune_ups)}
        return tuple(
            sorted(
                (
                    race
                    for race in both.values()
                    if race.entered and self.first_day <= race.date < self.race.date
                ),
                key=lambda race: (race.date, race.name),
            )
        )

    @cached_property
    def away(self) -> frozenset[dt.date]:
        """Days away from normal training."""
        return frozenset(
            trip.first_day + dt.timedelta(days=day)
            for trip in self.runner.away
            for day in range((trip.last_day - trip.first_day).days + 1)
        )

    @cached_property
    def club_days(self) -> frozenset[str]:
        """Weekdays of the club nights this runner attends."""
        nights = {night.day for night in self.training.club_nights}
        chosen = self.runner.club_nights
        return frozenset(nights & set(self.runner.days if chosen is None else chosen))

    def club_on(self, date: dt.date) -> bool:
        """Whether this runner has a club night on a date: none where the club calls it off, or away."""
        held = WEEKDAYS[date.weekday()] in self.club_days and date not in self.training.nights_off
        return held and date not in self.away

    def runs_on(self, date: dt.date) -> bool:
        """Whether this runner can run on a date; a night of the club alone counts only where it is held."""
        return WEEKDAYS[date.weekday()] in self.runner.days or self.club_on(date)

    @cached_property
    def hard_limit(self) -> int:
        """Hard sessions a week."""
        if not self.allowed.anything_above_easy:
            return 0
        table = self.limits.numbers("day.hard_sessions")
        most = int(table[min(len(self.running_days), len(table)) - 1])
        if self.level == "novice":
            most = max(1, most - 1)
        if self.allowed.minor:
            most = min(most, int(self.limits.number("day.hard_sessions_minor")))
        return min(most, 1) if self.finish_well else most

    @cached_property
    def running_days(self) -> tuple[str, ...]:
        """Weekdays on which this runner can run, club nights included, Monday first."""
        return tuple(day for day in WEEKDAYS if day in self.runner.days or day in self.club_days)

    def on_the_day(self, on: dt.date) -> OnTheDay:
        """What the library's entries ask about this runner on a day."""
        race_day = on + dt.timedelta(days=self.days_to_race(on))
        return on_the_day(self.runner, self.level, first_day=self.first_day, race_day=race_day, on=on)

    def by_distance(self, name: str, distance_m: float | None = None) -> Any:
        """The entry of a limit that is kept by race distance: that of the nearest longer distance."""
        cache = self.__dict__.setdefault("_by_distance", {})
        distance_m = self.race.distance_m if distance_m is None else distance_m
        if (name, distance_m) not in cache:
            table = self.limits.table(name)
            keys = sorted(table, key=float)
            cache[name, distance_m] = table[
                next((key for key in keys if distance_m <= float(key) * 1.02), keys[-1])
            ]
        return cache[name, distance_m]

    def tune_up_on(self, date: dt.date) -> TuneUp | None:
        """The tune-up race of a day."""
        return next((race for race in self.tune_ups if race.date == date), None)

    def days_to_race(self, date: dt.date) -> int:
        """Days from a date to race day; far away for a runner who is kept from the race."""
        return (self.race.date - date).days + (0 if self.races else NO_RACE_DAYS)

    def race_week(self, frame: Frame) -> bool:
        """Whether a week ends with the race, and the runner runs it."""
        return self.races and frame.last_day >= self.race.date


def with_race_of(context: RuleContext, weeks: Sequence[Week]) -> RuleContext:
    """The context for weeks that were laid out for a race which the runner's age leaves out by now."""
    allowed = context.allowed
    standing = any(session.role == "race" for week in weeks for session in week.sessions)
    if not (standing and allowed.trains and not allowed.race_distance):
        return context
    return replace(context, race_stands=True)


# Questions about sessions --------------------------------------------------------------------------------


def is_race(session: Session) -> bool:
    """Whether it is the race or a tune-up race."""
    return session.role in ("race", "tune_up")


def is_run(session: Session) -> bool:
    """Whether it is run at all."""
    return session.role not in ("strength", "cross") and session.kind not in ("strength", "cross_training")


def is_training_run(session: Session) -> bool:
    """Whether it is a run and no race."""
    return is_run(session) and not is_race(session)


def is_easy(session: Session) -> bool:
    """Whether a day with this session counts as an easy day; a few strides are allowed in it."""
    return not session.hard and session.role not in ("long", "race", "tune_up") and session.work_s <= 360


def trial_m(session: Session) -> float | None:
    """The measured distance of a time trial; None for any other session."""
    measured = [step.distance_m for step in session.steps if step.kind == "work" and step.repeat == 1]
    return next((metres for metres in measured if metres is not None), None)


def main_work_s(session: Session) -> float:
    """Seconds of the repeats and stretches of work, without strides and what leads to them."""
    return sum(step.repeat * (step.duration_s or 0.0) for step in session.steps if step.kind == "work")


def top_rpe(session: Session) -> float:
    """The hardest effort of any step."""
    return max((step.effort_rpe[1] for step in session.steps), default=0.0)


def starts(session: Session) -> dt.datetime | None:
    """Date and clock time of the start, where it has one."""
    return None if session.start_time is None else dt.datetime.combine(session.date, session.start_time)


def hours_between(first: Session, second: Session) -> float:
    """Hours from start to start; a session without a clock time is taken at the other one's hour."""
    early, late = starts(first), starts(second)
    if early is None or late is None:
        return (second.date - first.date).days * 24.0
    return (late - early).total_seconds() / 3600


def recent(weeks: Sequence[Week], index: int, days: int) -> Iterator[Session]:
    """Sessions of the weeks that end at ``index``, back to ``days`` before that week."""
    start = weeks[index].first_day - dt.timedelta(days=days)
    for position in range(max(0, index - days // 7 - 1), index + 1):
        for session in weeks[position].sessions:
            if session.date >= start and not session.cancelled:
                yield session


def away_days(week: Week, context: RuleContext) -> int:
    """How many days of a week are spent away."""
    return bool(context.away) and sum(
        week.first_day + dt.timedelta(days=day) in context.away
        for day in range((week.last_day - week.first_day).days + 1)
    )


def up_to_race(weeks: Iterable[Week]) -> tuple[Week, ...]:
    """The weeks that the rules judge: those behind the race only rest from it."""
    return tuple(week for week in weeks if week.phase != "after")


def is_stub(week: Week) -> bool:
    """Whether it is a short first week."""
    return week.first_day.weekday() != 0


def has_tune_up(week: Week) -> bool:
    """Whether a tune-up race falls in it."""
    return any(session.role == "tune_up" for session in week.sessions)


def near_race(first_day: dt.date, context: RuleContext) -> bool:
    """Whether most of a week lies in the last 13 days before the race."""
    return context.days_to_race(first_day + dt.timedelta(days=3)) <= 13


def in_load(week: Week, context: RuleContext) -> bool:
    """Neither taper, tune-up, absence nor a short first week."""
    return not (
        week.phase in ("taper", "after")
        or near_race(week.first_day, context)
        or is_stub(week)
        or has_tune_up(week)
        or away_days(week, context) > 0
    )


def is_loaded(week: Week, context: RuleContext) -> bool:
    """Whether it is to hold the load: not recovery, taper, tune-up, absence or a short first week."""
    return not week.recovery and in_load(week, context)


def baseline_of(
    runner: RunnerSettings,
    training: TrainingSettings,
    limits: Limits,
    *,
    level: Level,
    easy_s_per_km: float,
    longest_s: float,
) -> Baseline:
    """What the block starts from: what was really run, held to what the days can hold.

    ``longest_s`` is the longest a run may last for this race distance.
    """
    volume = trusted_volume(runner, limits)
    days = [day for day in WEEKDAYS if day in runner.days or day in (runner.club_nights or ())]
    most = len(days) if not careful(runner, level) else min(len(days), 5)
    if len(days) == 7:
        most = min(most, 7)
    seconds = sorted((min(longest_s, runner.minutes.get(day, 24 * 60) * 60.0) for day in days), reverse=True)
    holds_m = sum(seconds[:most]) / easy_s_per_km * 1000 * 0.92
    weekly_m = volume.weekly_distance_m
    assumed: tuple[str, ...] = ()
    if weekly_m > holds_m:
        assumed = (
            f"Your days and the longest run for this distance hold about {run_mark(holds_m)} a week, "
            f"less than your {run_mark(weekly_m)}; the plan starts from the lower figure.",
        )
        weekly_m = holds_m
    nights = {night.day for night in training.club_nights} & set(days)
    attended = nights if runner.club_nights is None else nights & set(runner.club_nights)
    if runner.fast_minutes is not None:
        work_s = runner.fast_minutes * 60.0
    elif attended:
        work_s = len(attended) * float(limits.table("load.club_night_work")[level]) * 60
    else:
        work_s = float(limits.table("load.work_start")[level]) * 60
    climb_m = runner.weekly_climb_m
    return Baseline(
        weekly_m=weekly_m,
        longest_m=volume.longest_run_m,
        work_s=work_s,
        climb_m=limits.number("load.climb_start") * weekly_m / 1000 if climb_m is None else climb_m,
        assumed=assumed,
    )
