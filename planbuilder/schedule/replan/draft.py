"""A plan while it is changed: sessions by id, the weeks they stand in, and why each one changed.

Receives: weeks and the first day that may change.
Gives: the weeks again, untouched where nothing changed.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import replace

from planbuilder.plan.types import Phase, Session, Week
from planbuilder.rules.context import is_run
from planbuilder.schedule.replan.types import Change, Why
from planbuilder.schedule.sessions import with_sessions


class PlanDraft:
    """The sessions of a plan; those before ``today`` cannot be changed."""

    def __init__(self, weeks: Sequence[Week], today: dt.date, *, held: frozenset[str]) -> None:
        self._weeks = tuple(weeks)
        self._today = today
        self._sessions = {session.id: session for week in weeks for session in week.sessions}
        self._whys: dict[str, list[Why]] = {}
        self.held = held  # a person's word: left alone by what only the rules ask

    @property
    def weeks(self) -> tuple[Week, ...]:
        """The weeks as they stand now; one whose sessions are the same is the same week."""
        return tuple(self._week(week) for week in self._weeks)

    def in_phases(self, phases: Mapping[dt.date, tuple[Phase, str]]) -> None:
        """Let weeks, by their first day, be of a phase and for a purpose."""
        self._weeks = tuple(
            replace(week, phase=phases[week.first_day][0], purpose=phases[week.first_day][1])
            if week.first_day in phases and (week.phase, week.purpose) != phases[week.first_day]
            else week
            for week in self._weeks
        )

    def session(self, id_: str) -> Session | None:
        """The session as it stands now."""
        return self._sessions.get(id_)

    def ahead(self) -> Iterator[Session]:
        """Runs that may change, by date: neither past nor called off nor the race."""
        for session in sorted(self._sessions.values(), key=_order):
            open_run = is_run(session) and not session.cancelled and session.role != "race"
            if open_run and session.date >= self._today:
                yield session

    def phase(self, date: dt.date) -> Phase:
        """The phase of the week a date stands in."""
        last: Phase = self._weeks[-1].phase if self._weeks else "base"
        return next((week.phase for week in self._weeks if date <= week.last_day), last)

    def changed(self, id_: str) -> bool:
        """Whether a session is not as it was any more."""
        return id_ in self._whys

    def put(self, session: Session, why: Why) -> bool:
        """Let a session stand as given; True where that changes anything.

        The race and the past are out of reach.
        """
        before = self._sessions.get(session.id)
        if before is None or before == session or before.role == "race":
            return False
        if before.date < self._today or session.date < self._today:
            return False
        self._let(session, why)
        return True

    def add(self, session: Session, why: Why) -> None:
        """A session that stood nowhere, under an id of its own."""
        self._let(session, why)

    def _let(self, session: Session, why: Why) -> None:
        self._sessions[session.id] = session
        whys = self._whys.setdefault(session.id, [])
        if why not in whys:
            whys.append(why)

    def trial(self, held: Collection[str]) -> PlanDraft:
        """The same draft to try something with; ``held`` is left alone by the rules besides."""
        found = PlanDraft(self._weeks, self._today, held=self.held | frozenset(held))
        found._sessions = dict(self._sessions)
        found._whys = {id_: list(whys) for id_, whys in self._whys.items()}
        return found

    def take_over(self, trial: PlanDraft) -> None:
        """Let what was tried stand."""
        self._sessions, self._whys = trial._sessions, trial._whys

    def changes(self, accepted: Sequence[Week], fresh: Why | None) -> tuple[Change, ...]:
        """Every session that is not as accepted, by date. ``fresh`` says why of those laid out anew."""
        before = {session.id: session for week in accepted for session in week.sessions}
        after = self._sessions
        found = []
        for id_ in dict.fromkeys((*before, *after)):
            one, two = before.get(id_), after.get(id_)
            if one == two:
                continue
            whys = self._whys.get(id_, [fresh] if fresh is not None else [])
            found.append(Change(one, two, tuple(whys)))
        return tuple(sorted(found, key=_change_order))

    def _week(self, week: Week) -> Week:
        now = tuple(
            sorted(
                (one for one in self._sessions.values() if week.first_day <= one.date <= week.last_day),
                key=_order,
            )
        )
        if now == week.sessions or set(now) == set(week.sessions):
            return week
        return with_sessions(week, now)


def _order(session: Session) -> dt.date:
    """By date; sessions of one day keep the order they had."""
    return session.date


def _change_order(change: Change) -> tuple[dt.date, str]:
    dates: Callable[[Session | None], dt.date] = lambda one: one.date if one else dt.date.max  # noqa: E731
    some = change.after or change.before
    return min(dates(change.before), dates(change.after)), some.id if some else ""
