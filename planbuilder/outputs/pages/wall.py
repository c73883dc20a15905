"""The wall sheet: the whole block on one sheet of paper, a week a row, a weekday a column.

Letters are as large as the fullest weeks allow, on A4 as on Letter.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from markupsafe import Markup

from planbuilder.outputs.pages import words
from planbuilder.outputs.pages.sessions import short_size
from planbuilder.outputs.pages.weeks import dates, weekdays
from planbuilder.plan.types import Session, Week

_LETTERS_PT: Final = (10.0, 9.0, 8.5, 8.0, 7.5, 7.0, 6.5, 6.0, 5.5)
_TABLE_MM: Final = 196.0  # what head and foot leave of a Letter sheet, 279 mm high
_WIDE_MM: Final = 185.0  # of an A4 sheet, 210 mm wide
_FIRST_SHARE: Final = 0.17
_EMPTY_SHARE: Final = 0.055  # a weekday on which nobody ever runs
_MM_PER_PT: Final = 0.3528
_LETTER_WIDE: Final = 0.52  # mean width of a letter, as a share of its size, in a wide face
_LINE_HIGH: Final = 1.22
_PADDING_MM: Final = 1.6


@dataclass(frozen=True, slots=True)
class WallEntry:
    """A session in a few words."""

    title: str
    size: Markup
    clock: str
    race: bool


@dataclass(frozen=True, slots=True)
class WallRow:
    """A week."""

    number: int
    dates: str
    phase: str
    distance: Markup
    days: tuple[tuple[WallEntry, ...], ...]


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
    """The block as a table, with the largest letters that let it stand on one sheet."""
    rows = tuple(_row(week) for week in weeks)
    busy = [any(row.days[day] for row in rows) for day in range(7)]
    wide_mm = _WIDE_MM * (1 - _FIRST_SHARE - _EMPTY_SHARE * busy.count(False)) / max(busy.count(True), 1)
    fits = bisect_left(_LETTERS_PT, True, key=lambda size: _high_mm(rows, wide_mm, size) <= _TABLE_MM)
    letters = _LETTERS_PT[min(fits, len(_LETTERS_PT) - 1)]
    return Wall(
        columns=tuple(WallColumn(name, not used) for name, used in zip(weekdays(), busy, strict=True)),
        rows=rows,
        letters=f"wall-{letters:g}".replace(".", "-"),
    )


def _row(week: Week) -> WallRow:
    return WallRow(
        number=week.number,
        dates=dates(week.first_day, week.last_day),
        phase=f"{week.phase}, recovery" if week.recovery else week.phase,
        distance=words.run(week.distance_m),
        days=tuple(
            tuple(
                _entry(session)
                for session in week.sessions
                if session.date.weekday() == day and not session.cancelled
            )
            for day in range(7)
        ),
    )


def _entry(session: Session) -> WallEntry:
    return WallEntry(
        title=session.title,
        size=short_size(session),
        clock=words.clock(session.start_time) if session.start_time else "",
        race=session.role in ("race", "tune_up"),
    )


def _high_mm(rows: Sequence[WallRow], wide_mm: float, size_pt: float) -> float:
    """Height of the table in letters of a size."""
    room = int((wide_mm - _PADDING_MM) / (size_pt * _MM_PER_PT * _LETTER_WIDE))
    line_mm = size_pt * _MM_PER_PT * _LINE_HIGH
    lines = (max(3, *(sum(_lines(entry, room) for entry in day) for day in row.days)) for row in rows)
    return sum(count * line_mm + _PADDING_MM for count in lines)


def _lines(entry: WallEntry, room: int) -> int:
    """Lines of an entry in a column that has room for so many letters."""
    lines, used = 1, 0
    for word in entry.title.split():
        if used and used + 1 + len(word) > room:
            lines, used = lines + 1, 0
        used += len(word) + (1 if used else 0)
    last = len("1 h 45 min") + (len(entry.clock) + 2 if entry.clock else 0)
    return lines + (1 if last <= room else 2)
