"""From plans to the files of a site, and what is remembered of them. Nothing here touches the disk."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import partial
from typing import Final
from zoneinfo import ZoneInfo

from planbuilder.outputs.calendar import (
    EventContent,
    contents_of,
    fingerprint_of,
    uid_of,
    write_feed,
    write_notice,
)
from planbuilder.plan.types import Plan
from planbuilder.publish.addresses import (
    BOARD_FILES,
    COACH_FILES,
    FEED_FILE,
    RUNNER_FILES,
    Address,
    Addresses,
    Purpose,
)
from planbuilder.publish.sent import (
    Retired,
    Sent,
    SentEvent,
    SentFeed,
    leave_out,
    next_moment,
    parse_stamp,
    revise,
)

CALLED_OFF_NEAR_DAYS: Final = 7  # a session called off this close to its day is shown as cancelled
CALLED_OFF_KEPT_DAYS: Final = 7  # and stays so long after its day
NOTICE_DAYS: Final = 30  # how long a notice stands at an address that was replaced
ROBOTS: Final = b"User-agent: *\nDisallow:\n"  # importers of calendars obey this file, so it forbids nothing
FRONT: Final = (
    b'<!doctype html><html lang="en"><meta charset="utf-8"><meta name="robots" content="noindex">'
    b"<title>Training plans</title><p>Each plan has its own address. Ask your coach for yours.</p></html>\n"
)

_SHARED_FILES: Final[tuple[tuple[Purpose, tuple[str, ...]], ...]] = (
    ("board", BOARD_FILES),
    ("coach", COACH_FILES),
)

RunnerPages = Callable[[Plan, Address], Mapping[str, bytes]]
LastBytes = Callable[[str], bytes | None]


@dataclass(frozen=True, slots=True)
class SharedPages:
    """What is shown to the squad and to the coach, by file name; the board holds no runner's address."""

    board: Mapping[str, bytes] = field(default_factory=dict)  # index.html, course.html
    coach: Mapping[str, bytes] = field(default_factory=dict)  # coach.html


@dataclass(frozen=True, slots=True)
class Site:
    """All files of a site by path, feeds last, and where everything stands."""

    files: Mapping[str, bytes]
    removed: tuple[str, ...]  # paths that stood here once and must not any more
    addresses: Mapping[str, Address]  # by runner key
    board_url: str
    coach_url: str
    sent: Sent
    changed: tuple[str, ...]  # keys of the runners whose feed says something new


def make_site(
    plans: Iterable[Plan],
    sent: Sent,
    addresses: Addresses,
    *,
    pages: RunnerPages,
    shared: SharedPages | None = None,
    last_bytes: LastBytes,
    now: dt.datetime,
    renew: Iterable[str] = (),
) -> Site:
    """The site of these plans, given what was sent before.

    ``last_bytes`` gives the bytes that stand at a path now, or None; a feed whose plan did not change is
    taken from there. ``renew`` holds keys of runners, "board" or "coach" that get a new address.
    """
    plans = tuple(plans)
    sent = _retire(_renew(sent, plans, renew, now), plans, now)
    where = {
        plan.runner.key: addresses.runner(
            plan.runner.key, plan.runner.name, sent.renewals.get(plan.runner.key, 0)
        )
        for plan in plans
    }
    files: dict[str, bytes] = {}
    feeds: dict[str, bytes] = {}
    said = dict(sent.feeds)
    for plan in plans:
        address = where[plan.runner.key]
        rendered = pages(plan, address)
        files |= _named(address.folder, rendered, RUNNER_FILES)
        said[plan.runner.key], data = _feed(plan, sent, address, last_bytes, now)
        feeds[f"{address.folder}/{FEED_FILE}"] = data
    shared = shared or SharedPages()
    folders = {
        name: addresses.folder(name, "", sent.shared_renewals.get(name, 0)) for name, _ in _SHARED_FILES
    }
    files |= _named(folders["board"], shared.board, BOARD_FILES)
    files |= _named(folders["coach"], shared.coach, COACH_FILES)
    notices = dict(_notices(sent, addresses, plans, now))
    standing = {*files, *notices, *feeds}
    changed = tuple(key for key in where if said[key].body != _body(sent.feeds.get(key)))
    return Site(
        files={"robots.txt": ROBOTS, "index.html": FRONT, **files, **notices, **feeds},
        removed=tuple(path for path in _shown_once(sent, addresses) if path not in standing),
        addresses=where,
        board_url=addresses.url(folders["board"], BOARD_FILES[0]) if shared.board else "",
        coach_url=addresses.url(folders["coach"], COACH_FILES[0]) if shared.coach else "",
        sent=replace(sent, feeds=said, version=sent.version + bool(changed), base_url=addresses.base_url),
        changed=changed,
    )


def _body(feed: SentFeed | None) -> str:
    return feed.body if feed else ""


def _named(folder: str, rendered: Mapping[str, bytes], allowed: tuple[str, ...]) -> dict[str, bytes]:
    """The files by their path; anything but the pages that may be shown is a mistake of the caller."""
    if odd := sorted(set(rendered) - set(allowed)):
        raise ValueError(f"only {', '.join(allowed)} may be shown here, not {', '.join(odd)}")
    return {f"{folder}/{name}": rendered[name] for name in allowed if name in rendered}


# Feeds ---------------------------------------------------------------------------------------------------


def _feed(
    plan: Plan, sent: Sent, address: Address, last_bytes: LastBytes, now: dt.datetime
) -> tuple[SentFeed, bytes]:
    key, path = plan.runner.key, f"{address.folder}/{FEED_FILE}"
    page_url = address.page_url if plan.runner.page_link else None
    last = sent.feeds.get(key)
    today = now.astimezone(ZoneInfo(plan.race.timezone)).date()
    fingerprint = fingerprint_of(plan, page_url)
    if last and last.fingerprint == fingerprint and not (last.until and today.isoformat() >= last.until):
        data = last_bytes(path)
        if data is not None and digest_of(data) == last.body:
            return last, data
    contents = contents_of(plan, page_url)
    events = events_now(plan, contents, last.events if last else {}, today, now)
    write = partial(_bytes, plan, contents, events, page_url)
    return _write(plan.runner.name, write, events, last, fingerprint=fingerprint, now=now)


def _write(
    name: str,
    write: Callable[[str], bytes],
    events: Mapping[str, SentEvent],
    last: SentFeed | None,
    *,
    fingerprint: str,
    now: dt.datetime,
) -> tuple[SentFeed, bytes]:
    """The bytes, and what is remembered of them; ``write`` makes them, given when the feed last changed."""
    same = last is not None and dict(last.events) == dict(events)
    changed = last.changed if last and same else next_moment(now, last.changed if last else "")
    data = write(changed)
    if last and same and digest_of(data) != last.body:  # what stands around the events changed
        changed = next_moment(now, last.changed)
        data = write(changed)
    feed = SentFeed(
        name=name,
        fingerprint=fingerprint,
        body=digest_of(data),
        changed=changed,
        until=_until(events),
        events=events,
    )
    return feed, data


def digest_of(data: bytes) -> str:
    """A hash of bytes that stand in a file."""
    return hashlib.sha256(data).hexdigest()[:32]


def _bytes(
    plan: Plan,
    contents: Mapping[str, EventContent],
    events: Mapping[str, SentEvent],
    page_url: str | None,
    changed: str,
) -> bytes:
    revisions = {session: event.revision for session, event in events.items() if not event.gone}
    return write_feed(plan, revisions, page_url=page_url, changed=parse_stamp(changed), contents=contents)


def events_now(
    plan: Plan,
    contents: Mapping[str, EventContent],
    last: Mapping[str, SentEvent],
    today: dt.date,
    now: dt.datetime,
) -> dict[str, SentEvent]:
    """What is sent now, and what is remembered, about every session that was ever sent."""
    events: dict[str, SentEvent] = {}
    for session in plan.sessions:
        content, before = contents[session.id], last.get(session.id)
        if session.cancelled:
            events[session.id] = _called_off(before, session.date, content, today, now)
        else:
            events[session.id] = revise(before, content, now)
    dropped = {name: leave_out(event, now) for name, event in last.items() if name not in events}
    return dropped | events


def _called_off(
    before: SentEvent | None, date: dt.date, content: EventContent, today: dt.date, now: dt.datetime
) -> SentEvent:
    """A session called off near its day is shown as cancelled for a while; any other is simply gone."""
    since = dt.date.fromisoformat(before.called_off) if before and before.called_off else today
    near = (date - since).days <= CALLED_OFF_NEAR_DAYS
    if near and today <= date + dt.timedelta(days=CALLED_OFF_KEPT_DAYS):
        return revise(before, content, now, called_off=since.isoformat())
    if before is None:
        return revise(None, content, now, called_off=since.isoformat())._replace(gone=True)
    return leave_out(before, now)._replace(called_off=since.isoformat())


def _until(events: Mapping[str, SentEvent]) -> str:
    """The first day on which a cancelled session has stood for long enough."""
    days = [
        dt.date.fromisoformat(event.date) + dt.timedelta(days=CALLED_OFF_KEPT_DAYS + 1)
        for event in events.values()
        if event.called_off and not event.gone
    ]
    return min(days).isoformat() if days else ""


# Addresses that change ------------------------------------------------------------------------------------


def _renew(sent: Sent, plans: tuple[Plan, ...], renew: Iterable[str], now: dt.datetime) -> Sent:
    """New addresses for these; what stood at the old ones is replaced by a notice."""
    renewals, shared = dict(sent.renewals), dict(sent.shared_renewals)
    retired = list(sent.retired)
    keys = {plan.runner.key for plan in plans}
    for key in renew:
        if key in keys:
            retired.append(Retired(key, renewals.get(key, 0), now.date().isoformat()))
            renewals[key] = renewals.get(key, 0) + 1
        else:
            shared[key] = shared.get(key, 0) + 1
    return replace(sent, renewals=renewals, shared_renewals=shared, retired=tuple(retired))


def _retire(sent: Sent, plans: tuple[Plan, ...], now: dt.datetime) -> Sent:
    """A runner who left the squad has a notice too; one who came back has the old address again."""
    keys = {plan.runner.key for plan in plans}
    left = {(key, sent.renewals.get(key, 0)) for key in sent.feeds if key not in keys}
    back = {(key, sent.renewals.get(key, 0)) for key in keys}
    kept = [entry for entry in sent.retired if (entry.runner, entry.renewal) not in back]
    known = {(entry.runner, entry.renewal) for entry in kept}
    new = [Retired(key, renewal, now.date().isoformat()) for key, renewal in sorted(left - known)]
    return replace(sent, retired=(*kept, *new))


def _notices(
    sent: Sent, addresses: Addresses, plans: tuple[Plan, ...], now: dt.datetime
) -> Iterator[tuple[str, bytes]]:
    """One event in place of each plan that moved away: it clears the old plan from the phone."""
    timezone = plans[0].race.timezone if plans else "UTC"
    for entry in sent.retired:
        since = dt.date.fromisoformat(entry.since)
        if now.date() < since + dt.timedelta(days=NOTICE_DAYS):
            folder = addresses.folder("runner", entry.runner, entry.renewal)
            yield (
                f"{folder}/{FEED_FILE}",
                write_notice(
                    uid=uid_of("notice", entry.runner, f"{entry.renewal} {entry.since}"),
                    date=since,
                    stamp=dt.datetime.combine(since, dt.time(), dt.UTC),
                    name="Training plan",
                    title="Plan link turned off",
                    text="This address no longer holds a plan. Ask your coach for the new one.",
                    timezone=timezone,
                ),
            )


def _shown_once(sent: Sent, addresses: Addresses) -> Iterator[str]:
    """Every path that was shown at an address which has been replaced."""
    for entry in sent.retired:
        folder = addresses.folder("runner", entry.runner, entry.renewal)
        yield from (f"{folder}/{file}" for file in (FEED_FILE, *RUNNER_FILES))
    for name, files in _SHARED_FILES:
        for renewal in range(sent.shared_renewals.get(name, 0)):
            yield from (f"{addresses.folder(name, '', renewal)}/{file}" for file in files)
