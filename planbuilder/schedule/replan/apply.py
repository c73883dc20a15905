"""Bounds brought to bear on a draft, with as few changes as they allow.

Receives: bounds, and the ``Cuts`` of a draft.
Gives: the draft within the bounds.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from planbuilder.plan.types import Session, Step
from planbuilder.rules.checks_growth import midweek_cap_s
from planbuilder.rules.context import is_easy
from planbuilder.schedule.replan.bounds import original_of
from planbuilder.schedule.replan.cuts import Cuts
from planbuilder.schedule.replan.types import Bound

QUICK_S: Final = 360.0  # more work than the strides of an easy run


class Applier:
    """Lets bounds hold."""

    def __init__(self, cuts: Cuts) -> None:
        self._cuts, self._situation, self._draft = cuts, cuts.situation, cuts.draft
        self._facts, self._write = cuts.facts, cuts.write

    def bound(self, bound: Bound) -> None:
        """Let one bound hold."""
        if bound.runs_a_week is not None:
            self._away(bound, bound.runs_a_week)
            return
        if bound.easy_runs:
            self._first_runs(bound)
        if bound.hard_most is not None:
            self._few_hard(bound, bound.hard_most)
        if bound.work_share is not None:
            self._less_work(bound, bound.work_share)
        for session in self._inside(bound):
            self._cuts.put(self._bounded(session, bound), bound.why)
        if bound.beside_long:
            self._beside_long(bound)
        if bound.first_run_s is not None:
            self._short_runs(bound, bound.first_run_s)
        if bound.whole_m is not None:
            self._cuts.fit(bound.first, bound.last, bound.whole_m, bound.why)

    def _inside(self, bound: Bound) -> list[Session]:
        return [
            session
            for session in self._draft.ahead()
            if bound.first <= session.date <= bound.last
            and (bound.health or session.id not in self._draft.held)
        ]

    def _bounded(self, session: Session, bound: Bound) -> Session:
        why, phase = bound.why, self._draft.phase(session.date)
        if bound.no_running:
            if bound.cross and session.role not in ("tune_up", "club"):
                return self._write.cross_training(session, phase, why)
            return self._write.called_off(session, why)
        hard = session.hard or (session.role == "tune_up" and session.work_s > 0)
        if (bound.no_hard and hard) or _provokes(session.steps, bound):
            session = self._cuts.easy(session, why)
        if session.role == "long":
            session = self._cuts.to_metres(session, why, bound.long_m)
            if bound.long_share is not None:
                before = original_of(self._situation, session)
                session = self._cuts.no_farther(session, why, bound.long_share * before.distance_m)
            if bound.long_s is not None:
                session = self._cuts.shorter(session, why, bound.long_s)
        if bound.run_s is not None and session.role != "tune_up":
            session = self._cuts.shorter(session, why, bound.run_s)
        return session

    def _back(self, bound: Bound) -> Iterator[tuple[int, Session]]:
        """Runs since a bound began with their number, those of the past counted where they were run."""
        number = 0
        for session in sorted(self._facts.runs, key=lambda one: one.date):
            if session.date < bound.first or session.date >= self._situation.today:
                continue
            number += self._facts.outcome(session) in ("run", "part")
        for session in self._draft.ahead():
            if bound.first <= session.date <= bound.last:
                yield number, session
                number += 1

    def _first_runs(self, bound: Bound) -> None:
        for number, session in list(self._back(bound)):
            hard = session.hard or session.work_s > QUICK_S or session.role == "tune_up"
            free = bound.health or session.id not in self._draft.held
            if number < bound.easy_runs and hard and free:
                self._cuts.put(self._cuts.easy(session, bound.why), bound.why)

    def _short_runs(self, bound: Bound, first_s: float) -> None:
        """Every run easy and short, each a step longer than the one before it; a race is off."""
        for number, session in list(self._back(bound)):
            most_s = first_s + number * bound.run_step_s
            if session.role == "tune_up" and session.duration_s > most_s:
                self._cuts.put(self._write.called_off(session, bound.why), bound.why)
            elif session.work_s > 0 or session.duration_s > most_s:
                self._cuts.put(self._cuts.easy(session, bound.why, most_s=most_s), bound.why)

    def _beside_long(self, bound: Bound) -> None:
        weeks = self._facts.as_run(self._draft.weeks)
        for session in self._inside(bound):
            week = next(one for one in weeks if session.date <= one.last_day)
            longs = [one for one in week.sessions if one.role == "long" and not one.cancelled]
            if longs and session.role in ("easy", "club") and is_easy(session):
                most_s = midweek_cap_s(longs[0].duration_s, self._cuts.context)
                self._cuts.put(self._cuts.shorter(session, bound.why, most_s), bound.why)

    def _few_hard(self, bound: Bound, most: int) -> None:
        hard = [one for one in self._inside(bound) if one.hard and one.role != "tune_up"]
        keep = sorted(hard, key=lambda one: (not one.course_specific, one.date))[:most]
        for session in hard:
            if session not in keep:
                self._cuts.put(self._cuts.easy(session, bound.why), bound.why)

    def _less_work(self, bound: Bound, share: float) -> None:
        hard = [one for one in self._inside(bound) if one.hard and one.role != "tune_up"]
        before = [
            one
            for one in self._facts.runs
            if bound.first <= one.date < self._situation.today
            and one.hard
            and self._facts.outcome(one) in ("run", "part")
        ]
        if hard and not before:
            session = hard[0]
            most_s = share * original_of(self._situation, session).work_s
            phase = self._draft.phase(session.date)
            self._cuts.put(self._write.less_work(session, phase, bound.why, most_s), bound.why)

    def _away(self, bound: Bound, most: int) -> None:
        """So many runs stay, spread over the days away: short ones, one with some effort, one longer."""
        inside = [one for one in self._inside(bound) if one.role != "tune_up"]
        past = [
            one
            for one in self._facts.runs
            if bound.first <= one.date <= bound.last
            and one.date < self._situation.today
            and one.role != "tune_up"
            and self._facts.outcome(one) in ("run", "part")
        ]
        quick = None if any(one.hard for one in past) else next(filter(_quick, inside), None)
        longer = next((one for one in inside if one.role == "long"), None) if bound.long_s else None
        kept = _spread(inside, max(0, most - len(past)), [one for one in (quick, longer) if one])
        for session in inside:
            if session not in kept:
                self._cuts.put(self._write.called_off(session, bound.why), bound.why)
                continue
            phase, most_s = self._draft.phase(session.date), bound.run_s
            if session is longer:
                now = self._cuts.easy(session, bound.why, most_s=bound.long_s)
            else:
                now = self._write.while_away(session, phase, bound.why, most_s, quick=session is quick)
            self._cuts.put(now, bound.why)


def _quick(session: Session) -> bool:
    """Whether a session that is no long run holds some effort."""
    return session.role != "long" and session.work_s > QUICK_S


def _provokes(steps: Sequence[Step], bound: Bound) -> bool:
    """Whether any step is of a kind that a sore place has to do without."""
    for step in steps:
        grade = step.ground.grade or 0.0
        rolling = step.ground.kind == "rolling" and (bound.no_up or bound.no_down)
        up = step.ground.kind in ("up", "bridge", "ramp", "steps", "drag") or grade > 0.01
        down = step.ground.kind == "down" or grade < -0.01
        if rolling or (bound.no_up and up) or (bound.no_down and down):
            return True
        if bound.no_fast and step.kind == "strides":
            return True
    return False


def _spread(sessions: Sequence[Session], most: int, first: Sequence[Session]) -> list[Session]:
    """So many of them, as far apart as they come, ``first`` before the others."""
    if most >= len(sessions):
        return list(sessions)
    if most <= 0:
        return []
    kept = list(first[:most]) or list(sessions[:1])
    while len(kept) < most:
        left = [one for one in sessions if one not in kept]
        kept.append(max(left, key=lambda one: min(abs((one.date - two.date).days) for two in kept)))
    return kept
