"""What the schedule remembers while it goes through the weeks.

Receives: a ``Request``.
Gives: a ``Planner`` with the rules' context, what may be done, and what has been used so far.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from functools import cached_property

from planbuilder.plan.types import Session, Week
from planbuilder.plan.walk import effort_factor
from planbuilder.rules.context import Breach, RuleContext
from planbuilder.rules.orders import Draft, MainSet
from planbuilder.rules.ruled_out import OnTheDay
from planbuilder.rules.tune_ups import TuneUpPlan
from planbuilder.rules.wishes import flat_rhythm_of
from planbuilder.schedule.types import Request, Want
from planbuilder.settings.models import WEEKDAYS, Treadmill
from planbuilder.settings.notes import Note

TEST_RULE = "schedule.test"
FLAT_RHYTHM = ("threshold_run", "threshold_repeats", "goal_repeats", "intervals", "race_touch", "test")


@dataclass
class Planner:
    """The request, the rules' context and the memory of the weeks so far."""

    request: Request
    context: RuleContext
    tune_ups: tuple[TuneUpPlan, ...]
    no_hard: frozenset[dt.date]
    weeks: list[Week] = field(default_factory=list)
    count: dict[str, int] = field(default_factory=dict)  # sessions of a kind so far
    main_sets: dict[str, MainSet] = field(default_factory=dict)
    last_used: dict[str, dt.date] = field(default_factory=dict)
    last_flat: dt.date | None = None  # of sessions with the rhythm of level ground
    notes: list[Note] = field(default_factory=list)
    pending_test: Want | None = None  # due, and not placed yet
    excepted: list[Breach] = field(default_factory=list)  # exceptions that limits allowed
    drafts: dict[object, Draft] = field(default_factory=dict)  # easy runs written before
    written: dict[int, Draft] = field(default_factory=dict)  # by the identity of their steps

    @cached_property
    def treadmill(self) -> Treadmill | None:
        """The machine, where there is one."""
        machine = self.request.runner.treadmill
        if isinstance(machine, Treadmill):
            return machine
        return Treadmill() if machine else None

    @property
    def day_of_this_week(self) -> OnTheDay:
        """What the library's entries ask about, on the first day of the week that is being planned."""
        frames = self.context.frames
        return self.context.on_the_day(frames[min(len(self.weeks), len(frames) - 1)].first_day)

    @cached_property
    def can_climb(self) -> bool:
        """Whether uphill work is allowed and there is something to run up."""
        runner = self.request.runner
        ground = runner.hills or bool(runner.substitutes) or self.treadmill is not None
        return self.context.allowed.uphill and self.context.allowed.anything_above_easy and ground

    @cached_property
    def can_descend(self) -> bool:
        """Whether descents are allowed and there is something to run down."""
        machine = self.treadmill
        ground = self.request.runner.hills or (machine is not None and machine.descent_percent > 0)
        return self.context.allowed.downhill and self.context.allowed.anything_above_easy and ground

    @cached_property
    def easy_s_per_km(self) -> float:
        """Pace that turns easy minutes into metres."""
        return self.request.paces.easy_s_per_km

    @cached_property
    def long_s_per_km(self) -> float:
        """Pace that turns minutes of an easy long run into metres."""
        band = self.request.paces.band("long")
        if band.fast_s_per_km is not None and band.slow_s_per_km is not None:
            return (band.fast_s_per_km + band.slow_s_per_km) / 2
        return self.easy_s_per_km * effort_factor(3.5)

    @cached_property
    def short_weekday(self) -> int | None:
        """On seven running days: the weekday that stays short, never a club night."""
        context = self.context
        often = context.baseline.weekly_m > context.limits.number("load.seven_days_from")
        if len(context.running_days) < 7 or context.careful or not often:
            return None
        first = WEEKDAYS.index(self.request.runner.long_run_day) + 1
        days = [(first + offset) % 7 for offset in range(7)]
        return next((day for day in days if WEEKDAYS[day] not in context.club_days), None)

    def add(self, week: Week) -> None:
        """The week stands: what comes later takes it into account."""
        self.weeks.append(week)
        for session in week.sessions:
            self._remember(session)

    def _remember(self, session: Session) -> None:
        self.count[session.kind] = self.count.get(session.kind, 0) + 1
        self.last_used[session.kind] = session.date
        if session.kind in FLAT_RHYTHM and flat_rhythm_of(session):
            self.last_flat = session.date
        tested = session.kind == "test" or any(reason.rule == TEST_RULE for reason in session.reasons)
        if tested or (session.role == "tune_up" and session.hard):
            self.pending_test = None
        draft = self.written.get(id(session.steps))
        if draft is not None and draft.main_set is not None:
            self.main_sets[session.kind] = draft.main_set

    def days_since_flat(self, date: dt.date) -> int | None:
        """Days since a session with the rhythm of level ground was planned."""
        return (date - self.last_flat).days if self.last_flat is not None else None

    def days_since(self, kinds: tuple[str, ...], date: dt.date) -> int | None:
        """Days since any of these kinds was planned."""
        used = [self.last_used[kind] for kind in kinds if kind in self.last_used]
        return (date - max(used)).days if used else None
