"""The bytes of a feed: the one module that knows the icalendar library.

The library holds the components and writes their values. What its version 7.3 gets wrong is put right:
texts are escaped by ``Text`` (a literal ``\\N`` must stay one), lines are folded by octets, never inside an
escape, the zone is described by us, and nothing is left to its defaults (it invents UIDs and stamps).
"""

from __future__ import annotations

import datetime as dt
import re
from functools import lru_cache
from typing import Any, Final

from icalendar import (
    Alarm,
    Calendar,
    Component,
    Event,
    vCategory,
    vDate,
    vDatetime,
    vDuration,
    vInt,
    vText,
    vUri,
)

from planbuilder.outputs.calendar.content import EventContent
from planbuilder.outputs.calendar.identity import Revision

PRODID: Final = "-//planbuilder//Plan feed 1//EN"
COLOUR: Final = ("darkslategray", "#2F4F4F")  # the same colour by its CSS name and its value
REFRESH: Final = dt.timedelta(hours=6)
_LINE: Final = 75  # octets of a line, RFC 5545 3.1
_ESCAPED: Final = {"\\": "\\\\", ";": "\\;", ",": "\\,", "\n": "\\n"}
_TO_ESCAPE: Final = re.compile(r"[\\;,\n]")


class Text(vText):
    """A TEXT value, escaped as RFC 5545 3.3.11 says and nothing more."""

    __slots__ = ()

    def to_ical(self) -> bytes:
        """The escaped octets."""
        return _TO_ESCAPE.sub(lambda found: _ESCAPED[found[0]], self).encode()


def head_bytes(
    *, name: str, description: str, timezone: str, changed: dt.datetime, url: str, subscription: bool
) -> bytes:
    """The lines of a feed before its first component. ``subscription`` adds how often to come back."""
    calendar = Calendar()
    calendar["VERSION"] = Text("2.0")
    calendar["PRODID"] = Text(PRODID)
    calendar["CALSCALE"] = Text("GREGORIAN")
    calendar["LAST-MODIFIED"] = vDatetime(changed)
    calendar["NAME"] = calendar["X-WR-CALNAME"] = Text(_plain_name(name))
    calendar["DESCRIPTION"] = calendar["X-WR-CALDESC"] = Text(description)
    calendar["X-WR-TIMEZONE"] = Text(timezone)
    if subscription:
        calendar["REFRESH-INTERVAL"] = vDuration(REFRESH, params={"VALUE": "DURATION"})
        calendar["X-PUBLISHED-TTL"] = vDuration(REFRESH)
    calendar["COLOR"], calendar["X-APPLE-CALENDAR-COLOR"] = (Text(colour) for colour in COLOUR)
    if url:
        calendar["URL"] = vUri(url)
    return _lines(calendar).removesuffix(TAIL)


TAIL: Final = b"END:VCALENDAR\r\n"


def _plain_name(name: str) -> str:
    """A calendar's name without what two readers show with its backslash."""
    return re.sub(r"\s*[;,\\\n]+\s*", " – ", name).strip(" –") or "Training plan"


def event_bytes(content: EventContent, revision: Revision, uid: str) -> bytes:
    """The lines of one event. The same event is written once in the life of a program."""
    return _event_bytes(content, content.clock, revision, uid)


@lru_cache(maxsize=4096)
def _event_bytes(content: EventContent, _clock: str, revision: Revision, uid: str) -> bytes:
    """``_clock`` keeps apart what Python calls equal: one moment on the clocks of two zones."""
    event = Event()
    event["UID"] = Text(uid)
    event["DTSTAMP"] = event["LAST-MODIFIED"] = vDatetime(revision.changed)
    event["SEQUENCE"] = vInt(revision.sequence)
    event["DTSTART"], event["DTEND"] = _when(content.start), _when(content.end)
    event["SUMMARY"] = Text(content.summary)
    if content.description:
        event["DESCRIPTION"] = Text(content.description)
    if content.location:
        event["LOCATION"] = Text(content.location)
    event["CATEGORIES"] = vCategory([Text(word) for word in content.categories])
    event["STATUS"] = Text("CANCELLED" if content.cancelled else "CONFIRMED")
    event["TRANSP"] = Text("OPAQUE" if content.busy else "TRANSPARENT")
    event["X-MICROSOFT-CDO-BUSYSTATUS"] = Text("BUSY" if content.busy else "FREE")
    if content.url:
        event["URL"] = vUri(content.url)
    if content.reminder_before is not None:
        event.add_component(_alarm(content.summary, content.reminder_before))
    return _lines(event)


def _when(value: dt.date | dt.datetime) -> Any:
    if not isinstance(value, dt.datetime):
        return vDate(value, params={"VALUE": "DATE"})
    if value.tzinfo is dt.UTC:
        return vDatetime(value)
    # The library would write a zone that shares UTC's clocks as UTC, so it is given the name and the hour.
    local = vDatetime(value.replace(tzinfo=None))
    local.params["TZID"] = str(value.tzinfo)
    return local


def _alarm(summary: str, before: dt.timedelta) -> Alarm:
    alarm = Alarm()
    alarm["ACTION"] = Text("DISPLAY")
    alarm["DESCRIPTION"] = Text(summary)
    alarm["TRIGGER"] = vDuration(-before)
    return alarm


def _lines(component: Component) -> bytes:
    lines = component.content_lines(sorted=False)
    return b"\r\n".join([fold(line.encode()) for line in lines if line]) + b"\r\n"


def fold(line: bytes) -> bytes:
    """The line in pieces of at most 75 octets, cut neither inside a character nor inside an escape.

    >>> fold(b"SUMMARY:" + b"a" * 66 + b"\\\\\\\\").split(b"\\r\\n ")[1]
    b'\\\\\\\\'
    """
    if len(line) <= _LINE:
        return line
    pieces, start, room = [], 0, _LINE
    while len(line) - start > room:
        end = start + room
        while line[end] & 0xC0 == 0x80:
            end -= 1
        slashes = end
        while slashes > start and line[slashes - 1] == 0x5C:
            slashes -= 1
        end -= (end - slashes) % 2
        pieces.append(line[start:end])
        start, room = end, _LINE - 1
    pieces.append(line[start:])
    return b"\r\n ".join(pieces)
