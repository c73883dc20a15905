"""Publishing into a folder that any web host or object store can show."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from itertools import chain
from pathlib import Path
from typing import Final
from urllib.parse import urlsplit

from planbuilder.outputs.safe_write import one_writer, write_whole
from planbuilder.outputs.waiting import Waiting
from planbuilder.publish.addresses import Address, Addresses, check_base_url, read_secret
from planbuilder.publish.sent import (
    FeedsAside,
    SentFeed,
    count_as_told,
    keep_told,
    read_sent,
    read_told,
    write_sent,
)
from planbuilder.publish.site import (
    Making,
    Part,
    SharedPages,
    begin_site,
    finish_site,
)
from planbuilder.settings.problems import CannotWrite, InputProblems, Problem, did_you_mean

STATE_FOLDER: Final = "state"
_LOOPBACK: Final = ("localhost", "127.0.0.1", "::1")


Parts = Callable[[Making], Iterable[Part]]
AllShare = Callable[[Making, Mapping[str, SentFeed]], SharedPages]


@dataclass(frozen=True, slots=True)
class Site:
    """All files of a site by path, feeds last, and where everything stands."""

    files: Mapping[str, bytes]
    removed: tuple[str, ...]  # paths that stood here once and must not any more
    addresses: Mapping[str, Address]  # by runner key
    board_url: str = ""  # "" where there is none
    coach_url: str = ""


@dataclass(frozen=True, slots=True)
class PublishReport:
    """What a publish did, and where everything stands now."""

    version: int
    addresses: Mapping[str, Address]  # by runner key
    board_url: str  # "" where there is none
    coach_url: str
    changed: tuple[str, ...]  # keys of the runners whose feed says something new
    written: tuple[str, ...]  # paths inside the site
    removed: tuple[str, ...]
    warnings: tuple[str, ...]


def publish(
    people: Mapping[str, str],
    parts: Parts,
    *,
    block_folder: Path,
    site: Path,
    base_url: str,
    timezone: str,
    shared: AllShare | None = None,
    now: dt.datetime,
    renew: Iterable[str] = (),
) -> PublishReport:
    """Write a site into the folder ``site`` and remember what was sent.

    ``people`` holds the names of all runners by key; ``parts`` makes each runner's share, one after the
    other, and none is kept; ``shared`` makes the board's and the coach's pages after the last one. ``renew``
    names runners (or "board", "coach") that get a new address. ``now`` is aware. Files that do not change are
    not touched; one that does is swapped whole: pages first, then the record of what is sent, so that no
    number is ever given twice, feeds last. Raises InputProblems or CannotWrite.
    """
    state = block_folder / STATE_FOLDER
    written: list[str] = []
    gone: list[str] = []  # pages that a runner had and has no more

    def write(path: str, data: bytes) -> None:
        if write_whole(site / path, data):
            written.append(path)

    with one_writer(state), Waiting() as feeds, FeedsAside() as said:
        making = _begin(people, state, base_url, timezone, now, renew)
        for part in parts(making):
            for path, data in part.pages.items():
                write(path, data)
            if read_if_there(site / part.feed_path) != part.feed:
                feeds.add(part.feed_path, part.feed)
            said.add(part.key, part.said)
            gone += [path for path in part.without if (site / path).exists()]
        rest = finish_site(making, said, shared(making, said) if shared else SharedPages())
        for path, data in rest.files.items():
            write(path, data)
        write_sent(state, rest.sent)
        for path, data in chain(rest.notices.items(), feeds):
            write(path, data)
        count_as_told(state)
        removed = tuple(path for path in (*gone, *rest.removed) if _remove(site / path))
        addresses = {key: making.address(key) for key in said}
    return PublishReport(
        version=rest.sent.version,
        addresses=addresses,
        board_url=rest.board_url,
        coach_url=rest.coach_url,
        changed=rest.changed,
        written=tuple(written),
        removed=removed,
        warnings=tuple(_warnings(base_url)),
    )


def site_in_memory(
    people: Mapping[str, str],
    parts: Parts,
    *,
    block_folder: Path,
    base_url: str,
    timezone: str,
    shared: AllShare | None = None,
    now: dt.datetime,
) -> Site:
    """The same site for a server, which keeps it in memory.

    What it sends stays news until it is told, by a publish or on request: whoever looks sees all of it.
    """
    state = block_folder / STATE_FOLDER
    with one_writer(state):
        making = _begin(people, state, base_url, timezone, now, ())
        files: dict[str, bytes] = {}
        feeds: dict[str, bytes] = {}
        said: dict[str, SentFeed] = {}
        for part in parts(making):
            files |= part.pages
            feeds[part.feed_path] = part.feed
            said[part.key] = part.said
        rest = finish_site(making, said, shared(making, said) if shared else SharedPages())
        if rest.changed:
            keep_told(state)
        write_sent(state, rest.sent)
    return Site(
        files={**rest.files, **files, **rest.notices, **feeds},
        removed=rest.removed,
        addresses={key: making.address(key) for key in said},
        board_url=rest.board_url,
        coach_url=rest.coach_url,
    )


@dataclass(frozen=True, slots=True)
class LastInFolder:
    """The bytes that stand at a path of a site folder now."""

    site: Path

    def __call__(self, path: str) -> bytes | None:
        return read_if_there(self.site / path)


def _begin(
    people: Mapping[str, str],
    state: Path,
    base_url: str,
    timezone: str,
    now: dt.datetime,
    renew: Iterable[str],
) -> Making:
    addresses = Addresses(read_secret(state), check_base_url(base_url))
    keys = [_key_of(name, people) for name in renew]
    sent = read_sent(state)
    making = begin_site(people, sent, addresses, timezone=timezone, now=now, renew=keys)
    return replace(making, told=read_told(state, sent))


def _key_of(name: str, people: Mapping[str, str]) -> str:
    """The key behind a name that a person typed."""
    for key, known in people.items():
        if name.casefold() in (known.casefold(), key.casefold()):
            return key
    if name in ("board", "coach"):
        return name
    first = [key for key, known in people.items() if known.casefold().split()[:1] == [name.casefold()]]
    if len(first) == 1:
        return first[0]
    raise InputProblems(
        [
            Problem(
                "--renew",
                None,
                "it must name a runner of the block, the board or the coach",
                f"not {name!r}",
                did_you_mean(name, [*people.values(), "board", "coach"]),
            )
        ]
    )


def read_if_there(path: Path) -> bytes | None:
    """The bytes of a file, or None."""
    try:
        return path.read_bytes()
    except OSError:
        return None


def _remove(path: Path) -> bool:
    """Take a file away, and its folder when nothing is left in it; True if it was there."""
    try:
        path.unlink()
    except FileNotFoundError:
        return False
    except OSError as problem:
        raise CannotWrite(f"{path}: could not be removed ({problem.strerror or problem}).") from problem
    if not any(path.parent.iterdir()):
        path.parent.rmdir()
    return True


def _warnings(base_url: str) -> Iterable[str]:
    parts = urlsplit(base_url)
    if parts.scheme == "http" and parts.hostname not in _LOOPBACK:
        yield "The site is shown without encryption: whoever is on the way can read the addresses. Use https."
