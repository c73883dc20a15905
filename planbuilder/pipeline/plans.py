"""The plans of a block: those of the settings, or the accepted ones with what was told since.

Receives: a block, or what was prepared from it.
Gives: a ``Plan`` for each runner, and with it what it was made from.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from planbuilder.block import Block, BlockRunner
from planbuilder.block.living import News, Records, news_of, runner_now, situation_of
from planbuilder.block.results import race_time_s
from planbuilder.block.survey import Survey
from planbuilder.pipeline.prepared import UNTOLD, Prepared, form_of, prepare, request_for
from planbuilder.plan.types import Plan, PlanRace, PlanRunner, Week
from planbuilder.race import with_test
from planbuilder.rehearse import find_rehearsal, name_ground
from planbuilder.runner import assumptions, until_test
from planbuilder.schedule import Request, Schedule, first_test, make_schedule, rule_context
from planbuilder.schedule.replan import Situation, describe, replan
from planbuilder.schedule.replan.done import WeekRun, outlook, run_by_week
from planbuilder.schedule.replan.lived import long_break
from planbuilder.schedule.replan.pain import ask_first, uncleared_since
from planbuilder.schedule.replan.retold import retold
from planbuilder.settings.limits import Limits
from planbuilder.settings.models import Conditions, CourseFile, RaceSettings
from planbuilder.settings.notes import Note

if TYPE_CHECKING:
    from planbuilder.outputs.debrief import Debrief
    from planbuilder.rules import Breach


@dataclass(frozen=True)
class Told:
    """What the log and the edits of a runner add to the plan that was accepted."""

    notes: tuple[Note, ...] = ()
    private_notes: tuple[Note, ...] = ()
    breaches: tuple[Breach, ...] = ()  # what a person's edit broke
    run: Mapping[int, WeekRun] = field(default_factory=dict)  # by week
    outlook: str = ""
    waits_from: dt.date | None = None  # running waits for a clearance from this day on
    asked: bool = False  # whether there was anything to tell


@dataclass(frozen=True)
class PlanNow:
    """The plan that holds now: the accepted one, or that of the settings where none was accepted yet."""

    plan: Plan
    request: Request
    weeks: tuple[Week, ...]  # as they are accepted: without the names of local ground
    told: Told
    accepted: bool
    debrief: Debrief | None = None  # once the race was run


def plan_from(
    block: Block,
    ground: Survey,
    runner: BlockRunner,
    request: Request,
    *,
    schedule: Schedule | None = None,
    told: Told | None = None,
    weeks: tuple[Week, ...] | None = None,
) -> Plan:
    """The weeks for a request, or a schedule that was accepted, and everything else that one runner gets.

    ``weeks`` are those of the schedule in other words, where there are any.
    """
    who, race_plan = runner.settings, request.race_plan
    schedule, told = schedule or make_schedule(request), told or Told()
    rehearsal = (
        None
        if race_plan.goal.verdict == "left out"
        else find_rehearsal(
            ground.course,
            ground.features,
            ground.demands,
            who,
            request.paces,
            block.limits,
            local=ground.local.get(runner.key, ground.local.get("")),
            training=request.training,
            first_day=request.first_day,
        )
    )
    weeks = schedule.all_weeks if weeks is None else weeks
    if told.waits_from is not None:
        weeks = ask_first(weeks, told.waits_from)
    if rehearsal is not None and rehearsal.ground is not None:
        weeks = name_ground(weeks, rehearsal.ground, block.limits)
    tested = first_test(weeks)
    race_plan = replace(race_plan, goal=with_test(race_plan.goal, tested))
    notes: tuple[Note, ...] = (*told.notes, *schedule.notes)
    if schedule.weeks:
        notes += (
            *until_test(request.form.notes, tested),
            *race_plan.notes,
            *assumptions(who, block.limits),
            *start_notes(block.settings.race),
            *ground.course.notes,
            *block.limits.override_notes(),
        )
    return Plan(
        runner=PlanRunner(
            key=runner.key,
            name=who.name,
            units=who.units,
            level=request.level,
            refused=schedule.refused,
            reminder=who.reminder,
            busy=who.busy,
            page_link=who.page_link,
        ),
        race=plan_race_day(block, runner),
        course=ground.course,
        features=ground.features,
        remarks=ground.remarks,
        demands=ground.demands,
        form=request.form,
        paces=request.paces,
        race_plan=race_plan,
        weeks=weeks,
        notes=by_weight(notes),
        private_notes=(*schedule.private_notes, *told.private_notes),
        rehearsal=rehearsal,
    )


def plan_race_day(block: Block, runner: BlockRunner) -> PlanRace:
    """The race as this runner meets it: a wave offset moves the start."""
    race = block.settings.race
    gun = dt.datetime.combine(race.date, race.start_time, ZoneInfo(race.timezone))
    offset = dt.timedelta(seconds=runner.settings.start_offset_s or 0)
    start = (gun.astimezone(dt.UTC) + offset).astimezone(ZoneInfo(race.timezone))
    return PlanRace(
        key=block.key,
        name=race.name,
        date=race.date,
        start=start,
        timezone=race.timezone,
        distance_m=race.distance_m,
        place=race.place,
        markers=race.markers,
        course_file=race.course.file if isinstance(race.course, CourseFile) else race.course or "",
    )


def start_notes(race: RaceSettings) -> Iterator[Note]:
    """Which of two equal clock times is meant, on the night on which the clocks go back."""
    first = dt.datetime.combine(race.date, race.start_time, ZoneInfo(race.timezone))
    if first.utcoffset() != first.replace(fold=1).utcoffset():
        text = (
            f"The clocks go back on race day and show {first:%H:%M} twice; the race starts at the first of "
            "the two."
        )
        yield Note("day.race_on_its_date", text, "assumed")


_WEIGHT = ("refusal", "caution", "given_up", "exception", "assumed", "override", "info")


def by_weight(notes: Sequence[Note]) -> tuple[Note, ...]:
    """Each note once, the most important first; notes of one kind keep their order."""
    return tuple(sorted(dict.fromkeys(notes), key=lambda note: _WEIGHT.index(note.kind)))


def plan_all(
    block: Block,
    *,
    only: str | None = None,
    goal_time_s: float | None = None,
    conditions: Conditions | None = None,
) -> Iterator[Plan]:
    """The plans of a block one after the other, in the order of the file."""
    for now in plans_now(block, only=only, goal_time_s=goal_time_s, conditions=conditions):
        yield now.plan


def plans_now(
    block: Block,
    *,
    only: str | None = None,
    goal_time_s: float | None = None,
    conditions: Conditions | None = None,
) -> Iterator[PlanNow]:
    """The same, with what each plan was made from and what was told since."""
    runners = block.runners_named(only)
    prepared = prepare(block, runners)
    for runner in runners:
        yield plan_now(prepared, runner, goal_time_s=goal_time_s, conditions=conditions)


def plan_now(
    prepared: Prepared,
    runner: BlockRunner,
    *,
    goal_time_s: float | None = None,
    conditions: Conditions | None = None,
) -> PlanNow:
    """The plan of one runner that holds now."""
    block, ground, records = prepared.block, prepared.ground, prepared.records
    accepted = records.history.accepted(runner.key)
    basis = accepted.basis if accepted else UNTOLD
    who = runner_now(runner, records, basis)

    def asked(days_lost: int = 0, *, walks: bool = False) -> Request:
        return request_for(
            block,
            ground,
            who,
            basis,
            goal_time_s=goal_time_s,
            conditions=conditions,
            days_lost=days_lost,
            walks=walks,
        )

    settled = prepared.settled_for(who) if (basis, goal_time_s, conditions) == (UNTOLD, None, None) else None
    request = settled.request if settled else asked()
    schedule, told, weeks = settled.schedule if settled else make_schedule(request), Told(), None
    if accepted is not None:
        last_day = _last_day(block, accepted.weeks)
        day = records.last_day(runner.key, until=last_day)
        situation = situation_on(block, ground, runner, records, request, day)
        if (lost := long_break(situation)) is not None:
            request = asked(lost.days)
            situation = replace(situation, request=request)
        if schedule.all_weeks != accepted.weeks or situation.log or situation.edits:
            schedule = describe(situation)
            weeks = retold(situation)
        everything = replace(situation, edits=records.edits_of(runner.key, last_day))
        told = replace(tell(situation), waits_from=uncleared_since(everything))
    if schedule.walks and goal_time_s is None:
        walked = asked(request.race_plan.goal.days_lost, walks=True)
        request = replace(request, race_plan=walked.race_plan)
    plan = plan_from(block, ground, who, request, schedule=schedule, told=told, weeks=weeks)
    debrief = debrief_of(plan, records, block.limits)
    return PlanNow(plan, request, schedule.all_weeks, told, accepted is not None, debrief)


def _last_day(block: Block, weeks: Sequence[Week]) -> dt.date:
    """The last day of a plan; race day where it holds no weeks."""
    return weeks[-1].last_day if weeks else block.settings.race.date


def debrief_of(plan: Plan, records: Records, limits: Limits) -> Debrief | None:
    """The race as the log, a result or a recording tells of it; None before it was run."""
    from planbuilder.outputs.debrief import look_back

    key, race = plan.runner.key, plan.race_session
    if race is None:
        return None
    edits = [one.line.edit for one in records.edited if one.runner == key]
    time_s = race_time_s(race, plan.race.distance_m, edits, records.log_of(key), limits)
    if time_s is None:
        return None
    recordings = [
        one.recording for one in records.recorded if one.runner == key and one.done.session == race.id
    ]
    return look_back(
        plan,
        time_s=time_s,
        recording=recordings[-1] if recordings else None,
        as_planned=limits.number("adapt.as_planned"),
    )


def situation_on(
    block: Block, ground: Survey, runner: BlockRunner, records: Records, request: Request, day: dt.date
) -> Situation:
    """What re-planning of a runner with an accepted plan looks at on a day."""
    news = news_on(block, ground, runner, records, day)
    return situation_of(records, request, news=news, today=day)


def news_on(block: Block, ground: Survey, runner: BlockRunner, records: Records, day: dt.date) -> News:
    """What a plan made on a day stands on."""
    return news_of(
        block,
        records,
        runner,
        form_with=lambda since: form_of(block, ground, runner, since),
        courses=ground.other_courses,
        course=ground.course,
        today=day,
    )


def tell(situation: Situation) -> Told:
    """What log and edits add to an accepted plan; it depends on them alone, not on today."""
    if not situation.log and not situation.edits:
        return Told()
    answer = replan(replace(situation, fresh=False, nights=()))
    return Told(
        notes=answer.notes,
        private_notes=answer.private_notes,
        breaches=answer.breaches,
        run=run_by_week(situation),
        outlook=outlook(situation),
        asked=True,
    )


# Rules ----------------------------------------------------------------------------------------------------


def check_block(block: Block, *, only: str | None = None) -> Iterator[tuple[Plan, tuple[Breach, ...]]]:
    """Every rule over every plan of a block."""
    for now in plans_now(block, only=only):
        yield now.plan, breaches_of(now)


def breaches_of(now: PlanNow) -> tuple[Breach, ...]:
    """The limits a plan breaks: those a person's edit broke, or those of the plan's own check."""
    from planbuilder.rules import check
    from planbuilder.rules.context import with_race_of

    if now.told.asked:
        return now.told.breaches
    return check(now.plan.weeks, with_race_of(rule_context(now.request), now.plan.weeks))
