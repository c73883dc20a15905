"""What each feed last said: the memory behind every UID, SEQUENCE and stamp (``state/sent.json``)."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, fields, replace
from pathlib import Path
from typing import Any, Final, NamedTuple, Self

from planbuilder.outputs.calendar import EventContent, Revision
from planbuilder.outputs.safe_write import write_pieces
from planbuilder.outputs.waiting import Waiting
from planbuilder.settings.problems import CannotWrite, InputProblems, Problem

SENT_FILE: Final = "sent.json"
TOLD_FILE: Final = "told.json"  # what was sent when news was last told; only where more was sent since
_FORMAT: Final = 1
_STAMP: Final = "%Y%m%dT%H%M%SZ"
_FEEDS: Final = b',"feeds":{\n'  # the end of the first line of the file
_END: Final = b"\n}}\n"


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
    own: str = ""  # digest of what the session itself asks; "" in a record of before

    @property
    def shows(self) -> tuple[str, str, str, bool]:
        """Day, hour and title, and whether it is in the feed."""
        return self.date, self.start, self.title, self.gone

    def asks_the_same(self, other: SentEvent) -> bool:
        """Whether two editions ask the same of a runner, as far as the record of this one knows."""
        return self.shows == other.shows and self.own in ("", other.own)

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
        own=content.own_digest,
    )


def leave_out(last: SentEvent, now: dt.datetime) -> SentEvent:
    """What is remembered of a session that the feed no longer holds."""
    if last.gone:
        return last
    return last._replace(gone=True, sequence=last.sequence + 1, changed=next_moment(now, last.changed))


class FeedsInFile(Mapping[str, SentFeed]):
    """The feeds of a record, each read when it is asked for; only while nobody swaps the file."""

    def __init__(self, path: Path, places: Mapping[str, tuple[int, int]]) -> None:
        self._path, self._places = path, places  # octets: where each begins, how many there are

    def __getitem__(self, key: str) -> SentFeed:
        start, size = self._places[key]
        with self._path.open("rb") as file:
            file.seek(start)
            return _of_line(file.read(size))[1]

    def __contains__(self, key: object) -> bool:
        return key in self._places

    def __iter__(self) -> Iterator[str]:
        return iter(self._places)

    def __len__(self) -> int:
        return len(self._places)


class FeedsAside(Mapping[str, SentFeed]):
    """Feeds that are said now: they wait in a nameless file until the last one is known."""

    def __init__(self) -> None:
        self._waiting = Waiting()
        self._at: dict[str, int] = {}

    def __enter__(self) -> Self:
        self._waiting.__enter__()
        return self

    def __exit__(self, *_: object) -> None:
        self._waiting.__exit__()

    def add(self, key: str, feed: SentFeed) -> None:
        """Keep what a feed says."""
        self._at[key] = len(self._waiting)
        self._waiting.add(SENT_FILE, _line(key, feed))

    def __getitem__(self, key: str) -> SentFeed:
        return _of_line(self._waiting[self._at[key]][1])[1]

    def __contains__(self, key: object) -> bool:
        return key in self._at

    def __iter__(self) -> Iterator[str]:
        return iter(self._at)

    def __len__(self) -> int:
        return len(self._at)


class Overlaid(Mapping[str, SentFeed]):
    """What was sent, with what is said now over it."""

    def __init__(self, under: Mapping[str, SentFeed], over: Mapping[str, SentFeed]) -> None:
        self._under, self._over = under, over

    def __getitem__(self, key: str) -> SentFeed:
        return self._over[key] if key in self._over else self._under[key]

    def __iter__(self) -> Iterator[str]:
        yield from self._under
        yield from (key for key in self._over if key not in self._under)

    def __len__(self) -> int:
        return sum(1 for _ in self)


def read_sent(state: Path, file: str = SENT_FILE, *, whole: bool = False) -> Sent:
    """The memory of a block, empty before the first publish. InputProblems for a file that is not ours.

    Its feeds are read from the file as they are asked for, with the lock of the folder held; ``whole`` reads
    them at once.
    """
    path = state / file
    try:
        return (None if whole else _in_lines(path)) or _parse(json.loads(path.read_bytes()))
    except FileNotFoundError:
        return Sent()
    except PermissionError as problem:
        must, found = "the record of what was sent must be readable", "permission denied"
        raise InputProblems([Problem(str(path), None, must, found)]) from problem
    except (OSError, ValueError, KeyError, TypeError, AttributeError) as problem:
        must = "the record of what was sent must be as publish wrote it"
        todo = "Put back your copy of the state folder; without it every calendar entry counts as new."
        raise InputProblems([Problem(str(path), None, must, f"not broken ({problem})", todo)]) from problem


def read_told(state: Path, sent: Sent, *, whole: bool = False) -> Sent:
    """What was sent when news was last told: what was ``sent`` last where no server sent more since."""
    return read_sent(state, TOLD_FILE, whole=whole) if (state / TOLD_FILE).exists() else sent


def keep_told(state: Path) -> None:
    """Before a server sends more: keep what was sent so far as what news is told against."""
    if (state / SENT_FILE).exists() and not (state / TOLD_FILE).exists():
        write_sent(state, read_sent(state), TOLD_FILE)


def count_as_told(state: Path) -> None:
    """From now on news is what comes after what was sent last. Raises CannotWrite."""
    try:
        (state / TOLD_FILE).unlink(missing_ok=True)
    except OSError as problem:
        path = state / TOLD_FILE
        raise CannotWrite(f"{path}: could not be removed ({problem.strerror or problem}).") from problem


def read_steadily(state: Path) -> tuple[Sent, Sent]:
    """What was sent last, and what was sent when news was last told, both as of one moment and in memory.

    Nothing is written for it and no lock is needed: every file is swapped whole, and where one was meanwhile,
    both are read again.
    """
    while True:
        before = _stamps(state)
        try:
            sent = read_sent(state, whole=True)
            told = read_told(state, sent, whole=True)
        except InputProblems:
            if before == _stamps(state):
                raise
        else:
            if before == _stamps(state):
                return sent, told


def write_sent(state: Path, sent: Sent, file: str = SENT_FILE) -> bool:
    """Remember what was sent, a feed a line; True if anything changed."""
    head = {
        "format": _FORMAT,
        "event": SentEvent._fields,
        "version": sent.version,
        "base_url": sent.base_url,
        "renewals": dict(sent.renewals),
        "shared_renewals": dict(sent.shared_renewals),
        "retired": [_values(entry) for entry in sent.retired],
    }

    def pieces() -> Iterator[bytes]:
        yield _json(head)[:-1] + _FEEDS
        for number, key in enumerate(sorted(sent.feeds)):
            yield (b",\n" if number else b"") + _line(key, sent.feeds[key])
        yield _END

    return write_pieces(state / file, pieces)


def _stamps(state: Path) -> list[tuple[int, int, int] | None]:
    """By which it shows that a file was swapped, or is there no more."""
    found: list[tuple[int, int, int] | None] = []
    for name in (SENT_FILE, TOLD_FILE):
        try:
            stat = (state / name).stat()
            found.append((stat.st_ino, stat.st_size, stat.st_mtime_ns))
        except OSError:
            found.append(None)
    return found


def _json(values: object) -> bytes:
    return json.dumps(values, ensure_ascii=False, separators=(",", ":"), sort_keys=True).encode()


def _line(key: str, feed: SentFeed) -> bytes:
    return _json({key: _values(feed)})[1:-1]


def _of_line(line: bytes) -> tuple[str, SentFeed]:
    ((key, values),) = json.loads(b"{" + line + b"}").items()
    return key, _feed(values)


def _values(record: SentFeed | Retired) -> dict[str, Any]:
    return {entry.name: getattr(record, entry.name) for entry in fields(record)}


def _in_lines(path: Path) -> Sent | None:
    """The record with a feed a line, each looked at and none kept; None for one that is a single line."""
    places: dict[str, tuple[int, int]] = {}
    with path.open("rb") as file:
        head = file.readline()
        if not head.endswith(_FEEDS):
            return None
        sent = _parse(json.loads(head + b"}}"))
        start, line = len(head), b""
        for line in file:
            if not _END.endswith(line):
                own = line.rstrip(b"\n").removesuffix(b",")
                places[_of_line(own)[0]] = (start, len(own))
            start += len(line)
    if line != b"}}\n":
        raise ValueError("cut off")
    return replace(sent, feeds=FeedsInFile(path, places))


def _parse(values: dict[str, Any]) -> Sent:
    columns = tuple(values["event"])
    if values["format"] != _FORMAT or columns not in (SentEvent._fields, SentEvent._fields[:-1]):
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
    events = {name: SentEvent(*row) for name, row in values.pop("events").items()}
    return SentFeed(events=events, **values)
