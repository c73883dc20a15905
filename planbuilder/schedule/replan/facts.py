"""What really happened: which sessions were run, which breaks there were, what the weeks really held.

Receives: a ``Situation``.
Gives: ``Facts``: outcomes, gaps, and the weeks as they were run, for the rules to look back on.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final, Literal

from planbuilder.plan.types import Session, Week
from planbuilder.rules.context import is_run, is_training_run, trial_m
from planbuilder.schedule.replan.types import Done, Situation
from planbuilder.settings.edit_models import AwayFromTraining, Ill
from planbuilder.settings.limits import Limits

DAY: Final = dt.timedelta(days=1)
LIGHT: Final = 0.85  # a week that lost more than the rest of this is no loaded week: below a recovery week
LOST: Final = (  # why days are lost; the last one is said by plans of before
    *("adapt.fever_free", "adapt.pain_days", "load.away_run", "edits"),
    "adapt.away_minutes",
)

Outcome = Literal["run", "part", "missed", "ahead", "off"]  # off: left out to make a week lighter
Cause = Literal["fever", "ill", "sore", "away", ""]


@dataclass(frozen=True, slots=True)
class Gap:
    """Days in a row without running."""

    first: dt.date
    last: dt.date
    cause: Cause
    lines: tuple[str, ...] = ()

    @property
    def days(self) -> int:
        """How many."""
        return (self.last - self.first).days + 1


class Facts:
    """The log against the plan."""

    def __init__(self, situation: Situation, weeks: Sequence[Week]) -> None:
        self._situation = situation
        self._whole_m = {week.first_day: _training_m(week.sessions) for week in situation.original}
        self.light: tuple[tuple[dt.date, dt.date], ...] = ()  # days that are held back after a short break
        self.back: tuple[tuple[dt.date, dt.date], ...] = ()  # days on which the load comes back after a break
        self.steps_back: dict[dt.date, float] = {}  # weeks behind one of hardly any running, and their most
        self.runs = [session for week in weeks for session in week.sessions if is_run(session)]
        self._lines, self.extra = self._matched()

    def done(self, session: Session) -> Done | None:
        """The last word of the log about a session."""
        return self._lines.get(session.id)

    def outcome(self, session: Session) -> Outcome:
        """Whether a session was run; silence counts as missed only for a runner who keeps a log, or who was
        not to run at all."""
        if (line := self.done(session)) is not None:
            return "run" if line.went == "done" else line.went
        if session.cancelled:
            return "missed" if session.reasons and session.reasons[0].rule in LOST else "off"
        if session.date >= self._situation.today:
            return "ahead"
        if session.role == "race" and session.date != self._situation.request.race.date:
            return "off"  # its day was moved
        in_bed = any(first <= session.date <= last for first, last in self._in_bed)
        return "missed" if in_bed or session.id in self._silent else "run"

    def run_m(self, session: Session) -> float:
        """Metres that were run; the planned ones where the log does not say."""
        outcome, line = self.outcome(session), self.done(session)
        if outcome in ("missed", "off"):
            return 0.0
        if line is None:
            return session.distance_m
        if is_trial(session, line, self._situation.request.limits):
            return session.distance_m  # warm-up and all
        if line.distance_m is not None:
            return line.distance_m
        if line.duration_s is not None and session.duration_s > 0:
            return session.distance_m * line.duration_s / session.duration_s
        return session.distance_m * (0.5 if outcome == "part" else 1.0)

    @cached_property
    def _in_bed(self) -> tuple[tuple[dt.date, dt.date], ...]:
        """Days of illness with fever, those of an edit that is forgotten among them."""
        lines = self._situation.edits
        ill = [one.edit for one in lines if isinstance(one.edit, Ill) and one.edit.fever]
        free = int(self._situation.request.limits.number("adapt.fever_free"))
        told = {one.line for one in lines}
        gone = [
            one
            for one in self._situation.held
            if one.no_running and one.line.startswith("edit/ill/") and one.line not in told
        ]
        return (
            *((edit.first_day, last_day_ill(edit, self._situation)) for edit in ill),
            *((one.first, one.last - free * DAY) for one in gone),
        )

    @cached_property
    def _silent(self) -> frozenset[str]:
        """Past sessions nobody has said a word about, of a runner who had said one about most before."""
        least, days, few = self._situation.request.limits.numbers("adapt.keeps_log")
        past = [
            session for session in self.runs if session.date < self._situation.today and not session.cancelled
        ]
        found: set[str] = set()
        start: dt.date | None = None
        for session in past:
            if session.id in self._lines:
                start = None
                continue
            start = start or session.date
            window = [one for one in past if start - int(days) * DAY <= one.date < start]
            said = sum(one.id in self._lines for one in window)
            if said >= max(few, least * len(window)):
                found.add(session.id)
        return frozenset(found)

    def _matched(self) -> tuple[dict[str, Done], tuple[Done, ...]]:
        """Lines by session, the last one counts; a line without one goes to the open session of its day."""
        by_id = {session.id: session for session in self.runs}
        lines = {line.session: line for line in self._situation.log if line.session in by_id}
        extra: list[Done] = []
        for line in self._situation.log:
            if line.session in by_id:
                continue
            free = [one.id for one in self.runs if one.date == line.date and one.id not in lines]
            if free:
                lines[free[0]] = line
            elif line.went != "missed" and not line.session:
                extra.append(line)
        return lines, tuple(extra)

    # Breaks ----------------------------------------------------------------------------------------------

    def gaps(self, stops: Iterable[Gap]) -> tuple[Gap, ...]:
        """Breaks, each as long as nothing was run in it; ``stops`` are days on which pain allows none."""
        parts = [*stops, *self.illnesses()]
        ran = set()
        for session in self.runs:
            outcome = self.outcome(session)
            if session.role == "after" and outcome == "missed":
                continue
            inside = any(part.first <= session.date <= part.last for part in parts)
            if outcome == "missed":
                line = self.done(session)
                away = isinstance(self._trip(session.date), AwayFromTraining)
                parts.append(
                    Gap(
                        session.date,
                        session.date,
                        "away" if away else "",
                        (line.line,) if line is not None else (),
                    )
                )
            elif outcome in ("run", "part") or not inside:
                ran.add(session.date)
        ran |= {line.date for line in self.extra}
        missed = [one.date for one in self.runs if one.role != "after" and self.outcome(one) == "missed"]
        return tuple(_to_next_run(gap, missed, ran) for gap in _merged(parts, ran))

    def illnesses(self) -> list[Gap]:
        """Days of illness, with the day without symptoms that follows a fever."""
        situation = self._situation
        number = situation.request.limits.number
        found = []
        for line in situation.edits:
            edit = line.edit
            if not isinstance(edit, Ill):
                continue
            if edit.fever:
                last = last_day_ill(edit, situation)
                found.append(
                    Gap(edit.first_day, last + int(number("adapt.fever_free")) * DAY, "fever", (line.line,))
                )
        return found

    def _trip(self, date: dt.date) -> AwayFromTraining | None:
        for line in self._situation.edits:
            edit = line.edit
            if isinstance(edit, AwayFromTraining) and edit.first_day <= date <= edit.last_day:
                return edit
        return None

    # The weeks as they were run --------------------------------------------------------------------------

    def as_run(self, weeks: Sequence[Week]) -> tuple[Week, ...]:
        """The weeks with what was run in place of what was planned; a week that lost much is a light one."""
        return tuple(self._as_run(week) for week in weeks)

    def _as_run(self, week: Week) -> Week:
        sessions = [one for one in map(self._really, week.sessions) if self._stays(one)]
        sessions += [
            self._outside(line, week) for line in self.extra if week.first_day <= line.date <= week.last_day
        ]
        runs = [one for one in sessions if is_training_run(one) and not one.cancelled]
        lost_m = _training_m(one for one in week.sessions if self.outcome(one) == "missed")
        whole_m = max(_training_m(week.sessions), 1.0)
        run_m = sum(one.distance_m for one in runs)
        held_back = any(first <= week.last_day and week.first_day <= last for first, last in self.light)
        less = run_m < LIGHT * self._whole_m.get(week.first_day, whole_m)
        step = run_m <= self.steps_back.get(week.first_day, -1.0) + 1.0
        return replace(
            week,
            recovery=week.recovery or lost_m > (1 - LIGHT) * whole_m or (held_back and less) or step,
            distance_m=run_m,
            duration_s=sum(one.duration_s for one in runs),
            work_s=sum(one.work_s for one in runs),
            sessions=tuple(sorted(sessions, key=lambda one: one.date)),
        )

    def _stays(self, session: Session) -> bool:
        """A session that is off is out of sight of the rules, but for what the calendar of others expects."""
        if not session.cancelled:
            return True
        trips = self._situation.request.runner.away
        away = any(trip.first_day <= session.date <= trip.last_day for trip in trips)
        return session.role in ("club", "tune_up") and not away

    def _really(self, session: Session) -> Session:
        if not is_run(session) or self.outcome(session) == "ahead":
            return session
        if self.outcome(session) in ("missed", "off"):
            return replace(session, cancelled=True, hard=False, work_s=0.0, hard_s=0.0, descent_work_s=0.0)
        if self.done(session) is None or session.distance_m <= 0:
            return session
        share = self.run_m(session) / session.distance_m
        most = min(share, 1.0)
        return replace(
            session,
            distance_m=session.distance_m * share,
            duration_s=session.duration_s * share,
            work_s=session.work_s * most,
            hard_s=session.hard_s * most,
            climb_m=session.climb_m * most,
        )

    def _outside(self, line: Done, week: Week) -> Session:
        """A run that was in no plan."""
        easy = self._situation.request.paces.easy_s_per_km
        duration_s = line.duration_s or (line.distance_m or 0.0) / 1000 * easy
        hard = line.effort_rpe is not None and line.effort_rpe >= 6
        return Session(
            id=line.line,
            role="easy",
            date=line.date,
            start_time=None,
            place="",
            kind="easy_run",
            title="Run outside the plan",
            steps=(),
            distance_m=line.distance_m or duration_s / easy * 1000,
            duration_s=duration_s,
            hard=hard,
            work_s=duration_s / 2 if hard else 0.0,
            hard_s=duration_s / 2 if hard else 0.0,
            climb_m=0.0,
            descent_work_s=0.0,
            course_specific=False,
            rehearses_m=(),
            why=f"Week {week.number}.",
            reasons=(),
        )


def _training_m(sessions: Iterable[Session]) -> float:
    return sum(one.distance_m for one in sessions if is_training_run(one))


def is_trial(session: Session, line: Done, limits: Limits) -> bool:
    """Whether a line of the log holds a time trial alone, without the warm-up."""
    metres, doubt = trial_m(session), limits.number("adapt.trial_length")
    if metres is None or line.distance_m is None or line.duration_s is None:
        return False
    return abs(line.distance_m / metres - 1) <= doubt


def planned_m(weeks: Sequence[Week], first: dt.date, last: dt.date) -> float:
    """Metres of training runs from one day to another."""
    return sum(
        session.distance_m
        for week in weeks
        for session in week.sessions
        if first <= session.date <= last and is_training_run(session) and not session.cancelled
    )


def last_day_ill(edit: Ill, situation: Situation) -> dt.date:
    """The last day with symptoms; one that is not over is taken to last two days more."""
    if edit.last_day is not None:
        return edit.last_day
    more = int(situation.request.limits.number("adapt.open_days"))
    return max(edit.first_day, situation.today) + (more - 1) * DAY


def _to_next_run(gap: Gap, missed: Sequence[dt.date], ran: set[dt.date]) -> Gap:
    """A break of several sessions lasts until the day before the next run; one missed run is just that."""
    if sum(gap.first <= date <= gap.last for date in missed) < 2:
        return gap
    following = min((date for date in ran if date > gap.last), default=gap.last + DAY)
    return replace(gap, last=following - DAY)


def _merged(parts: Iterable[Gap], ran: set[dt.date]) -> tuple[Gap, ...]:
    """Parts that touch, or that have no run between them, are one break."""
    order: tuple[Cause, ...] = ("fever", "ill", "sore", "away", "")
    found: list[Gap] = []
    for part in sorted(parts, key=lambda one: (one.first, one.last)):
        last = found[-1] if found else None
        between = last is not None and any(last.last < date < part.first for date in ran)
        if last is None or between:
            found.append(part)
            continue
        cause = min((last.cause, part.cause), key=order.index)
        lines = tuple(dict.fromkeys((*last.lines, *part.lines)))
        found[-1] = Gap(last.first, max(last.last, part.last), cause, lines)
    return tuple(found)
