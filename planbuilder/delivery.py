"""What leaves the house: the coach's own folder, the site and the server, a night, a board.

Receives: blocks, and the plans that ``pipeline`` makes of them.
Gives: files swapped whole, a site with private addresses, pages of the squad.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from planbuilder.block import Block, BlockRunner, read_block
from planbuilder.block.club import write_night
from planbuilder.block.history import STATE_FOLDER, Accepted, Basis, append
from planbuilder.block.inputs import inputs_digest, runner_digest
from planbuilder.block.living import (
    Records,
    read_records,
    settings_digest,
)
from planbuilder.course import (
    Split,
    make_splits,
    splits_with_wordings,
)
from planbuilder.pipeline import (
    PlanNow,
    Survey,
    Told,
    plan_all,
    plan_now,
    plan_race_day,
    plans_now,
    survey,
    with_nights,
)
from planbuilder.plan.types import Plan
from planbuilder.settings.limits import Limits
from planbuilder.settings.models import RaceSettings, Wording
from planbuilder.settings.notes import Note
from planbuilder.settings.problems import InputProblems, Problem
from planbuilder.units import System

if TYPE_CHECKING:
    from planbuilder.outputs.debrief import Debrief
    from planbuilder.outputs.kept import Kept
    from planbuilder.outputs.pages import WeekDone
    from planbuilder.outputs.pages.course_page import Rehearsal as Drill
    from planbuilder.outputs.squad import NightSheet
    from planbuilder.publish import PublishReport, RunnerPages, SharedPages

Clock = Callable[[], dt.datetime]  # aware
SAMPLE_PACES_S_PER_KM = (240.0, 300.0, 375.0)  # quick, middling and easy-going, for what a stretch costs


# The squad ------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Night:
    """A club night of a squad."""

    sheet: NightSheet
    line: str  # what was typed or is proposed; "" where everybody goes by their own plan
    typed: bool


def night_on(block: Block, date: dt.date) -> Night:
    """What the squad does on a club night. Raises InputProblems where nobody comes on that date."""
    from planbuilder.outputs.squad import night_sheets, squad_row

    held = with_nights(block, survey(block, ()))
    rows = [squad_row(plan, with_weeks=False) for plan in plan_all(block)]
    sheets = [sheet for sheet in night_sheets(rows, block.limits) if sheet.date == date]
    if not sheets:
        days = ", ".join(sorted({night.day for night in block.settings.training.club_nights}))
        must = f"{date} must be a club night of this block ({days or 'it has none'})"
        raise InputProblems([Problem(str(block.folder), None, must, "nobody comes on it")])
    line = held.nights[date].text if date in held.nights else ""
    return Night(sheets[0], line, date in block.nights)


def accept_night(block: Block, date: dt.date, line: str) -> Path:
    """Write a night down in the club's file. Raises InputProblems where the block names no such file."""
    club = block.settings.training.club
    if club is None:
        must = 'training.club must name the file of the club\'s nights, such as club = "club.toml"'
        raise InputProblems([Problem(str(block.folder / "block.toml"), None, must, "it names none")])
    write_night(block.folder / club, date, line)
    return block.folder / club


def board_over(blocks: Sequence[Block]) -> str:
    """One board over several blocks that share their club nights."""
    from planbuilder.outputs.pages import board_frame, board_of
    from planbuilder.outputs.squad import squad_row

    rows = [squad_row(plan) for block in blocks for plan in plan_all(block)]
    next_race = min(blocks, key=lambda block: (block.settings.race.date, block.key))
    ground = survey(next_race, ())
    race = plan_race_day(next_race, next_race.runners[0])
    frame = board_frame(race, ground.course, ground.features)
    return board_of(frame, rows, limits=next_race.limits, linked=False, course_url="")


# Files ----------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Built:
    """What ``build`` says of one runner when it is done."""

    name: str
    key: str
    refused: bool
    units: System
    notes: tuple[Note, ...]
    kept: Kept
    raced: tuple[Plan, Debrief] | None = None
    skipped: bool = False  # stood as it would have been written


@dataclass(frozen=True)
class Building:
    """Where everything of a block is built, and from what."""

    block: Block  # with its club nights
    ground: Survey
    records: Records
    out: Path
    shared: str  # digest of what all plans are made from


def build(
    block: Block, out: Path, *, only: str | None = None, changed: bool = False, jobs: int | None = None
) -> Iterator[Built]:
    """Write every output of a block and tell of each runner when it is done, in the order of the file.

    Each file is swapped whole; plan.json comes last and vouches for its siblings. ``changed`` leaves alone
    what stands as it would be written. ``jobs`` is the number of processes; the bytes are the same with any.
    Raises CannotWrite where the disk says no; what stood there before is still there then.
    """
    from planbuilder.outputs.kept import KEPT_FILE, kept_text
    from planbuilder.outputs.pages import board_frame, board_of, coach_frame, coach_of, render_squad_debrief
    from planbuilder.outputs.safe_write import write_whole
    from planbuilder.outputs.squad import board_csv
    from planbuilder.outputs.workers import HANDFUL, cores, in_order

    runners, records = block.runners_named(only), read_records(block)
    block = replace(block, key=records.history.block_key or block.key)
    ground = survey(block, runners)
    block = with_nights(block, ground)
    place = Building(block, ground, records, out, inputs_digest(block, ground.course))
    standing = {one.key: one for one in _standing(place, runners)} if changed else {}
    due = [runner for runner in runners if runner.key not in standing]
    if jobs is None:
        jobs = cores() if len(due) > HANDFUL else 1
    found: list[Built] = []
    with closing(in_order(build_one, place, due, jobs=min(jobs, len(due)))) as built:
        for runner in runners:
            one = standing.get(runner.key) or next(built)
            found.append(replace(one, notes=()))
            yield one
    kept = [one.kept for one in found]
    race, limits, course = plan_race_day(block, runners[0]), block.limits, ground.course
    drills = {drill for one in kept for drill in one.drills}
    page = course_page(ground, limits, race=block.settings.race, rehearsals=sorted(drills))
    write_whole(out / "course.html", page.encode())
    if only is not None:
        return
    coach = coach_of(coach_frame(race, course, ground.features), [one.coach for one in kept])
    write_whole(out / "coach.html", coach.encode())
    raced = [one.raced for one in found if one.raced is not None]
    if raced:
        debriefs = {plan.runner.key: debrief for plan, debrief in raced}
        text = render_squad_debrief([plan for plan, _ in raced], debriefs)
        write_whole(out / "debrief.html", text.encode())
    rows = [one.row for one in kept]
    small = len(rows) <= limits.number("squad.board_rows")
    if small:
        write_whole(out / "board.csv", board_csv(rows).encode("utf-8-sig"))
    frame = board_frame(race, course, ground.features)
    board = board_of(frame, rows, limits=limits, table_url="board.csv" if small else "")
    write_whole(out / "index.html", board.encode())
    write_whole(out / KEPT_FILE, kept_text(kept).encode())


def _standing(place: Building, runners: Sequence[BlockRunner]) -> Iterator[Built]:
    """The runners whose folders are as a build would write them."""
    from planbuilder.outputs.kept import read_kept, stands

    before = read_kept(place.out)
    for runner in runners:
        last, who = before.get(runner.key), runner.settings
        inputs = runner_digest(place.shared, runner, place.records)
        if last is not None and stands(place.out / runner.key, last, inputs):
            yield Built(who.name, runner.key, False, who.units, (), last, skipped=True)


def build_one(place: Building, runner: BlockRunner) -> Built:
    """The files of one runner."""
    from planbuilder.outputs.kept import keep
    from planbuilder.outputs.pages import render_debrief
    from planbuilder.outputs.safe_write import write_whole

    inputs = runner_digest(place.shared, runner, place.records)
    now = plan_now(place.block, place.ground, runner, place.records)
    plan, who = now.plan, now.plan.runner
    files = runner_files(plan, now.told)
    for name, data in files.items():
        write_whole(place.out / who.key / name, data)
    if now.debrief is not None:
        write_whole(place.out / who.key / "debrief.html", render_debrief(plan, now.debrief).encode())
    kept = keep(
        plan,
        files,
        breaches=[one.text for one in now.told.breaches],
        outlook=now.told.outlook,
        inputs="" if now.debrief is not None else inputs,
        with_weeks=len(place.block.runners) <= place.block.limits.number("squad.board_rows"),
    )
    raced = None if now.debrief is None else (plan, now.debrief)
    return Built(who.name, who.key, who.refused, who.units, plan.notes, kept, raced)


def runner_files(plan: Plan, told: Told | None = None) -> dict[str, bytes]:
    """The files of one runner, in the order in which they are written: plan.json last."""
    from planbuilder.outputs.calendar import first_revisions, write_feed
    from planbuilder.outputs.json_files import plan_json, to_text
    from planbuilder.outputs.pages import render_plan, render_race_card
    from planbuilder.outputs.tables import plan_csv
    from planbuilder.outputs.treadmill_table import treadmill_csv

    told = told or Told()
    files = {
        "plan.html": render_plan(plan, done=weeks_done(told), outlook=told.outlook).encode(),
        "race-card.html": render_race_card(plan).encode(),
        "plan.ics": write_feed(plan, first_revisions(plan), one_off=True),
        "plan.csv": plan_csv(plan).encode("utf-8-sig"),
        **({"treadmill.csv": treadmill} if (treadmill := treadmill_csv(plan)) else {}),
    }
    return {**files, "plan.json": to_text(plan_json(plan, files)).encode()}


def weeks_done(told: Told) -> dict[int, WeekDone]:
    """What the log says was run, as the pages show it."""
    from planbuilder.outputs.pages import WeekDone

    return {
        number: WeekDone(one.distance_m, one.duration_s, one.sessions) for number, one in told.run.items()
    }


def splits_of(
    ground: Survey, limits: Limits, system: System, wordings: Sequence[Wording] = ()
) -> tuple[Split, ...]:
    """The course kilometre by kilometre or mile by mile, in the coach's words where there are some."""
    return splits_with_wordings(make_splits(ground.course, system, limits), tuple(wordings), system)


def course_page(
    ground: Survey,
    limits: Limits,
    *,
    race: RaceSettings | None = None,
    plans: Sequence[Plan] = (),
    rehearsals: Sequence[Drill] = (),
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
        preview=preview(
            course=ground.course,
            features=ground.features,
            demands=ground.demands,
            remarks=ground.remarks,
            limits=limits,
            sample_paces=SAMPLE_PACES_S_PER_KM,
        ),
        sample_paces_s_per_km=SAMPLE_PACES_S_PER_KM,
        title=race.name if race else ground.course.name,
        plans=plans,
        rehearsals=rehearsals,
        system=race.markers if race else "km",
    )


# Showing --------------------------------------------------------------------------------------------------


def publish_block(
    block: Block, *, site: Path, base_url: str, now: dt.datetime, renew: Sequence[str] = ()
) -> PublishReport:
    """Write the site folder of a block for any web host."""
    from planbuilder.publish import publish

    found = tuple(plans_now(block))
    accept_first(block, found, now=now)
    pages, shared = _shown(block, found, news=squad_news(block, [one.plan for one in found], now=now))
    return publish(
        [one.plan for one in found],
        block_folder=block.folder,
        site=site,
        base_url=base_url,
        pages=pages,
        shared=shared,
        now=now,
        renew=renew,
    )


def accept_first(block: Block, plans: Sequence[PlanNow], *, now: dt.datetime) -> None:
    """Take plans that were never accepted as they stand: from now on they only change by re-planning."""
    new = [one for one in plans if not one.accepted]
    if not new:
        return
    day = now.astimezone(ZoneInfo(block.settings.race.timezone)).date()
    ground = survey(block, ())
    accepted = [
        Accepted(
            runner=one.request.runner_key,
            weeks=one.weeks,
            basis=Basis(settings=settings_digest(block, runner, ground.course)),
            why="The first plan.",
            fresh=True,
        )
        for one in new
        for runner in block.runners
        if runner.key == one.request.runner_key
    ]
    append(block.folder / STATE_FOLDER, accepted, by="publish", block=block.key, day=day, now=now)


def squad_news(block: Block, plans: Sequence[Plan], *, now: dt.datetime) -> str:
    """What this publish changes, for the board: with initials, and "" where there is nothing to say."""
    from planbuilder.outputs.squad import board_name
    from planbuilder.publish import changes, nothing_new

    message = changes(block.folder, plans, now=now, why={}, shown_as=board_name)
    return "" if nothing_new(message) else message


def changes_message(block: Block, *, now: dt.datetime, why: Mapping[str, str]) -> str:
    """What changed since the last publish, as a message to paste."""
    from planbuilder.publish import changes

    return changes(block.folder, plan_all(block), now=now, why=why)


def serve_block(
    folder: Path, *, host: str, port: int, base_url: str, say: Callable[[str], None], clock: Clock
) -> None:
    """Serve the same site from here, made anew whenever the block changes."""
    from planbuilder.publish import Site, block_stamp, serve, site_in_memory

    def rebuild(last: Mapping[str, bytes]) -> Site:
        block = read_block(folder)
        found = tuple(plans_now(block))
        pages, shared = _shown(block, found)
        return site_in_memory(
            [one.plan for one in found],
            block_folder=folder,
            base_url=base_url,
            pages=pages,
            shared=shared,
            last_files=last,
            now=clock(),
        )

    serve(rebuild, stamp=lambda: block_stamp(folder, now=clock()), host=host, port=port, say=say, clock=clock)


def _shown(block: Block, found: Sequence[PlanNow], *, news: str = "") -> tuple[RunnerPages, SharedPages]:
    """What is shown of a block: each runner's pages, the board's and the coach's."""
    from planbuilder.outputs.pages import Links, render_board, render_coach, render_plan, render_race_card
    from planbuilder.publish import Address, SharedPages

    race, limits, ground = block.settings.race, block.limits, survey(block, ())
    plans = [one.plan for one in found]
    told = {one.plan.runner.key: one.told for one in found}
    breaches = {key: [breach.text for breach in one.breaches] for key, one in told.items()}
    outlooks = {key: one.outlook for key, one in told.items()}

    def pages(plan: Plan, address: Address) -> Mapping[str, bytes]:
        links = Links(
            feed_url=address.feed_url,
            webcal_url=address.webcal_url,
            page_url=address.page_url,
            course_url="course.html",
        )
        return {
            "plan.html": render_plan(
                plan,
                links=links,
                done=weeks_done(told[plan.runner.key]),
                outlook=told[plan.runner.key].outlook,
            ).encode(),
            "race-card.html": render_race_card(plan).encode(),
            "course.html": course_page(ground, limits, race=race, plans=(plan,)).encode(),
        }

    shared = SharedPages(
        board={
            "index.html": render_board(plans, linked=False, limits=limits, news=news).encode(),
            "course.html": course_page(ground, limits, race=race, plans=plans).encode(),
        },
        coach={"coach.html": render_coach(plans, breaches=breaches, outlooks=outlooks).encode()},
    )
    return pages, shared
