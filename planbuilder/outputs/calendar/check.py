"""A strict reading of a feed's bytes: everything that is known to upset one of the readers out there.

It stands alone on purpose: it shares no code with the writer, so that a mistake of the writer is seen here.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from datetime import date, datetime
from typing import Final, NamedTuple

_BYTE_RULES: Final = (
    (re.compile(rb"\A\xef\xbb\xbf"), "begins with a byte order mark"),
    (re.compile(rb"(?<!\r)\n|\r(?!\n)"), "has a line that does not end with CR LF"),
    (re.compile(rb"\r\n(?=\r\n)|\A\r\n"), "has an empty line"),
    (re.compile(rb"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]"), "holds a control character"),
    (re.compile(rb"\r\n[ \t][\x80-\xbf]"), "folds a line inside a character"),
)
_SLASHES_AT_A_FOLD: Final = re.compile(rb"(\\+)\r\n[ \t]")
_NEEDED: Final[Mapping[str, tuple[str, ...]]] = {
    "VCALENDAR": ("PRODID", "VERSION", "NAME", "X-WR-CALNAME", "LAST-MODIFIED"),
    "VEVENT": (
        "UID",
        "DTSTAMP",
        "LAST-MODIFIED",
        "SEQUENCE",
        "DTSTART",
        "DTEND",
        "SUMMARY",
        "STATUS",
        "TRANSP",
    ),
    "VALARM": ("ACTION", "TRIGGER", "DESCRIPTION"),
    "VTIMEZONE": ("TZID",),
    "STANDARD": ("DTSTART", "TZOFFSETFROM", "TZOFFSETTO"),
    "DAYLIGHT": ("DTSTART", "TZOFFSETFROM", "TZOFFSETTO"),
}
_MORE: Final[Mapping[str, frozenset[str]]] = {
    "VCALENDAR": frozenset(
        ("CALSCALE", "DESCRIPTION", "X-WR-CALDESC", "X-WR-TIMEZONE", "REFRESH-INTERVAL", "X-PUBLISHED-TTL")
    )
    | {"COLOR", "X-APPLE-CALENDAR-COLOR", "URL"},
    "VEVENT": frozenset(("DESCRIPTION", "LOCATION", "CATEGORIES", "URL", "X-MICROSOFT-CDO-BUSYSTATUS")),
    "VALARM": frozenset(),
    "VTIMEZONE": frozenset(),
    "STANDARD": frozenset(("RRULE", "TZNAME")),
    "DAYLIGHT": frozenset(("RRULE", "TZNAME")),
}
_ALLOWED: Final = {name: frozenset(_NEEDED[name]) | _MORE[name] for name in _NEEDED}
_PARENT: Final = {
    "VCALENDAR": "",
    "VEVENT": "VCALENDAR",
    "VTIMEZONE": "VCALENDAR",
    "VALARM": "VEVENT",
    "STANDARD": "VTIMEZONE",
    "DAYLIGHT": "VTIMEZONE",
}
_TEXT: Final = r"(?:[^\\;,]|\\[\\;,nN])+"
_TEXT_NAMES: Final = ("SUMMARY", "DESCRIPTION", "LOCATION", "X-WR-CALDESC", "PRODID", "TZID", "TZNAME")
_UTC: Final = r":\d{8}T\d{6}Z"
_TIME: Final = r"(?:;VALUE=DATE:\d{8}|;TZID=[A-Za-z0-9_+\-/]+:\d{8}T\d{6}|:\d{8}T\d{6}Z)"
_UUID: Final = r":[0-9a-f]{8}-[0-9a-f]{4}-[45][0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}"
_DURATION: Final = r"P(?:\d+W|(?=\d|T\d)(?:\d+D)?(?:T(?:\d+H)?(?:\d+M)?(?:\d+S)?)?)"
_VALUE: Final[Mapping[str, re.Pattern[str]]] = {
    name: re.compile(pattern, re.DOTALL)
    for name, pattern in {
        **dict.fromkeys(_TEXT_NAMES, f":{_TEXT}"),
        "NAME": r":[^\\;,]+",  # two readers show the backslashes of escapes here
        "X-WR-CALNAME": r":[^\\;,]+",
        "VERSION": r":2\.0",
        "CALSCALE": ":GREGORIAN",
        "X-WR-TIMEZONE": r":[A-Za-z0-9_+\-/]+",
        "REFRESH-INTERVAL": f";VALUE=DURATION:{_DURATION}",
        "X-PUBLISHED-TTL": f":{_DURATION}",
        "COLOR": ":[a-z]+",
        "X-APPLE-CALENDAR-COLOR": ":#[0-9A-F]{6}",
        "URL": r":https?://[!-~]+",
        "UID": _UUID,
        "DTSTAMP": _UTC,
        "LAST-MODIFIED": _UTC,
        "SEQUENCE": r":\d+",
        "STATUS": ":(?:CONFIRMED|CANCELLED|TENTATIVE)",
        "TRANSP": ":(?:TRANSPARENT|OPAQUE)",
        "X-MICROSOFT-CDO-BUSYSTATUS": ":(?:FREE|BUSY)",
        "CATEGORIES": f":{_TEXT}(?:,{_TEXT})*",
        "DTSTART": _TIME,
        "DTEND": _TIME,
        "ACTION": ":DISPLAY",
        "TRIGGER": f":-{_DURATION}",
        "RRULE": r":FREQ=YEARLY;BYMONTH=\d{1,2};BYDAY=-?\d[A-Z]{2}",
        "TZOFFSETFROM": r":[+\-]\d{4}(?:\d\d)?",
        "TZOFFSETTO": r":[+\-]\d{4}(?:\d\d)?",
    }.items()
}
_ONSET: Final = re.compile(r":\d{8}T\d{6}")  # DTSTART of a change of the clocks: local time without a zone
_CHANGES: Final = ("STANDARD", "DAYLIGHT")
_NAME: Final = re.compile(r"[A-Z0-9-]+")


class _Part(NamedTuple):
    """A component that is being read."""

    name: str
    line: int
    values: dict[str, str]  # what follows the name of each property


class _Reader:
    """Walks once over the unfolded lines and keeps what it finds wrong."""

    def __init__(self) -> None:
        self.faults: list[str] = []
        self.uids: Counter[str] = Counter()
        self.zones: set[str] = set()
        self.used_zones: set[str] = set()
        self.stack: list[_Part] = []
        self.calendars = 0

    def fault(self, line: int, words: str) -> None:
        self.faults.append(f"line {line}: {words}")

    def read(self, lines: list[str]) -> None:
        for number, line in enumerate(lines, 1):
            if line.startswith("BEGIN:"):
                self._begin(number, line[6:])
            elif line.startswith("END:"):
                self._end(number, line[4:])
            else:
                self._property(number, line)
        self._finish()

    def _begin(self, number: int, name: str) -> None:
        parent = self.stack[-1].name if self.stack else ""
        if _PARENT.get(name) != parent:
            self.fault(number, f"{name} stands where it may not")
        self.calendars += name == "VCALENDAR"
        self.stack.append(_Part(name, number, {}))

    def _end(self, number: int, name: str) -> None:
        if not self.stack or self.stack[-1].name != name:
            self.fault(number, f"END:{name} closes nothing")
            return
        part = self.stack.pop()
        for needed in _NEEDED.get(name, ()):
            if needed not in part.values:
                self.fault(part.line, f"{name} has no {needed}")
        if check := _WHOLE.get(name):
            check(self, part)

    def _property(self, number: int, line: str) -> None:
        match = _NAME.match(line)
        if match is None or not self.stack:
            self.fault(number, f"{line[:30]!r} is not a property of a component")
            return
        name, rest, part = match[0], line[match.end() :], self.stack[-1]
        if name in part.values:
            self.fault(number, f"{name} stands twice in one {part.name}")
        part.values[name] = rest
        if name not in _ALLOWED.get(part.name, ()):
            self.fault(number, f"{part.name} may not hold {name}")
            return
        pattern = _ONSET if name == "DTSTART" and part.name in _CHANGES else _VALUE[name]
        if not pattern.fullmatch(rest):
            self.fault(number, f"{name} has a value that readers refuse: {rest[:40]!r}")

    def _finish(self) -> None:
        for part in self.stack:
            self.fault(part.line, f"{part.name} is never closed")
        if self.calendars != 1:
            self.faults.append("the file must hold exactly one VCALENDAR")
        if not self.uids:
            self.faults.append("the calendar has no event; a reader would empty itself")
        self.faults += [
            f"UID {uid} stands on {count} events" for uid, count in self.uids.items() if count > 1
        ]
        self.faults += [f"TZID {zone} has no VTIMEZONE" for zone in sorted(self.used_zones - self.zones)]
        self.faults += [f"VTIMEZONE {zone} is not used" for zone in sorted(self.zones - self.used_zones)]

    def event(self, part: _Part) -> None:
        values = part.values
        self.uids[values.get("UID", "")] += 1
        start, end = values.get("DTSTART", ""), values.get("DTEND", "")
        for value in (start, end):
            if value.startswith(";TZID="):
                self.used_zones.add(value[6:].partition(":")[0])
        if start.partition(":")[0] != end.partition(":")[0]:
            self.fault(part.line, "DTSTART and DTEND are of different kinds or zones")
        elif _moment(start) is None or _moment(end) is None:
            self.fault(part.line, "DTSTART or DTEND is no day of any calendar")
        elif end.rpartition(":")[2] <= start.rpartition(":")[2]:
            self.fault(part.line, "DTEND does not lie after DTSTART")
        if values.get("DTSTAMP") != values.get("LAST-MODIFIED"):
            self.fault(part.line, "DTSTAMP and LAST-MODIFIED differ")
        if _moment(values.get("DTSTAMP", "")) is None:
            self.fault(part.line, "DTSTAMP is no moment of any calendar")
        wanted = {":OPAQUE": ":BUSY", ":TRANSPARENT": ":FREE"}.get(values.get("TRANSP", ""))
        if values.get("X-MICROSOFT-CDO-BUSYSTATUS", wanted) != wanted:
            self.fault(part.line, "TRANSP and X-MICROSOFT-CDO-BUSYSTATUS disagree")

    def zone(self, part: _Part) -> None:
        name = part.values.get("TZID", "")[1:]
        if name in self.zones:
            self.fault(part.line, f"VTIMEZONE {name} stands twice")
        self.zones.add(name)


_WHOLE: Final[Mapping[str, Callable[[_Reader, _Part], None]]] = {
    "VEVENT": _Reader.event,
    "VTIMEZONE": _Reader.zone,
}


def check_feed(data: bytes) -> list[str]:
    """Everything wrong with the bytes of a feed, a sentence each; an empty list if it is fit to go."""
    faults = list(_byte_faults(data))
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as problem:
        return [*faults, f"is not UTF-8 at octet {problem.start}"]
    unfolded = re.sub(r"\r?\n[ \t]", "", text)
    reader = _Reader()
    reader.read([line for line in unfolded.replace("\r\n", "\n").split("\n") if line])
    return [*faults, *reader.faults]


def _byte_faults(data: bytes) -> Iterator[str]:
    if not data:
        yield "is empty"
    elif not data.endswith(b"END:VCALENDAR\r\n"):
        yield "does not end with END:VCALENDAR and CR LF"
    for pattern, words in _BYTE_RULES:
        if pattern.search(data):
            yield words
    if max(map(len, data.split(b"\n"))) > 76:  # the carriage return counted
        yield "has a line of more than 75 octets"
    if any(len(slashes) % 2 for slashes in _SLASHES_AT_A_FOLD.findall(data)):
        yield "folds a line inside an escape"


def _moment(value: str) -> date | datetime | None:
    """The day or time behind the colon; None where no calendar has it."""
    digits = value.rpartition(":")[2].rstrip("Z")
    try:
        if len(digits) == 8:
            return date(int(digits[:4]), int(digits[4:6]), int(digits[6:]))
        return datetime.fromisoformat(digits)
    except ValueError:
        return None
