"""Whatever a coach does in whatever order, an event's edition moves when its meaning does, and only then."""

from __future__ import annotations

import datetime as dt
import tempfile
from pathlib import Path
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from planbuilder.outputs.calendar import check_feed
from planbuilder.plan.types import Plan
from tests.outputs.sample_plan import sample_plan
from tests.publish.squad import BEFORE, change, drop, events_of, in_memory

SESSIONS = ("w01-club", "w01-easy", "w02-long", "w03-easy", "w04-race")
STAMPS = ("DTSTAMP", "LAST-MODIFIED", "SEQUENCE")

_edits = st.lists(
    st.tuples(
        st.sampled_from(SESSIONS),
        st.sampled_from(
            [
                {"title": "Other"},
                {"why": "Another reason"},
                {"start_time": dt.time(6, 0)},
                {"start_time": None},
                {"cancelled": True},
                {"cancelled": False},
                {"private_note": "calf"},
                None,
            ]
        ),
        st.sampled_from([0, 1, 3600, 86400, 9 * 86400]),
    ),
    max_size=6,
)


def _meaning(event: Any) -> bytes:
    lines = event.to_ical().replace(b"\r\n ", b"").split(b"\r\n")
    return b"\n".join(line for line in lines if not line.startswith(tuple(name.encode() for name in STAMPS)))


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(edits=_edits)
def test_editions_move_with_the_meaning_alone(edits: list[tuple[str, dict[str, Any] | None, int]]) -> None:
    plan: Plan = sample_plan()
    now = BEFORE
    highest: dict[str, tuple[int, dt.datetime]] = {}
    last: dict[str, bytes] = {}
    files: dict[str, bytes] = {}
    with tempfile.TemporaryDirectory() as folder:
        for session, values, seconds in [("w01-easy", {}, 0), *edits]:
            plan = drop(plan, session) if values is None else change(plan, session, **values)
            now += dt.timedelta(seconds=seconds)
            site = in_memory(Path(folder), [plan], now=now, last=files)
            files = dict(site.files)
            (feed,) = (data for path, data in files.items() if path.endswith("/plan.ics"))
            assert check_feed(feed) == []
            said: dict[str, bytes] = {}
            for name, event in events_of(feed).items():
                edition = (int(event["SEQUENCE"]), event["DTSTAMP"].dt)
                said[name] = _meaning(event)
                if last.get(name) == said[name]:
                    assert edition == highest[name]
                elif name in highest:
                    assert edition[0] > highest[name][0]
                    assert edition[1] > highest[name][1]
                highest[name] = edition
            last = said
