"""The board: the whole squad, a week at a time: the club nights as sheets to print, a runner a row."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from markupsafe import Markup

from planbuilder.course.types import Course, Feature
from planbuilder.outputs.pages.environment import render_large
from planbuilder.outputs.pages.frame import Frame, race_frame
from planbuilder.outputs.pages.ground import land, picture
from planbuilder.outputs.pages.night_view import NightView, night_view
from planbuilder.outputs.pages.weeks import dates, weekdays
from planbuilder.outputs.pages.words import both, run, short_minutes
from planbuilder.outputs.squad import Entry, NightSheet, SquadRow, night_sheets, told_apart
from planbuilder.plan.types import PlanRace
from planbuilder.rules.phases import monday_of
from planbuilder.rules.typed_night import TypedNight
from planbuilder.settings.limits import Limits
from planbuilder.settings.names import name_order
from planbuilder.units import say_date


@dataclass(frozen=True, slots=True)
class BoardEntry:
    """A session in a few words: kind, size, and the clock where it has one."""

    title: str
    size: Markup
    clock: str
    race: bool


@dataclass(frozen=True, slots=True)
class BoardRow:
    """One runner's week."""

    name: str
    link: str  # empty where the page must not be found from here
    race: str  # empty where all train for the same one
    group: str  # pace group of the week's first club night
    minutes: int
    days: tuple[tuple[BoardEntry, ...], ...]  # Monday first


@dataclass(frozen=True, slots=True)
class BoardWeek:
    """A week of the squad."""

    id: str
    dates: str
    first: str
    last: str
    off: tuple[str, ...]  # days of nights that are not held
    nights: tuple[NightView, ...]
    rows: tuple[BoardRow, ...]


@dataclass(frozen=True, slots=True)
class BoardView:
    """Everything on the board."""

    frame: Frame
    weeks: Iterator[BoardWeek]  # made one after the other: a large squad has many names
    weekdays: tuple[str, ...]
    runners: int
    races: tuple[str, ...]  # empty where there is one
    course_url: str
    table_url: str
    news: tuple[str, ...]


def board_frame(race: PlanRace, course: Course, features: Sequence[Feature]) -> Frame:
    """The head of the board of a race."""
    title = f"{race.name}: the squad's week"
    drawn = picture(land(course), features)
    return race_frame(race, drawn, title=title, units=race.markers, script="board.js", store="board")


def board_of(
    frame: Frame,
    rows: Sequence[SquadRow],
    *,
    limits: Limits,
    typed: Mapping[dt.date, TypedNight] | None = None,
    off: Sequence[dt.date] = (),
    linked: bool = True,
    course_url: str = "course.html",
    table_url: str = "",
    news: str = "",
) -> bytes:
    """The page ``index.html``: names, kinds and sizes, nothing else.

    ``off`` are the nights that the club does not hold. ``linked`` is for the coach's own copy; a published
    board does not lead to anybody's page. ``news`` is what changed since the last publish, in
    paragraphs. Several races in the rows make a board for all.
    """
    races = tuple(sorted({row.race for row in rows}))
    several = len(races) > 1
    if several:
        frame = replace(frame, title="The squad's week", race_name="The squad's week")
    rows = told_apart(rows)
    sheets = night_sheets(rows, limits, typed)
    weeks: dict[dt.date, list[BoardRow]] = {monday_of(sheet.date): [] for sheet in sheets}
    held = [entry.date for row in rows for entry in (row.entries[:1] + row.entries[-1:])]
    come = {sheet.date for sheet in sheets}  # a plan that was accepted before it was off holds it still
    off = [date for date in off if held and min(held) <= date <= max(held) and date not in come]
    told = [row for row in rows if row.entries]
    groups = {monday: _groups(monday, sheets) for monday in weeks} if told else {}
    for row in told:
        for monday, one in _rows(row, linked=linked, several=several, groups=groups):
            weeks.setdefault(monday, []).append(one)
    return render_large(
        "index.html",
        page=BoardView(
            frame=frame,
            weeks=(_week(monday, weeks[monday], sheets, off) for monday in sorted(weeks)),
            weekdays=weekdays(),
            runners=len(rows),
            races=races if several else (),
            course_url=course_url,
            table_url=table_url,
            news=tuple(part for part in news.split("\n\n") if part.strip()),
        ),
    )


def _groups(monday: dt.date, sheets: Sequence[NightSheet]) -> dict[str, str]:
    """The pace group of everybody on the first club night of a week, by key and race."""
    first = next((sheet for sheet in sheets if monday_of(sheet.date) == monday), None)
    groups = first.groups if first else ()
    return {f"{row.race}/{row.key}": str(group.number) for group in groups for row, _ in group.members}


def _rows(
    row: SquadRow, *, linked: bool, several: bool, groups: dict[dt.date, dict[str, str]]
) -> Iterable[tuple[dt.date, BoardRow]]:
    link = f"{row.key}/plan.html" if linked and not several else ""
    weeks: dict[dt.date, list[list[Entry]]] = {}
    for entry in row.entries:
        weeks.setdefault(monday_of(entry.date), [[] for _ in range(7)])[entry.date.weekday()].append(entry)
    for monday, days in weeks.items():
        yield (
            monday,
            BoardRow(
                row.name,
                link,
                row.race if several else "",
                groups.get(monday, {}).get(f"{row.race}/{row.key}", ""),
                sum(entry.minutes for day in days for entry in day if not entry.race),
                tuple(tuple(_entry(entry) for entry in day) for day in days),
            ),
        )


def _entry(entry: Entry) -> BoardEntry:
    if entry.part:
        size = both(entry.part)
    else:
        size = run(entry.distance_m) if entry.distance_m else short_minutes(entry.minutes * 60)
    return BoardEntry(entry.title, size, entry.clock, entry.race)


def _week(
    monday: dt.date, rows: list[BoardRow], sheets: Sequence[NightSheet], off: Sequence[dt.date]
) -> BoardWeek:
    sunday = monday + dt.timedelta(days=6)
    return BoardWeek(
        id=f"week-of-{monday.isoformat()}",
        dates=dates(monday, sunday),
        first=monday.isoformat(),
        last=sunday.isoformat(),
        off=tuple(say_date(date) for date in sorted(off) if monday <= date <= sunday),
        nights=tuple(night_view(sheet) for sheet in sheets if monday <= sheet.date <= sunday),
        rows=tuple(sorted(rows, key=lambda row: (name_order(row.name), row.link, row.race))),
    )
