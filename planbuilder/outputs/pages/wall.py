"""The wall sheet: the block as a large calendar on one sheet of paper, a week a row, a weekday a column.

What is read from across the kitchen is large: how much, and the race. Letters are as large as the weeks
allow, on A4 and on Letter each.
"""

from __future__ import annotations

import datetime as dt
import math
import re
from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from markupsafe import Markup

from planbuilder.outputs.pages import words
from planbuilder.outputs.pages.sessions import short_size
from planbuilder.outputs.pages.weeks import weekdays
from planbuilder.outputs.step_text import main_part
from planbuilder.plan.types import Session, Week
from planbuilder.rules.context import is_run
from planbuilder.rules.phases import monday_of
from planbuilder.units import SYSTEMS

_LETTERS_PT: Final = (14.0, 13.0, 12.0, 11.0, 10.5, 10.0, 9.5, 9.0, 8.5, 8.0, 7.5, 7.0, 6.5, 6.0, 5.5)
_FIRST_SHARE: Final = 0.13
_EMPTY_SHARE: Final = 0.05  # a weekday on which nobody ever runs
_ROOMY_SHARE: Final = 0.18  # a weekday with much to say, where many are run on
_MANY_DAYS: Final = 5
_MM_PER_PT: Final = 0.3528
_LINE_HIGH: Final = 1.15
_LARGE: Final = 1.35  # how much is so much larger than what
_SMALL: Final = 0.85  # strength and the phase are so much smaller
_DATE: Final = 0.9
_DATE_GAP: Final = 0.2
_BOLD_WIDE: Final = 1.12
_WIDE: Final = {  # widths of letters in a wide face (DejaVu Sans), as shares of their size; others 0.63
    **dict.fromkeys("ijl", 0.29),
    **dict.fromkeys("I.,:;'! \N{NO-BREAK SPACE}", 0.33),
    **dict.fromkeys("ftr-/()", 0.41),
    **dict.fromkeys("cksvxyz", 0.58),
    **dict.fromkeys("ABCDGHJKNOQRUVXY", 0.76),
    **dict.fromkeys("w+%&×", 0.84),
    **dict.fromkeys("mMW", 0.98),
}
_PADDING_MM: Final = 1.5  # above and below a field, with its rule
_SIDES_MM: Final = 2.0


@dataclass(frozen=True, slots=True)
class _Paper:
    """What a sheet of paper leaves for the weeks."""

    wide_mm: float
    high_mm: float


_LETTER: Final = _Paper(wide_mm=195.0, high_mm=214.0)
_A4: Final = _Paper(wide_mm=189.0, high_mm=230.0)


@dataclass(frozen=True, slots=True)
class WallEntry:
    """A session in a few words."""

    title: str
    size: Markup
    clock: str  # empty where the head of the column says it
    race: bool
    beside: bool  # strength: one small line

    @property
    def named(self) -> str:
        """What it is and when."""
        return f"{self.title}, {self.clock}" if self.clock else self.title


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
    """A weekday; an idle one is narrow, a roomy one wide."""

    name: str
    clock: str  # of the club's nights on it, where all have the same; empty otherwise
    idle: bool
    roomy: bool


@dataclass(frozen=True, slots=True)
class Wall:
    """The sheet."""

    columns: tuple[WallColumn, ...]
    rows: tuple[WallRow, ...]
    letters: str  # class of the style sheet: "wall-8-5" for letters of 8.5 points
    letters_a4: str  # on the longer sheet: "a4-9"


def wall(weeks: Sequence[Week]) -> Wall:
    """The block as a calendar, with the largest letters that let it stand on one sheet."""
    clocks = tuple(_club_clock(weeks, day) for day in range(7))
    rows = tuple(_row(week, clocks, first=number == 0) for number, week in enumerate(weeks))
    busy = [any(row.days[day].entries for row in rows) for day in range(7)]
    letters_a4_pt, letters_pt, roomy = max(
        (
            (_largest(rows, busy, roomy, _A4), _largest(rows, busy, roomy, _LETTER), roomy)
            for roomy in _roomy(rows, busy)
        ),
        key=lambda found: found[:2],
    )
    return Wall(
        columns=tuple(
            WallColumn(name, clocks[day], idle=not busy[day], roomy=day in roomy)
            for day, name in enumerate(weekdays())
        ),
        rows=rows,
        letters=f"wall-{letters_pt:g}".replace(".", "-"),
        letters_a4=f"a4-{letters_a4_pt:g}".replace(".", "-"),
    )


def _club_clock(weeks: Sequence[Week], day: int) -> str:
    """When the club meets on a weekday, where that is always the same and most runs of the day are its."""
    runs = [
        one
        for week in weeks
        for one in week.sessions
        if one.date.weekday() == day and not one.cancelled and is_run(one)
    ]
    club = [one for one in runs if one.role == "club"]
    times = {one.start_time for one in club}
    (time,) = times if len(times) == 1 else (None,)
    return words.clock(time) if time and len(club) * 2 > len(runs) else ""


def short_title(title: str, size: str) -> str:
    """A title without the words that every runner fills in, and without what its size says.

    >>> [short_title(title, "") for title in ("Easy run", "Long run with a hill finish", "Walk and run")]
    ['Easy', 'Long, hill finish', 'Walk and run']
    >>> [short_title(title, "3 × 6 min") for title in ("Threshold repeats", "Long hill repeats")]
    ['Threshold', 'Long hills']
    """
    title = re.sub(r" run with (?:an? |the )?", ", ", title)
    if "×" in size:
        title = title.replace(" hill repeats", " hills").replace(" repeats", "")
    return title if title.endswith(" and run") else title.removesuffix(" run")


def _row(week: Week, clocks: Sequence[str], *, first: bool) -> WallRow:
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
                    _entry(session, clock)
                    for session in sorted(week.sessions, key=lambda one: one.role == "strength")
                    if session.date == date and not session.cancelled
                ),
            )
            for date, clock in zip(dates, clocks, strict=True)
        ),
    )


def _entry(session: Session, club_clock: str) -> WallEntry:
    part = main_part(session)
    size = words.both(_may_break_behind_times(part)) if part else short_size(session)
    clock = words.clock(session.start_time) if session.start_time else ""
    if club_clock and is_run(session):
        clock = "" if clock == club_clock else clock or "any time"
    return WallEntry(
        title=short_title(session.title, size),
        size=Markup(re.sub(r"(\d\sh\s\d+)\smin", r"\1", size) + (" in all" if part == "" else "")),
        clock=clock,
        race=session.role in ("race", "tune_up"),
        beside=session.role == "strength",
    )


def _may_break_behind_times(size: str) -> str:
    """``5 × 2:30 min`` whose unit stays with its number."""
    return size.replace(" ", "\N{NO-BREAK SPACE}").replace("×\N{NO-BREAK SPACE}", "× ")


def _roomy(rows: Sequence[WallRow], busy: Sequence[bool]) -> Iterator[tuple[int, ...]]:
    """Which columns may be wider than the others: none, or the one or two whose fields are the fullest."""
    yield ()
    if busy.count(True) >= _MANY_DAYS:
        said = [sum(len(e.title) for row in rows for e in row.days[day].entries) for day in range(7)]
        fullest = sorted(range(7), key=lambda day: -said[day])
        yield (fullest[0],)
        yield tuple(sorted(fullest[:2]))


def _largest(rows: Sequence[WallRow], busy: Sequence[bool], roomy: tuple[int, ...], paper: _Paper) -> float:
    """The largest letters, in points, in which the weeks stand on the paper."""
    plain = (1 - _FIRST_SHARE - _EMPTY_SHARE * busy.count(False) - _ROOMY_SHARE * len(roomy)) / max(
        busy.count(True) - len(roomy), 1
    )
    wide_mm = [
        paper.wide_mm * (_ROOMY_SHARE if day in roomy else plain if used else _EMPTY_SHARE)
        for day, used in enumerate(busy)
    ]
    first_mm = paper.wide_mm * _FIRST_SHARE

    def fits(size_pt: float) -> bool:
        return _high_mm(rows, first_mm, wide_mm, size_pt) <= paper.high_mm

    found = bisect_left(_LETTERS_PT, True, key=fits)
    return _LETTERS_PT[min(found, len(_LETTERS_PT) - 1)]


def _high_mm(rows: Sequence[WallRow], first_mm: float, wide_mm: Sequence[float], size_pt: float) -> float:
    """Height of the weeks in letters of a size, in columns so wide."""
    size_mm = size_pt * _MM_PER_PT
    rooms = [(wide - _SIDES_MM) / size_mm for wide in wide_mm]
    first_room = (first_mm - _SIDES_MM / 2) / size_mm
    lines = (
        max(
            _first_lines(row, first_room),
            *(_day_lines(day, room) for day, room in zip(row.days, rooms, strict=True)),
        )
        for row in rows
    )
    return sum(lines) * size_mm * _LINE_HIGH + _PADDING_MM * len(rows)


def _first_lines(row: WallRow, room: float) -> float:
    """Height of the field that heads a week, in lines; ``room`` is its width, in sizes of its letters."""
    amount = _wide(str(row.number)) * _LARGE * _BOLD_WIDE + _wide(f"  {_longest(row.distance)}")
    phase = f"{row.phase}, lighter" if row.recovery else row.phase
    return _LARGE + (amount > room) + _lines(phase, room / _SMALL) * _SMALL


def _day_lines(day: WallDay, room: float) -> float:
    """Height of the field of a day, in lines, infinite where an amount would have to break.

    What does not fit beside the date stands below it.
    """
    high = 0.0
    for number, entry in enumerate(day.entries):
        text = f"+ {entry.title} {_longest(entry.size)}" if entry.beside else _longest(entry.size)
        size = _SMALL if entry.beside else _LARGE
        wide = _SMALL if entry.beside else _LARGE * _BOLD_WIDE
        free = room - (0.0 if number else _wide(day.number) * _DATE + _DATE_GAP)
        if _wide(text.split(" ")[0]) * wide > free:
            free, high = room, high + _DATE
        if not entry.beside:
            if max(map(_wide, text.split(" "))) * wide > room:
                return math.inf
            high += _lines(entry.named, room / (_BOLD_WIDE if day.race else 1.0))
        high += _lines(text, room / wide, free / wide) * size
    return high


@lru_cache(maxsize=256)
def _longest(size: Markup) -> str:
    """The longer wording of a quantity that is said in both units."""
    said = (re.sub(rf'<span class="{unit}">[^<]*</span>|<[^>]+>', "", size) for unit in SYSTEMS)
    return max(said, key=_wide)


@lru_cache(maxsize=1024)
def _wide(text: str) -> float:
    """Width of a text on one line."""
    return sum(_WIDE.get(letter, 0.63) for letter in text)


@lru_cache(maxsize=4096)
def _lines(text: str, room: float, first: float = math.inf) -> int:
    """Lines of a text where one has room for so much, and the first no more than ``first``.

    A word that is too long for a line is broken.
    """
    lines, used, free = 1, 0.0, min(first, room)
    for word in text.split(" "):
        if used and used + _wide(" ") + _wide(word) > free:
            lines, used, free = lines + 1, 0.0, room
        used += _wide(word) + (_wide(" ") if used else 0.0)
        while used > free:
            lines, used, free = lines + 1, used - free, room
    return lines
