"""Who has a say in what a squad does on its club nights, and what each of them would do.

Receives: the runners of a squad; one typical request for each kind of them.
Gives: a ``Voice`` for each, whose weeks are tried with the nights that are thought of and then kept.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property

from planbuilder.rules.phases import Frame
from planbuilder.rules.safety import allowed_for
from planbuilder.runner import level_of
from planbuilder.schedule.attempts import BlockPlan
from planbuilder.schedule.block import block_plan, finished, planner_for
from planbuilder.schedule.load import WeekKind
from planbuilder.schedule.state import Planner
from planbuilder.schedule.types import Request, Schedule
from planbuilder.schedule.week import FoundWeek, find_week, keep_week
from planbuilder.settings.limits import Limits
from planbuilder.settings.models import WEEKDAYS, RaceSettings, RunnerSettings, TrainingSettings

Kin = tuple[object, ...]  # what makes two runners ask for the same kinds of session


def kin_of(
    runner: RunnerSettings,
    race: RaceSettings,
    training: TrainingSettings,
    limits: Limits,
    *,
    first_day: dt.date,
) -> Kin:
    """What decides which kinds of session a runner asks for; equal for runners who ask for the same."""
    level = level_of(runner, limits)
    allowed = allowed_for(
        runner,
        training,
        limits,
        race_distance_m=race.distance_m,
        minimum_age=race.minimum_age,
        first_day=first_day,
    )
    return (
        str(first_day),
        level,
        allowed,
        runner.hills,
        bool(runner.substitutes),
        str(runner.treadmill),
        min(len({*runner.days, *(runner.club_nights or ())}), 6),
        level == "novice" and runner.running_months is not None and min(runner.running_months, 3),
    )


def nights_of(runners: Iterable[RunnerSettings], training: TrainingSettings) -> Counter[str]:
    """How many of these runners come to the club, by weekday."""
    held = {night.day for night in training.club_nights}
    return Counter(
        day
        for runner in runners
        for day in held.intersection(runner.days if runner.club_nights is None else runner.club_nights)
    )


@dataclass(frozen=True)
class Voice:
    """Runners who ask for the same, through the most usual one of them."""

    request: Request
    comes: Mapping[str, int]  # by weekday, how many of them

    @cached_property
    def planner(self) -> Planner:
        """The typical runner, with the weeks that are settled so far."""
        return planner_for(self.request)

    @cached_property
    def weeks(self) -> tuple[tuple[Frame, WeekKind], ...]:
        """The weeks of the block and their kinds."""
        return tuple(zip(self.planner.context.frames, self._block.kinds, strict=True))

    @cached_property
    def _block(self) -> BlockPlan:
        return block_plan(self.planner)

    @property
    def works(self) -> bool:
        """Whether there is anything but easy running for these runners."""
        return self.planner.context.allowed.anything_above_easy

    def come_on(self, date: dt.date) -> int:
        """How many of them come on a weekday."""
        return self.comes.get(WEEKDAYS[date.weekday()], 0)

    def week_of(self, date: dt.date) -> tuple[Frame, WeekKind] | None:
        """The week that a date stands in."""
        return next((week for week in self.weeks if week[0].first_day <= date <= week[0].last_day), None)

    def _next(self) -> Frame | None:
        """The week that is to be settled next."""
        index = len(self.planner.weeks)
        if not self.planner.context.allowed.trains or index >= len(self.weeks):
            return None
        return self.weeks[index][0]

    def settle_before(self, date: dt.date) -> None:
        """The weeks without a club night before the week of a date stand."""
        while (frame := self._next()) is not None and frame.last_day < date:
            self.settle(find_week(self.planner, self._block))

    def try_week(self, date: dt.date) -> FoundWeek | None:
        """What this runner would do in the week of a date, the next one; None where no plan reaches it."""
        frame = self._next()
        return find_week(self.planner, self._block) if frame and date in frame.days else None

    def settle(self, found: FoundWeek) -> None:
        """The next week stands."""
        keep_week(self.planner, found)

    def schedule(self) -> Schedule:
        """The whole plan of the typical runner: the weeks that stand, and those after them."""
        return finished(self.planner, self._block if self.planner.context.allowed.trains else None)
