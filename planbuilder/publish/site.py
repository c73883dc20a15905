"""From plans to the files of a site, and what is remembered of them. Nothing here touches the disk.

A site is made runner after runner, so that no plan has to be kept: ``begin_site`` says who is on it and what
was sent before, ``part_of`` makes one runner's share, ``finish_site`` what all share.
"""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Callable, Collection, Container, Iterable, Iterator, Mapping
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
    Overlaid,
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

LastBytes = Callable[[str], bytes | None]


@dataclass(frozen=True, slots=True)
class SharedPages:
    """What is shown to the squad and to the coach, by file name; the board holds no runner's address."""

    board: Mapping[str, bytes] = field(default_factory=dict)  # index.html, course.html
    coach: Mapping[str, bytes] = field(default_factory=dict)  # coach.html


@dataclass(frozen=True, slots=True)
class Making:
    """A site that is about to be made."""

    people: Mapping[str, str]  # names by runner key
    timezone: str
    told: Sent  # what was sent when news was last told
    sent: Sent  # what was sent last, with new addresses and with those retired who left
    addresses: Addresses
    now: dt.datetime  # aware

    def address(self, key: str) -> Address:
        """Where a runner's files will stand."""
        return self.addresses.runner(key, self.people[key], self.sent.renewals.get(key, 0))


@dataclass(frozen=True, slots=True)
class Part:
    """One runner's share of a site."""

    key: str
    pages: Mapping[str, bytes]  # by path
    feed_path: str
    feed: bytes
    said: SentFeed  # what the feed says, to be remembered

    @property
    def without(self) -> tuple[str, ...]:
        """Paths of the pages that this runner could have and has not."""
        folder = self.feed_path.removesuffix(FEED_FILE)
        return tuple(path for path in (f"{folder}{name}" for name in RUNNER_FILES) if path not in self.pages)


@dataclass(frozen=True, slots=True)
class Shared:
    """What a site holds besides its runners' parts, and where everything stands."""

    files: Mapping[str, bytes]  # by path
    notices: Mapping[str, bytes]  # feeds in place of those that moved away
    removed: tuple[str, ...]  # paths that stood here once and must not any more
    board_url: str
    coach_url: str
    sent: Sent
    changed: tuple[str, ...]  # keys of the runners whose feed says something new


def begin_site(
    people: Mapping[str, str],
    sent: Sent,
    addresses: Addresses,
    *,
    timezone: str,
    now: dt.datetime,
    renew: Iterable[str] = (),
) -> Making:
    """What the parts are made from. ``renew`` holds keys of runners, "board" or "coach" that move."""
    moved = _retire(_renew(sent, people, renew, now), people, now)
    return Making(people, timezone, sent, moved, addresses, now)


def part_of(making: Making, plan: Plan, *, pages: Mapping[str, bytes], last_bytes: LastBytes) -> Part:
    """One runner's share, given the pages by file name.

    ``last_bytes`` gives the bytes that stand at a path now, or None; a feed whose plan did not change is
    taken from there.
    """
    address = making.address(plan.runner.key)
    said, feed = _feed(plan, making.sent, address, last_bytes, making.now)
    return Part(
        plan.runner.key,
        _named(address.folder, pages, RUNNER_FILES),
        f"{address.folder}/{FEED_FILE}",
        feed,
        said,
    )


def finish_site(making: Making, said: Mapping[str, SentFeed], shared: SharedPages) -> Shared:
    """The rest, after the last part; ``said`` is what each feed says now, by runner key."""
    sent, addresses = making.sent, making.addresses
    folders = {
        name: addresses.folder(name, "", sent.shared_renewals.get(name, 0)) for name, _ in _SHARED_FILES
    }
    files = {
        "robots.txt": ROBOTS,
        "index.html": FRONT,
        **_named(folders["board"], shared.board, BOARD_FILES),
        **_named(folders["coach"], shared.coach, COACH_FILES),
    }
    past = [f"{folders[name]}/{file}" for name, allowed in _SHARED_FILES for file in allowed]
    notices = dict(_notices(making))
    standing = {*files, *notices} | {
        f"{making.address(key).folder}/{file}" for key in said for file in (FEED_FILE, *RUNNER_FILES)
    }
    changed = tuple(key for key, feed in said.items() if feed.body != _body(sent.feeds.get(key)))
    return Shared(
        files=files,
        notices=notices,
        removed=tuple(path for path in (*_shown_once(sent, addresses), *past) if path not in standing),
        board_url=addresses.url(folders["board"], BOARD_FILES[0]) if shared.board else "",
        coach_url=addresses.url(folders["coach"], COACH_FILES[0]) if shared.coach else "",
        sent=replace(
            sent,
            feeds=Overlaid(sent.feeds, said),
            version=sent.version + bool(changed),
            base_url=addresses.base_url,
        ),
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
    """What is sent now, and what is remembered, about every session that was ever sent.

    One that has passed keeps its edition where only words around it are new: nobody is to run it any more.
    """
    events: dict[str, SentEvent] = {}
    for session in plan.sessions:
        content, before = contents[session.id], last.get(session.id)
        if session.cancelled:
            events[session.id] = _called_off(before, session.date, content, today, now)
        else:
            event = revise(before, content, now)
            passed = session.date < today and before is not None and before.asks_the_same(event)
            events[session.id] = before if passed and before is not None else event
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


def _renew(sent: Sent, keys: Container[str], renew: Iterable[str], now: dt.datetime) -> Sent:
    """New addresses for these; what stood at the old ones is replaced by a notice."""
    renewals, shared = dict(sent.renewals), dict(sent.shared_renewals)
    retired = list(sent.retired)
    for key in renew:
        if key in keys:
            retired.append(Retired(key, renewals.get(key, 0), now.date().isoformat()))
            renewals[key] = renewals.get(key, 0) + 1
        else:
            shared[key] = shared.get(key, 0) + 1
    return replace(sent, renewals=renewals, shared_renewals=shared, retired=tuple(retired))


def _retire(sent: Sent, keys: Collection[str], now: dt.datetime) -> Sent:
    """A runner who left the squad has a notice too; one who came back has the old address again."""
    left = {(key, sent.renewals.get(key, 0)) for key in sent.feeds if key not in keys}
    back = {(key, sent.renewals.get(key, 0)) for key in keys}
    kept = [entry for entry in sent.retired if (entry.runner, entry.renewal) not in back]
    known = {(entry.runner, entry.renewal) for entry in kept}
    new = [Retired(key, renewal, now.date().isoformat()) for key, renewal in sorted(left - known)]
    return replace(sent, retired=(*kept, *new))


def _notices(making: Making) -> Iterator[tuple[str, bytes]]:
    """One event in place of each plan that moved away: it clears the old plan from the phone."""
    for entry in making.sent.retired:
        since = dt.date.fromisoformat(entry.since)
        if making.now.date() < since + dt.timedelta(days=NOTICE_DAYS):
            folder = making.addresses.folder("runner", entry.runner, entry.renewal)
            yield (
                f"{folder}/{FEED_FILE}",
                write_notice(
                    uid=uid_of("notice", entry.runner, f"{entry.renewal} {entry.since}"),
                    date=since,
                    stamp=dt.datetime.combine(since, dt.time(), dt.UTC),
                    name="Training plan",
                    title="Plan link turned off",
                    text="This address no longer holds a plan. Ask your coach for the new one.",
                    timezone=making.timezone,
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
