"""The same session with less in it: easier, shorter, with less work, or called off.

Receives: a ``Planner``, a session and the phase of its week.
Gives: the session under the same id and day. Nothing here makes a session longer or harder.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from planbuilder.plan.types import Phase, Reason, Role, Session, Step
from planbuilder.plan.walk import measure
from planbuilder.rules.context import top_rpe
from planbuilder.rules.orders import Draft
from planbuilder.rules.parts import lasting, pace_of
from planbuilder.rules.write_session import fuelling, why_not, write_session
from planbuilder.schedule.drafts import LEAST_WORK_S
from planbuilder.schedule.group_night import run_alone
from planbuilder.schedule.orders import base_order, write_easy, write_want
from planbuilder.schedule.replan.types import Why
from planbuilder.schedule.state import Planner
from planbuilder.schedule.tests_of_form import NO_RESULT, SECOND_TEST
from planbuilder.schedule.travel import ANYWHERE
from planbuilder.schedule.types import Want
from planbuilder.schedule.words import why_for

OF_THE_DAY: Final = ("wish.long_run_day", "day.club_nights", "day.hard_gap", "tune_up.days_around")
STEP_S: Final = 300.0
LEAST_S: Final = 900.0
CROSS_S: Final = 1800.0
BY_MINUTES: Final = (
    *("easy_run", "recovery_run", "group_easy", "strides", "hill_sprints", "shakeout"),
    *("long_run",),
)


class Rewriter:
    """Rewrites sessions of one runner."""

    def __init__(self, planner: Planner) -> None:
        self._planner = planner

    @property
    def planner(self) -> Planner:
        """Of the runner whose sessions are rewritten."""
        return self._planner

    def easy(self, session: Session, phase: Phase, why: Why, *, most_s: float | None = None) -> Session:
        """An easy run in its place, no longer than it was; a tune-up race is run easily, a long run stays
        long."""
        if session.role == "tune_up":
            return self._easy_race(session, why)
        if session.role == "long" and session.kind != "long_run":
            return self._by_minutes(session, "long_run", phase, why, most_s)
        if session.role == "long":
            return self.shorter(session, phase, why, most_s) if most_s is not None else session
        kind = "group_easy" if session.role == "club" else "easy_run"
        return self._by_minutes(session, kind, phase, why, most_s)

    def shorter(self, session: Session, phase: Phase, why: Why, most_s: float | None) -> Session:
        """The same session in less time; easy running goes before work does."""
        if most_s is None or session.duration_s <= most_s:
            return session
        if session.kind in BY_MINUTES:
            return self._by_minutes(session, session.kind, phase, why, most_s)
        cut = self._less_easy(session, session.duration_s - most_s, why)
        if cut is not None:
            return cut
        return self.easy(session, phase, why, most_s=most_s)

    def less_work(self, session: Session, phase: Phase, why: Why, most_s: float) -> Session:
        """The same session with fewer repeats, or a shorter one where it is run in one piece."""
        if session.work_s <= most_s + 1:
            return session
        steps = list(session.steps)
        while self._work_of(steps) > most_s + 1:
            changed = _fewer(steps)
            if changed is None:
                return self.easy(session, phase, why)
            steps = changed
        if self._work_of(steps) < LEAST_WORK_S:
            return self.easy(session, phase, why)
        return self._with_steps(session, steps, why)

    def while_away(
        self, session: Session, phase: Phase, why: Why, most_s: float | None, *, quick: bool
    ) -> Session:
        """A short run on one's own; ``quick`` keeps some of the effort, in a kind that needs no ground."""
        if quick and (found := self._quick_anywhere(session, phase, why, most_s)) is not None:
            return _on_ones_own(found, "key")
        as_it_is = session.kind in BY_MINUTES and session.kind not in ("group_easy", "long_run")
        kind = session.kind if as_it_is else "easy_run"
        session = self._by_minutes(session, kind, phase, why, most_s)
        return _on_ones_own(session, "easy")

    def _quick_anywhere(
        self, session: Session, phase: Phase, why: Why, most_s: float | None
    ) -> Session | None:
        """The session in a kind that needs no ground, with no more work; None where there is none."""
        if session.kind in ANYWHERE and (most_s is None or session.duration_s <= most_s):
            return session
        before = [one for week in self._planner.weeks for one in week.sessions if one.date < session.date]
        known = {one.kind: one.date for one in before if one.kind in ANYWHERE and not one.cancelled}
        for kind in sorted(known, key=lambda kind: (kind != session.kind, known[kind], kind)):
            want = Want(kind, "key", why_for(self._planner, kind, phase))
            draft = write_want(self._planner, want, phase, duration_s=most_s, work_limit_s=session.work_s)
            fits = most_s is None or draft.duration_s <= most_s + 1
            less = draft.work_s <= session.work_s + 1 and draft.distance_m <= session.distance_m + 1
            if fits and less and draft.work_s >= LEAST_WORK_S and draft.kind == kind:
                return self._from(draft, session, phase, why)
        return None

    def called_off(self, session: Session, why: Why) -> Session:
        """It stays where it was, called off."""
        return replace(session, cancelled=True, reasons=_with_reason(session.reasons, why))

    def cross_training(self, session: Session, phase: Phase, why: Why) -> Session:
        """Exercise without running."""
        order = replace(
            base_order(self._planner, phase),
            kind="cross_training",
            duration_s=min(CROSS_S, max(session.duration_s, LEAST_S)),
        )
        draft = write_session(order, self._planner.request.library, self._planner.request.limits)
        return self._from(draft, session, phase, why, role="cross")

    def of_kind(self, session: Session, kind: str, phase: Phase, why: Why, *, minutes: int | None) -> Session:
        """Another kind of session on the same day, as a person asked for."""
        want = Want(kind, session.role, why_for(self._planner, kind, phase))
        duration_s = minutes * 60.0 if minutes else session.duration_s
        draft = write_want(self._planner, want, phase, duration_s=duration_s)
        role: Role = "easy" if session.role == "cross" else session.role
        return self._from(draft, session, phase, why, role=role)

    def at_pace(self, session: Session, ratio: float, why: Why) -> Session:
        """The same session with its pace bands moved; its size stays."""
        steps = tuple(
            step
            if step.pace_s_per_km is None
            else replace(step, pace_s_per_km=(step.pace_s_per_km[0] * ratio, step.pace_s_per_km[1] * ratio))
            for step in session.steps
        )
        if steps == session.steps:
            return session
        return replace(session, steps=steps, reasons=_with_reason(session.reasons, why))

    def in_bands(self, session: Session, phase: Phase, why: Why) -> Session:
        """The same session with the pace bands that hold now, or without; its size stays."""
        order, limits = base_order(self._planner, phase), self._planner.request.limits
        steps = tuple(
            replace(step, pace_s_per_km=pace_of(order, step.band, step.ground, limits)) if step.band else step
            for step in session.steps
        )
        if steps != session.steps:
            session = replace(session, steps=steps, reasons=_with_reason(session.reasons, why))
        return session if self._planner.request.form.by_effort else _second_test(session)

    def noted(self, session: Session, why: Why) -> Session:
        """The same session with a reason more."""
        return replace(session, reasons=_with_reason(session.reasons, why))

    def _by_minutes(
        self, session: Session, kind: str, phase: Phase, why: Why, most_s: float | None
    ) -> Session:
        if session.kind == kind and (most_s is None or session.duration_s <= most_s):
            return session
        seconds = min(session.duration_s, most_s if most_s is not None else session.duration_s)
        seconds = max(seconds // STEP_S * STEP_S, LEAST_S)
        draft = self._draft(kind, seconds, phase)
        while draft.distance_m > session.distance_m + 1 and seconds > LEAST_S:
            seconds -= STEP_S
            draft = self._draft(kind, seconds, phase)
        if draft.work_s > session.work_s + 1:
            return self._by_minutes(session, "easy_run", phase, why, most_s)
        return self._from(draft, session, phase, why)

    def _draft(self, kind: str, seconds: float, phase: Phase) -> Draft:
        return write_easy(self._planner, kind, int(seconds // 60), phase)

    def _less_easy(self, session: Session, spare_s: float, why: Why) -> Session | None:
        """The easy running outside the sets cut by so many seconds, None where there is not enough."""
        steps = list(session.steps)
        for at in sorted(range(len(steps)), key=lambda at: -(steps[at].duration_s or 0.0)):
            step = steps[at]
            plain = step.kind == "easy" and step.set_no == 0 and step.repeat == 1
            if not plain or step.duration_s is None or spare_s <= 0:
                continue
            cut = min(-(-spare_s // STEP_S) * STEP_S, (step.duration_s - LEAST_S) // STEP_S * STEP_S)
            if cut > 0:
                steps[at] = lasting(step, step.duration_s - cut)
                spare_s -= cut
        return self._with_steps(session, steps, why) if spare_s <= 0 else None

    def _with_steps(self, session: Session, steps: Sequence[Step], why: Why) -> Session:
        """The session with other steps, measured anew, never farther than it was."""
        found = measure(tuple(steps), easy_s_per_km=self._planner.easy_s_per_km)
        request = self._planner.request
        fuel = fuelling(
            found.duration_s,
            request.limits,
            race_fuel=request.race_plan.fuel_g_per_hour,
            race_m=request.demands.distance_m,
        )
        return replace(
            session,
            steps=tuple(steps),
            distance_m=min(round(found.distance_m, 1), session.distance_m),
            duration_s=found.duration_s,
            work_s=found.work_s,
            hard_s=found.hard_s,
            hard=found.hard,
            climb_m=round(found.climb_m, 1),
            descent_work_s=found.descent_work_s,
            fuelling=fuel if session.fuelling else "",
            reasons=_with_reason(_without_dose(session.reasons), why),
        )

    def _work_of(self, steps: Sequence[Step]) -> float:
        return measure(tuple(steps), easy_s_per_km=self._planner.easy_s_per_km).work_s

    def _easy_race(self, session: Session, why: Why) -> Session:
        if top_rpe(session) <= 4:
            return session
        steps = tuple(
            replace(step, effort_rpe=(3.0, 4.0), pace_s_per_km=None, words="easily, as a training run")
            if step.effort_rpe[1] > 4
            else step
            for step in session.steps
        )
        return replace(
            session,
            steps=steps,
            hard=False,
            work_s=0.0,
            hard_s=0.0,
            descent_work_s=0.0,
            reasons=_with_reason(_without_dose(session.reasons), why),
        )

    def _from(
        self, draft: Draft, session: Session, phase: Phase, why: Why, *, role: Role | None = None
    ) -> Session:
        return replace(
            session,
            role=role or session.role,
            kind=draft.kind,
            title=draft.title,
            steps=draft.steps,
            distance_m=draft.distance_m,
            duration_s=draft.duration_s,
            hard=draft.hard,
            work_s=draft.work_s,
            hard_s=draft.hard_s,
            climb_m=draft.climb_m,
            descent_work_s=draft.descent_work_s,
            course_specific=draft.course_specific,
            rehearses_m=draft.rehearses_m,
            why=why_for(self._planner, draft.kind, phase),
            reasons=_with_reason(draft.reasons, why),
            caution=draft.caution,
            substitute=draft.substitute,
            fuelling=draft.fuelling,
        )

    def may_be(self, kind: str, phase: Phase) -> str:
        """Why this runner must not be given a kind of session, "" where nothing speaks against it."""
        order = replace(base_order(self._planner, phase), kind=kind)
        return why_not(order, self._planner.request.library) or ""


def _fewer(steps: Sequence[Step]) -> list[Step] | None:
    """One repeat less of the work that is repeated most, with its recovery; else a minute less in one piece.

    None where nothing can be taken away any more.
    """
    work = [at for at, step in enumerate(steps) if step.kind == "work" and step.effort_rpe[1] >= 5]
    if not work:
        return None
    at = max(work, key=lambda at: (steps[at].repeat, steps[at].duration_s or 0.0))
    changed = list(steps)
    if steps[at].repeat > 1:
        own = steps[at].set_no
        for place, step in enumerate(steps):
            if place == at or (own and step.set_no == own and step.repeat >= steps[at].repeat - 1):
                changed[place] = replace(step, repeat=max(step.repeat - 1, 0))
        return [step for step in changed if step.repeat > 0]
    duration_s = steps[at].duration_s
    if duration_s is None or duration_s - 60 < LEAST_WORK_S:
        return None
    changed[at] = lasting(steps[at], duration_s - 60)
    return changed


def _second_test(session: Session) -> Session:
    """A time trial whose reason is no longer that there is no result."""
    reasons = (replace(one, text=one.text.replace(NO_RESULT, SECOND_TEST)) for one in session.reasons)
    return replace(session, why=session.why.replace(NO_RESULT, SECOND_TEST), reasons=tuple(reasons))


def _with_reason(reasons: Sequence[Reason], why: Why) -> tuple[Reason, ...]:
    """The reasons with the newest first, each once."""
    new = Reason("rule", why.text, why.rule)
    return (new, *(reason for reason in reasons if reason != new))


def _without_dose(reasons: Sequence[Reason]) -> tuple[Reason, ...]:
    """Without the sentence on a dose that no longer holds."""
    return tuple(reason for reason in reasons if not reason.text.startswith("The dose for a runner"))


def on_day(session: Session, date: dt.date, start: dt.time | None, why: Why) -> Session:
    """The session on another day, at that day's hour, without what was said of the day it had."""
    reasons = [reason for reason in session.reasons if reason.rule not in OF_THE_DAY]
    moved = replace(session, date=date, start_time=start, reasons=_with_reason(reasons, why))
    return run_alone(moved) if session.group_ends else moved


def _on_ones_own(session: Session, role: Role) -> Session:
    """The session as one of one's own: without the place, the hour and the end of the group."""
    if session.role in (role, "after"):
        return session
    if session.role != "club":
        return replace(session, role=role)
    return replace(run_alone(session), role=role, start_time=None, place="")
