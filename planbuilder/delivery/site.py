"""The site of a block: published into a folder, or served from here; what a publish would change."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, closing, nullcontext
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from planbuilder.block import Block, BlockRunner, read_block
from planbuilder.block.edits import Edited, nights_of_all, read_edits
from planbuilder.block.history import STATE_FOLDER, Accepted, Basis, accepting, read_history
from planbuilder.block.living import settings_digest
from planbuilder.block.nights import nights_of, waiting_words
from planbuilder.block.survey import Survey
from planbuilder.delivery.pages import CourseParts, course_page, course_parts, kept_of, pages_of, squad_pages
from planbuilder.delivery.targets import allow_publish
from planbuilder.outputs.safe_write import one_writer
from planbuilder.pipeline import PlanNow, Prepared, plan_all, plan_now, prepare
from planbuilder.plan.types import Plan

if TYPE_CHECKING:
    from planbuilder.outputs.debrief import Debrief
    from planbuilder.outputs.kept import Kept
    from planbuilder.publish import LastBytes, Making, Part, Parts, PublishReport, SentFeed, SharedPages

Clock = Callable[[], dt.datetime]  # aware
Accepting = AbstractContextManager[Callable[[Accepted], object]]  # takes plans, one after the other


@dataclass(frozen=True)
class Showing:
    """A block that is shown, and what a runner's part is made from."""

    prepared: Prepared
    making: Making
    last_bytes: LastBytes
    course: CourseParts


@dataclass(frozen=True, slots=True)
class Shown:
    """One runner's part, and what it adds to the pages about all."""

    part: Part
    kept: Kept
    raced: tuple[Plan, Debrief] | None
    accepted: Accepted | None  # a plan that never was accepted


def show_one(showing: Showing, runner: BlockRunner) -> Shown:
    """The part of one runner."""
    from planbuilder.outputs.pages import Links
    from planbuilder.publish import part_of

    block, ground, making = showing.prepared.block, showing.prepared.ground, showing.making
    now = plan_now(showing.prepared, runner)
    address = making.address(runner.key)
    links = Links(
        feed_url=address.feed_url,
        webcal_url=address.webcal_url,
        page_url=address.page_url,
        course_url="course.html",
    )
    own = course_page(ground, showing.course, race=block.settings.race, plans=(now.plan,))
    pages = {**pages_of(now, links), "course.html": own.encode()}
    kept = kept_of(now, block, files={}, inputs="")
    return Shown(
        part_of(making, now.plan, pages=pages, last_bytes=showing.last_bytes),
        replace(kept, coach=replace(kept.coach, link=address.page_url)),
        None if now.debrief is None else (now.plan, now.debrief),
        None if now.accepted else first_accepted(block, ground, runner, now),
    )


class BlockSite:
    """A block on its way into a site: parts are made one after the other, and little of each is kept."""

    def __init__(self, block: Block, *, jobs: int, accepting: Callable[[], Accepting]) -> None:
        self._prepared = prepared = prepare(block, block.runners)
        self._course = course_parts(prepared.ground, block.limits, block.settings.race)
        self.people = {runner.key: runner.settings.name for runner in block.runners}
        self._jobs, self._accepting = jobs, accepting
        self._kept: list[Kept] = []
        self._raced: list[tuple[Plan, Debrief]] = []

    def parts(self, last_bytes: LastBytes) -> Parts:
        """Makes the parts; the plans that were never accepted are, when the last part is made."""

        def parts(making: Making) -> Iterator[Part]:
            from planbuilder.outputs.kept import Thrift
            from planbuilder.outputs.workers import in_order

            showing = Showing(self._prepared, making, last_bytes, self._course)
            runners, thrift = self._prepared.block.runners, Thrift()
            with (
                self._accepting() as accept,
                closing(in_order(show_one, showing, runners, jobs=self._jobs)) as shown,
            ):
                for one in shown:
                    self._kept.append(thrift(one.kept))
                    self._raced += [one.raced] if one.raced is not None else []
                    if one.accepted is not None:
                        accept(one.accepted)
                    yield one.part

        return parts

    def shared(self, making: Making, said: Mapping[str, SentFeed]) -> SharedPages:
        """The pages about all, once every part is made."""
        from planbuilder.outputs.squad import board_name, board_names
        from planbuilder.publish import SharedPages, nothing_new, say_changes

        block, ground = self._prepared.block, self._prepared.ground
        race = block.settings.race
        names = board_names(runner.settings.name for runner in block.runners)
        message = say_changes(
            making.told,
            making.sent,
            said,
            race=race,
            now=making.now,
            why={},
            shown_as=lambda name: names.get(name) or board_name(name),
            nights=_nights_of_all(block, self._prepared.records.edited),
        )
        news = "" if nothing_new(message) else message
        history = self._prepared.records.history
        pages = squad_pages(block, ground, self._kept, self._raced, history=history, linked=False, news=news)
        drills = sorted({drill for one in self._kept for drill in one.drills})
        course = course_page(ground, self._course, race=race, rehearsals=drills).encode()
        board = {"index.html": pages.pop("index.html"), "course.html": course}
        return SharedPages(board=board, coach=pages)


def publish_block(
    block: Block,
    *,
    site: Path,
    base_url: str,
    now: dt.datetime,
    renew: Sequence[str] = (),
    jobs: int | None = None,
) -> PublishReport:
    """Write the site folder of a block for any web host."""
    from planbuilder.outputs.workers import jobs_for
    from planbuilder.publish import LastInFolder, publish

    allow_publish(block, site)
    jobs = jobs or jobs_for(len(block.runners))
    shown_site = BlockSite(block, jobs=jobs, accepting=lambda: accepting_first(block, now=now))
    return publish(
        shown_site.people,
        shown_site.parts(LastInFolder(site)),
        block_folder=block.folder,
        site=site,
        base_url=base_url,
        timezone=block.settings.race.timezone,
        shared=shown_site.shared,
        now=now,
        renew=renew,
    )


def first_accepted(block: Block, ground: Survey, runner: BlockRunner, now: PlanNow) -> Accepted:
    """A plan to be taken as it stands for the first time."""
    return Accepted(
        runner=runner.key,
        weeks=now.weeks,
        basis=Basis(settings=settings_digest(block, runner, ground.course), nights=nights_of(block, runner)),
        why="The first plan.",
        fresh=True,
    )


def accepting_first(block: Block, *, now: dt.datetime) -> Accepting:
    """Take plans that were never accepted: from now on they only change by re-planning."""
    day = now.astimezone(ZoneInfo(block.settings.race.timezone)).date()
    return accepting(block.folder / STATE_FOLDER, by="publish", block=block.key, day=day, now=now)


def accept_as_they_stand(block: Block, *, now: dt.datetime, only: Collection[str] | None = None) -> None:
    """Take the plans of these runners (by key; by default all) that were never accepted."""
    prepared = prepare(block, block.runners)
    history = prepared.records.history
    new = (one for one in block.runners if not history.knows(one.key) and (only is None or one.key in only))
    with accepting_first(block, now=now) as accept:
        for runner in new:
            accept(first_accepted(prepared.block, prepared.ground, runner, plan_now(prepared, runner)))


def changes_message(block: Block, *, now: dt.datetime, why: Mapping[str, str]) -> str:
    """What changed since the last publish, as a message to paste."""
    from planbuilder.publish import changes

    return changes(
        block.folder,
        plan_all(block),
        now=now,
        why=why,
        race=block.settings.race,
        nights=_nights_of_all(block, read_edits(block)),
    )


def _nights_of_all(block: Block, edited: Iterable[Edited]) -> dict[dt.date, dt.date | None]:
    """The club nights that a coach's word for all moved to another day, or took: then None."""
    return {**dict.fromkeys(block.off), **nights_of_all(edited)}


def _accept_none(_: Accepted) -> None:
    pass


def count_changes_as_told(block: Block) -> None:
    """Count what was sent so far as told: the next message begins here."""
    from planbuilder.publish import count_as_told

    with one_writer(block.folder / STATE_FOLDER):
        count_as_told(block.folder / STATE_FOLDER)


def serve_block(
    folder: Path, *, host: str, port: int, base_url: str, say: Callable[[str], None], clock: Clock
) -> None:
    """Serve the same site from here, made anew whenever the block changes. It accepts no plan.

    Every address is said once, when it is first served.
    """
    from planbuilder.outputs.terminal import columns
    from planbuilder.publish import Site, block_stamp, serve, site_in_memory

    told: set[tuple[str, str]] = set()
    waited = ""

    def tell(site: Site) -> Site:
        pages = [(one.name, one.page_url) for one in site.addresses.values()]
        pages += [("the board", site.board_url), ("the coach", site.coach_url)]
        new = [page for page in pages if page[1] and page not in told]
        if new:
            say(columns(("who", "page"), new).rstrip("\n"))
        told.update(new)
        return site

    def rebuild(last: Mapping[str, bytes]) -> Site:
        nonlocal waited
        block, moment = read_block(folder), clock()
        day = moment.astimezone(ZoneInfo(block.settings.race.timezone)).date()
        waits = waiting_words(block, read_history(folder / STATE_FOLDER), day)
        if waits and waits != waited:
            say(waits)
        waited = waits
        shown_site = BlockSite(block, jobs=1, accepting=lambda: nullcontext(_accept_none))
        return tell(
            site_in_memory(
                shown_site.people,
                shown_site.parts(last.get),
                block_folder=folder,
                base_url=base_url,
                timezone=block.settings.race.timezone,
                shared=shown_site.shared,
                now=moment,
            )
        )

    serve(rebuild, stamp=lambda: block_stamp(folder, now=clock()), host=host, port=port, say=say, clock=clock)
