"""A small squad and what tests do to it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from icalendar import Calendar

from planbuilder.outputs.calendar import uid_of
from planbuilder.plan.types import Plan
from planbuilder.publish import Address, PublishReport, publish
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


def pages(plan: Plan, address: Address) -> Mapping[str, bytes]:
    """Pages that say no more than which they are."""
    text = f"<p>{plan.runner.key} {address.feed_url}</p>".encode()
    return {"plan.html": text, "race-card.html": text, "course.html": b"<p>course</p>"}


def publish_to(
    folder: Path, plans: list[Plan], *, now: dt.datetime = BEFORE, **options: Any
) -> PublishReport:
    """Publish into ``folder/site`` with the state in ``folder/block``."""
    values: dict[str, Any] = {"base_url": BASE, "pages": pages, "now": now} | options
    return publish(plans, block_folder=folder / "block", site=folder / "site", **values)


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
