"""Thunderbird subscribes over loopback, on a screen of its own: the real program, in an empty profile.

It polls once a minute at best, so this takes some minutes and is marked slow.
"""

from __future__ import annotations

import datetime as dt
import os
import shutil
import signal
import sqlite3
import subprocess
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest

from tests.outputs.calendar_readers import Seen, missing
from tests.publish.scenario import CHANGED, changed_plan, first_plan, told, truncated
from tests.publish.squad import BEFORE

_CALENDAR = "0d2b8f5e-6c1f-4c0e-9a53-6f1f0a7c9e11"
_PREFERENCES = {
    f"calendar.registry.{_CALENDAR}.type": "ics",
    f"calendar.registry.{_CALENDAR}.name": "plan",
    f"calendar.registry.{_CALENDAR}.cache.enabled": True,
    f"calendar.registry.{_CALENDAR}.readOnly": True,
    f"calendar.registry.{_CALENDAR}.refreshInterval": "1",
    f"calendar.registry.{_CALENDAR}.calendar-main-in-composite": True,
    "calendar.list.sortOrder": _CALENDAR,
    "calendar.timezone.local": "America/New_York",
    "calendar.timezone.useSystemTimezone": False,
    # nothing leaves this machine: whatever is not loopback goes to a proxy that is not there
    "network.proxy.type": 1,
    "network.proxy.http": "127.0.0.1",
    "network.proxy.http_port": 9,
    "network.proxy.ssl": "127.0.0.1",
    "network.proxy.ssl_port": 9,
    "network.proxy.no_proxies_on": "127.0.0.1",
    "app.update.enabled": False,
    "app.update.auto": False,
    "app.donation.eoy.version.viewed": 999,
    "datareporting.healthreport.uploadEnabled": False,
    "datareporting.policy.dataSubmissionEnabled": False,
    "datareporting.policy.dataSubmissionPolicyBypassNotification": True,
    "toolkit.telemetry.enabled": False,
    "mail.shell.checkDefaultClient": False,
    "mail.provider.suppress_dialog_on_startup": True,
    "mail.spotlight.firstRunDone": True,
    "mail.winsearch.firstRunDone": True,
    "mailnews.start_page.enabled": False,
    "mail.rights.version": 1,
    "extensions.update.enabled": False,
    "browser.safebrowsing.malware.enabled": False,
    "browser.safebrowsing.phishing.enabled": False,
}


Kept = dict[str, tuple[str, str | None, dt.datetime]]  # title, status and start by UID


class Mail:
    """The program's own copy of the calendar."""

    def __init__(self, profile: Path) -> None:
        self._profile = profile

    def events(self) -> Kept:
        """Title, status and start by UID, as it keeps them."""
        copy = self._profile.parent / "copy"
        shutil.rmtree(copy, ignore_errors=True)
        copy.mkdir()
        for path in (self._profile / "calendar-data").glob("cache.sqlite*"):
            shutil.copy(path, copy)
        if not (copy / "cache.sqlite").exists():
            return {}
        with closing(sqlite3.connect(copy / "cache.sqlite")) as database:
            try:
                rows = database.execute(
                    "select id, title, ical_status, event_start from cal_events"
                ).fetchall()
            except sqlite3.DatabaseError:  # copied while it was being written
                return {}
        assert len({row[0] for row in rows}) == len(rows)
        return {
            uid: (title, status, dt.datetime.fromtimestamp(start / 1e6, dt.UTC))
            for uid, title, status, start in rows
        }

    def events_when(self, expected: Callable[[Kept], bool], *, within_s: float) -> Kept:
        """The events as soon as they are as expected, or whatever they are at the end of the wait."""
        end = time.monotonic() + within_s
        while not expected(events := self.events()) and time.monotonic() < end:
            time.sleep(2)
        return events


@contextmanager
def mail_program(folder: Path, port: int) -> Iterator[Mail]:
    """Thunderbird with one subscription, in a profile, home and screen of its own."""
    for program in ("thunderbird", "Xvfb", "xvfb-run", "dbus-run-session"):
        if not shutil.which(program):
            missing(f"{program} is not installed (thunderbird xvfb xauth dbus)")
    profile = folder / "profile"
    profile.mkdir(parents=True)
    address = {f"calendar.registry.{_CALENDAR}.uri": f"http://127.0.0.1:{port}/c/token/plan.ics"}
    lines = [f'user_pref("{name}", {_script(value)});' for name, value in (_PREFERENCES | address).items()]
    (profile / "user.js").write_text("\n".join(lines) + "\n")
    environment = {
        "PATH": os.environ["PATH"],
        "HOME": str(folder),
        "LC_ALL": "C.UTF-8",
        "MOZ_CRASHREPORTER_DISABLE": "1",
    }
    command = ["xvfb-run", "-a", "dbus-run-session", "--", "thunderbird", "--profile", str(profile)]
    process = subprocess.Popen(
        [*command, "--no-remote", "-calendar"],
        env=environment,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )
    try:
        yield Mail(profile)
    finally:
        os.killpg(process.pid, signal.SIGTERM)
        try:
            process.wait(20)
        except subprocess.TimeoutExpired:
            os.killpg(process.pid, signal.SIGKILL)
            process.wait(20)


def _script(value: object) -> str:
    return f'"{value}"' if isinstance(value, str) else str(value).lower()


def _as_kept(events: dict[str, Seen]) -> Kept:
    return {
        uid: (
            event.summary,
            event.status,
            event.start
            if isinstance(event.start, dt.datetime)
            else dt.datetime.combine(event.start, dt.time(), dt.UTC),
        )
        for uid, event in events.items()
    }


@pytest.mark.slow
def test_a_mail_program_follows_the_plan_and_would_show_half_a_feed(tmp_path: Path) -> None:
    """Every session once, then the changed plan; as negative control, half a feed empties the calendar."""
    with told(tmp_path / "block") as (story, port):
        before = _as_kept(story.publish(first_plan(), now=BEFORE))
        with mail_program(tmp_path / "home", port) as mail:
            assert mail.events_when(lambda events: events == before, within_s=120) == before
            after = _as_kept(story.publish(changed_plan(), now=CHANGED))
            assert mail.events_when(lambda events: events == after, within_s=180) == after
            assert sum(uid in after and before[uid][2] != after[uid][2] for uid in before) == 2
            story.publish(changed_plan(), now=CHANGED, sabotage=truncated)
            assert mail.events_when(lambda events: not events, within_s=180) == {}
