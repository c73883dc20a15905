"""What feeds cost, as ratios against the bare libraries in the same run.

First publish, republish and serving are measured against, in this order: ``Event.new`` and ``to_ical`` of the
same events; the first publish; a constant body of the same size from the same server library. It is CPU time
of this process; PLANBUILDER_FEEDS makes the squad smaller than 1,000 for a quick look.
"""

from __future__ import annotations

import asyncio
import datetime as dt
import os
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from icalendar import STATUS, TRANSP, Calendar, Event
from starlette.applications import Starlette
from starlette.responses import Response
from starlette.routing import Route

from planbuilder.outputs.calendar import content_of, first_revisions, uid_of, write_feed
from planbuilder.plan.types import Plan
from planbuilder.publish.server import Shelf, make_app
from tests.outputs.sample_plan import sample_plan
from tests.publish.loopback import served
from tests.publish.squad import change, publish_to

pytestmark = pytest.mark.benchmark

FEEDS = int(os.environ.get("PLANBUILDER_FEEDS", "1000"))
NOW = dt.datetime(2026, 12, 20, 9, 0, tzinfo=dt.UTC)
FIRST_MOST = 1.6
AGAIN_MOST = 1 / 20
SERVED_LEAST = 0.7


def long_plan() -> Plan:
    """Sixteen weeks: the sample's four, four times, each session with an id of its own."""
    plan = sample_plan()
    weeks = []
    for round_no in range(4):
        back = dt.timedelta(weeks=4 * (3 - round_no))
        for week in plan.weeks[:4]:
            number = week.number + 4 * round_no
            sessions = tuple(
                replace(
                    session, id=f"w{number:02d}-{session.id[4:]}", date=session.date - back, cancelled=False
                )
                for session in week.sessions
            )
            weeks.append(replace(week, number=number, first_day=week.first_day - back, sessions=sessions))
    return replace(plan, weeks=(*weeks, plan.weeks[4]))


def squad() -> list[Plan]:
    """As many runners as feeds."""
    plan = long_plan()
    return [
        replace(plan, runner=replace(plan.runner, key=f"runner-{number}", name=f"Runner {number}"))
        for number in range(FEEDS)
    ]


def cpu_s(work: Callable[[], object]) -> float:
    """CPU seconds of one piece of work."""
    begun = time.process_time()
    work()
    return time.process_time() - begun


def write_plainly(plan: Plan) -> bytes:
    """The same events with the library as its documentation shows it."""
    calendar = Calendar.new(prodid="-//bench//bench//EN")
    for week in plan.weeks:
        for session in week.sessions:
            said = content_of(plan, week, session)
            calendar.add_component(
                Event.new(
                    uid=uid_of(plan.race.key, plan.runner.key, session.id),
                    stamp=NOW,
                    last_modified=NOW,
                    sequence=0,
                    start=said.start,
                    end=said.end,
                    summary=said.summary,
                    description=said.description,
                    location=said.location or None,
                    categories=list(said.categories),
                    status=STATUS.CONFIRMED,
                    transparency=TRANSP.TRANSPARENT,
                )
            )
    return bytes(calendar.to_ical())


def test_publishing_costs_little_more_than_the_library_and_republishing_next_to_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plans = squad()

    def go(some: list[Plan], hours: int) -> Any:
        now = NOW + dt.timedelta(hours=hours)
        return publish_to(tmp_path, some, now=now, pages=lambda _plan, _address: {})

    write_plainly(plans[0])
    write_feed(plans[0], first_revisions(plans[0]))
    texts = cpu_s(
        lambda: [
            [content_of(plan, week, session) for week in plan.weeks for session in week.sessions]
            for plan in plans
        ]
    )
    plain = cpu_s(lambda: [write_plainly(plan) for plan in plans]) - texts
    first = cpu_s(lambda: go(plans, 0))
    one_changed = [change(plans[0], "w05-easy", title="Steady run"), *plans[1:]]
    again = cpu_s(lambda: go(one_changed, 1))
    before = {path: path.stat().st_mtime_ns for path in (tmp_path / "site").rglob("*")}
    nothing = cpu_s(lambda: go(one_changed, 2))
    assert {path: path.stat().st_mtime_ns for path in (tmp_path / "site").rglob("*")} == before
    with capsys.disabled():
        print(
            f"\n{len(plans)} feeds of {len(plans[0].sessions)} sessions: library alone {plain:.2f} s, "
            f"first publish {first:.2f} s = {first / plain:.2f} (at most {FIRST_MOST}), "
            f"one changed {again:.2f} s = {again / first:.3f} of the first (at most {AGAIN_MOST}), "
            f"nothing changed {nothing:.2f} s"
        )
    assert first <= FIRST_MOST * plain
    assert again <= AGAIN_MOST * first


async def _hammer(port: int, path: str, requests: int) -> float:
    """Requests a second over eight kept connections."""

    async def one(count: int) -> None:
        reader, writer = await asyncio.open_connection("127.0.0.1", port)
        for _ in range(count):
            writer.write(f"GET {path} HTTP/1.1\r\nHost: x\r\n\r\n".encode())
            head = await reader.readuntil(b"\r\n\r\n")
            length = int(head.lower().partition(b"content-length: ")[2].partition(b"\r\n")[0])
            await reader.readexactly(length)
        writer.close()

    begun = time.monotonic()
    await asyncio.wait_for(asyncio.gather(*(one(requests // 8) for _ in range(8))), 120)
    return requests / (time.monotonic() - begun)


def test_serving_keeps_up_with_a_constant_body(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    plan = long_plan()
    body = write_feed(plan, first_revisions(plan))
    shelf = Shelf()
    shelf.replace({f"token/{number}/plan.ics": body for number in range(100)}, now=NOW)

    def constant(_request: Any) -> Response:
        return Response(body, media_type="text/calendar")

    async def constant_async(request: Any) -> Response:
        return constant(request)

    rates: dict[str, list[float]] = {"ours": [], "constant": []}
    apps = {
        "ours": make_app(shelf),
        "constant": Starlette(routes=[Route("/{path:path}", constant_async)]),
    }
    for _ in range(3):
        for name, app in apps.items():
            with served(app) as server:
                rates[name].append(asyncio.run(_hammer(server.port, "/token/50/plan.ics", 800)))
    ours, most = (sorted(rates[name])[1] for name in ("ours", "constant"))
    with capsys.disabled():
        print(
            f"\n{len(body)} bytes: {ours:.0f} answers a second, a constant body {most:.0f}: "
            f"{ours / most:.2f} (at least {SERVED_LEAST})"
        )
    assert ours >= SERVED_LEAST * most
