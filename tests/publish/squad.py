"""A small squad and what tests do to it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from icalendar import Calendar

from planbuilder.outputs.calendar import uid_of
from planbuilder.plan.types import Plan
from planbuilder.publish import (
    Address,
    LastBytes,
    LastInFolder,
    Making,
    Part,
    Parts,
    PublishReport,
    SharedPages,
    Site,
    part_of,
    publish,
    site_in_memory,
)
from planbuilder.publish.folder import AllShare
from tests.outputs.sample_plan import sample_plan

BEFORE = dt.datetime(2027, 3, 14, 9, 0, tzinfo=dt.UTC)  # the day before the block begins
BASE = "https://plans.club.example"


def squad() -> list[Plan]:
    """Two runners, one in kilometres and one in miles."""
    return [sample_plan(), sample_plan(name="Ines A", key="ines-a", units="mi")]


def change(plan: Plan, session_id: str, **values: Any) -> Plan:
    """The plan with one session changed."""
    weeks = tuple(
        replace(
            week,
            sessions=tuple(
                replace(session, **values) if session.id == session_id else session
                for session in week.sessions
            ),
        )
        for week in plan.weeks
    )
    return replace(plan, weeks=weeks)


def drop(plan: Plan, session_id: str) -> Plan:
    """The plan without one session."""
    weeks = tuple(
        replace(week, sessions=tuple(session for session in week.sessions if session.id != session_id))
        for week in plan.weeks
    )
    return replace(plan, weeks=weeks)


def add(plan: Plan, like: str, session_id: str, **values: Any) -> Plan:
    """The plan with one more session, made after another."""
    weeks = []
    for week in plan.weeks:
        more = tuple(
            replace(session, id=session_id, **values) for session in week.sessions if session.id == like
        )
        weeks.append(replace(week, sessions=week.sessions + more))
    return replace(plan, weeks=tuple(weeks))


Pages = Callable[[Plan, Address], Mapping[str, bytes]]


def pages(plan: Plan, address: Address) -> Mapping[str, bytes]:
    """Pages that say no more than which they are."""
    text = f"<p>{plan.runner.key} {address.feed_url}</p>".encode()
    return {"plan.html": text, "race-card.html": text, "course.html": b"<p>course</p>"}


def people(plans: Iterable[Plan]) -> dict[str, str]:
    """Names by key."""
    return {plan.runner.key: plan.runner.name for plan in plans}


def parts_of(plans: Iterable[Plan], pages: Pages, last_bytes: LastBytes) -> Parts:
    """The parts of plans that are at hand."""

    def parts(making: Making) -> Iterator[Part]:
        for plan in plans:
            own = pages(plan, making.address(plan.runner.key))
            yield part_of(making, plan, pages=own, last_bytes=last_bytes)

    return parts


def publish_to(
    folder: Path,
    plans: list[Plan],
    *,
    now: dt.datetime = BEFORE,
    pages: Pages = pages,
    shared: SharedPages | None = None,
    **options: Any,
) -> PublishReport:
    """Publish into ``folder/site`` with the state in ``folder/block``."""
    values: dict[str, Any] = {"base_url": BASE, "now": now, "timezone": sample_plan().race.timezone} | options
    parts = parts_of(plans, pages, LastInFolder(folder / "site"))
    all_share = None if shared is None else lambda _making, _said: shared
    values |= {"block_folder": folder / "block", "site": folder / "site"}
    return publish(people(plans), parts, shared=all_share, **values)


def in_memory(
    folder: Path,
    plans: list[Plan],
    *,
    now: dt.datetime,
    base_url: str = BASE,
    last: Mapping[str, bytes] = {},
    shared: AllShare | None = None,
) -> Site:
    """The site of these plans in memory, with the state in ``folder``."""
    return site_in_memory(
        people(plans),
        parts_of(plans, pages, last.get),
        block_folder=folder,
        base_url=base_url,
        timezone=plans[0].race.timezone,
        shared=shared,
        now=now,
    )


def feed_of(folder: Path, report: PublishReport, key: str = "sam-3-co") -> bytes:
    """The feed that stands in the site now."""
    return (folder / "site" / report.addresses[key].folder / "plan.ics").read_bytes()


def events_of(data: bytes, key: str = "sam-3-co") -> dict[str, Any]:
    """The events by the id of their session."""
    calendar = Calendar.from_ical(data)
    assert isinstance(calendar, Calendar)
    ids = {uid_of("heron-bay-half", key, session.id): session.id for session in sample_plan().sessions}
    return {ids.get(str(event["UID"]), str(event["UID"])): event for event in calendar.events}


def stamps(event: Any) -> tuple[int, dt.datetime]:
    """SEQUENCE and the stamp of an event; its two stamps are the same."""
    assert event["DTSTAMP"].dt == event["LAST-MODIFIED"].dt
    return int(event["SEQUENCE"]), event["DTSTAMP"].dt
