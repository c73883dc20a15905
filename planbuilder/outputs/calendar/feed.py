"""A whole feed: its events in order, the zone they need, the head, and the check before it leaves."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from typing import Final

from planbuilder.outputs.calendar.check import check_feed
from planbuilder.outputs.calendar.content import EventContent, clean_text, contents_of
from planbuilder.outputs.calendar.identity import Revision, uid_of
from planbuilder.outputs.calendar.zones import vtimezone
from planbuilder.plan.types import Plan

Entry = tuple[EventContent, Revision, str]  # what it says, which edition, its UID

_SUBSCRIPTION: Final = "Read-only training plan. Your calendar fetches changes by itself, often within a day."
_ONE_OFF: Final = (
    "Read-only training plan, as it stood. Changes do not reach this copy; subscribe to get them."
)


class UnfitFeed(Exception):
    """A feed did not pass its own check; it is a mistake of this program and must not leave."""


def write_feed(
    plan: Plan,
    revisions: Mapping[str, Revision],
    *,
    page_url: str | None = None,
    one_off: bool = False,
    changed: dt.datetime | None = None,
    contents: Mapping[str, EventContent] | None = None,
) -> bytes:
    """One runner's plan as an iCalendar file (RFC 5545 and 7986): one event for each session.

    ``revisions`` holds the edition of each session by its id. A session called off is written only if it is
    in there; any other session must be. ``page_url`` is used only where the runner asked for it.
    ``one_off`` writes a file to import once; it does not tell calendars to come back. ``changed`` is when the
    feed itself last changed (UTC), by default when the newest of its events did. ``contents`` may hold what
    ``contents_of`` said of the same plan and address, to save saying it twice.
    Raises KeyError for a session without a revision, UnfitFeed if the bytes fail ``check_feed``.
    """
    entries = [
        (content, revisions[session], _uid(plan, session))
        for session, content in (contents or contents_of(plan, page_url)).items()
        if not content.cancelled or session in revisions
    ]
    return join_feed(
        entries or [_no_sessions(plan, revisions)],
        name=f"{plan.race.name} plan",
        timezone=plan.race.timezone,
        url=page_url if page_url and plan.runner.page_link else "",
        one_off=one_off,
        changed=changed,
    )


def write_notice(
    *, uid: str, date: dt.date, stamp: dt.datetime, name: str, title: str, text: str, timezone: str
) -> bytes:
    """A feed of one all-day event, in place of a plan that is no longer served at this address."""
    return join_feed(
        [(_notice(date, title, text), Revision(0, stamp), uid)], name=name, timezone=timezone, url=""
    )


def join_feed(
    entries: Iterable[Entry],
    *,
    name: str,
    timezone: str,
    url: str,
    one_off: bool = False,
    changed: dt.datetime | None = None,
) -> bytes:
    """The bytes of a feed with these events, checked."""
    from planbuilder.outputs.calendar.ical import TAIL, event_bytes, head_bytes

    ordered = sorted(entries, key=_order)
    head = head_bytes(
        name=clean_text(name),
        description=_ONE_OFF if one_off else _SUBSCRIPTION,
        timezone=timezone,
        changed=changed or max(revision.changed for _, revision, _ in ordered),
        url=url,
        subscription=not one_off,
    )
    zone = _zone(timezone, [content for content, _, _ in ordered])
    data = b"".join((head, zone, *(event_bytes(*entry) for entry in ordered), TAIL))
    if faults := check_feed(data):
        raise UnfitFeed("; ".join(faults))
    return data


def _uid(plan: Plan, session_id: str) -> str:
    return uid_of(plan.race.key, plan.runner.key, session_id)


def _order(entry: Entry) -> tuple[dt.date, dt.time, str]:
    start = entry[0].start
    if isinstance(start, dt.datetime):
        return start.date(), start.time(), entry[2]
    return start, dt.time(), entry[2]


def _zone(timezone: str, contents: list[EventContent]) -> bytes:
    years = [
        moment.year
        for content in contents
        for moment in (content.start, content.end)
        if isinstance(moment, dt.datetime) and moment.tzinfo is not dt.UTC
    ]
    return vtimezone(timezone, min(years), max(years)) if years else b""


def _no_sessions(plan: Plan, revisions: Mapping[str, Revision]) -> Entry:
    """A reader that is given an empty calendar may delete it, so a plan without sessions says so."""
    date = plan.race.date
    changed = max((revision.changed for revision in revisions.values()), default=None)
    stamp = changed or dt.datetime.combine(plan.weeks[0].first_day if plan.weeks else date, dt.time(), dt.UTC)
    text = "There are no sessions in this plan. Ask your coach."
    return (
        _notice(date, f"{plan.race.name}: no sessions", text),
        Revision(0, stamp),
        _uid(plan, "no-sessions"),
    )


def _notice(date: dt.date, title: str, text: str) -> EventContent:
    return EventContent(
        summary=clean_text(title),
        description=clean_text(text),
        location="",
        categories=("Running",),
        start=date,
        end=date + dt.timedelta(days=1),
        busy=False,
        cancelled=False,
        reminder_before=None,
        url="",
    )
