"""Two command-line calendars subscribe: one fetches the feed into files, the other shows them.

vdirsyncer keeps a file for each event and khal lists them by day; both are real programs from PyPI, run as
people run them, over loopback alone.
"""

from __future__ import annotations

import datetime as dt
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from tests.outputs.calendar_readers import Seen, missing, read_with_icalendar
from tests.publish.scenario import (
    CHANGED,
    Story,
    changed_plan,
    first_plan,
    said,
    told,
    truncated,
    with_calendar_uid,
)
from tests.publish.squad import BEFORE

_FETCHER = """\
[general]
status_path = "{folder}/status/"
[pair plan]
a = "feed"
b = "local"
collections = null
conflict_resolution = "a wins"
[storage feed]
type = "http"
url = "http://127.0.0.1:{port}/c/token/plan.ics"
[storage local]
type = "filesystem"
path = "{folder}/events/"
fileext = ".ics"
"""
_LISTER = """\
[calendars]
[[plan]]
path = {folder}/events
readonly = True
[locale]
local_timezone = {zone}
default_timezone = {zone}
timeformat = %H:%M
dateformat = %Y-%m-%d
longdateformat = %Y-%m-%d
datetimeformat = %Y-%m-%d %H:%M
longdatetimeformat = %Y-%m-%d %H:%M
[sqlite]
path = {folder}/khal-{name}.db
"""


class Desk:
    """A runner's computer with both programs."""

    def __init__(self, folder: Path, port: int) -> None:
        self.folder = folder
        (folder / "events").mkdir(parents=True)
        self._config = folder / "fetcher.ini"
        self._config.write_text(_FETCHER.format(folder=folder, port=port))
        self._run("vdirsyncer", "discover", "plan", answer="y\n" * 5)

    def sync(self) -> int:
        """Fetch the feed; the exit code."""
        return self._run("vdirsyncer", "sync").returncode

    def events(self) -> list[tuple[str, ...]]:
        """What the files on the disk say, one event each; vdirsyncer gives them UIDs of its own."""
        files = list((self.folder / "events").glob("*.ics"))
        seen = [event for path in files for event in read_with_icalendar(path.read_bytes())]
        assert len(seen) == len(files)
        return said(seen)

    def shown(self, zone: str) -> set[tuple[str, str]]:
        """Start and title of everything that khal lists to somebody in this zone."""
        config = self.folder / "lister.conf"
        name = zone.replace("/", "-")
        config.write_text(_LISTER.format(folder=self.folder, zone=zone, name=name))
        fields = ("--json", "start", "--json", "title")
        listed = self._run("khal", "-c", str(config), "list", "2027-03-14", "40d", *fields)
        rows: list[dict[str, Any]] = [
            row for line in listed.stdout.splitlines() if line for row in json.loads(line)
        ]
        return {(row["start"], row["title"].removeprefix("CANCELLED ")) for row in rows}

    def _run(self, program: str, *words: str, answer: str = "") -> subprocess.CompletedProcess[str]:
        beside = Path(sys.executable).parent / program
        found = str(beside) if beside.exists() else shutil.which(program)
        if found is None:
            missing(f"{program} is not installed (pip install {program})")
        environment = {
            **os.environ,
            "HOME": str(self.folder),
            "VDIRSYNCER_CONFIG": str(self._config),
            "XDG_CONFIG_HOME": str(self.folder / "config"),
            "XDG_DATA_HOME": str(self.folder / "data"),
            "XDG_CACHE_HOME": str(self.folder / "cache"),
            "LC_ALL": "C.UTF-8",
        }
        return subprocess.run(
            [str(found), *words],
            input=answer,
            env=environment,
            capture_output=True,
            text=True,
            timeout=120,
            check=False,
        )


def as_khal_says(events: dict[str, Seen], zone: str) -> set[tuple[str, str]]:
    """The same as khal lists it to somebody in this zone."""
    shown = set()
    for event in events.values():
        start = event.start
        moment = isinstance(start, dt.datetime)
        local = start.astimezone(ZoneInfo(zone)) if isinstance(start, dt.datetime) else start
        shown.add((f"{local:%Y-%m-%d %H:%M}" if moment else f"{local:%Y-%m-%d}", event.summary))
    return shown


def _subscribed(desk: Desk, story: Story) -> dict[str, Seen]:
    before = story.publish(first_plan(), now=BEFORE)
    assert desk.sync() == 0
    return before


def test_a_subscriber_has_every_session_once_and_after_a_change_the_new_plan(tmp_path: Path) -> None:
    with told(tmp_path / "block") as (story, port):
        desk = Desk(tmp_path / "desk", port)
        before = _subscribed(desk, story)
        assert desk.events() == said(before.values())
        assert len(before) == 18, "the club night called off long before is not there"
        for zone in ("Australia/Adelaide", "America/New_York"):
            assert desk.shown(zone) == as_khal_says(before, zone)
        files = _times(desk)
        story.publish(first_plan(), now=CHANGED)
        assert desk.sync() == 0
        assert _times(desk) == files, "a feed that says the same moves nothing"
        after = story.publish(changed_plan(), now=CHANGED)
        assert desk.sync() == 0
        assert desk.events() == said(after.values())
        assert len(after) == 18
        assert desk.shown("Australia/Adelaide") == as_khal_says(after, "Australia/Adelaide")
        assert len([uid for uid in before if before[uid] == after.get(uid)]) == 13
        assert len(_times(desk).items() & files.items()) == 13, "only what changed is written anew"


def _times(desk: Desk) -> dict[str, int]:
    return {path.name: path.stat().st_mtime_ns for path in (desk.folder / "events").iterdir()}


def test_a_calendar_uid_would_be_seen_here(tmp_path: Path) -> None:
    """A negative control: all events collapse into one."""
    with told(tmp_path / "block") as (story, port):
        desk = Desk(tmp_path / "desk", port)
        story.publish(first_plan(), now=BEFORE, sabotage=with_calendar_uid)
        desk.sync()
        assert len(desk.events()) == 1


def test_half_a_feed_would_be_seen_here(tmp_path: Path) -> None:
    """A negative control: the program fails and keeps the old plan."""
    with told(tmp_path / "block") as (story, port):
        desk = Desk(tmp_path / "desk", port)
        before = _subscribed(desk, story)
        story.publish(changed_plan(), now=CHANGED, sabotage=truncated)
        assert desk.sync() != 0
        assert desk.events() == said(before.values())
