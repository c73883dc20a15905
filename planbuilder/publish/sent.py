"""What each feed last said: the memory behind every UID, SEQUENCE and stamp (``state/sent.json``)."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from pathlib import Path
from typing import Any, Final, NamedTuple

from planbuilder.outputs.calendar import EventContent, Revision
from planbuilder.outputs.safe_write import write_whole
from planbuilder.settings.problems import InputProblems, Problem

SENT_FILE: Final = "sent.json"
_FORMAT: Final = 1
_STAMP: Final = "%Y%m%dT%H%M%SZ"


class SentEvent(NamedTuple):
    """The last word that was sent about one session; a row of the file."""

    digest: str
    sequence: int
    changed: str  # UTC, as 20270315T080000Z
    title: str
    date: str
    start: str  # local clock time, "" for a session of no fixed hour
    called_off: str = ""  # the day on which the session was called off
    gone: bool = False  # no longer in the feed; kept so that a return counts on

    @property
    def revision(self) -> Revision:
        """Its edition."""
        return Revision(self.sequence, parse_stamp(self.changed))


@dataclass(frozen=True, slots=True)
class SentFeed:
    """The last feed of one runner."""

    name: str
    fingerprint: str  # of what it was made of
    body: str  # hash of its bytes
    changed: str  # when its bytes last changed
    until: str  # the day from which it says something else by itself, "" for never
    events: Mapping[str, SentEvent]


@dataclass(frozen=True, slots=True)
class Retired:
    """An address that is no longer a runner's: a notice stands there for a while."""

    runner: str
    renewal: int
    since: str  # day


@dataclass(frozen=True, slots=True)
class Sent:
    """Everything that was ever sent for a block."""

    version: int = 0  # how many publishes changed something
    base_url: str = ""  # where it was shown
    feeds: Mapping[str, SentFeed] = field(default_factory=dict)  # by runner key
    renewals: Mapping[str, int] = field(default_factory=dict)
    shared_renewals: Mapping[str, int] = field(default_factory=dict)  # of "board" and "coach"
    retired: tuple[Retired, ...] = ()


def say_stamp(moment: dt.datetime) -> str:
    """A moment in UTC as text.

    >>> say_stamp(dt.datetime(2027, 3, 15, 8, tzinfo=dt.UTC))
    '20270315T080000Z'
    """
    return moment.astimezone(dt.UTC).strftime(_STAMP)


def parse_stamp(text: str) -> dt.datetime:
    """The moment of such a text."""
    return dt.datetime.fromisoformat(text)


def next_moment(now: dt.datetime, last: str) -> str:
    """Now, or a second after the last time where that is later: stamps only ever increase."""
    moment = now.astimezone(dt.UTC).replace(microsecond=0)
    return say_stamp(max(moment, parse_stamp(last) + dt.timedelta(seconds=1)) if last else moment)


def revise(
    last: SentEvent | None, content: EventContent, now: dt.datetime, *, called_off: str = ""
) -> SentEvent:
    """What is sent about a session now: a higher SEQUENCE and a newer stamp if, and only if, it says more."""
    digest = content.digest
    if last is not None and not last.gone and last.digest == digest:
        return last
    start = content.start
    timed = isinstance(start, dt.datetime)
    return SentEvent(
        digest=digest,
        sequence=0 if last is None else last.sequence + 1,
        changed=next_moment(now, last.changed if last else ""),
        title=content.summary,
        date=(start.date() if isinstance(start, dt.datetime) else start).isoformat(),
        start=f"{start:%H:%M}" if timed else "",
        called_off=called_off,
    )


def leave_out(last: SentEvent, now: dt.datetime) -> SentEvent:
    """What is remembered of a session that the feed no longer holds."""
    if last.gone:
        return last
    return last._replace(gone=True, sequence=last.sequence + 1, changed=next_moment(now, last.changed))


def read_sent(state: Path) -> Sent:
    """The memory of a block, empty before the first publish. InputProblems for a file that is not ours."""
    path = state / SENT_FILE
    try:
        return _parse(json.loads(path.read_bytes()))
    except FileNotFoundError:
        return Sent()
    except (OSError, ValueError, KeyError, TypeError, AttributeError) as problem:
        must = "the record of what was sent must be as publish wrote it"
        todo = "Put back your copy of the state folder; without it every calendar entry counts as new."
        raise InputProblems([Problem(str(path), None, must, f"not broken ({problem})", todo)]) from problem


def write_sent(state: Path, sent: Sent) -> bool:
    """Remember what was sent; True if anything changed."""
    values = {
        "format": _FORMAT,
        "event": SentEvent._fields,
        "version": sent.version,
        "base_url": sent.base_url,
        "renewals": dict(sent.renewals),
        "shared_renewals": dict(sent.shared_renewals),
        "retired": [_values(entry) for entry in sent.retired],
        "feeds": {key: _values(feed) for key, feed in sent.feeds.items()},
    }
    text = json.dumps(values, ensure_ascii=False, separators=(",", ":"), sort_keys=True)
    return write_whole(state / SENT_FILE, f"{text}\n".encode())


def _values(record: SentFeed | Retired) -> dict[str, Any]:
    return {entry.name: getattr(record, entry.name) for entry in fields(record)}


def _parse(values: dict[str, Any]) -> Sent:
    if values["format"] != _FORMAT or tuple(values["event"]) != SentEvent._fields:
        raise ValueError("another format")
    return Sent(
        version=values["version"],
        base_url=values["base_url"],
        renewals=values["renewals"],
        shared_renewals=values["shared_renewals"],
        retired=tuple(Retired(**entry) for entry in values["retired"]),
        feeds={key: _feed(feed) for key, feed in values["feeds"].items()},
    )


def _feed(values: dict[str, Any]) -> SentFeed:
    events = {name: SentEvent._make(row) for name, row in values.pop("events").items()}
    return SentFeed(events=events, **values)
