"""A draft gets its day, its clock time, its id, its why: a ``Session``.

Receives: drafts, wants, dates.
Gives: sessions and the ``Week`` that holds them.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Sequence
from dataclasses import replace

from planbuilder.plan.types import Ground, Phase, Reason, Role, Session, Step, Week
from planbuilder.race.ladder import easy_effort, finish_ladder
from planbuilder.rules.context import is_training_run
from planbuilder.rules.doses import whole_minutes
from planbuilder.rules.orders import Draft
from planbuilder.rules.parts import lasting
from planbuilder.rules.phases import Frame
from planbuilder.rules.tune_ups import TuneUpPlan, goal_rpe
from planbuilder.rules.typed_night import TypedNight
from planbuilder.rules.write_session import write_session
from planbuilder.schedule.days import start_time
from planbuilder.schedule.group_night import all_in_s, with_the_end
from planbuilder.schedule.notes import short_of_runs
from planbuilder.schedule.orders import base_order
from planbuilder.schedule.state import Planner
from planbuilder.schedule.words import phase_word
from planbuilder.settings.models import WEEKDAYS, ClubNight, TuneUp
from planbuilder.units import height_mark, run_mark

ROLE_WORDS: dict[Role, str] = {"tune_up": "tune-up", "cross": "cross-training"}


def session_of(
    planner: Planner,
    draft: Draft,
    date: dt.date,
    role: Role,
    why: str,
    reasons: Iterable[Reason] = (),
    *,
    start: dt.time | None = None,
    place: str = "",
) -> Session:
    """The session of a draft; its id is given with its week."""
    planner.written[id(draft.steps)] = draft
    ends: dt.time | None = None
    if role == "club":
        night = next(
            night for night in planner.request.training.club_nights if night.day == WEEKDAYS[date.weekday()]
        )
        typed = planner.request.nights.get(date)
        start, place = night.time, place_of(night, typed)
        ends_s = all_in_s(typed, planner.context.limits) if typed is not None else None
        if ends_s is not None:
            ends = (dt.datetime.combine(date, start) + dt.timedelta(seconds=ends_s)).time()
            draft = with_the_end(draft, ends_s, ends)
            planner.written[id(draft.steps)] = draft
    elif start is None and role not in ("race", "tune_up"):
        start = start_time(planner, date, club=False)
    return Session(
        id="",
        role=role,
        date=date,
        start_time=start,
        place=place,
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
        why=why,
        reasons=(*reasons, *draft.reasons),
        caution=draft.caution,
        substitute=draft.substitute,
        fuelling=draft.fuelling,
        group_ends=ends,
    )


def race_session(planner: Planner) -> Session:
    """The goal race."""
    request = planner.request
    race, plan = request.race, request.race_plan
    open_answers = not planner.context.allowed.screened
    easy = planner.context.allowed.part == "runs easily"
    rpe = (goal_rpe(race.distance_m)[0], 10.0 if race.distance_m < 16_000 else 9.0)
    usual_s = race.distance_m / 1000 * planner.easy_s_per_km
    duration = plan.finish_time_s or plan.goal.predicted_time_s or usual_s
    words = "as in the race plan: effort first, the clock second"
    walks = short_of_runs(planner, planner.weeks)
    if walks or plan.goal.verdict == "finish well":
        efforts = finish_ladder(race.distance_m, request.limits).efforts
        rpe = (efforts[0][0], efforts[-1][1])
        words = "as in the race plan: by effort, easier at first than it wants to be, and no clock"
    elif plan.finish_time_s is None and plan.features:
        efforts = tuple(stretch.effort_rpe for stretch in plan.features)
        rpe = (min(low for low, _ in efforts), min(max(high for _, high in efforts), rpe[1]))
        words = "as in the race plan: by effort, without a clock"
    if walks:
        words = "as in the race plan: run and walk by turns, by effort, and no clock"
    if easy:
        rpe = easy_effort(request.limits)
        duration = usual_s
        words = "as in the race plan: easy all the way, at talking effort"
    if open_answers:
        words = "only once the health questions are answered; until then no harder than talking effort"
    step = Step("race", 1, None, race.distance_m, rpe, None, Ground("any"), words)
    start = dt.datetime.combine(race.date, race.start_time)
    if request.runner.start_offset_s:
        start += dt.timedelta(seconds=request.runner.start_offset_s)
    return Session(
        id="",
        role="race",
        date=race.date,
        start_time=start.time(),
        place=race.place,
        kind="race",
        title=race.name,
        steps=(step,),
        distance_m=race.distance_m,
        duration_s=duration,
        hard=not easy,
        work_s=0.0 if easy else duration,
        hard_s=0.0 if easy else duration,
        climb_m=request.course.ascent_m,
        descent_work_s=0.0,
        course_specific=True,
        rehearses_m=(),
        why="Taper done: the day all of this was for.",
        reasons=(
            Reason("rule", "Everything in this block counts back from this date.", "day.race_on_its_date"),
        ),
    )


def tune_up_session(planner: Planner, plan: TuneUpPlan, phase: Phase) -> Session:
    """A tune-up race at the effort its date allows."""
    context, race = planner.context, plan.race
    rpe: tuple[float, float] | None = None
    if plan.effort == "goal effort":
        rpe = goal_rpe(context.race.distance_m)
    elif plan.effort == "easy":
        rpe = (3.0, 4.0)
    order = replace(
        base_order(planner, phase),
        kind="tune_up",
        race_distance_m=race.distance_m,
        race_words=race.name,
        race_effort_rpe=rpe,
    )
    draft = _on_its_course(write_session(order, planner.request.library, planner.request.limits), race)
    effort = {
        "all-out": "raced for a result",
        "goal effort": "run at the effort of the goal race",
        "easy": "run easily",
    }
    why = f"{phase_word(phase)}: {race.name} over {run_mark(race.distance_m)} is {effort[plan.effort]}."
    reasons = [Reason("rule", plan.why, "tune_up.effort")]
    if plan.raced:
        reasons.append(
            Reason("rule", "It replaces this week's long run and a hard session.", "tune_up.days_around")
        )
    return session_of(planner, draft, race.date, "tune_up", why, reasons, start=race.start_time)


def _on_its_course(draft: Draft, race: TuneUp) -> Draft:
    """The draft under the name of the race, with what is known of its ground and its climb."""
    climb = f"{height_mark(race.climb_m)} of climbing" if race.climb_m else ""
    kind = race.course if race.course in ("rolling", "hilly") else ""
    told = ", ".join(part for part in (kind, climb) if part)
    flat = race.course == "flat" and not race.climb_m

    def told_of(step: Step) -> Step:
        if step.kind != "race":
            return step
        words = step.words.replace(race.name, f"{race.name} ({told})", 1) if told else step.words
        return replace(step, words=words, ground=Ground("flat") if flat else step.ground)

    return replace(
        draft,
        title=f"Tune-up: {race.name}",
        steps=tuple(map(told_of, draft.steps)),
        climb_m=race.climb_m or draft.climb_m,
    )


def place_of(night: ClubNight, typed: TypedNight | None) -> str:
    """Where a night meets, and what the coach asks of those who come."""
    if typed is None:
        return night.place
    return ", ".join(part for part in (typed.place or night.place, typed.asks) if part)


def week_of(frame: Frame, sessions: Sequence[Session], *, recovery: bool, purpose: str) -> Week:
    """The week with its sums, races left out, its sessions by date and with their ids."""
    ordered = sorted(sessions, key=_place_in_week)
    empty = Week(
        number=frame.number,
        first_day=frame.first_day,
        last_day=frame.last_day,
        phase=frame.phase,
        recovery=recovery,
        purpose=purpose,
        distance_m=0.0,
        duration_s=0.0,
        work_s=0.0,
        sessions=(),
    )
    return with_sessions(empty, _with_ids(frame.number, ordered))


def with_sessions(week: Week, sessions: tuple[Session, ...]) -> Week:
    """The week with these sessions and their sums."""
    runs = [one for one in sessions if is_training_run(one) and not one.cancelled]
    return replace(
        week,
        distance_m=round(sum(one.distance_m for one in runs), 1),
        duration_s=sum(one.duration_s for one in runs),
        work_s=sum(one.work_s for one in runs),
        sessions=sessions,
    )


def _place_in_week(session: Session) -> tuple[dt.date, bool, dt.time]:
    """By day and clock; strength and other sports come after the running of their day."""
    return session.date, session.role in ("strength", "cross"), session.start_time or dt.time(12)


def _with_ids(number: int, sessions: Sequence[Session]) -> tuple[Session, ...]:
    seen: dict[str, int] = {}
    named = []
    for session in sessions:
        role = ROLE_WORDS.get(session.role, session.role)
        seen[role] = seen.get(role, 0) + 1
        suffix = f"-{seen[role]}" if seen[role] > 1 else ""
        named.append(replace(session, id=f"w{number:02d}-{role}{suffix}"))
    return tuple(named)


def longer_warm_up(
    planner: Planner,
    session: Session,
    minutes: int,
    *,
    most_min: int,
    after: bool = False,
) -> Session:
    """The same session with up to so many minutes more easy running before it, or ``after`` it.

    What is longer prints round: it lasts a multiple of five minutes.
    """
    first = session.steps[-1 if after else 0]
    if first.duration_s is None or first.effort_rpe[1] > 4:
        return session
    room_s = 60.0 * min(minutes, max(0, most_min - math.ceil(session.duration_s / 60)))
    extra_s = max(whole_minutes(first.duration_s + room_s, 5) - first.duration_s, 0.0)
    longer = lasting(first, first.duration_s + extra_s)
    steps = (*session.steps[:-1], longer) if after else (longer, *session.steps[1:])
    draft = planner.written.get(id(session.steps))
    if draft is not None:  # its main set is remembered all the same
        planner.written[id(steps)] = replace(draft, steps=steps)
    pace = sum(first.pace_s_per_km) / 2 if first.pace_s_per_km else planner.easy_s_per_km
    return replace(
        session,
        steps=steps,
        duration_s=session.duration_s + extra_s,
        distance_m=round(session.distance_m + extra_s / pace * 1000, 1),
    )
