"""Times are right wherever the race is: both days on which the clocks change, and every zone there is."""

from __future__ import annotations

import datetime as dt
import os
import subprocess
import sys
import zoneinfo
from collections.abc import Iterable, Iterator
from dataclasses import replace
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from planbuilder.outputs.calendar import Revision, check_feed, first_revisions, uid_of, write_feed
from planbuilder.outputs.calendar.content import UTC_NAMES, EventContent, content_of
from planbuilder.outputs.calendar.feed import join_feed
from planbuilder.outputs.calendar.zones import vtimezone
from planbuilder.plan.types import Plan
from tests.outputs.calendar_readers import READERS, Seen, libical_report
from tests.outputs.sample_plan import sample_plan

# A zone, the days of 2027 on which its clocks change, and why it is here.
CHANGES = (
    ("Europe/Lisbon", "2027-03-28", "2027-10-31", "north"),
    ("America/New_York", "2027-03-14", "2027-11-07", "north, at 02:00 local"),
    ("America/St_Johns", "2027-03-14", "2027-11-07", "half an hour off the hour"),
    ("Australia/Sydney", "2027-04-04", "2027-10-03", "south"),
    ("Australia/Adelaide", "2027-04-04", "2027-10-03", "south, half an hour off the hour"),
    ("Australia/Lord_Howe", "2027-04-04", "2027-10-03", "changes by half an hour"),
    ("Africa/Casablanca", "2027-02-07", "2027-03-14", "changes with the moon"),
    ("Asia/Kolkata", "2027-03-28", "2027-10-31", "never changes, half an hour off the hour"),
)
MANY = (
    *(zone for zone, *_ in CHANGES),
    *("Africa/Cairo", "America/Nuuk", "America/Sao_Paulo", "Asia/Gaza", "Asia/Jerusalem", "Europe/Dublin"),
    *(
        "Pacific/Apia",
        "Pacific/Chatham",
        "Antarctica/Troll",
        "Atlantic/Reykjavik",
        "America/Asuncion",
        "Asia/Tehran",
    ),
)


def _timed(plan: Plan, session_id: str, start: dt.datetime, minutes: float) -> Plan:
    """The plan with one session at this local time."""
    weeks = tuple(
        replace(
            week,
            sessions=tuple(
                replace(session, date=start.date(), start_time=start.time(), duration_s=minutes * 60)
                if session.id == session_id
                else session
                for session in week.sessions
            ),
        )
        for week in plan.weeks
    )
    return replace(plan, weeks=weeks)


@pytest.mark.parametrize(("zone", "spring", "autumn", "_why"), CHANGES)
@pytest.mark.parametrize("name", READERS)
def test_sessions_on_the_days_the_clocks_change_start_and_end_at_the_right_moment(
    name: str, zone: str, spring: str, autumn: str, _why: str
) -> None:
    """Every hour of both days, with a run of 100 minutes: what a reader makes of it is what zoneinfo says."""
    tz = ZoneInfo(zone)
    starts = [
        dt.datetime.combine(dt.date.fromisoformat(day), dt.time(hour, minute), tz)
        for day in (spring, autumn)
        for hour in range(24)
        for minute in (0, 45)
    ]
    expected = {}
    entries = []
    for number, start in enumerate(starts):
        plan = _timed(sample_plan(timezone=zone), "w01-easy", start, 100)
        content = content_of(plan, plan.weeks[0], plan.weeks[0].sessions[1])
        uid = uid_of("dst", zone, str(number))
        entries.append((content, Revision(0, dt.datetime(2027, 1, 1, tzinfo=dt.UTC)), uid))
        begin = start.astimezone(dt.UTC)
        expected[uid] = (begin, begin + dt.timedelta(minutes=100))
    seen = READERS[name](join_feed(entries, name="Plan", timezone=zone, url=""))
    assert {event.uid: (event.start, event.end) for event in seen} == expected


def test_a_run_through_the_change_of_the_clocks_keeps_its_length() -> None:
    """Lisbon, 28 March 2027, 00:15 and 90 minutes: the clocks go from 01:00 to 02:00, so it ends at 02:45."""
    start = dt.datetime(2027, 3, 28, 0, 15)  # noqa: DTZ001 - local to the plan
    plan = _timed(sample_plan(), "w02-easy", start, 90)
    data = write_feed(plan, first_revisions(plan))
    assert b"DTSTART;TZID=Europe/Lisbon:20270328T001500\r\nDTEND;TZID=Europe/Lisbon:20270328T024500" in data


@pytest.mark.parametrize(
    ("local", "line"),
    [
        ("2027-03-28T01:30", b"DTSTART:20270328T013000Z"),  # skipped: counted with the offset before it
        ("2027-10-31T01:30", b"DTSTART:20271031T003000Z"),  # comes twice: the first (RFC 5545 3.3.5)
        ("2027-10-31T00:30", b"DTSTART:20271030T233000Z"),  # ends in the hour that comes twice
    ],
)
def test_a_time_that_never_comes_or_comes_twice_is_written_in_utc(local: str, line: bytes) -> None:
    plan = _timed(sample_plan(), "w02-easy", dt.datetime.fromisoformat(local), 60)
    data = write_feed(plan, first_revisions(plan))
    assert line in data
    assert check_feed(data) == []


@pytest.mark.parametrize("zone", ["UTC", "Etc/UTC", "Zulu"])
def test_a_block_in_utc_needs_no_zone(zone: str) -> None:
    plan = sample_plan(timezone=zone)
    data = write_feed(plan, first_revisions(plan))
    assert b"VTIMEZONE" not in data
    assert b"DTSTART:20270316T190000Z" in data


def test_one_moment_on_the_clocks_of_two_zones_is_written_twice() -> None:
    """Python calls 19:00 in Lisbon and in London equal; whoever keeps written events must not."""
    for zone in ("Europe/Lisbon", "Europe/London", "UTC"):
        plan = sample_plan(timezone=zone)
        data = write_feed(plan, first_revisions(plan))
        assert (b"DTSTART:20270316T190000Z" if zone == "UTC" else f"TZID={zone}:".encode()) in data


def test_an_all_day_session_is_the_same_in_every_zone() -> None:
    for zone in ("Pacific/Kiritimati", "Pacific/Pago_Pago"):
        plan = sample_plan(timezone=zone)
        assert b"DTSTART;VALUE=DATE:20270321\r\nDTEND;VALUE=DATE:20270322" in write_feed(
            plan, first_revisions(plan)
        )


def test_a_plan_without_an_hour_needs_no_zone() -> None:
    plan = sample_plan()
    weeks = tuple(
        replace(week, sessions=tuple(replace(session, start_time=None) for session in week.sessions))
        for week in plan.weeks
    )
    data = write_feed(replace(plan, weeks=weeks), first_revisions(plan))
    assert b"VTIMEZONE" not in data
    assert b"TZID" not in data


@pytest.mark.parametrize("machine", ["Pacific/Kiritimati", "America/Los_Angeles"])
@pytest.mark.parametrize("name", ["icalendar", "ical"])
def test_a_machine_far_from_the_race_reads_the_same_moments(name: str, machine: str) -> None:
    program = (
        "from tests.outputs.calendar_readers import READERS\n"
        "from tests.outputs.sample_plan import sample_plan\n"
        "from planbuilder.outputs.calendar import first_revisions, write_feed\n"
        "plan = sample_plan(timezone='Australia/Adelaide')\n"
        f"seen = READERS[{name!r}](write_feed(plan, first_revisions(plan)))\n"
        "print(sorted(f'{event.start} {event.end}' for event in seen))\n"
    )
    seen = {
        subprocess.run(
            [sys.executable, "-c", program],
            env={**os.environ, "TZ": zone},
            cwd=Path(__file__).parents[2],
            capture_output=True,
            check=True,
            timeout=60,
        ).stdout
        for zone in (machine, "Australia/Adelaide")
    }
    assert len(seen) == 1


# Every zone through libical ------------------------------------------------------------------------------


def _moments(zone: ZoneInfo, first_year: int, last_year: int) -> Iterator[dt.datetime]:
    """Local times all through the years, close around every change, none of them skipped or repeated."""
    start = dt.datetime(first_year, 1, 1, 12, tzinfo=dt.UTC)
    days = (dt.date(last_year, 12, 31) - dt.date(first_year, 1, 1)).days
    last = None
    for day in range(days):
        moment = start + dt.timedelta(days=day)
        offset = moment.astimezone(zone).utcoffset()
        if last is not None and offset != last:
            yield from _around(zone, moment - dt.timedelta(days=1))
        elif day % 9 == 0:
            yield from _plain(zone, [moment])
        last = offset


def _around(zone: ZoneInfo, moment: dt.datetime) -> Iterator[dt.datetime]:
    return _plain(zone, (moment + dt.timedelta(minutes=30 * step) for step in range(49)))


def _plain(zone: ZoneInfo, moments: Iterable[dt.datetime]) -> Iterator[dt.datetime]:
    for moment in moments:
        local = moment.astimezone(zone)
        if local.replace(fold=0).utcoffset() == local.replace(fold=1).utcoffset():
            yield local


def _read_back(zone: str, locals_: list[dt.datetime], *, block: bytes | None = None) -> list[Seen]:
    stamp = Revision(0, dt.datetime(2027, 1, 1, tzinfo=dt.UTC))
    entries = []
    for number, local in enumerate(locals_):
        content = EventContent(
            summary=local.isoformat(),
            description="",
            location="",
            categories=("Running",),
            start=local,
            end=(local.astimezone(dt.UTC) + dt.timedelta(minutes=1)).astimezone(local.tzinfo),
            busy=False,
            cancelled=False,
            reminder_before=None,
            url="",
        )
        entries.append((content, stamp, uid_of("zone", zone, str(number))))
    data = join_feed(entries, name="Zone", timezone=zone, url="")
    if block is not None:
        head, _, rest = data.partition(b"BEGIN:VTIMEZONE")
        data = head + block + rest.partition(b"END:VTIMEZONE\r\n")[2]
    errors, valid, events = libical_report(data)
    assert (errors, valid) == (0, True)
    return events


def _wrong(events: list[Seen]) -> list[str]:
    return [
        f"{event.summary}: {event.start}"
        for event in events
        if event.start != dt.datetime.fromisoformat(event.summary).astimezone(dt.UTC)
    ]


@pytest.mark.parametrize("zone", MANY)
def test_a_zone_is_described_as_zoneinfo_knows_it(zone: str) -> None:
    moments = list(_moments(ZoneInfo(zone), 2026, 2028))
    assert len(moments) > 80
    assert _wrong(_read_back(zone, moments)) == []


@pytest.mark.slow
@pytest.mark.parametrize("years", [(2026, 2027), (2029, 2031), (2036, 2038)])
def test_every_zone_is_described_as_zoneinfo_knows_it(years: tuple[int, int]) -> None:
    wrong = {}
    zones = sorted(zoneinfo.available_timezones() - UTC_NAMES - {"localtime", "Factory"})
    assert len(zones) > 400
    for zone in zones:
        wrong[zone] = _wrong(_read_back(zone, list(_moments(ZoneInfo(zone), *years))))
    assert {zone: found[:2] for zone, found in wrong.items() if found} == {}


def test_a_wrong_description_would_be_noticed() -> None:
    """The negative control: libical reads the VTIMEZONE in the file, so another zone's under the same name
    gives other moments."""
    moments = list(_moments(ZoneInfo("Europe/Lisbon"), 2026, 2028))
    paris = vtimezone("Europe/Paris", 2026, 2028).replace(b"Europe/Paris", b"Europe/Lisbon")
    assert len(_wrong(_read_back("Europe/Lisbon", moments, block=paris))) > 80


def test_a_description_holds_a_rule_where_there_is_one_and_single_changes_where_not() -> None:
    lisbon = vtimezone("Europe/Lisbon", 2027, 2027)
    assert lisbon.count(b"RRULE:") == 2
    assert b"RRULE:FREQ=YEARLY;BYMONTH=3;BYDAY=-1SU" in lisbon
    assert b"RRULE" not in vtimezone("Africa/Casablanca", 2027, 2027)
    assert vtimezone("Asia/Kolkata", 2027, 2027).count(b"BEGIN:STANDARD") == 1
