"""Our own check of a feed's bytes lets good feeds through and notices each known way to upset a reader."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable

import pytest

from planbuilder.outputs.calendar import (
    Revision,
    UnfitFeed,
    check_feed,
    content_of,
    first_revisions,
    uid_of,
    write_feed,
)
from planbuilder.outputs.calendar.feed import Entry, join_feed
from tests.outputs.sample_plan import sample_plan

GOOD = write_feed(
    sample_plan(reminder=True, page_link=True),
    first_revisions(sample_plan()),
    page_url="https://plans.club.example/abc/plan.html",
)


def _swap(old: bytes, new: bytes) -> Callable[[bytes], bytes]:
    def sabotage(data: bytes) -> bytes:
        assert old in data, old
        return data.replace(old, new, 1)

    return sabotage


def _regex(pattern: bytes, new: bytes) -> Callable[[bytes], bytes]:
    def sabotage(data: bytes) -> bytes:
        changed, count = re.subn(pattern, new, data, count=1)
        assert count, pattern
        return changed

    return sabotage


def _twice_the_same_event(data: bytes) -> bytes:
    start = data.index(b"BEGIN:VEVENT")
    event = data[start : data.index(b"END:VEVENT\r\n") + 12]
    return data.replace(b"END:VCALENDAR", event + b"END:VCALENDAR")


def _unfold_one(data: bytes) -> bytes:
    return data.replace(b"\r\n ", b"", 1)


def _no_events(data: bytes) -> bytes:
    return data[: data.index(b"BEGIN:VTIMEZONE")] + b"END:VCALENDAR\r\n"


# name: (what breaks the feed, a part of the sentence that must come of it)
SABOTAGE: dict[str, tuple[Callable[[bytes], bytes], str]] = {
    "line feeds alone": (lambda data: data.replace(b"\r\n", b"\n"), "does not end with CR LF"),
    "a lone carriage return": (_swap(b"\r\nVERSION", b"\rVERSION"), "does not end with CR LF"),
    "a byte order mark": (lambda data: b"\xef\xbb\xbf" + data, "byte order mark"),
    "a line of 300 octets": (_swap(b"SUMMARY:", b"SUMMARY:" + b"x" * 300), "more than 75 octets"),
    "an unfolded line": (_unfold_one, "more than 75 octets"),
    "a fold inside a character": (_swap(b"\xc3\x97", b"\xc3\r\n \x97"), "inside a character"),
    "a fold inside an escape": (_swap(b"\\,", b"\\\r\n ,"), "inside an escape"),
    "an empty line": (_swap(b"\r\nBEGIN:VEVENT", b"\r\n\r\nBEGIN:VEVENT"), "empty line"),
    "NUL": (_swap(b"SUMMARY:", b"SUMMARY:\x00"), "control character"),
    "BEL": (_swap(b"SUMMARY:", b"SUMMARY:\x07"), "control character"),
    "Latin-1": (_swap("×".encode(), b"\xd7"), "not UTF-8"),
    "truncated in an event": (lambda data: data[:4000], "never closed"),
    "truncated after an event": (lambda data: data[: data.rindex(b"BEGIN:VEVENT")], "END:VCALENDAR"),
    "nothing": (lambda _data: b"", "is empty"),
    "an HTML page": (lambda _data: b"<!doctype html>\r\n<p>Sorry</p>\r\n", "not a property"),
    "no event": (_no_events, "has no event"),
    "a second calendar": (lambda data: data + data, "exactly one VCALENDAR"),
    "a calendar UID": (_swap(b"VERSION:2.0\r\n", b"VERSION:2.0\r\nUID:1\r\n"), "VCALENDAR may not hold UID"),
    "a METHOD": (_swap(b"VERSION:2.0\r\n", b"VERSION:2.0\r\nMETHOD:PUBLISH\r\n"), "may not hold METHOD"),
    "a SOURCE that repeats the address": (
        _swap(b"VERSION:2.0\r\n", b"VERSION:2.0\r\nSOURCE;VALUE=URI:https://x.example/\r\n"),
        "may not hold SOURCE",
    ),
    "no PRODID": (_regex(rb"PRODID:[^\r]*\r\n", b""), "VCALENDAR has no PRODID"),
    "no VERSION": (_swap(b"VERSION:2.0\r\n", b""), "VCALENDAR has no VERSION"),
    "no UID": (_regex(rb"UID:[^\r]*\r\n", b""), "VEVENT has no UID"),
    "a UID with a host": (_regex(rb"UID:([0-9a-f-]+)", rb"UID:\1@club.example"), "UID has a value"),
    "one UID twice": (_twice_the_same_event, "stands on 2 events"),
    "no DTSTAMP": (_regex(rb"DTSTAMP:[^\r]*\r\n", b""), "VEVENT has no DTSTAMP"),
    "a DTSTAMP in local time": (_regex(rb"DTSTAMP:(\d{8}T\d{6})Z", rb"DTSTAMP:\1"), "DTSTAMP has a value"),
    "stamps that differ": (
        _regex(rb"DTSTAMP:\d{8}", b"DTSTAMP:20270101"),
        "DTSTAMP and LAST-MODIFIED differ",
    ),
    "no SEQUENCE": (_swap(b"SEQUENCE:0\r\n", b""), "VEVENT has no SEQUENCE"),
    "a SEQUENCE in letters": (_swap(b"SEQUENCE:0", b"SEQUENCE:abc"), "SEQUENCE has a value"),
    "no DTEND": (_regex(rb"DTEND[^\r]*\r\n", b""), "VEVENT has no DTEND"),
    "DURATION beside DTEND": (_swap(b"STATUS:", b"DURATION:PT1H\r\nSTATUS:"), "may not hold DURATION"),
    "an end before the start": (
        _regex(rb"DTEND;TZID=Europe/Lisbon:2027", b"DTEND;TZID=Europe/Lisbon:2026"),
        "does not lie after",
    ),
    "an end on the same day": (
        _swap(b"DTEND;VALUE=DATE:20270320", b"DTEND;VALUE=DATE:20270319"),
        "does not lie after",
    ),
    "a day to start and an hour to end": (
        _swap(b"DTEND;VALUE=DATE:20270320", b"DTEND:20270320T100000Z"),
        "different kinds",
    ),
    "a floating time": (
        lambda data: data.replace(b";TZID=Europe/Lisbon:", b":"),
        "DTSTART has a value",
    ),
    "30 February": (
        lambda data: data.replace(b"DATE:20270320", b"DATE:20270230", 1).replace(
            b"DATE:20270319", b"DATE:20270229", 1
        ),
        "no day of any calendar",
    ),
    "a TZID without its VTIMEZONE": (
        lambda data: data[: data.index(b"BEGIN:VTIMEZONE")] + data[data.index(b"BEGIN:VEVENT") :],
        "has no VTIMEZONE",
    ),
    "another zone's VTIMEZONE": (_swap(b"\nTZID:Europe/Lisbon", b"\nTZID:Europe/Paris"), "has no VTIMEZONE"),
    "COMMENT in a VTIMEZONE": (
        _swap(b"BEGIN:STANDARD", b"COMMENT:x\r\nBEGIN:STANDARD"),
        "VTIMEZONE may not hold COMMENT",
    ),
    "no offset": (_regex(rb"TZOFFSETTO:[^\r]*\r\n", b""), "has no TZOFFSETTO"),
    "an unescaped comma": (_swap(b"\\, gate", b", gate"), "LOCATION has a value"),
    "an unescaped semicolon": (_swap(b"Quarry Road\\;", b"Quarry Road;"), "LOCATION has a value"),
    "a stray backslash": (_swap(b"SUMMARY:", b"SUMMARY:\\x"), "SUMMARY has a value"),
    "a semicolon in the calendar's name": (_swap(b"\nNAME:", b"\nNAME:A\\;"), "NAME has a value"),
    "an empty LOCATION": (_regex(rb"LOCATION:[^\r]*", b"LOCATION:"), "LOCATION has a value"),
    "REFRESH-INTERVAL without its type": (
        _swap(b"REFRESH-INTERVAL;VALUE=DURATION:", b"REFRESH-INTERVAL:"),
        "REFRESH-INTERVAL has a value",
    ),
    "a clock time for a duration": (
        _swap(b"X-PUBLISHED-TTL:PT6H", b"X-PUBLISHED-TTL:6:00:00"),
        "X-PUBLISHED-TTL has a value",
    ),
    "a hex COLOR": (_swap(b"COLOR:darkslategray", b"COLOR:#2f4f4f"), "COLOR has a value"),
    "a CLASS": (_swap(b"STATUS:", b"CLASS:PRIVATE\r\nSTATUS:"), "VEVENT may not hold CLASS"),
    "an unknown STATUS": (_swap(b"STATUS:CONFIRMED", b"STATUS:DONE"), "STATUS has a value"),
    "two SUMMARYs": (_swap(b"STATUS:", b"SUMMARY:x\r\nSTATUS:"), "SUMMARY stands twice"),
    "free for one reader and busy for the next": (_swap(b"BUSYSTATUS:FREE", b"BUSYSTATUS:BUSY"), "disagree"),
    "an RRULE": (_swap(b"STATUS:", b"RRULE:FREQ=WEEKLY\r\nSTATUS:"), "VEVENT may not hold RRULE"),
    "an alarm without TRIGGER": (_regex(rb"TRIGGER:[^\r]*\r\n", b""), "VALARM has no TRIGGER"),
    "an alarm without its text": (
        _regex(rb"ACTION:DISPLAY\r\nDESCRIPTION:[^\r]*(?:\r\n [^\r]*)*", b"ACTION:DISPLAY"),
        "VALARM has no DESCRIPTION",
    ),
    "an alarm at a fixed hour": (
        _regex(rb"TRIGGER:[^\r]*", b"TRIGGER:20270315T200000Z"),
        "TRIGGER has a value",
    ),
    "an alarm that sends mail": (_swap(b"ACTION:DISPLAY", b"ACTION:EMAIL"), "ACTION has a value"),
    "a space in a URL": (_swap(b"URL:https://plans.club", b"URL:https://plans club"), "URL has a value"),
    "an injected event": (
        _swap(b"SUMMARY:", b"SUMMARY:x\r\nEND:VEVENT\r\nBEGIN:VEVENT\r\nSUMMARY:"),
        "VEVENT has no",
    ),
    "an event in an event": (
        _swap(b"SUMMARY:", b"BEGIN:VEVENT\r\nEND:VEVENT\r\nSUMMARY:"),
        "stands where it",
    ),
    "ends in the wrong order": (_swap(b"END:VALARM", b"END:VEVENT"), "closes nothing"),
}


def test_a_good_feed_has_no_fault() -> None:
    assert check_feed(GOOD) == []


def test_at_least_25_ways_to_break_a_feed_are_known() -> None:
    assert len(SABOTAGE) >= 25


@pytest.mark.parametrize("name", SABOTAGE)
def test_a_broken_feed_is_noticed(name: str) -> None:
    sabotage, words = SABOTAGE[name]
    broken = sabotage(GOOD)
    assert broken != GOOD
    assert any(words in fault for fault in check_feed(broken)), check_feed(broken)


def test_a_feed_that_fails_the_check_never_leaves() -> None:
    with pytest.raises(UnfitFeed, match="X-WR-TIMEZONE has a value"):
        join_feed(_one_notice(), name="Plan", timezone="Nowhere; at all", url="")


def _one_notice() -> list[Entry]:
    plan = sample_plan()
    week = plan.weeks[0]
    content = content_of(plan, week, week.sessions[2])
    return [(content, Revision(0, dt.datetime(2027, 1, 1, tzinfo=dt.UTC)), uid_of("a", "b", "c"))]
