"""Club nights that the coach typed, changed or called off since the plan was accepted, laid out anew.

Receives: the ``Cuts`` of a draft, the nights that were told.
Gives: the draft with those nights at this runner's own dose. A key session of one's own that stands in the
way changes days with an easy run, else gives way; what the rules find too much then is taken away around the
night. Where the runner can do none of it within the rules, they run easily with the group.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final

from planbuilder.plan.types import Phase, Role, Session, Week
from planbuilder.rules.checks_growth import midweek_cap_s
from planbuilder.rules.checks_load import longest_before
from planbuilder.rules.context import Breach, is_run, up_to_race
from planbuilder.rules.orders import Draft
from planbuilder.rules.phases import Frame
from planbuilder.schedule.attempts import WORKING_WEEKS, known_kinds
from planbuilder.schedule.block import planner_for
from planbuilder.schedule.course_work import long_date
from planbuilder.schedule.easy import STEP_MIN, quick_night
from planbuilder.schedule.group_night import all_in_s, group_draft, group_want, runs_easily
from planbuilder.schedule.load import Target, target_for, week_kinds
from planbuilder.schedule.orders import write_easy, write_want
from planbuilder.schedule.reasons import explained_one
from planbuilder.schedule.replan.cuts import Cuts
from planbuilder.schedule.replan.draft import PlanDraft
from planbuilder.schedule.replan.edits import change_days, edited_but_moved, laid_on
from planbuilder.schedule.replan.identity import keep_ids
from planbuilder.schedule.replan.rules import NIGHT_WHY, Keeper
from planbuilder.schedule.replan.types import NightTold, Why
from planbuilder.schedule.sessions import session_of, week_of, with_sessions
from planbuilder.schedule.state import Planner
from planbuilder.schedule.types import Request, Want
from planbuilder.schedule.words import why_for
from planbuilder.settings.models import WEEKDAYS
from planbuilder.units import say_date

RULE: Final = "day.club_nights"
RUN_ON_S: Final = 600.0  # that an easy run may go on behind the group rather than be cut
_FIXED: Final = ("race", "tune_up", "test")  # no night takes their place


def lay_nights(cuts: Cuts) -> tuple[Session, ...]:
    """Lay out the nights that were told, one after the other; their sessions as they were laid, on the day of
    the night though it was moved."""
    found = ((told.date, _Night(cuts, told).laid()) for told in cuts.situation.nights)
    return tuple(replace(session, date=date) for date, session in found if session is not None)


def with_laid(weeks: Sequence[Week], laid: Iterable[Session]) -> tuple[Week, ...]:
    """The weeks with these sessions in place of those of the same id."""
    found = list(weeks)
    for session in laid:
        for at, week in enumerate(found):
            others = [one for one in week.sessions if one.id != session.id]
            here = [session] if week.first_day <= session.date <= week.last_day else []
            if here or len(others) < len(week.sessions):
                found[at] = with_sessions(week, tuple(sorted([*others, *here], key=lambda one: one.date)))
    return tuple(found)


@dataclass(frozen=True, slots=True)
class _Way:
    """What gives way to a night, and what that leaves it."""

    changed: tuple[Session, ...] = ()
    work_s: float = 0.0
    climb_m: float = 0.0


class _Night:
    """One night of one runner."""

    def __init__(self, cuts: Cuts, told: NightTold) -> None:
        self._cuts, self._told, self._draft = cuts, told, cuts.draft
        situation, date = cuts.situation, told.date
        weeks = up_to_race(self._draft.weeks)
        at = next((at for at, week in enumerate(weeks) if week.first_day <= date <= week.last_day), None)
        self._week = None if at is None else weeks[at]
        lived = cuts.facts.as_run(weeks)
        self._before = lived[: at or 0]
        nights = {**situation.request.nights, **({date: told.night} if told.night else {})}
        self._planner = _planner_behind(replace(cuts.write.planner.request, nights=nights), self._before)
        self._others = [
            one
            for one in (lived[at].sessions if at is not None else ())
            if is_run(one) and not one.cancelled and one.date != date and one.id != laid_on(situation, date)
        ]

    def laid(self) -> Session | None:
        """The session of the night as it was laid; None where none changes."""
        frames = self._planner.context.frames
        frame = next((one for one in frames if self._told.date in one.days), None)
        if self._week is None or frame is None or self._told.date < self._cuts.situation.today:
            return None
        session = self._stands()
        if session is None:
            return None
        if self._told.off:
            return self._on_ones_own(session)
        context = self._planner.context
        if context.race_week(frame) or not context.club_on(self._told.date):
            return None
        return self._with_the_group(replace(frame, phase=self._week.phase), session)

    def _stands(self) -> Session | None:
        """What this runner does on the night so far, an empty session on a day without one; None where that
        is not to be touched."""
        situation, date = self._cuts.situation, self._told.date
        id_ = laid_on(situation, date)
        found = self._draft.session(id_) if id_ else None
        if found is None:
            here = (one for week in self._draft.weeks for one in week.sessions if one.date == date)
            found = next((one for one in here if is_run(one) and one.role != "race"), None)
        if found is None:
            return None if self._told.off else self._new()
        fixed = found.role in _FIXED or found.cancelled or found.date < situation.today
        return None if fixed or edited_but_moved(situation, found.id) else found

    def _new(self) -> Session:
        """A session that lasts no time yet, under an id that nobody had."""
        draft = write_easy(self._planner, "easy_run", STEP_MIN, self._phase)
        session = session_of(self._planner, draft, self._told.date, "easy", "")
        assert self._week is not None
        situation = self._cuts.situation
        used = {*situation.used_ids, *(one.id for week in self._draft.weeks for one in week.sessions)}
        (named,) = keep_ids((), (replace(session, id=f"w{self._week.number:02d}-club"),), used)
        usual_s = [one.duration_s for one in self._others if one.role in ("easy", "club") and not one.hard]
        shortest_s = self._planner.context.limits.number("load.shortest_run") * 60
        return replace(named, duration_s=min(usual_s, default=shortest_s))

    @property
    def _phase(self) -> Phase:
        return self._draft.phase(self._told.date)

    # With the group --------------------------------------------------------------------------------------

    def _with_the_group(self, frame: Frame, session: Session) -> Session | None:
        target = self._target(frame)
        best: tuple[int, PlanDraft, Session] | None = None
        want = self._want(frame, target)
        for way in self._ways(session) if want is not None else ():
            assert want is not None
            draft = self._part(want, frame, target, way)
            if draft is None:
                continue
            now = self._as_session(session, draft, want, frame, target)
            trial = self._tried(now, way.changed)
            if trial is None:
                continue
            lost = self._hard(self._draft, session.id) - self._hard(trial, session.id)
            if best is None or lost < best[0]:
                best = lost, trial, now
            if lost <= 0:
                break
        if best is not None:
            return self._kept(session, best[2], best[1])
        for kind in self._easy_kinds():
            draft = write_easy(self._planner, kind, self._easy_min(session), frame.phase)
            now = self._as_session(session, draft, None, frame, target)
            trial = self._tried(now, ())
            if trial is not None:
                return self._kept(session, now, trial)
        return self._kept(session, now, self._put(now, ()))

    def _target(self, frame: Frame) -> Target:
        """What the week aimed at behind the weeks as they were run."""
        planner, index = self._planner, len(self._before)
        shell = week_of(frame, (), recovery=False, purpose="")
        assert self._week is not None
        races = tuple(one for one in self._week.sessions if one.role == "tune_up")
        shells = [*self._before, replace(shell, recovery=self._week.recovery, sessions=races)]
        longest_m = longest_before(shells, index, planner.context, long_date(planner, frame))
        return target_for(planner, shells, index, week_kinds(planner.context), longest_m)

    def _want(self, frame: Frame, target: Target) -> Want | None:
        """The night as a want of this runner; None where it, or a week of this kind, holds no work."""
        planner, date = self._planner, self._told.date
        if self._told.night is None or target.kind not in WORKING_WEEKS:
            return None
        want = group_want(planner, frame, date)
        return None if want is None else replace(want, known=known_kinds(planner, target, date))

    def _part(self, want: Want, frame: Frame, target: Target, way: _Way) -> Draft | None:
        """This runner's part of the night within what the other sessions leave."""
        planner = self._planner
        beside = [one for one in self._others if one.role != "tune_up"]  # what is aimed at leaves races out
        work_s = target.work_s + way.work_s - sum(one.work_s for one in beside)
        climbs = sum(one.climb_m for one in beside if one.role != "easy")
        longs = [one.distance_m for one in self._others if one.role == "long"]
        return group_draft(
            planner,
            want,
            frame.phase,
            work_s,
            target.climb_m + way.climb_m - climbs,
            target.run_cap_m,
            stays_m=max(longs, default=math.inf),
        )

    def _ways(self, session: Session) -> Iterator[_Way]:
        """The night beside everything else; then with a key session on another day; then without that."""
        yield _Way()
        typed = {date for date, night in self._planner.request.nights.items() if not night.proposed}
        free = [
            one
            for one in self._draft.ahead()
            if any(one.id == two.id for two in self._others) and one.id not in self._draft.held
        ]
        free.sort(key=lambda one: abs((one.date - session.date).days))
        hard = [one for one in free if one.hard]
        giving = [one for one in hard if one.role in ("key", "club") and one.date not in typed]
        why = self._why()
        for other in (one for one in hard if one.role in ("key", "test")):
            for easy in free:
                if easy.role == "easy" and not easy.hard:
                    swapped = self._draft.trial(())
                    change_days(other, easy, swapped, self._cuts.write.planner, why)
                    yield _Way(tuple(filter(None, map(swapped.session, (other.id, easy.id)))))
        for other in giving:
            yield _Way((self._cuts.easy(other, why),), other.work_s, other.climb_m)

    def _easy_kinds(self) -> Iterator[str]:
        """Kinds of easy run with the group; with strides where the night has them and this runner may."""
        longs = {one.date for week in self._before[-1:] for one in week.sessions if one.role == "long"}
        longs |= {one.date for one in self._others if one.role == "long"}
        night = self._told.night
        if night is not None and quick_night(self._planner, self._told.date, longs, self._phase):
            yield night.base
        yield "group_easy"

    def _easy_min(self, session: Session) -> int:
        """As long as what stood there, as the group runs, well below the long run.

        An easy run beside the work of the group that is a little longer keeps its length.
        """
        night, context = self._told.night, self._planner.context
        most = [session.duration_s]
        if night is not None and (end_s := all_in_s(night, context.limits)) is not None:
            little = not runs_easily(night) and not session.hard and session.role == "club"
            most.append(end_s + (RUN_ON_S if little else 0.0))
        most += [midweek_cap_s(one.duration_s, context) for one in self._others if one.role == "long"]
        return int(max(min(most) // 60 // STEP_MIN * STEP_MIN, 15))

    def _as_session(
        self, session: Session, draft: Draft, want: Want | None, frame: Frame, target: Target
    ) -> Session:
        """The night as a session with its reasons, under the id and on the day of what stood there."""
        planner, date = self._planner, self._told.date
        same = want is not None and want.kind == draft.kind
        why = want.why if want is not None and same else why_for(planner, draft.kind, frame.phase)
        now = session_of(planner, draft, date, "club", why, () if want is None else want.reasons)
        now = replace(now, id=session.id)
        assert self._week is not None
        week = with_sessions(self._week, tuple(sorted([*self._others, now], key=lambda one: one.date)))
        now = explained_one(planner, [*self._before, week], now, target)
        if session.date != date:
            now = replace(now, date=session.date, place=session.place)
        return now

    # On one's own ----------------------------------------------------------------------------------------

    def _on_ones_own(self, session: Session) -> Session | None:
        """The same without the club: alone where the day is one of this runner's, else called off."""
        if session.role != "club" or session.date != self._told.date:
            return None
        if WEEKDAYS[session.date.weekday()] not in self._planner.context.runner.days:
            gone = self._cuts.write.called_off(session, self._why())
            self._draft.put(gone, self._why())
            return gone
        for now in self._alone(session):
            trial = self._tried(now, ())
            if trial is not None:
                return self._kept(session, now, trial)
        return self._kept(session, now, self._put(now, ()))

    def _alone(self, session: Session) -> Iterator[Session]:
        planner, phase = self._planner, self._phase
        if session.hard:
            why = why_for(planner, session.kind, phase)
            draft = write_want(planner, Want(session.kind, "key", why), phase, work_limit_s=session.work_s)
            no_more = draft.work_s <= session.work_s + 1 and draft.climb_m <= session.climb_m + 1
            if draft.kind == session.kind and no_more:
                yield self._own(session, draft, "key", why)
        minutes = int(max(session.duration_s // 60 // STEP_MIN * STEP_MIN, 15))
        draft = write_easy(planner, "easy_run", minutes, phase)
        yield self._own(session, draft, "easy", why_for(planner, draft.kind, phase))

    def _own(self, session: Session, draft: Draft, role: Role, why: str) -> Session:
        now = session_of(self._planner, draft, session.date, role, why)
        return replace(now, id=session.id)

    # Trying ----------------------------------------------------------------------------------------------

    def _tried(self, now: Session, changed: Sequence[Session]) -> PlanDraft | None:
        """The draft with a night under the rules; None where they cannot be kept around it."""
        trial = self._put(now, changed)
        Keeper(self._on(trial), NIGHT_WHY).keep_rules()
        broken = {_which(one) for one in Keeper(self._on(trial)).breaches()}
        return None if broken - self._broken else trial

    @cached_property
    def _broken(self) -> frozenset[tuple[object, ...]]:
        return frozenset(_which(one) for one in Keeper(self._on(self._draft)).breaches())

    def _put(self, now: Session, changed: Sequence[Session]) -> PlanDraft:
        races = (one.id for one in self._draft.ahead() if one.role == "tune_up")
        trial, why = self._draft.trial((now.id, *races)), self._why()
        for one in changed:
            trial.put(one, why)
        if trial.session(now.id) is None:
            trial.add(now, why)
        trial.put(now, why)
        return trial

    def _kept(self, session: Session, now: Session, trial: PlanDraft) -> Session | None:
        """Let the trial stand; a night that is what stood there already leaves everything as it was."""
        if _what_is_run(now) == _what_is_run(session):
            return None
        self._draft.take_over(trial)
        return now

    def _on(self, draft: PlanDraft) -> Cuts:
        cuts = self._cuts
        return Cuts(cuts.situation, draft, cuts.facts, cuts.context, cuts.write)

    def _hard(self, draft: PlanDraft, night: str) -> int:
        """Hard sessions of this week and the next besides the night."""
        assert self._week is not None
        last = self._week.last_day + dt.timedelta(days=7)
        ahead = (one for one in draft.ahead() if self._week.first_day <= one.date <= last)
        return sum(one.hard and one.id != night for one in ahead)

    def _why(self) -> Why:
        night, day = self._told.night, say_date(self._told.date)
        if self._told.off:
            return Why(f"No club night is held on {day}.", RULE)
        if night is None:
            return Why(f"The club night of {day} is held.", RULE)
        who = "What serves most of the squad" if night.proposed else "Your coach wrote"
        return Why(
            f"{who} on {day}: {night.text}." if night.proposed else f"{who} for {day}: {night.text}.", RULE
        )


def _planner_behind(request: Request, weeks: Sequence[Week]) -> Planner:
    """A planner that remembers these weeks."""
    planner = planner_for(request)
    for week in weeks:
        planner.add(week)
    return planner


def _which(found: Breach) -> tuple[object, ...]:
    return found.rule, found.session, found.date


def _what_is_run(session: Session) -> tuple[object, ...]:
    return session.role, session.date, session.place, session.kind, session.steps, session.group_ends
