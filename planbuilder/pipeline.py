"""The whole way, on one page: a block folder in, plans and their files out.

    block folder -> course -> demands -> runner (form, paces) -> race (race plan)
                 -> schedule (phases, load, sessions, days; under rules) -> plan -> outputs

Everything here is a plain call into one room; what a step does is written in that room.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from zoneinfo import ZoneInfo

from planbuilder.block import Block, BlockRunner, course_files
from planbuilder.course import (
    Course,
    Feature,
    Remark,
    Split,
    find_features,
    make_splits,
    read_course,
    read_course_file,
    remarks_of,
    with_wordings,
)
from planbuilder.demands import CourseDemands, find_demands
from planbuilder.plan.types import Plan, PlanRace, PlanRunner
from planbuilder.race import plan_race
from planbuilder.runner import assumptions, find_form, find_paces, level_of, predict, trusted_volume
from planbuilder.schedule import Request, make_schedule
from planbuilder.settings.limits import Limits, default_limits
from planbuilder.settings.models import Conditions, RaceSettings, Wording
from planbuilder.settings.notes import Note
from planbuilder.units import System


@dataclass(frozen=True, slots=True)
class Survey:
    """The course of a block, read once for all runners."""

    course: Course
    features: tuple[Feature, ...]
    demands: CourseDemands
    remarks: tuple[Remark, ...]
    other_courses: Mapping[str, Course]  # of results and tune-ups, by the path a person wrote


def survey(block: Block, runners: Sequence[BlockRunner]) -> Survey:
    """Read the course of the race, and the courses that results and tune-ups of these runners name."""
    race, limits = block.settings.race, block.limits
    course = read_course(race, block.folder, limits)
    features = with_wordings(find_features(course, limits), race.wordings)
    return Survey(
        course=course,
        features=features,
        demands=find_demands(course, features, limits),
        remarks=remarks_of(race),
        other_courses={
            path: read_course_file(block.folder / path, shown_as=path, limits=limits)
            for path in course_files(block, runners)
        },
    )


def survey_file(file: Path, *, distance_m: float | None, force: bool) -> Survey:
    """Read a course file that belongs to no block."""
    limits = default_limits()
    course = read_course_file(
        file, shown_as=str(file), limits=limits, distance_m=distance_m, force=force
    )
    features = find_features(course, limits)
    return Survey(course, features, find_demands(course, features, limits), (), {})


def plan_runner(
    block: Block,
    ground: Survey,
    runner: BlockRunner,
    *,
    goal_time_s: float | None = None,
    conditions: Conditions | None = None,
) -> Plan:
    """One runner's plan: a function of the block alone, whatever day it is.

    ``goal_time_s`` and ``conditions`` stand in for those of the block file.
    """
    race, limits, who = block.settings.race, block.limits, runner.settings
    first_day = who.first_day or block.first_day
    level = level_of(who, limits)
    form = find_form(
        who,
        first_day=first_day,
        race_distance_m=race.distance_m,
        courses=ground.other_courses,
        limits=limits,
    )
    prediction = predict(
        form,
        distance_m=race.distance_m,
        weekly_distance_m=trusted_volume(who, limits).weekly_distance_m,
        limits=limits,
    )
    race_plan = plan_race(
        race=race,
        runner=who,
        course=ground.course,
        features=ground.features,
        demands=ground.demands,
        remarks=ground.remarks,
        form=form,
        prediction=prediction,
        block_weeks=((race.date - first_day).days + 6) // 7,
        limits=limits,
        goal_time_s=goal_time_s,
        conditions=conditions,
    )
    paces = find_paces(
        form,
        who,
        race_distance_m=race.distance_m,
        race_flat_s_per_km=race_plan.goal.race_flat_s_per_km,
        limits=limits,
    )
    schedule = make_schedule(
        Request(
            race=race,
            training=block.settings.training,
            runner=who,
            runner_key=runner.key,
            first_day=first_day,
            course=ground.course,
            features=ground.features,
            demands=ground.demands,
            form=form,
            paces=paces,
            race_plan=race_plan,
            level=level,
            library=block.library,
            limits=limits,
        )
    )
    notes = (
        *schedule.notes,
        *form.notes,
        *race_plan.notes,
        *assumptions(who, limits),
        *ground.course.notes,
        *limits.override_notes(),
    )
    return Plan(
        runner=PlanRunner(
            key=runner.key,
            name=who.name,
            units=who.units,
            level=level,
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
        form=form,
        paces=paces,
        race_plan=race_plan,
        weeks=schedule.weeks,
        notes=by_weight(notes),
        private_notes=schedule.private_notes,
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
    )


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
    runners = block.runners_named(only)
    ground = survey(block, runners)
    for runner in runners:
        yield plan_runner(block, ground, runner, goal_time_s=goal_time_s, conditions=conditions)


# Rules ----------------------------------------------------------------------------------------------------


def check_block(block: Block, *, only: str | None = None) -> Iterator[Finding]:
    """Every rule over every plan of a block."""
    for plan in plan_all(block, only=only):
        yield Finding(plan, plan.breaches, tuple(note for note in plan.notes if note.kind == "given_up"))


# Files ----------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Built:
    """What ``build`` says of one runner when it is done."""

    name: str
    key: str
    refused: bool
    notes: tuple[Note, ...]


def build(block: Block, out: Path, *, only: str | None = None) -> Iterator[Built]:
    """Write every output of a block and tell of each runner when it is done.

    Each file is swapped whole; plan.json comes last and vouches for its siblings. Raises CannotWrite where the
    disk says no; what stood there before is still there then.
    """
    from planbuilder.outputs.pages import render_board, render_coach
    from planbuilder.outputs.safe_write import write_whole

    plans: list[Plan] = []
    for plan in plan_all(block, only=only):
        for name, data in runner_files(plan).items():
            write_whole(out / plan.runner.key / name, data)
        plans.append(plan)
        yield Built(plan.runner.name, plan.runner.key, plan.runner.refused, plan.notes)
    page = course_page(survey(block, ()), block.limits, race=block.settings.race, plans=plans)
    write_whole(out / "course.html", page.encode())
    if only is None:
        write_whole(out / "coach.html", render_coach(plans).encode())
        write_whole(out / "index.html", render_board(plans).encode())


def runner_files(plan: Plan) -> dict[str, bytes]:
    """The files of one runner, in the order in which they are written: plan.json last."""
    from planbuilder.outputs.calendar import first_revisions, write_feed
    from planbuilder.outputs.json_files import plan_json, to_text
    from planbuilder.outputs.pages import render_plan, render_race_card
    from planbuilder.outputs.tables import plan_csv

    files = {
        "plan.html": render_plan(plan).encode(),
        "race-card.html": render_race_card(plan).encode(),
        "plan.ics": write_feed(plan, first_revisions(plan), one_off=True),
        "plan.csv": plan_csv(plan).encode("utf-8-sig"),
    }
    return {**files, "plan.json": to_text(plan_json(plan, files)).encode()}


def splits_of(
    ground: Survey, limits: Limits, system: System, wordings: Sequence[Wording] = ()
) -> tuple[Split, ...]:
    """The course kilometre by kilometre or mile by mile, in the coach's words where there are some."""
    return with_wordings(make_splits(ground.course, system, limits), wordings)


def course_page(
    ground: Survey, limits: Limits, *, race: RaceSettings | None = None, plans: Sequence[Plan] = ()
) -> str:
    """course.html: of a file alone, or of a block with what its plans do about each stretch."""
    from planbuilder.outputs.pages import render_course
    from planbuilder.race import preview

    wordings = race.wordings if race else ()
    return render_course(
        ground.course,
        ground.features,
        splits_of(ground, limits, "km", wordings),
        splits_of(ground, limits, "mi", wordings),
        ground.demands,
        ground.remarks,
        preview=preview(ground.course, ground.features, ground.demands, ground.remarks, limits),
        title=race.name if race else ground.course.name,
        plans=plans,
        system=race.markers if race else "km",
    )
