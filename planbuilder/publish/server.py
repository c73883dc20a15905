"""The small server: the bytes of a published site from memory, for browsers and for calendars that poll.

A calendar that is answered with an empty, truncated or HTML body deletes the plan from the phone, and some
never come back after 401, 403, 429 or 5xx. So the whole site stands ready in memory, a new one takes its
place in one step, and whatever goes wrong while it is made, the last good bytes stay.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import hashlib
import re
import shlex
import stat
import sys
import threading
import time
from collections.abc import Awaitable, Callable, Iterable, Mapping, MutableMapping
from dataclasses import dataclass
from email.utils import format_datetime, parsedate_to_datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from planbuilder.outputs.calendar import check_feed
from planbuilder.publish.folder import STATE_FOLDER, Site
from planbuilder.settings.problems import InputProblems, PlanbuilderError

if TYPE_CHECKING:
    from starlette.applications import Starlette

Scope = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[MutableMapping[str, Any]]]
Send = Callable[[MutableMapping[str, Any]], Awaitable[None]]
Headers = list[tuple[bytes, bytes]]
Rebuild = Callable[[Mapping[str, bytes]], Site]

LOOPBACK: Final = ("127.0.0.1", "::1", "localhost")
_TYPES: Final = {
    ".ics": b"text/calendar; charset=utf-8",
    ".html": b"text/html; charset=utf-8",
    ".txt": b"text/plain; charset=utf-8",
}
_EVERY_ANSWER: Final[Headers] = [
    (b"x-content-type-options", b"nosniff"),
    (b"x-robots-tag", b"noindex, nofollow, noarchive"),
    (b"referrer-policy", b"no-referrer"),
    (b"content-security-policy", b"frame-ancestors 'none'; base-uri 'none'; form-action 'none'"),
    (b"cross-origin-resource-policy", b"same-origin"),
]
_CACHE: Final = (b"cache-control", b"private, no-cache")
_CHANGED: Final = re.compile(rb"\r\nLAST-MODIFIED:(\d{8}T\d{6}Z)\r\n")
_TAG: Final = re.compile(rb'(?:W/)?("[^"]*")')


@dataclass(frozen=True, slots=True)
class _Item:
    """A file that stands ready with its headers."""

    body: bytes
    tag: bytes
    modified: dt.datetime
    full: Headers
    unchanged: Headers


class Shelf:
    """The files that are served now: a reader sees one edition of the site or the next, never a mixture."""

    def __init__(self) -> None:
        self.files: Mapping[str, bytes] = {}
        self._edition: tuple[Mapping[bytes, _Item], frozenset[bytes]] = ({}, frozenset())

    def replace(self, files: Mapping[str, bytes], gone: Iterable[str] = (), *, now: dt.datetime) -> list[str]:
        """Put a new edition in place of the old one; the faults that kept a file of it off, a sentence each.

        A feed that fails its check, and a page that is empty, leave the last good bytes where they are. A
        path that is missing in the new edition stays, unless it is named in ``gone``.
        """
        gone = frozenset(gone)
        faults: list[str] = []
        good = {path: data for path, data in self.files.items() if path not in gone}
        for path, data in files.items():
            if fault := _fault(path, data, good.get(path)):
                faults.append(fault)
            else:
                good[path] = data
        old, _ = self._edition
        items = {_hidden(path): _item(path, data, old.get(_hidden(path)), now) for path, data in good.items()}
        self.files = good
        self._edition = (items, frozenset(map(_hidden, gone)))
        return faults

    def find(self, path: str) -> _Item | int:
        """The file at a path, or the status that stands in for it: 404 unknown, 410 taken away."""
        items, gone = self._edition
        key = _hidden(path)
        if (item := items.get(key)) is not None:
            return item
        return 410 if key in gone else 404


def _hidden(path: str) -> bytes:
    """Paths are looked up by their hash, so that the time of an answer tells nothing about an address."""
    return hashlib.sha256(path.encode("utf-8", "surrogateescape")).digest()


def _fault(path: str, data: bytes, last: bytes | None) -> str:
    if data == last:
        return ""
    if not data:
        return "A page is empty."
    if path.endswith(".ics") and (faults := check_feed(data)):
        return f"A feed failed its check: {faults[0]}."
    return ""


def _item(path: str, data: bytes, old: _Item | None, now: dt.datetime) -> _Item:
    if old is not None and old.body == data:
        return old
    tag = f'"{hashlib.sha256(data).hexdigest()[:32]}"'.encode()
    modified = _modified(data, now)
    name = path.rpartition("/")[2]
    again: Headers = [
        *_EVERY_ANSWER,
        _CACHE,
        (b"etag", tag),
        (b"last-modified", format_datetime(modified, usegmt=True).encode()),
    ]
    full: Headers = [
        (b"content-type", _TYPES.get(Path(name).suffix, b"application/octet-stream")),
        (b"content-length", str(len(data)).encode()),
        *again,
    ]
    if name.endswith(".ics"):
        full.append((b"content-disposition", f'inline; filename="{name}"'.encode()))
    return _Item(data, tag, modified, full, again)


def _modified(data: bytes, now: dt.datetime) -> dt.datetime:
    if found := _CHANGED.search(data[:2000]):
        return dt.datetime.strptime(found[1].decode(), "%Y%m%dT%H%M%SZ").replace(tzinfo=dt.UTC)
    return now.astimezone(dt.UTC).replace(microsecond=0)


# Answers -------------------------------------------------------------------------------------------------


class _Answers:
    """Answers every request from the shelf."""

    def __init__(self, shelf: Shelf) -> None:
        self._shelf = shelf

    async def __call__(self, scope: Scope, _receive: Receive, send: Send) -> None:
        method = scope["method"]
        if method not in ("GET", "HEAD"):
            await _say(send, 405, "Only GET and HEAD are answered here.", (b"allow", b"GET, HEAD"))
            return
        found = self._shelf.find(scope["path"].lstrip("/") or "index.html")
        if isinstance(found, int):
            words = "Nothing stands here." if found == 404 else "What stood here was taken away."
            await _say(send, found, words, empty=method == "HEAD")
        elif _has_it(scope["headers"], found):
            await _send(send, 304, found.unchanged, b"")
        else:
            await _send(send, 200, found.full, found.body if method == "GET" else b"")


def _has_it(headers: Iterable[tuple[bytes, bytes]], item: _Item) -> bool:
    """Whether the client says that it holds these bytes (RFC 9110, 13.1): tags first, else the date."""
    asked: dict[bytes, bytes] = {}
    for name, value in headers:
        if name in (b"if-none-match", b"if-modified-since"):
            asked[name] = asked[name] + b"," + value if name in asked else value
    if (tags := asked.get(b"if-none-match")) is not None:
        return tags.strip() == b"*" or item.tag in _TAG.findall(tags)
    if (since := asked.get(b"if-modified-since")) is not None:
        return _not_after(item.modified, since)
    return False


def _not_after(modified: dt.datetime, since: bytes) -> bool:
    try:
        moment = parsedate_to_datetime(since.decode("ascii"))
    except (ValueError, UnicodeDecodeError):
        return False
    return modified <= (moment if moment.tzinfo else moment.replace(tzinfo=dt.UTC))


async def _say(send: Send, status: int, words: str, *more: tuple[bytes, bytes], empty: bool = False) -> None:
    body = f"{words}\n".encode()
    headers = [
        (b"content-type", _TYPES[".txt"]),
        (b"content-length", str(len(body)).encode()),
        (b"cache-control", b"no-store"),
        *_EVERY_ANSWER,
        *more,
    ]
    await _send(send, status, headers, b"" if empty else body)


async def _send(send: Send, status: int, headers: Headers, body: bytes) -> None:
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})


def make_app(shelf: Shelf) -> Starlette:
    """The application: every path is answered from the shelf, without redirects, cookies or access rules."""
    from starlette.applications import Starlette
    from starlette.routing import Route

    return Starlette(routes=[Route("/{path:path}", _Answers(shelf))])


# Rebuilding ----------------------------------------------------------------------------------------------


def block_stamp(block_folder: Path, *, now: dt.datetime) -> tuple[object, ...]:
    """Something that differs when a file of the block changes, or the day does."""
    state = block_folder / STATE_FOLDER
    marks = []
    for path in sorted(block_folder.rglob("*")):
        ours = state in path.parents and path.suffix != ".jsonl"  # the lock and what was sent
        with contextlib.suppress(OSError):
            status = path.stat()
            if stat.S_ISREG(status.st_mode) and not ours:
                marks.append((str(path), status.st_mtime_ns, status.st_size))
    return (now.date(), *marks)


class Keeper:
    """Watches for a change and puts a new edition on the shelf; a failed one is told once and left out.

    Input that is wrong is read again when it changes; after any other trouble, such as a full disk, the next
    try comes by itself.
    """

    def __init__(
        self,
        shelf: Shelf,
        rebuild: Rebuild,
        stamp: Callable[[], object],
        *,
        say: Callable[[str], None],
        clock: Callable[[], dt.datetime],
        every_s: float = 2.0,
        retry_s: float = 30.0,
    ) -> None:
        self._shelf, self._rebuild, self._stamp = shelf, rebuild, stamp
        self._say, self._clock, self._every_s, self._retry_s = say, clock, every_s, retry_s
        self._seen: object = None
        self._retry_at = float("inf")
        self._told = ""
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name="rebuild", daemon=True)

    def build(self) -> Site:
        """Make an edition now and put it on the shelf; raises whatever goes wrong."""
        self._seen, self._retry_at = self._stamp(), float("inf")
        site = self._rebuild(self._shelf.files)
        faults = self._shelf.replace(site.files, site.removed, now=self._clock())
        self._tell("\n".join(faults))
        return site

    def look(self) -> bool:
        """Rebuild if anything changed; True if a new edition stands on the shelf."""
        try:
            if self._stamp() == self._seen and time.monotonic() < self._retry_at:
                return False
            self.build()
        except InputProblems as problem:
            self._tell(str(problem))
            return False
        except Exception as problem:  # whatever it is, calendars keep getting the last good bytes
            self._retry_at = time.monotonic() + self._retry_s
            ours = isinstance(problem, PlanbuilderError)
            self._tell(
                str(problem) if ours else f"The plans could not be rebuilt ({type(problem).__name__})."
            )
            return False
        return True

    def _tell(self, trouble: str) -> None:
        if trouble and trouble != self._told:
            self._say(f"{trouble}\nThe last good plans are still served.")
        self._told = trouble

    def _run(self) -> None:
        while not self._stop.wait(self._every_s):
            self.look()

    def __enter__(self) -> Keeper:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._stop.set()
        self._thread.join(timeout=30)


def serve(
    rebuild: Rebuild,
    *,
    stamp: Callable[[], object],
    host: str = "127.0.0.1",
    port: int = 8000,
    say: Callable[[str], None],
    clock: Callable[[], dt.datetime] = lambda: dt.datetime.now(dt.UTC),
) -> None:
    """Serve a block until interrupted. ``rebuild`` makes the site, given the files that are served now.

    The first edition must succeed: its problems are raised. PlanbuilderError where the extra is missing.
    """
    try:
        import uvicorn
    except ImportError as problem:
        here = shlex.quote(sys.executable)
        raise PlanbuilderError(
            "planbuilder serve needs two more libraries. To get them: "
            f"python3 -m pip --python {here} install starlette uvicorn"
        ) from problem
    shelf = Shelf()
    keeper = Keeper(shelf, rebuild, stamp, say=say, clock=clock)
    keeper.build()
    if host not in LOOPBACK:
        say(f"Listening on {host}: everyone who can reach this machine can ask it. Put https in front of it.")
    say(f"Serving on http://{f'[{host}]' if ':' in host else host}:{port}/ until you press Ctrl-C.")
    config = uvicorn.Config(
        make_app(shelf),
        host=host,
        port=port,
        access_log=False,  # the paths are secret
        log_level="error",
        server_header=False,
        lifespan="off",
    )
    with keeper:
        uvicorn.Server(config).run()
