"""The board: the whole squad, a week at a time, a runner a row."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from markupsafe import Markup

from planbuilder.outputs.pages.environment import render
from planbuilder.outputs.pages.frame import Frame, plan_frame
from planbuilder.outputs.pages.sessions import short_size
from planbuilder.outputs.pages.weeks import dates, weekdays
from planbuilder.plan.types import Plan, Session


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
    days: tuple[tuple[BoardEntry, ...], ...]  # Monday first


@dataclass(frozen=True, slots=True)
class BoardWeek:
    """A week of the squad."""

    id: str
    dates: str
    first: str
    last: str
    rows: tuple[BoardRow, ...]


@dataclass(frozen=True, slots=True)
class BoardView:
    """Everything on the board."""

    frame: Frame
    weeks: tuple[BoardWeek, ...]
    weekdays: tuple[str, ...]
    runners: int
    course_url: str


def render_board(plans: Iterable[Plan], *, linked: bool = True, course_url: str = "course.html") -> str:
    """The page ``index.html``: names, kinds and sizes, nothing else.

    ``linked`` is for the coach's own copy; a published board does not lead to anybody's page. Raises
    ValueError where there is no plan.
    """
    frame: Frame | None = None
    weeks: dict[dt.date, list[BoardRow]] = {}
    runners = 0
    for plan in plans:
        frame = frame or plan_frame(plan, title=f"{plan.race.name}: the squad's week", script="board.js")
        runners += 1
        for monday, row in _rows(plan, linked=linked):
            weeks.setdefault(monday, []).append(row)
    if frame is None:
        raise ValueError("a board needs at least one plan")
    return render(
        "index.html",
        page=BoardView(
            frame=frame,
            weeks=tuple(_week(monday, weeks[monday]) for monday in sorted(weeks)),
            weekdays=weekdays(),
            runners=runners,
            course_url=course_url,
        ),
    )


def _rows(plan: Plan, *, linked: bool) -> Iterable[tuple[dt.date, BoardRow]]:
    name, link = plan.runner.name, f"{plan.runner.key}/plan.html" if linked else ""
    for week in plan.weeks:
        monday = week.first_day - dt.timedelta(days=week.first_day.weekday())
        days: list[list[BoardEntry]] = [[] for _ in range(7)]
        for session in week.sessions:
            if not session.cancelled:
                days[session.date.weekday()].append(_entry(session))
        yield monday, BoardRow(name, link, tuple(tuple(day) for day in days))


def _entry(session: Session) -> BoardEntry:
    clock = f"{session.start_time.hour}:{session.start_time.minute:02d}" if session.start_time else ""
    return BoardEntry(session.title, short_size(session), clock, session.role in ("race", "tune_up"))


def _week(monday: dt.date, rows: list[BoardRow]) -> BoardWeek:
    sunday = monday + dt.timedelta(days=6)
    return BoardWeek(
        id=f"week-of-{monday.isoformat()}",
        dates=dates(monday, sunday),
        first=monday.isoformat(),
        last=sunday.isoformat(),
        rows=tuple(sorted(rows, key=lambda row: row.name.casefold())),
    )
