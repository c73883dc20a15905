"""Bounds and rules brought to bear on a draft, with as few changes as they allow.

Receives: a ``PlanDraft``, bounds, facts, the rules' context.
Gives: the draft within the bounds; the findings of the rules that only a person can mend.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Sequence
from typing import Final

from planbuilder.plan.types import Session, Step, Week
from planbuilder.rules import check, week_findings
from planbuilder.rules.checks_load import (
    climb_cap,
    climb_of,
    easy_share_least,
    level_before,
    loaded_before,
    longest_before,
    peak_cap,
    rise_cap,
    single_run_cap_m,
    two_week_cap,
    work_cap,
)
from planbuilder.rules.checks_taper import taper_range
from planbuilder.rules.context import Breach, RuleContext, is_training_run
from planbuilder.schedule.replan_bounds import Bound, original_of
from planbuilder.schedule.replan_draft import PlanDraft
from planbuilder.schedule.replan_facts import Facts
from planbuilder.schedule.replan_types import Situation, Why
from planbuilder.schedule.replan_write import LEAST_S, STEP_S, Rewriter

ROUNDS: Final = 60  # more than a week could ever need
MANY_RUNS: Final = 5  # from so many runs on a whole one may go at once
FEW_RUNS: Final = 3  # so many stay before hard running goes
TOO_LITTLE: Final = ("load.recovery_share", "taper.shares", "load.first_week", "taper.frequency")
LOAD_RULES: Final = ("load.weekly_rise", "load.two_week_ceiling", "load.peak", "load.recovery_share")
OF_A_DAY: Final = ("day.one_run_a_day", "day.club_nights", "day.rest", "day.away", "tune_up.effort")
WORK_RULES: Final = ("load.work_rise", "load.easy_share", "load.easy_share_block")
RULE_WHY: Final = "The load that was really run sets what comes next"


class Applier:
    """One re-planning."""

    def __init__(
        self, situation: Situation, draft: PlanDraft, facts: Facts, context: RuleContext, write: Rewriter
    ) -> None:
        self._situation, self._draft, self._facts = situation, draft, facts
        self._context, self._write = context, write
        self._shortest_s = situation.request.limits.number("load.shortest_run") * 60
        minutes, share = situation.request.limits.numbers("adapt.least")
        self._least_s, self._least_week_m = minutes * 60, share * context.baseline.weekly_m

    # Bounds ----------------------------------------------------------------------------------------------

    def bound(self, bound: Bound) -> None:
        """Let one bound hold."""
        if bound.runs_a_week is not None:
            self._away(bound, bound.runs_a_week)
        if bound.easy_runs:
            self._first_runs(bound)
        if bound.hard_most is not None:
            self._few_hard(bound, bound.hard_most)
        if bound.work_share is not None:
            self._less_work(bound, bound.work_share)
        for session in self._inside(bound):
            self._put(self._bounded(session, bound), bound.why)
        if bound.first_run_s is not None:
            self._first_run(bound, bound.first_run_s)
        if bound.whole_m is not None:
            self._fit(bound.first, bound.last, bound.whole_m, bound.why)

    def _inside(self, bound: Bound) -> list[Session]:
        return [
            session
            for session in self._draft.ahead()
            if bound.first <= session.date <= bound.last
            and (bound.health or session.id not in self._draft.held)
        ]

    def _put(self, session: Session, why: Why) -> bool:
        return self._draft.put(session, why)

    def _easy(self, session: Session, why: Why, *, most_s: float | None = None) -> Session:
        return self._write.easy(session, self._draft.phase(session.date), why, most_s=most_s)

    def _shorter(self, session: Session, why: Why, most_s: float) -> Session:
        return self._write.shorter(session, self._draft.phase(session.date), why, most_s)

    def _bounded(self, session: Session, bound: Bound) -> Session:
        why, phase = bound.why, self._draft.phase(session.date)
        if bound.no_running:
            if bound.cross and session.role not in ("tune_up", "club"):
                return self._write.cross_training(session, phase, why)
            return self._write.called_off(session, why)
        hard = session.hard or (session.role == "tune_up" and session.work_s > 0)
        if (bound.no_hard and hard) or _provokes(session.steps, bound):
            session = self._easy(session, why)
        if session.role == "long":
            session = self._to_metres(session, why, bound.long_m)
            if bound.long_s is not None:
                session = self._shorter(session, why, bound.long_s)
        if bound.run_s is not None and session.role != "tune_up":
            session = self._shorter(session, why, bound.run_s)
        return session

    def _to_metres(self, session: Session, why: Why, most_m: float | None) -> Session:
        """The session cut in steps of five minutes until it is no farther than that."""
        if most_m is None:
            return session
        now = session
        while now.distance_m > most_m and now.duration_s > LEAST_S:
            cut = self._shorter(session, why, (now.duration_s - 1) // STEP_S * STEP_S)
            if cut.distance_m >= now.distance_m:
                break
            now = cut
        return now

    def _no_farther(self, session: Session, why: Why, most_m: float) -> Session:
        """The session cut to so many metres, but not below the run that a break always leaves."""
        easy = self._context.paces.easy_s_per_km
        return self._to_metres(session, why, max(most_m, self._least_s / easy * 1000))

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
            hard = session.hard or session.work_s > 360 or session.role == "tune_up"
            free = bound.health or session.id not in self._draft.held
            if number < bound.easy_runs and hard and free:
                self._put(self._easy(session, bound.why), bound.why)

    def _first_run(self, bound: Bound, most_s: float) -> None:
        for number, session in list(self._back(bound)):
            if number == 0:
                self._put(self._easy(session, bound.why, most_s=most_s), bound.why)

    def _few_hard(self, bound: Bound, most: int) -> None:
        hard = [one for one in self._inside(bound) if one.hard and one.role != "tune_up"]
        keep = sorted(hard, key=lambda one: (not one.course_specific, one.date))[:most]
        for session in hard:
            if session not in keep:
                self._put(self._easy(session, bound.why), bound.why)

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
            self._put(self._write.less_work(session, phase, bound.why, most_s), bound.why)

    def _away(self, bound: Bound, most: int) -> None:
        """So many runs a week stay, one of them with some effort, spread over the days away."""
        for week in self._draft.weeks:
            inside = [one for one in self._inside(bound) if week.first_day <= one.date <= week.last_day]
            inside = [one for one in inside if one.role != "tune_up"]
            past = sum(
                self._facts.outcome(one) in ("run", "part")
                for one in self._facts.runs
                if week.first_day <= one.date <= week.last_day
                and bound.first <= one.date <= bound.last
                and one.date < self._situation.today
            )
            kept = _spread(inside, max(0, most - past))
            for session in inside:
                if session not in kept:
                    self._put(self._write.called_off(session, bound.why), bound.why)

    # Volume ----------------------------------------------------------------------------------------------

    def _fit(self, first: dt.date, last: dt.date, most_m: float, why: Why) -> bool:
        """Training runs of some days brought down to so many metres; what was run there is counted."""
        any_change = False
        for _ in range(ROUNDS):
            open_runs = [one for one in self._draft.ahead() if first <= one.date <= last]
            open_runs = [one for one in open_runs if is_training_run(one)]
            total = sum(one.distance_m for one in open_runs) + self._run_m(first, last)
            if total <= most_m + 1:
                return any_change
            if not self._cut_one(open_runs, total - most_m, why, past=self._runs_before(first, last)):
                return any_change
            any_change = True
        return any_change

    def no_more(self, week: Week, why: Why) -> None:
        """The days of a week hold no more than they did in that one."""
        self._fit(week.first_day, week.last_day, week.distance_m, why)

    def _run_m(self, first: dt.date, last: dt.date) -> float:
        """Metres that were really run in some days."""
        today = self._situation.today
        easy = self._context.paces.easy_s_per_km
        inside = [one for one in self._facts.runs if first <= one.date <= last and one.date < today]
        outside = [line for line in self._facts.extra if first <= line.date <= last]
        return sum(self._facts.run_m(one) for one in inside if is_training_run(one)) + sum(
            line.distance_m or (line.duration_s or 0.0) / easy * 1000 for line in outside
        )

    def _runs_before(self, first: dt.date, last: dt.date) -> int:
        """How many runs of some days have been run already."""
        inside = [one for one in self._facts.runs if first <= one.date <= last]
        return sum(self._facts.outcome(one) in ("run", "part") for one in inside)

    def _cut_one(self, runs: Sequence[Session], spare_m: float, why: Why, *, past: int) -> bool:
        """Take some minutes, or a run, where that hurts least; False where nothing is left to take.

        Where as much as a whole easy run is to go, it goes whole: one change, and a day of rest.
        """
        free = [one for one in runs if one.id not in self._draft.held]
        if len(runs) + past >= MANY_RUNS and self._call_off(free, spare_m, why):
            return True
        return (
            self._shorten_one(free, spare_m, why)
            or (len(runs) > FEW_RUNS and self._call_off(free, float("inf"), why))
            or self._soften_one(free, why)
            or self._call_off(free, float("inf"), why)
            or any(
                self._put(self._shorter(session, why, session.duration_s - STEP_S), why)
                for session in free
                if session.duration_s - STEP_S >= LEAST_S
            )
        )

    def _shorten_one(self, free: Sequence[Session], spare_m: float, why: Why) -> bool:
        for session in sorted(free, key=self._readiness):
            floor_s = self._shortest_s * (2 if session.role == "long" else 1)
            if session.hard or session.duration_s - STEP_S < floor_s:
                continue
            wanted_s = spare_m / 1000 * self._context.paces.easy_s_per_km // STEP_S * STEP_S
            quarter_s = session.duration_s * 0.25 // STEP_S * STEP_S
            most_s = max(floor_s, session.duration_s - max(STEP_S, min(wanted_s, quarter_s)))
            if self._put(self._shorter(session, why, most_s), why):
                return True
        return False

    def _call_off(self, free: Sequence[Session], most_m: float, why: Why) -> bool:
        """The shortest easy run that is no longer than that is off; the day before the race is kept."""
        easy = [
            one for one in free if one.role == "easy" and one.kind != "shakeout" and one.distance_m <= most_m
        ]
        return any(
            self._put(self._write.called_off(session, why), why)
            for session in sorted(easy, key=lambda one: (one.work_s > 0, one.distance_m))
        )

    def _soften_one(self, free: Sequence[Session], why: Why) -> bool:
        return any(
            self._put(self._easy(session, why), why)
            for session in sorted(free, key=lambda one: (one.course_specific, -one.work_s))
            if session.hard
        )

    def _readiness(self, session: Session) -> tuple[bool, bool, float]:
        """What changes already is cut first, each by the same share; then the longest easy run, the long run
        last."""
        if self._draft.changed(session.id):
            before = original_of(self._situation, session)
            return False, False, -session.duration_s / max(before.duration_s, 1.0)
        return True, session.role == "long", -session.duration_s

    # Rules -----------------------------------------------------------------------------------------------

    def shorten_after(self, extra_m: float, after: dt.date, why: Why) -> None:
        """The next easy run after a day, shorter by what was run beyond the plan."""
        for session in self._draft.ahead():
            if session.date > after and session.role == "easy" and session.id not in self._draft.held:
                before = original_of(self._situation, session)
                floor_m = self._shortest_s / self._context.paces.easy_s_per_km * 1000
                self._put(self._to_metres(session, why, max(floor_m, before.distance_m - extra_m)), why)
                return

    def keep_rules(self) -> None:
        """Week after week, what the rules find is mended by taking away."""
        for index, week in enumerate(self._draft.weeks):
            if week.last_day < self._situation.today:
                continue
            passed: set[tuple[str, str | None, dt.date | None]] = set()
            for _ in range(ROUNDS):
                found = next(
                    (one for one in self._findings(index) if (one.rule, one.session, one.date) not in passed),
                    None,
                )
                if found is None:
                    break
                if not self._mend(found, index):
                    passed.add((found.rule, found.session, found.date))

    def _findings(self, index: int) -> list[Breach]:
        weeks = self._facts.as_run(self._draft.weeks)
        found = week_findings(weeks, index, self._context)
        return [one for one in found if not one.excepted and not self._allowed(one, weeks)]

    def breaches(self) -> tuple[Breach, ...]:
        """What the rules still find from today on."""
        weeks = self._facts.as_run(self._draft.weeks)
        today = self._situation.today
        return tuple(
            found
            for found in check(weeks, self._context)
            if not self._allowed(found, weeks)
            and (found.date is None or found.date >= today or self._reaches(found, weeks))
        )

    def _reaches(self, found: Breach, weeks: Sequence[Week]) -> bool:
        """Whether what is found of a whole week still reaches days that can change."""
        return (
            found.session is None
            and found.rule not in OF_A_DAY
            and any(week.first_day == found.date and week.last_day >= self._situation.today for week in weeks)
        )

    def _allowed(self, found: Breach, weeks: Sequence[Week]) -> bool:
        """Too little is no breach, nor a small start after a break, nor what the past alone holds."""
        week = next((one for one in weeks if found.date is not None and found.date <= one.last_day), None)
        if found.session is not None:
            session = self._draft.session(found.session)
            if session is None or session.date < self._situation.today:
                return True
            short = session.duration_s <= self._least_s + 1
            return short and found.rule in ("load.single_run_cap", "load.long_share")
        if week is None:
            return False
        if found.rule in OF_A_DAY and found.date is not None:
            return found.date < self._situation.today
        if found.rule in WORK_RULES:
            return not any(
                one.work_s > 0 for one in self._draft.ahead() if week.first_day <= one.date <= week.last_day
            )
        if found.rule not in LOAD_RULES and found.rule not in TOO_LITTLE:
            return False
        return week.distance_m <= self._most_m(found.rule, weeks, weeks.index(week)) + 1

    def _most_m(self, rule: str, weeks: Sequence[Week], index: int) -> float:
        """The most metres that a rule leaves to a week; after a break never less than a small start."""
        return max(self._cap_m(rule, weeks, index), self._least_week_m)

    def _cap_m(self, rule: str, weeks: Sequence[Week], index: int) -> float:
        context = self._context
        if rule == "taper.shares":
            return taper_range(weeks, index, context)[1]
        if rule == "load.recovery_share":
            before = loaded_before(weeks, index, context)
            level = before[-1].distance_m if before else context.baseline.weekly_m
            return context.limits.numbers("load.recovery_share")[1] * level
        if rule == "load.first_week":
            return context.limits.numbers("load.first_week")[1] * context.baseline.weekly_m
        if rule == "taper.frequency":
            return float("inf")
        caps = {
            "load.weekly_rise": lambda: rise_cap(level_before(weeks, index, context), context),
            "load.two_week_ceiling": lambda: two_week_cap(weeks, index, context),
            "load.peak": lambda: max(peak_cap(weeks, index, context), context.baseline.weekly_m),
        }
        return caps[rule]()

    def _mend(self, found: Breach, index: int) -> bool:
        """Take away what a rule finds too much; True where that changed anything."""
        weeks = self._facts.as_run(self._draft.weeks)
        week, why = weeks[index], Why(f"{RULE_WHY}.", found.rule)
        if found.rule in LOAD_RULES or found.rule in ("taper.shares", "load.first_week"):
            most = self._most_m(found.rule, weeks, index)
            return self._fit(week.first_day, week.last_day, most, why)
        if found.rule in WORK_RULES:
            return self._less_of_week(week, self._work_most(found.rule, weeks, index), why)
        if found.rule == "load.climb_rise":
            return self._flatter(week, climb_cap(weeks, index, self._context), why)
        if found.rule == "day.rest" and found.date is not None:
            return self._rest(found.date)
        session = self._draft.session(found.session) if found.session else None
        if session is None and found.rule == "load.long_share":
            return False
        if session is None or session.id in self._draft.held:
            return False
        if found.rule == "load.single_run_cap":
            longest = longest_before(weeks, index, self._context, session.date)
            return self._put(self._to_metres(session, why, single_run_cap_m(longest, self._context)), why)
        if found.rule == "load.long_share":
            most = self._context.limits.number("load.long_share") * week.distance_m
            return self._put(self._no_farther(session, why, most * 0.99), why)
        return self._put(self._easy(session, why), why)

    def _rest(self, last: dt.date) -> bool:
        """A day of rest within the seven days to one on which there would be none: an easy run goes."""
        why = Why("A day of rest after days of running in a row.", "day.rest")
        free = [one for one in self._draft.ahead() if one.id not in self._draft.held]
        inside = [one for one in free if 0 <= (last - one.date).days < 7 and one.role != "tune_up"]
        inside.sort(key=lambda one: (one.role != "easy", one.role == "long", -one.date.toordinal()))
        return any(self._put(self._write.called_off(one, why), why) for one in inside[:1])

    def _work_most(self, rule: str, weeks: Sequence[Week], index: int) -> float:
        week = weeks[index]
        if rule == "load.work_rise":
            return work_cap(weeks, index, self._context)
        return week.duration_s * (1 - easy_share_least(week, self._context)) * 0.98

    def _less_of_week(self, week: Week, most_s: float, why: Why) -> bool:
        spare = week.work_s - most_s
        return self._take(week, lambda one: one.work_s, spare, why)

    def _flatter(self, week: Week, most_m: float, why: Why) -> bool:
        climbed = climb_of(week, self._context)
        return self._take(week, lambda one: one.climb_m, climbed - most_m, why)

    def _take(self, week: Week, size: Callable[[Session], float], spare: float, why: Why) -> bool:
        """Take work or climbing from the session that has most of it and is not the course's own."""
        free = [
            one
            for one in self._draft.ahead()
            if week.first_day <= one.date <= week.last_day
            and one.id not in self._draft.held
            and one.role != "tune_up"
            and size(one) > 0
        ]
        for session in sorted(free, key=lambda one: (one.course_specific, -size(one))):
            share = max(0.0, 1 - spare / size(session))
            phase = self._draft.phase(session.date)
            now = self._write.less_work(session, phase, why, session.work_s * share)
            if size(now) >= size(session):
                now = self._easy(session, why)
            if self._put(now, why):
                return True
        return False


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


def _spread(sessions: Sequence[Session], most: int) -> list[Session]:
    """So many of them, as far apart as they come, one with effort among them where there is one."""
    if most >= len(sessions):
        return list(sessions)
    if most <= 0:
        return []
    keys = [one for one in sessions if one.work_s > 360]
    kept = keys[:1] or list(sessions[:1])
    while len(kept) < most:
        left = [one for one in sessions if one not in kept]
        kept.append(max(left, key=lambda one: min(abs((one.date - two.date).days) for two in kept)))
    return kept
