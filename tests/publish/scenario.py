"""The same story for every real calendar program: subscribe, the coach changes the plan, fetch again."""

from __future__ import annotations

import datetime as dt
import http.server
import re
import threading
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

from planbuilder.plan.types import Plan
from tests.outputs.calendar_readers import Seen, read_with_icalendar
from tests.outputs.sample_plan import sample_plan
from tests.publish.squad import BEFORE, add, change, drop, in_memory

CHANGED = dt.datetime(2027, 3, 16, 21, 0, tzinfo=dt.UTC)
Sabotage = Callable[[bytes], bytes]


def first_plan() -> Plan:
    """The plan as it is first published; its race is in a zone far from most test machines."""
    return sample_plan(timezone="Australia/Adelaide", reminder=True)


def changed_plan() -> Plan:
    """One session moved, one at another hour, one dropped, one added, one at another pace, one called off."""
    plan = change(first_plan(), "w02-hills", date=dt.date(2027, 3, 24))
    plan = change(plan, "w02-easy", start_time=dt.time(18, 30))
    plan = drop(plan, "w02-easy-2")
    plan = add(plan, "w03-easy", "w03-easy-9", date=dt.date(2027, 4, 2))
    (step,) = next(session for session in plan.sessions if session.id == "w03-easy").steps
    plan = change(plan, "w03-easy", steps=(replace(step, pace_s_per_km=(340.0, 380.0)),))
    return change(plan, "w01-easy", cancelled=True)


class Story:
    """A feed over loopback that the coach publishes anew."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self.body = b""
        self.asked = 0

    def publish(self, plan: Plan, *, now: dt.datetime, sabotage: Sabotage = bytes) -> dict[str, Seen]:
        """Serve this plan from now on; what it says, by UID."""
        site = in_memory(self._folder, [plan], now=now, base_url="http://127.0.0.1")
        (feed,) = (data for path, data in site.files.items() if path.endswith("/plan.ics"))
        self.body = sabotage(feed)
        return {seen.uid: seen for seen in read_with_icalendar(feed)}


@contextmanager
def told(folder: Path) -> Iterator[tuple[Story, int]]:
    """The story and the port at which any path gives its feed."""
    story = Story(folder)

    class Handler(http.server.BaseHTTPRequestHandler):
        disable_nagle_algorithm = True

        def do_GET(self) -> None:
            story.asked += 1
            self.send_response(200)
            self.send_header("Content-Type", "text/calendar; charset=utf-8")
            self.send_header("Content-Length", str(len(story.body)))
            self.end_headers()
            if self.command == "GET":
                self.wfile.write(story.body)

        do_HEAD = do_GET  # noqa: N815 - the name is the base class's

        def log_message(self, *_: object) -> None:
            pass

    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield story, server.server_address[1]
    finally:
        server.shutdown()
        server.server_close()
        thread.join(10)


def said(events: Iterable[Seen]) -> list[tuple[str, ...]]:
    """Everything the events say but their UIDs, which one client replaces by its own."""
    return sorted(
        tuple(str(value) for name, value in sorted(vars(event).items()) if name != "uid") for event in events
    )


# Feeds that must fail, to prove that a client would show it ----------------------------------------------


def with_calendar_uid(feed: bytes) -> bytes:
    """RFC 7986 allows it; one client then keeps a single event."""
    return feed.replace(b"VERSION:2.0\r\n", b"VERSION:2.0\r\nUID:3f1a5a50-6a3e-4c69-8b0e-0d3a35b6b0aa\r\n", 1)


def without_bump(feed: bytes) -> bytes:
    """Every edition and stamp as on the first day."""
    stamp = f"{BEFORE:%Y%m%dT%H%M%SZ}".encode()
    feed = re.sub(rb"(DTSTAMP|LAST-MODIFIED):\d{8}T\d{6}Z", rb"\1:" + stamp, feed)
    return re.sub(rb"SEQUENCE:\d+", b"SEQUENCE:0", feed)


def truncated(feed: bytes) -> bytes:
    """Cut as by a proxy that gives up half way."""
    return feed[: len(feed) // 2]
