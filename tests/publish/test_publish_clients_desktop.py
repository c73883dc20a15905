"""Evolution Data Server, the calendar service under several desktop calendars, subscribes over loopback.

It is the real service, headless, in a session bus and a home of its own. It decides by SEQUENCE and stamps
whether an event changed, so it is the client that finds a missing bump.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

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
from tests.publish.squad import BEFORE

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


def test_a_desktop_calendar_shows_every_session_once_and_after_a_change_the_new_plan(tmp_path: Path) -> None:
    with told(tmp_path / "block") as (story, port):
        story.publish(first_plan(), now=BEFORE)
        with desktop(tmp_path / "home", port) as home:
            before = _subscribed(home, story)
            assert {event.uid for event in home.events()} == set(before)
            after = story.publish(changed_plan(), now=CHANGED)
            home.refresh(story)
            events = home.events_when(lambda events: said(events) == said(after.values()))
            assert said(events) == said(after.values())
            assert {event.uid for event in events} == set(after)
            assert len({event.uid for event in events}) == len(events) == 18
            moved = [uid for uid in before if uid in after and before[uid].start != after[uid].start]
            assert len(moved) == 2


@pytest.mark.parametrize("sabotage", [without_bump, truncated])
def test_a_broken_republish_would_be_seen_here(tmp_path: Path, sabotage: Callable[[bytes], bytes]) -> None:
    """Negative controls: without a higher edition the old texts stay; half a feed loses sessions."""
    with told(tmp_path / "block") as (story, port):
        story.publish(first_plan(), now=BEFORE)
        with desktop(tmp_path / "home", port) as home:
            before = _subscribed(home, story)
            after = story.publish(changed_plan(), now=CHANGED, sabotage=sabotage)
            home.refresh(story)
            events = home.events_when(lambda events: said(events) == said(after.values()), within_s=6)
            assert said(events) != said(after.values())
            if sabotage is without_bump:
                held = {event.uid: event for event in events}
                changed = [uid for uid in after if after[uid].sequence > 0]
                assert len(changed) == 4
                assert [uid for uid in changed if held[uid].description != before[uid].description] == []
