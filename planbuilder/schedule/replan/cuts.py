"""Taking away from a draft, as little as will do: minutes, a repeat, the hardness, at last the whole run.

Receives: a ``PlanDraft``, facts, the rules' context.
Gives: the draft with less in it. Nothing here makes a session longer or harder.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from typing import Final

from planbuilder.plan.types import Session, Week
from planbuilder.rules.context import RuleContext, is_training_run
from planbuilder.schedule.replan.bounds import original_of
from planbuilder.schedule.replan.draft import PlanDraft
from planbuilder.schedule.replan.facts import Facts
from planbuilder.schedule.replan.types import Situation, Why
from planbuilder.schedule.replan.write import LEAST_S, STEP_S, Rewriter

ROUNDS: Final = 60  # more than a week could ever need
MANY_RUNS: Final = 5  # from so many runs on a whole one may go at once
FEW_RUNS: Final = 3  # so many stay before hard running goes


class Cuts:
    """What one re-planning takes away."""

    def __init__(
        self, situation: Situation, draft: PlanDraft, facts: Facts, context: RuleContext, write: Rewriter
    ) -> None:
        self.situation, self.draft, self.facts, self.context = situation, draft, facts, context
        self.write = write
        self._shortest_s = situation.request.limits.number("load.shortest_run") * 60
        self.least_s = situation.request.limits.numbers("adapt.least")[0] * 60

    def on(self, draft: PlanDraft) -> Cuts:
        """The same for another draft."""
        facts = Facts(self.situation, draft.weeks)
        return Cuts(self.situation, draft, facts, self.context, self.write)

    # A session -------------------------------------------------------------------------------------------

    def put(self, session: Session, why: Why) -> bool:
        return self.draft.put(session, why)

    def easy(self, session: Session, why: Why, *, most_s: float | None = None) -> Session:
        return self.write.easy(session, self.draft.phase(session.date), why, most_s=most_s)

    def shorter(self, session: Session, why: Why, most_s: float) -> Session:
        return self.write.shorter(session, self.draft.phase(session.date), why, most_s)

    def to_metres(self, session: Session, why: Why, most_m: float | None) -> Session:
        """The session cut in steps of five minutes until it is no farther than that."""
        if most_m is None:
            return session
        now = session
        while now.distance_m > most_m and now.duration_s > LEAST_S:
            cut = self.shorter(session, why, (now.duration_s - 1) // STEP_S * STEP_S)
            if cut.duration_s >= now.duration_s:
                break
            now = cut
        return now

    def no_farther(self, session: Session, why: Why, most_m: float) -> Session:
        """The session cut to so many metres, but not below the run that a break always leaves."""
        easy = self.context.paces.easy_s_per_km
        return self.to_metres(session, why, max(most_m, self.least_s / easy * 1000))

    def fit(self, first: dt.date, last: dt.date, most_m: float, why: Why) -> bool:
        """Training runs of some days brought down to so many metres; what was run there is counted."""
        any_change = self._long_in_share(first, last, most_m, why)
        for _ in range(ROUNDS):
            open_runs = [one for one in self.draft.ahead() if first <= one.date <= last]
            open_runs = [one for one in open_runs if is_training_run(one)]
            total = sum(one.distance_m for one in open_runs) + self._run_m(first, last)
            if total <= most_m + 1:
                return any_change
            if not self._cut_one(open_runs, total - most_m, why, past=self._runs_before(first, last)):
                return any_change
            any_change = True
        return any_change

    def _long_in_share(self, first: dt.date, last: dt.date, most_m: float, why: Why) -> bool:
        """The long run cut to its share of a week that comes down to so many metres."""
        if (last - first).days < 6:
            return False
        most_m *= self.context.limits.number("load.long_share")
        longs = [one for one in self.draft.ahead() if one.role == "long" and first <= one.date <= last]
        long = next((one for one in longs if one.id not in self.draft.held), None)
        return long is not None and self.put(self.no_farther(long, why, most_m), why)

    def no_more(self, week: Week, why: Why) -> None:
        """The days of a week hold no more than they did in that one."""
        self.fit(week.first_day, week.last_day, week.distance_m, why)

    def _run_m(self, first: dt.date, last: dt.date) -> float:
        """Metres that were really run in some days."""
        today = self.situation.today
        easy = self.context.paces.easy_s_per_km
        inside = [one for one in self.facts.runs if first <= one.date <= last and one.date < today]
        outside = [line for line in self.facts.extra if first <= line.date <= last]
        return sum(self.facts.run_m(one) for one in inside if is_training_run(one)) + sum(
            line.distance_m or (line.duration_s or 0.0) / easy * 1000 for line in outside
        )

    def _runs_before(self, first: dt.date, last: dt.date) -> int:
        """How many runs of some days have been run already."""
        inside = [one for one in self.facts.runs if first <= one.date <= last]
        return sum(self.facts.outcome(one) in ("run", "part") for one in inside)

    def _cut_one(self, runs: Sequence[Session], spare_m: float, why: Why, *, past: int) -> bool:
        """Take some minutes, or a run, where that hurts least; False where nothing is left to take.

        Where as much as a whole easy run is to go, it goes whole: one change, and a day of rest. The long run
        of the way back after a break, which is short already, is cut behind everything else.
        """
        free = [one for one in runs if one.id not in self.draft.held]
        first = [one for one in free if one.role != "long" or not self._on_the_way_back(one.date)]
        if len(runs) + past >= MANY_RUNS and self._call_off(free, spare_m, why):
            return True
        return (
            self._shorten_one(first, spare_m, why)
            or (len(runs) > FEW_RUNS and self._call_off(free, float("inf"), why))
            or self._soften_one(free, why)
            or self._shorten_one(free, spare_m, why)
            or self._call_off(free, float("inf"), why)
            or any(
                self.put(self.shorter(session, why, session.duration_s - STEP_S), why)
                for session in free
                if session.duration_s - STEP_S >= LEAST_S
            )
        )

    def _on_the_way_back(self, date: dt.date) -> bool:
        return any(first <= date <= last for first, last in self.facts.back)

    def _shorten_one(self, free: Sequence[Session], spare_m: float, why: Why) -> bool:
        for session in sorted(free, key=self._readiness):
            floor_s = self._shortest_s * (2 if session.role == "long" else 1)
            if session.hard or session.duration_s - STEP_S < floor_s:
                continue
            wanted_s = spare_m / 1000 * self.context.paces.easy_s_per_km // STEP_S * STEP_S
            quarter_s = session.duration_s * 0.25 // STEP_S * STEP_S
            most_s = max(floor_s, session.duration_s - max(STEP_S, min(wanted_s, quarter_s)))
            if self.put(self.shorter(session, why, most_s), why):
                return True
        return False

    def _call_off(self, free: Sequence[Session], most_m: float, why: Why) -> bool:
        """The shortest easy run that is no longer than that is off; the day before the race is kept."""
        easy = [
            one for one in free if one.role == "easy" and one.kind != "shakeout" and one.distance_m <= most_m
        ]
        return any(
            self.put(self.write.called_off(session, why), why)
            for session in sorted(easy, key=lambda one: (one.work_s > 0, one.distance_m))
        )

    def _soften_one(self, free: Sequence[Session], why: Why) -> bool:
        return any(
            self.put(self.easy(session, why), why)
            for session in sorted(free, key=lambda one: (one.course_specific, -one.work_s))
            if session.hard
        )

    def _readiness(self, session: Session) -> tuple[bool, bool, float]:
        """What changes already is cut first, each by the same share; then the longest easy run, the long run
        last."""
        if self.draft.changed(session.id):
            before = original_of(self.situation, session)
            return False, False, -session.duration_s / max(before.duration_s, 1.0)
        return True, session.role == "long", -session.duration_s

    def shorten_after(self, extra_m: float, after: dt.date, why: Why) -> None:
        """The next easy run after a day, shorter by what was run beyond the plan."""
        for session in self.draft.ahead():
            if session.date > after and session.role == "easy" and session.id not in self.draft.held:
                before = original_of(self.situation, session)
                floor_m = self._shortest_s / self.context.paces.easy_s_per_km * 1000
                self.put(self.to_metres(session, why, max(floor_m, before.distance_m - extra_m)), why)
                return

    def rest(self, last: dt.date) -> bool:
        """A day of rest within the seven days to one on which there would be none: an easy run goes."""
        why = Why("A day of rest after days of running in a row.", "day.rest")
        free = [one for one in self.draft.ahead() if one.id not in self.draft.held]
        inside = [one for one in free if 0 <= (last - one.date).days < 7 and one.role != "tune_up"]
        inside.sort(key=lambda one: (one.role != "easy", one.role == "long", -one.date.toordinal()))
        return any(self.put(self.write.called_off(one, why), why) for one in inside[:1])

    def take(self, week: Week, size: Callable[[Session], float], spare: float, why: Why) -> bool:
        """Take work or climbing from the session that has most of it and is not the course's own."""
        free = [
            one
            for one in self.draft.ahead()
            if week.first_day <= one.date <= week.last_day
            and one.id not in self.draft.held
            and one.role != "tune_up"
            and size(one) > 0
        ]
        for session in sorted(free, key=lambda one: (one.course_specific, -size(one))):
            share = max(0.0, 1 - spare / size(session))
            phase = self.draft.phase(session.date)
            now = self.write.less_work(session, phase, why, session.work_s * share)
            if size(now) >= size(session):
                now = self.easy(session, why)
            if self.put(now, why):
                return True
        return False
