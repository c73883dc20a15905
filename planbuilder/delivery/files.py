"""The coach's own copy: every file of a block, each swapped whole."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from planbuilder.block import Block, BlockRunner
from planbuilder.block.inputs import inputs_digest, runner_digest
from planbuilder.delivery.pages import course_page, course_parts, kept_of, pages_of, squad_pages
from planbuilder.delivery.targets import allow_build
from planbuilder.pipeline import PlanNow, Prepared, plan_now, prepare
from planbuilder.plan.types import Plan
from planbuilder.settings.notes import Note
from planbuilder.units import System

if TYPE_CHECKING:
    from planbuilder.outputs.debrief import Debrief
    from planbuilder.outputs.kept import Kept


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

    prepared: Prepared
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
    from planbuilder.outputs.kept import KEPT_FILE, Thrift, kept_pieces
    from planbuilder.outputs.safe_write import write_pieces, write_whole
    from planbuilder.outputs.squad import board_csv
    from planbuilder.outputs.workers import in_order, jobs_for

    allow_build(block, out)
    runners = block.runners_named(only)
    prepared = prepare(block, runners)
    block, ground = prepared.block, prepared.ground
    place = Building(prepared, out, inputs_digest(block, ground.course))
    standing = {one.key: one for one in _standing(place, runners)} if changed else {}
    due = [runner for runner in runners if runner.key not in standing]
    jobs = jobs or jobs_for(len(due))
    found: list[Built] = []
    thrift = Thrift()
    with closing(in_order(build_one, place, due, jobs=min(jobs, len(due)))) as built:
        for runner in runners:
            one = standing.get(runner.key) or next(built)
            found.append(replace(one, notes=(), kept=thrift(one.kept)))
            yield one
    kept = [one.kept for one in found]
    drills = sorted({drill for one in kept for drill in one.drills})
    race = block.settings.race
    page = course_page(ground, course_parts(ground, block.limits, race), race=race, rehearsals=drills)
    write_whole(out / "course.html", page.encode())
    if only is not None:
        return
    small = len(kept) <= block.limits.number("squad.board_rows")
    if small:
        write_whole(out / "board.csv", board_csv([one.row for one in kept]).encode("utf-8-sig"))
    raced = [one.raced for one in found if one.raced is not None]
    pages = squad_pages(
        block,
        ground,
        kept,
        raced,
        history=prepared.records.history,
        linked=True,
        table_url="board.csv" if small else "",
    )
    for name, data in pages.items():
        write_whole(out / name, data)
    write_pieces(out / KEPT_FILE, lambda: kept_pieces(kept))


def _standing(place: Building, runners: Sequence[BlockRunner]) -> Iterator[Built]:
    """The runners whose folders are as a build would write them."""
    from planbuilder.outputs.kept import read_kept, stands

    before = read_kept(place.out)
    for runner in runners:
        last, who = before.get(runner.key), runner.settings
        inputs = runner_digest(place.shared, runner, place.prepared.records)
        if last is not None and stands(place.out / runner.key, last, inputs):
            yield Built(who.name, runner.key, False, who.units, (), last, skipped=True)


def build_one(place: Building, runner: BlockRunner) -> Built:
    """The files of one runner."""
    from planbuilder.outputs.safe_write import write_whole

    inputs = runner_digest(place.shared, runner, place.prepared.records)
    now = plan_now(place.prepared, runner)
    plan, who = now.plan, now.plan.runner
    files = runner_files(now)
    for name, data in files.items():
        write_whole(place.out / who.key / name, data)
    kept = kept_of(now, place.prepared.block, files=files, inputs=inputs)
    raced = None if now.debrief is None else (plan, now.debrief)
    return Built(who.name, who.key, who.refused, who.units, plan.notes, kept, raced)


def runner_files(now: PlanNow) -> dict[str, bytes]:
    """The files of one runner, in the order in which they are written: plan.json last."""
    from planbuilder.outputs.calendar import first_revisions, write_feed
    from planbuilder.outputs.json_files import plan_json, to_text
    from planbuilder.outputs.pages import Links
    from planbuilder.outputs.tables import plan_csv
    from planbuilder.outputs.treadmill_table import treadmill_csv

    plan = now.plan
    files = {
        **pages_of(now, Links()),
        "plan.ics": write_feed(plan, first_revisions(plan), one_off=True),
        "plan.csv": plan_csv(plan).encode("utf-8-sig"),
        **({"treadmill.csv": treadmill} if (treadmill := treadmill_csv(plan)) else {}),
    }
    return {**files, "plan.json": to_text(plan_json(plan, files)).encode()}
