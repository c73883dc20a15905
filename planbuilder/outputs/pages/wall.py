"""The wall sheet: the block as a large calendar on one sheet of paper, a week a row, a weekday a column.

What is read from across the kitchen is large: how much, and the race. Letters are as large as the fullest
weeks allow, on A4 as on Letter.
"""

from __future__ import annotations

import datetime as dt
import re
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from markupsafe import Markup

from planbuilder.outputs.pages import words
from planbuilder.outputs.pages.sessions import short_size
from planbuilder.outputs.pages.weeks import weekdays
from planbuilder.outputs.step_text import main_part
from planbuilder.plan.types import Session, Week
from planbuilder.rules.phases import monday_of

_LETTERS_PT: Final = (14.0, 13.0, 12.0, 11.0, 10.5, 10.0, 9.5, 9.0, 8.5, 8.0, 7.5, 7.0, 6.5, 6.0, 5.5)
_TABLE_MM: Final = 214.0  # what head and foot leave of a Letter sheet, 279 mm high
_WIDE_MM: Final = 189.0  # of an A4 sheet, 210 mm wide
_FIRST_SHARE: Final = 0.13
_EMPTY_SHARE: Final = 0.05  # a weekday on which nobody ever runs
_MM_PER_PT: Final = 0.3528
_LETTER_WIDE: Final = 0.55  # mean width of a letter, as a share of its size, in a wide face
_LINE_HIGH: Final = 1.15
_LARGE: Final = 1.35  # how much is so much larger than what
_BOLD_WIDE: Final = 1.15
_PADDING_MM: Final = 1.6


@dataclass(frozen=True, slots=True)
class WallEntry:
    """A session in a few words."""

    title: str
    size: Markup
    clock: str
    race: bool


@dataclass(frozen=True, slots=True)
class WallDay:
    """A field of the calendar."""

    number: str  # "23", and "1 Mar" where a month begins
    entries: tuple[WallEntry, ...]

    @property
    def race(self) -> bool:
        """Whether it is a race day."""
        return any(entry.race for entry in self.entries)


@dataclass(frozen=True, slots=True)
class WallRow:
    """A week."""

    number: int
    phase: str
    recovery: bool
    distance: Markup
    days: tuple[WallDay, ...]


@dataclass(frozen=True, slots=True)
class WallColumn:
    """A weekday; an idle one is narrow."""

    name: str
    idle: bool


@dataclass(frozen=True, slots=True)
class Wall:
    """The sheet."""

    columns: tuple[WallColumn, ...]
    rows: tuple[WallRow, ...]
    letters: str  # class of the style sheet: "wall-8-5" for letters of 8.5 points


def wall(weeks: Sequence[Week]) -> Wall:
    """The block as a calendar, with the largest letters that let it stand on one sheet."""
    rows = tuple(_row(week, first=number == 0) for number, week in enumerate(weeks))
    busy = [any(row.days[day].entries for row in rows) for day in range(7)]
    wide_mm = _WIDE_MM * (1 - _FIRST_SHARE - _EMPTY_SHARE * busy.count(False)) / max(busy.count(True), 1)
    fits = bisect_left(_LETTERS_PT, True, key=lambda size: _high_mm(rows, wide_mm, size) <= _TABLE_MM)
    letters = _LETTERS_PT[min(fits, len(_LETTERS_PT) - 1)]
    return Wall(
        columns=tuple(WallColumn(name, not used) for name, used in zip(weekdays(), busy, strict=True)),
        rows=rows,
        letters=f"wall-{letters:g}".replace(".", "-"),
    )


def short_title(title: str) -> str:
    """A title without the words that every runner fills in.

    >>> [short_title(title) for title in ("Easy run", "Long run with a hill finish", "Walk and run")]
    ['Easy', 'Long, hill finish', 'Walk and run']
    """
    title = re.sub(r" run with (?:an? |the )?", ", ", title)
    return title if title.endswith(" and run") else title.removesuffix(" run")


def _row(week: Week, *, first: bool) -> WallRow:
    monday = monday_of(week.first_day)
    dates = [monday + dt.timedelta(days=day) for day in range(7)]
    return WallRow(
        number=week.number,
        phase=week.phase,
        recovery=week.recovery and week.phase != "after",
        distance=words.run(week.distance_m),
        days=tuple(
            WallDay(
                number=f"{date.day} {date:%b}"
                if date.day == 1 or (first and date == monday)
                else str(date.day),
                entries=tuple(
                    _entry(session)
                    for session in week.sessions
                    if session.date == date and not session.cancelled
                ),
            )
            for date in dates
        ),
    )


def _entry(session: Session) -> WallEntry:
    part = main_part(session)
    size = words.both(part) if part else short_size(session)
    return WallEntry(
        title=short_title(session.title),
        size=Markup(re.sub(r"(\d\sh\s\d+)\smin", r"\1", size) + (" in all" if part == "" else "")),
        clock=words.clock(session.start_time) if session.start_time else "",
        race=session.role in ("race", "tune_up"),
    )


def _high_mm(rows: Sequence[WallRow], wide_mm: float, size_pt: float) -> float:
    """Height of the calendar in letters of a size."""
    letter_mm = size_pt * _MM_PER_PT * _LETTER_WIDE
    room = int((wide_mm - _PADDING_MM) / letter_mm)
    large_room = (
        int((wide_mm - _PADDING_MM) / (letter_mm * _LARGE * _BOLD_WIDE)) - 2
    )  # the date stands beside
    line_mm = size_pt * _MM_PER_PT * _LINE_HIGH
    first_mm = (_LARGE + 1) * line_mm  # number and distance, then the phase
    return sum(
        max(
            first_mm,
            *(sum(_lines(entry, room, large_room) for entry in day.entries) * line_mm for day in row.days),
        )
        + _PADDING_MM
        for row in rows
    )


def _lines(entry: WallEntry, room: int, large_room: int) -> float:
    """Lines of an entry in a column that has room for so many letters, in lines of the small ones."""
    lines, used = 1, 0
    for word in f"{entry.title} {entry.clock}".split():
        if used and used + 1 + len(word) > room:
            lines, used = lines + 1, 0
        used += len(word) + (1 if used else 0)
    return lines + _LARGE * (1 if large_room >= len("1 h 45") else 2)
