"""The pages of a block: a runner's own, those about all, the course."""

from __future__ import annotations

import shlex
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from planbuilder.block import Block
from planbuilder.block.history import History
from planbuilder.block.nights import nights_as_accepted, waiting_words
from planbuilder.block.survey import Survey
from planbuilder.course import (
    Split,
    make_splits,
    splits_with_wordings,
)
from planbuilder.pipeline import (
    PlanNow,
    Told,
    breaches_of,
    plan_race_day,
)
from planbuilder.plan.types import Plan
from planbuilder.race.types import PreviewStretch
from planbuilder.settings.limits import Limits
from planbuilder.settings.models import RaceSettings, Wording
from planbuilder.units import System

if TYPE_CHECKING:
    from planbuilder.outputs.debrief import Debrief
    from planbuilder.outputs.kept import Kept
    from planbuilder.outputs.pages import Links, WeekDone
    from planbuilder.outputs.pages.course_page import Rehearsal as Drill
    from planbuilder.outputs.squad import SquadRow


SAMPLE_PACES_S_PER_KM = (240.0, 300.0, 375.0)  # quick, middling and easy-going, for what a stretch costs


def pages_of(now: PlanNow, links: Links) -> dict[str, bytes]:
    """A runner's pages, by file name: the plan, the race card, and the look back once the race is run."""
    from planbuilder.outputs.pages import render_debrief, render_plan, render_race_card

    pages: dict[str, str] = {}
    if now.debrief is not None:
        pages["debrief.html"] = render_debrief(now.plan, now.debrief)
        links = replace(links, debrief_url="debrief.html")
    pages["plan.html"] = render_plan(
        now.plan, links=links, done=weeks_done(now.told), outlook=now.told.outlook
    )
    pages["race-card.html"] = render_race_card(now.plan)
    return {name: page.encode() for name, page in pages.items()}


def weeks_done(told: Told) -> dict[int, WeekDone]:
    """What the log says was run, as the pages show it."""
    from planbuilder.outputs.pages import WeekDone

    return {
        number: WeekDone(one.distance_m, one.duration_s, one.sessions) for number, one in told.run.items()
    }


def kept_of(now: PlanNow, block: Block, *, files: Mapping[str, bytes], inputs: str) -> Kept:
    """One runner's part of the pages about all."""
    from planbuilder.outputs.kept import keep

    return keep(
        now.plan,
        files,
        breaches=[one.text for one in breaches_of(now)],
        outlook=now.told.outlook,
        inputs="" if now.debrief is not None else inputs,
        block=shlex.quote(block.folder.resolve().name),
        with_weeks=len(block.runners) <= block.limits.number("squad.board_rows"),
    )


def squad_pages(
    block: Block,
    ground: Survey,
    kept: Sequence[Kept],
    raced: Sequence[tuple[Plan, Debrief]],
    *,
    linked: bool,
    history: History,
    table_url: str = "",
    news: str = "",
) -> dict[str, bytes]:
    """The pages about all runners: the board, the coach's page, and the sheet for the club evening."""
    from planbuilder.outputs.pages import (
        board_frame,
        board_of,
        coach_frame,
        coach_of,
        render_squad_debrief,
        result_line,
    )

    race, course = plan_race_day(block, block.runners[0]), ground.course
    board = board_of(
        board_frame(race, course, ground.features),
        [one.row for one in kept],
        limits=block.limits,
        typed=nights_as_accepted(block, history),
        off=block.settings.training.nights_off,
        linked=linked,
        table_url=table_url,
        news=news,
    )
    coach = coach_of(
        coach_frame(race, course, ground.features),
        [one.coach for one in kept],
        debrief_url="debrief.html" if raced else "",
        results=[(plan.runner.name, result_line(plan, debrief)) for plan, debrief in raced],
        squad=[note_of(block, [one.row for one in kept], len(kept)), _nights_that_wait(block, history)],
    )
    pages = {"index.html": board, "coach.html": coach.encode()}
    if raced:
        debriefs = {plan.runner.key: debrief for plan, debrief in raced}
        pages["debrief.html"] = render_squad_debrief([plan for plan, _ in raced], debriefs).encode()
    return pages


def _nights_that_wait(block: Block, history: History) -> str:
    """Typed nights behind the day on which a plan was accepted last: files know of no today."""
    days = [history.day(runner.key) for runner in block.runners if history.knows(runner.key)]
    return waiting_words(block, history, max(days)) if days else ""


def note_of(block: Block, rows: Sequence[SquadRow], runners: int) -> str:
    """What two club nights a week take from the squad; nothing where they take nothing."""
    from planbuilder.outputs.squad_note import squad_note

    lacking = ((row.kept_from, [line.date for line in row.nights]) for row in rows)
    typed = {date: night.text for date, night in block.nights.items() if not night.proposed}
    return squad_note(lacking, runners, block.settings.race.date, typed)


def splits_of(
    ground: Survey, limits: Limits, system: System, wordings: Sequence[Wording] = ()
) -> tuple[Split, ...]:
    """The course kilometre by kilometre or mile by mile, in the coach's words where there are some."""
    return splits_with_wordings(make_splits(ground.course, system, limits), tuple(wordings), system)


@dataclass(frozen=True, slots=True)
class CourseParts:
    """What every copy of a course page holds, reckoned once for all of them."""

    splits_km: tuple[Split, ...]
    splits_mi: tuple[Split, ...]
    preview: tuple[PreviewStretch, ...]


def course_parts(ground: Survey, limits: Limits, race: RaceSettings | None = None) -> CourseParts:
    """The course by kilometres, by miles and stretch by stretch, in the coach's words where some are."""
    from planbuilder.race import preview

    wordings = race.wordings if race else ()
    return CourseParts(
        splits_of(ground, limits, "km", wordings),
        splits_of(ground, limits, "mi", wordings),
        preview(
            course=ground.course,
            features=ground.features,
            demands=ground.demands,
            remarks=ground.remarks,
            limits=limits,
            sample_paces=SAMPLE_PACES_S_PER_KM,
        ),
    )


def course_page(
    ground: Survey,
    parts: CourseParts,
    *,
    race: RaceSettings | None = None,
    plans: Sequence[Plan] = (),
    rehearsals: Sequence[Drill] = (),
) -> str:
    """course.html: of a file alone, or of a block with what its plans do about each stretch."""
    from planbuilder.outputs.pages import render_course

    return render_course(
        ground.course,
        ground.features,
        parts.splits_km,
        parts.splits_mi,
        ground.demands,
        ground.remarks,
        preview=parts.preview,
        sample_paces_s_per_km=SAMPLE_PACES_S_PER_KM,
        title=race.name if race else ground.course.name,
        plans=plans,
        rehearsals=rehearsals,
        system=race.markers if race else "km",
    )
