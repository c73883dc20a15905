"""Evolution Data Server, the calendar service under several desktop calendars, subscribes over loopback.

It is the real service, headless, in a session bus and a home of its own. It decides by SEQUENCE and stamps
whether an event changed, so it is the client that finds a missing bump.
"""

from __future__ import annotations

import datetime as dt
import json
import os
import shutil
import subprocess
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.outputs.calendar_readers import Seen, missing, seen_from
from tests.publish.scenario import (
    CHANGED,
    Story,
    changed_plan,
    first_plan,
    said,
    told,
    truncated,
    without_bump,
)
from tests.publish.squad import BEFORE, change

DRIVER = Path(__file__).parent / "eds_driver.py"
SYSTEM_PYTHON = "/usr/bin/python3"
_SOURCE = """\
[Data Source]
DisplayName=plan
Enabled=true
Parent=webcal-stub
[Calendar]
BackendName=webcal
Color=#62a0ea
[Authentication]
Host=127.0.0.1
Port={port}
Method=none
[Security]
Method=none
[Offline]
StaySynchronized=true
[Refresh]
Enabled=false
[WebDAV Backend]
ResourcePath=/c/token/plan.ics
"""


class Desktop:
    """The service with one subscription."""

    def __init__(self, process: subprocess.Popen[str]) -> None:
        self._process = process

    def _ask(self, word: str) -> str:
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.write(f"{word}\n")
        self._process.stdin.flush()
        answer = self._process.stdout.readline()
        assert answer, "Evolution Data Server went away"
        return answer

    def events(self) -> list[Seen]:
        """What it holds now."""
        return [seen_from(record) for record in json.loads(self._ask("list"))]

    def refresh(self, story: Story) -> None:
        """Fetch again, and wait until the feed has been read."""
        asked = story.asked
        self._ask("refresh")
        end = time.monotonic() + 60
        while story.asked == asked:
            assert time.monotonic() < end, "it did not come back for the feed"
            time.sleep(0.1)

    def events_when(self, expected: Callable[[list[Seen]], bool], *, within_s: float = 40) -> list[Seen]:
        """The events as soon as they are as expected, or whatever they are at the end of the wait."""
        end = time.monotonic() + within_s
        while not expected(events := self.events()) and time.monotonic() < end:
            time.sleep(0.3)
        return events


def _installed() -> bool:
    probe = (
        "import gi; gi.require_version('ECal', '2.0'); gi.require_version('ICalGLib', '3.0'); "
        "from gi.repository import ECal, ICalGLib"
    )
    if not shutil.which("dbus-run-session") or not Path(SYSTEM_PYTHON).exists():
        return False
    return subprocess.run([SYSTEM_PYTHON, "-c", probe], capture_output=True).returncode == 0


@contextmanager
def desktop(folder: Path, port: int) -> Iterator[Desktop]:
    """Evolution Data Server in its own home and session; nothing outside loopback can be reached."""
    if not _installed():
        missing(
            "Evolution Data Server is not installed (evolution-data-server gir1.2-ecal-2.0 python3-gi dbus)"
        )
    sources = folder / "config/evolution/sources"
    sources.mkdir(parents=True)
    (sources / "plan.source").write_text(_SOURCE.format(port=port))
    runtime = folder / "runtime"
    runtime.mkdir(mode=0o700)
    environment = {
        "PATH": os.environ["PATH"],
        "HOME": str(folder),
        "XDG_CONFIG_HOME": str(folder / "config"),
        "XDG_DATA_HOME": str(folder / "data"),
        "XDG_CACHE_HOME": str(folder / "cache"),
        "XDG_RUNTIME_DIR": str(runtime),
        "GSETTINGS_BACKEND": "memory",
        "GIO_USE_NETWORK_MONITOR": "base",
        "http_proxy": "http://127.0.0.1:9",
        "https_proxy": "http://127.0.0.1:9",
        "no_proxy": "127.0.0.1",
        "LC_ALL": "C.UTF-8",
        "TZ": "America/New_York",
    }
    process = subprocess.Popen(
        ["dbus-run-session", "--", SYSTEM_PYTHON, str(DRIVER)],
        env=environment,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
        start_new_session=True,
    )
    try:
        yield Desktop(process)
    finally:
        if process.stdin:
            process.stdin.close()
        try:
            process.wait(20)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait(20)
        if process.stdout:
            process.stdout.close()


def _subscribed(home: Desktop, story: Story) -> dict[str, Seen]:
    before = story.publish(first_plan(), now=BEFORE)
    events = home.events_when(lambda events: len(events) == len(before))
    assert said(events) == said(before.values())
    return before


def test_a_desktop_calendar_follows_the_plan_and_would_show_a_broken_republish(tmp_path: Path) -> None:
    """Every session once, then the changed plan; then two negative controls in the same subscription."""
    with told(tmp_path / "block") as (story, port):
        story.publish(first_plan(), now=BEFORE)
        with desktop(tmp_path / "home", port) as home:
            before = _subscribed(home, story)
            assert {event.uid for event in home.events()} == set(before)
            after = _follows(home, story, before)
            _keeps_old_text_without_a_bump(home, story, after)
            _loses_sessions_with_half_a_feed(home, story, after)


def _follows(home: Desktop, story: Story, before: dict[str, Seen]) -> dict[str, Seen]:
    after = story.publish(changed_plan(), now=CHANGED)
    home.refresh(story)
    events = home.events_when(lambda events: said(events) == said(after.values()))
    assert said(events) == said(after.values())
    assert {event.uid for event in events} == set(after)
    assert len({event.uid for event in events}) == len(events) == 18
    assert sum(uid in after and before[uid].start != after[uid].start for uid in before) == 2
    return after


def _keeps_old_text_without_a_bump(home: Desktop, story: Story, after: dict[str, Seen]) -> None:
    newer = change(changed_plan(), "w02-long", why="Another reason")
    texts = story.publish(newer, now=CHANGED + dt.timedelta(days=1), sabotage=without_bump)
    (changed,) = (uid for uid in after if texts[uid].description != after[uid].description)
    home.refresh(story)
    events = home.events_when(lambda events: _text(events, changed) == texts[changed].description, within_s=6)
    assert _text(events, changed) == after[changed].description
    mended = story.publish(newer, now=CHANGED + dt.timedelta(days=1))
    home.refresh(story)
    events = home.events_when(lambda events: said(events) == said(mended.values()))
    assert said(events) == said(mended.values())


def _text(events: list[Seen], uid: str) -> str:
    return next(event.description for event in events if event.uid == uid)


def _loses_sessions_with_half_a_feed(home: Desktop, story: Story, after: dict[str, Seen]) -> None:
    story.publish(changed_plan(), now=CHANGED, sabotage=truncated)
    home.refresh(story)
    assert len(home.events_when(lambda events: len(events) < len(after), within_s=20)) < len(after)
