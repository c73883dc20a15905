"""A time zone as a calendar file must describe it: every change of the clocks in the years that matter.

The rules are read from ``zoneinfo`` alone: the changes are searched for in UTC, and each is written at the
local time that the clocks show just before it (RFC 5545, 3.6.5).
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Final
from zoneinfo import ZoneInfo

_DAY: Final = dt.timedelta(days=1)
_WEEKDAYS: Final = ("MO", "TU", "WE", "TH", "FR", "SA", "SU")


@dataclass(frozen=True, slots=True)
class _Change:
    """One change of the clocks."""

    local: dt.datetime  # naive, as the clocks show it just before
    before: dt.timedelta  # offsets from UTC
    after: dt.timedelta
    name: str
    daylight: bool

    @property
    def kind(self) -> tuple[dt.timedelta, dt.timedelta, str, bool]:
        return self.before, self.after, self.name, self.daylight


@dataclass(frozen=True, slots=True)
class _Rule:
    """The same change every year: in this month, on the n-th such weekday (-1 the last), at this hour."""

    month: int
    nth: int
    weekday: int
    time: dt.time

    def __str__(self) -> str:
        return f"FREQ=YEARLY;BYMONTH={self.month};BYDAY={self.nth}{_WEEKDAYS[self.weekday]}"


@lru_cache(maxsize=64)
def vtimezone(name: str, first_year: int, last_year: int) -> bytes:
    """The VTIMEZONE of an IANA zone, right from the year before the first to the year after the last."""
    zone = ZoneInfo(name)
    start = dt.datetime(first_year - 1, 1, 1, tzinfo=dt.UTC)
    end = dt.datetime(last_year + 2, 1, 1, tzinfo=dt.UTC)
    changes = list(_changes(zone, start, end))
    years = range(first_year - 1, last_year + 2)
    lines = ["BEGIN:VTIMEZONE", f"TZID:{name}", *_observance(_opening(zone, start))]
    for change, rule in _with_rules(changes, years):
        lines += _observance(change, rule)
    return "\r\n".join((*lines, "END:VTIMEZONE", "")).encode()


def _changes(zone: ZoneInfo, start: dt.datetime, end: dt.datetime) -> Iterator[_Change]:
    here = start
    while here < end:
        there = min(here + _DAY, end)
        if _state(zone, here) != _state(zone, there):
            moment = _bisect(zone, here, there)
            yield _change_at(zone, moment)
        here = there


def _state(zone: ZoneInfo, moment: dt.datetime) -> tuple[dt.timedelta | None, str | None]:
    local = moment.astimezone(zone)
    return local.utcoffset(), local.tzname()


def _bisect(zone: ZoneInfo, low: dt.datetime, high: dt.datetime) -> dt.datetime:
    """The first second at which the clocks differ from those at ``low``."""
    before = _state(zone, low)
    seconds, width = 0, int((high - low).total_seconds())
    while width - seconds > 1:
        middle = (seconds + width) // 2
        if _state(zone, low + dt.timedelta(seconds=middle)) == before:
            seconds = middle
        else:
            width = middle
    return low + dt.timedelta(seconds=width)


def _change_at(zone: ZoneInfo, moment: dt.datetime) -> _Change:
    old = (moment - dt.timedelta(seconds=1)).astimezone(zone)
    new = moment.astimezone(zone)
    before = old.utcoffset() or dt.timedelta()
    return _Change(
        local=(moment + before).replace(tzinfo=None),
        before=before,
        after=new.utcoffset() or dt.timedelta(),
        name=new.tzname() or _name_of(new),
        daylight=bool(new.dst()),
    )


def _opening(zone: ZoneInfo, start: dt.datetime) -> _Change:
    """What the clocks show when the first year begins."""
    local = start.astimezone(zone)
    offset = local.utcoffset() or dt.timedelta()
    return _Change(
        local.replace(tzinfo=None), offset, offset, local.tzname() or _name_of(local), bool(local.dst())
    )


def _name_of(local: dt.datetime) -> str:
    """A name for an offset that has none."""
    return local.strftime("%z") or "UTC"


def _with_rules(changes: Iterable[_Change], years: range) -> Iterator[tuple[_Change, _Rule | None]]:
    """The changes in order; those that repeat every year as their first one with its rule."""
    by_kind: dict[object, list[_Change]] = defaultdict(list)
    for change in changes:
        by_kind[(*change.kind, change.local.month)].append(change)
    found: list[tuple[_Change, _Rule | None]] = []
    for same in by_kind.values():
        rule = _rule_of(same) if [change.local.year for change in same] == list(years) else None
        found += [(same[0], rule)] if rule else [(change, None) for change in same]
    yield from sorted(found, key=lambda pair: pair[0].local)


def _rule_of(changes: list[_Change]) -> _Rule | None:
    fits = set.intersection(*(set(_rules_that_fit(change.local)) for change in changes))
    return min(fits, key=lambda rule: rule.nth, default=None)


def _rules_that_fit(local: dt.datetime) -> Iterator[_Rule]:
    yield _Rule(local.month, (local.day - 1) // 7 + 1, local.weekday(), local.time())
    if (local + 7 * _DAY).month != local.month:
        yield _Rule(local.month, -1, local.weekday(), local.time())


def _observance(change: _Change, rule: _Rule | None = None) -> list[str]:
    part = "DAYLIGHT" if change.daylight else "STANDARD"
    return [
        f"BEGIN:{part}",
        f"DTSTART:{change.local:%Y%m%dT%H%M%S}",
        *([f"RRULE:{rule}"] if rule else []),
        f"TZOFFSETFROM:{_offset(change.before)}",
        f"TZOFFSETTO:{_offset(change.after)}",
        f"TZNAME:{change.name}",
        f"END:{part}",
    ]


def _offset(offset: dt.timedelta) -> str:
    sign = "-" if offset < dt.timedelta() else "+"
    minutes, seconds = divmod(abs(int(offset.total_seconds())), 60)
    return f"{sign}{minutes // 60:02d}{minutes % 60:02d}" + (f"{seconds:02d}" if seconds else "")
