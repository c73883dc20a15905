"""Rules of what stands inside a session: its parts, its numbers, its words, and what safety rules out.

Receives: weeks and a ``RuleContext``.
Gives: breaches, one sentence each with both numbers.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from planbuilder.plan.types import Session, Step, Week
from planbuilder.plan.walk import timeline
from planbuilder.rules.context import Breach, RuleContext, is_race, is_run, is_training_run, top_rpe
from planbuilder.rules.registry import limit
from planbuilder.rules.ruled_out import left_out
from planbuilder.rules.safety import below_organisers_age
from planbuilder.units import count_of, in_minutes, run_mark, say_date, say_grade, say_minutes

STEEP = 0.015  # beyond this grade a pace is a band
WARM_UP_S, COOL_DOWN_S = 600.0, 300.0
FAST_KINDS = ("strides", "hill_sprints", "repetitions", "shakeout")
UP_KINDS = ("up", "bridge", "ramp", "steps")
HEALTH = re.compile(
    r"\b(achilles|injur\w*|sore\w*|pain\w*|illness|ill|sick|fever|pregnan\w*|diagnos\w*|asthma|heart)\b", re.I
)


@limit("session.parts")
def parts(weeks: Sequence[Week], index: int, context: RuleContext) -> Iterator[Breach]:
    """A hard session begins with 10 easy minutes, ends with 5, and names its effort."""
    for session in weeks[index].sessions:
        if not session.hard or is_race(session) or not is_run(session):
            continue
        legs = timeline(session)
        before = after = 0.0
        for leg in legs:
            if leg.effort_rpe[1] >= 5 and leg.kind not in ("strides", "drills", "warm_up"):
                break
            before += leg.duration_s
        for leg in reversed(legs):
            if leg.effort_rpe[1] >= 5:
                break
            after += leg.duration_s
        if before < WARM_UP_S - 1 or after < COOL_DOWN_S - 1:
            yield Breach(
                "session.parts",
                session.id,
                session.date,
                f"{session.title}: {in_minutes(before)} min of warm-up and {in_minutes(after)} of cool-down; "
                "the least is 10 and 5.",
            )
        if any(step.effort_rpe[1] <= 0 for step in session.steps):
            yield Breach(
                "session.parts", session.id, session.date, f"{session.title} has a step without effort."
            )


@limit("session.pace_band")
def pace_band(weeks: Sequence[Week], index: int, context: RuleContext) -> Iterator[Breach]:
    """Steeper than 1.5 % a pace is a band, never one number."""
    for session in weeks[index].sessions:
        for step in session.steps:
            steep = abs(step.ground.grade or 0.0) > STEEP
            if steep and step.pace_s_per_km is not None and step.pace_s_per_km[1] - step.pace_s_per_km[0] < 1:
                yield Breach(
                    "session.pace_band",
                    session.id,
                    session.date,
                    f"One pace is printed for a slope of {say_grade(step.ground.grade or 0.0)}; "
                    "beyond 1.5 % it must be a band.",
                )


@limit("session.why")
def why_is_said(weeks: Sequence[Week], index: int, context: RuleContext) -> Iterator[Breach]:
    """Every session says in one sentence why it is there, and nothing about health."""
    for session in weeks[index].sessions:
        if not session.why.strip():
            yield Breach("session.why", session.id, session.date, f"{session.title} has 0 reasons, not 1.")
        found = HEALTH.search(f"{session.title} {session.why}")
        if found:
            yield Breach(
                "session.why", session.id, session.date, f'The why of {session.id} says "{found[0]}".'
            )


# Safety --------------------------------------------------------------------------------------------------


@limit("safety.screening", "safety.easy_rpe")
def screening(weeks: Sequence[Week], index: int, context: RuleContext) -> Iterator[Breach]:
    """Until the health questions are answered nothing is harder than RPE 4."""
    most = context.limits.number("safety.easy_rpe")
    if context.allowed.screened:
        return
    for session in weeks[index].sessions:
        if session.role not in ("strength", "cross") and top_rpe(session) > most:
            yield Breach(
                "safety.screening",
                session.id,
                session.date,
                f"{session.title} reaches RPE {top_rpe(session):.0f}; the most is {most:.0f}.",
            )


@limit("safety.no_running", "safety.pain_no_run", "safety.youngest")
def no_running(weeks: Sequence[Week], index: int, context: RuleContext) -> Iterator[Breach]:
    """Strong pain, a limp or a sore bone stops all running until a licensed practitioner has cleared it."""
    if context.allowed.trains:
        return
    for session in weeks[index].sessions:
        if is_run(session):
            yield Breach(
                "safety.no_running", session.id, session.date, f"1 run on {say_date(session.date)}, not 0."
            )


@limit("safety.no_hard", "safety.pain_no_hard")
def no_hard(weeks: Sequence[Week], index: int, context: RuleContext) -> Iterator[Breach]:
    """From a pain of 3 out of 10 on there is no hard running."""
    if context.allowed.hard:
        return
    for session in weeks[index].sessions:
        if session.hard and is_run(session) and session.role != "race":
            yield Breach(
                "safety.no_hard", session.id, session.date, f"{session.title}: 1 hard session, not 0."
            )


def _climbs(step: Step) -> bool:
    grade = step.ground.grade or 0.0
    return step.ground.kind in UP_KINDS or (grade > 0.01 and step.ground.kind not in ("flat", "any"))


def _falls(step: Step) -> bool:
    return step.ground.kind == "down" or (step.ground.grade or 0.0) < -0.01


@limit("safety.sore_place")
def sore_place(weeks: Sequence[Week], index: int, context: RuleContext) -> Iterator[Breach]:
    """What provokes a sore place is gone: hills, strides and tests for the calf, descents for the knee."""
    allowed = context.allowed
    if allowed.uphill and allowed.downhill and allowed.fast and allowed.all_out:
        return
    for session in weeks[index].sessions:
        if session.role in ("race", "strength", "cross"):
            continue
        up = not allowed.uphill and any(map(_climbs, session.steps))
        down = not allowed.downhill and any(map(_falls, session.steps))
        rolling = not (allowed.uphill and allowed.downhill) and any(
            step.ground.kind == "rolling" for step in session.steps
        )
        fast = not allowed.fast and any(step.kind == "strides" for step in session.steps)
        spent = not allowed.all_out and top_rpe(session) >= 9.5
        if session.role == "tune_up":
            up = down = rolling = False
        if up or down or rolling or fast or spent:
            what = "climbs" if up else "descents" if down else "rolling ground" if rolling else "fast running"
            yield Breach(
                "safety.sore_place", session.id, session.date, f"{session.title} holds {what}; 0 are left."
            )


@limit("session.not_when")
def not_when(weeks: Sequence[Week], index: int, context: RuleContext) -> Iterator[Breach]:
    """No session stands where its own entry in the library leaves it out."""
    for session in weeks[index].sessions:
        if session.kind not in context.library:
            continue
        against = left_out(context.library.template(session.kind), context.on_the_day(session.date))
        if against:
            yield Breach("session.not_when", session.id, session.date, f"{session.title}: {against}.")


@limit("safety.minor", "safety.minor_runs", "safety.minor_distance", "safety.youngest")
def minor(weeks: Sequence[Week], index: int, context: RuleContext) -> Iterator[Breach]:
    """Under 18 there are at most 5 runs a week; nobody races beyond the limit for the age."""
    week = weeks[index]
    for session in week.sessions:
        if session.role == "race" and not context.allowed.race_distance:
            yield Breach("safety.minor", session.id, session.date, _too_young(context))
    if not context.allowed.minor:
        return
    runs = sum(is_run(session) for session in week.sessions)
    most = context.limits.number("safety.minor_runs")
    if runs > most:
        yield Breach(
            "safety.minor",
            None,
            week.first_day,
            f"{runs} runs in week {week.number}; the most is {most:.0f}.",
        )


def _too_young(context: RuleContext) -> str:
    """Both ages, or both distances; and what takes the race out."""
    age, race = context.runner.age, context.race
    if below_organisers_age(age, race.minimum_age):
        why = f"The organiser's youngest age for this race is {race.minimum_age}, and the runner is {age}"
    else:
        most = float(context.limits.table("safety.minor_distance").get(str(age), 0.0))
        usual = f"the usual limit for a race is {run_mark(most)}" if most else "there is no race"
        why = f"At {age} {usual}, and this one is {run_mark(race.distance_m)}"
    return f"{why}; a re-plan leaves the race out."


# Descents ------------------------------------------------------------------------------------------------


def exposures(weeks: Sequence[Week], until: int) -> list[Session]:
    """Sessions with descents at race effort, by date; races left out."""
    return [
        session
        for week in weeks[: until + 1]
        for session in week.sessions
        if session.descent_work_s > 0 and is_training_run(session)
    ]


def most_descent_s(before: Session | None, context: RuleContext) -> float:
    """Seconds of descents at race effort that may follow the exposure before; None: the first of a block."""
    number = context.limits.number
    step = number("course_work.descent_first" if before is None else "course_work.descent_step") * 60
    base = 0.0 if before is None else before.descent_work_s
    return min(base + step, number("course_work.descent_cap") * 60)


@limit(
    "course_work.descents",
    "course_work.descent_first",
    "course_work.descent_step",
    "course_work.descent_cap",
    "course_work.descent_last",
)
def descents(weeks: Sequence[Week], index: int, context: RuleContext) -> Iterator[Breach]:
    """Descents at race effort begin at 3 min, grow by 5, end at 15, and stop 10 days before the race."""
    nearest = int(context.by_distance("course_work.descent_last")[0])
    first = weeks[index].first_day
    if not any(session.descent_work_s > 0 for session in weeks[index].sessions):
        return
    before: Session | None = None
    for session in exposures(weeks, index):
        if session.date >= first:
            most = most_descent_s(before, context)
            if session.descent_work_s > most + 1:
                yield Breach(
                    "course_work.descents",
                    session.id,
                    session.date,
                    f"{say_minutes(session.descent_work_s)} of descents at race effort; the most is "
                    f"{say_minutes(most)}.",
                )
            days = context.days_to_race(session.date)
            if days < nearest:
                yield Breach(
                    "course_work.descents",
                    session.id,
                    session.date,
                    f"Descents at race effort {count_of(days, 'day')} before the race; "
                    f"the least is {nearest}.",
                )
        before = session


@limit("course_work.hard_a_week", "course_work.hard_a_week")
def course_work_a_week(weeks: Sequence[Week], index: int, context: RuleContext) -> Iterator[Breach]:
    """A week holds at most 2 hard sessions on the ground of the course, and one of two is the long run."""
    most = int(context.limits.number("course_work.hard_a_week"))
    hard = [
        session
        for session in weeks[index].sessions
        if session.hard and session.course_specific and is_training_run(session)
    ]
    besides = sum(session.role != "long" for session in hard)
    if len(hard) > most or besides >= most:
        yield Breach(
            "course_work.hard_a_week",
            hard[-1].id,
            hard[-1].date,
            f"Week {weeks[index].number} holds {count_of(len(hard), 'hard session')} on the ground of the "
            f"course, {besides} besides the long run; the most is {most}, one of them the long run.",
        )
