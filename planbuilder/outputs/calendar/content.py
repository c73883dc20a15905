"""What each event of a feed says, as plain values, before any of it becomes bytes."""

from __future__ import annotations

import datetime as dt
import hashlib
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final
from zoneinfo import ZoneInfo

from planbuilder.outputs.calendar.texts import description_of, own_words_of, title_of
from planbuilder.plan.types import Plan, Role, Session, Week
from planbuilder.units import in_minutes

_EVENING: Final = dt.time(20, 0)  # when a reminder rings, on the day before
_CATEGORIES: Final[Mapping[Role, tuple[str, ...]]] = {
    "long": ("Running", "Long run"),
    "club": ("Running", "Club night"),
    "key": ("Running", "Key session"),
    "easy": ("Running", "Easy run"),
    "race": ("Running", "Race"),
    "tune_up": ("Running", "Tune-up race"),
    "test": ("Running", "Test"),
    "strength": ("Strength",),
    "cross": ("Cross-training",),
    "after": ("Running", "After the race"),
}
# C0 without tab and line feed, DEL, C1, and halves of characters: not allowed, or they cut files short.
_FORBIDDEN: Final = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\ud800-\udfff]")
UTC_NAMES: Final = frozenset(
    f"{area}{name}" for area in ("", "Etc/") for name in ("UTC", "UCT", "Universal", "Zulu")
)
_LINE_ENDS: Final = re.compile("\r\n|\r|\x85")


@dataclass(frozen=True, slots=True)
class EventContent:
    """One event: dates (the end exclusive) for a session of no fixed hour, else times of one zone."""

    summary: str
    description: str
    location: str
    categories: tuple[str, ...]
    start: dt.date | dt.datetime
    end: dt.date | dt.datetime
    busy: bool
    cancelled: bool
    reminder_before: dt.timedelta | None
    url: str
    own_words: str = ""  # of the description, what the session itself asks

    @property
    def clock(self) -> str:
        """Start and end with the zones they are told in."""
        return f"{_exact(self.start)} {_exact(self.end)}"

    @property
    def digest(self) -> str:
        """A hash of the values: the same for the same meaning, whatever the layout of the file."""
        texts = (self.summary, self.description, self.location, self.categories, self.url)
        values = (texts, self.clock, self.busy, self.cancelled, str(self.reminder_before))
        return hashlib.sha256(repr(values).encode()).hexdigest()[:32]

    @property
    def own_digest(self) -> str:
        """A short hash of what its runner has to know: dose, place, time, the words of the session itself."""
        values = (self.summary, self.own_words, self.location, self.clock)
        return hashlib.sha256(repr(values).encode()).hexdigest()[:12]


def clean_text(text: str) -> str:
    """The text with one kind of line end and without characters that a calendar may not hold.

    >>> clean_text("a\\r\\nb\\rc\\x00\\x07d")
    'a\\nb\\ncd'
    """
    return _FORBIDDEN.sub("", _LINE_ENDS.sub("\n", text)).strip()


def content_of(plan: Plan, week: Week, session: Session, page_url: str | None = None) -> EventContent:
    """What the event of this session says. The page's address is used only where the runner asked for it."""
    url = page_url if page_url and plan.runner.page_link else None
    start, end = span_of(plan, session)
    timed = isinstance(start, dt.datetime)
    return EventContent(
        summary=clean_text(title_of(plan, session)).replace("\n", " "),
        description=clean_text(description_of(plan, week, session, url)),
        location=clean_text(session.place).replace("\n", " "),
        categories=_CATEGORIES[session.role],
        start=start,
        end=end,
        busy=timed and not session.cancelled and (plan.runner.busy or session.role == "race"),
        cancelled=session.cancelled,
        reminder_before=_reminder(plan, session, start),
        url=url or "",
        own_words=clean_text(own_words_of(plan, session)),
    )


def contents_of(plan: Plan, page_url: str | None = None) -> dict[str, EventContent]:
    """What the events of all sessions say, by the id of the session."""
    return {
        session.id: content_of(plan, week, session, page_url)
        for week in plan.weeks
        for session in week.sessions
    }


def span_of(plan: Plan, session: Session) -> tuple[dt.date | dt.datetime, dt.date | dt.datetime]:
    """Start and end: two dates for a session of no fixed hour, else two times in the block's zone.

    A club night ends when all are in. The end of a timed session is counted in UTC, so a run through a change
    of the clocks keeps its length. A session that starts or ends in an hour that the clocks skip or repeat is
    given in UTC.
    """
    start = _start_of(plan, session)
    if start is None:
        return session.date, session.date + dt.timedelta(days=1)
    zone = start.tzinfo
    minutes = max(1, in_minutes(_length_s(plan, session)))
    end_utc = start.astimezone(dt.UTC) + dt.timedelta(minutes=minutes)
    end = end_utc.astimezone(zone)
    if plan.race.timezone in UTC_NAMES or _odd_hour(start) or _odd_hour(end):
        return start.astimezone(dt.UTC), end_utc
    return start, end


def _start_of(plan: Plan, session: Session) -> dt.datetime | None:
    if session.role == "race" and session.start_time is not None and session.date == plan.race.start.date():
        return plan.race.start.astimezone(ZoneInfo(plan.race.timezone))
    if session.start_time is None:
        return None
    return dt.datetime.combine(session.date, session.start_time, ZoneInfo(plan.race.timezone))


def _length_s(plan: Plan, session: Session) -> float:
    if session.role == "race" and plan.race_plan.finish_time_s is not None:
        return plan.race_plan.finish_time_s
    return max(session.duration_s, session.group_s or 0.0)


def _odd_hour(local: dt.datetime) -> bool:
    """Whether this reading of the clock never happens or happens twice."""
    return local.replace(fold=0).utcoffset() != local.replace(fold=1).utcoffset()


def _reminder(plan: Plan, session: Session, start: dt.date | dt.datetime) -> dt.timedelta | None:
    if not plan.runner.reminder or session.cancelled:
        return None
    if not isinstance(start, dt.datetime):
        return dt.timedelta(hours=24) - dt.timedelta(hours=_EVENING.hour)
    evening = dt.datetime.combine(session.date - dt.timedelta(days=1), _EVENING, ZoneInfo(plan.race.timezone))
    return start.astimezone(dt.UTC) - evening.astimezone(dt.UTC)


def _exact(value: dt.date | dt.datetime) -> str:
    return f"{value.isoformat()} {value.tzinfo}" if isinstance(value, dt.datetime) else value.isoformat()
