"""The block week by week, and the chart of it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from planbuilder.course.types import Feature
from planbuilder.outputs.pages import words
from planbuilder.outputs.pages.ground import ACROSS, Land
from planbuilder.outputs.pages.sessions import SessionView, session_view, short_size
from planbuilder.plan.types import Plan, Session, Week
from planbuilder.rules.context import is_run
from planbuilder.units import in_minutes, say_minutes

CHART_PX = 120.0
_ALL_NUMBERED = 16  # weeks whose numbers all find room on a phone
_LETTER_WIDE = 20.0  # of a phase's name on a phone, in thousandths of the picture
_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


@dataclass(frozen=True, slots=True)
class WeekDone:
    """What was run in a week, from the log."""

    distance_m: float
    duration_s: float
    sessions_done: int


@dataclass(frozen=True, slots=True)
class WeekView:
    """One week."""

    number: int
    dates: str
    first: str
    last: str
    phase: str
    recovery: bool
    purpose: Markup
    distance: Markup
    time: str
    work: str
    long_run: Markup  # empty where there is none
    race: str  # name of a race in it
    sessions: tuple[SessionView, ...]
    done: Markup  # empty where no log says anything


@dataclass(frozen=True, slots=True)
class Bar:
    """A week of the chart."""

    x: float
    wide: float
    middle: str
    high: float
    y: float
    work_high: float
    work_y: float
    long_y: float  # 0 where there is no long run
    done_y: float  # 0 where nothing is logged
    label: str  # its number; empty where numbers would touch on a phone
    race: bool


@dataclass(frozen=True, slots=True)
class PhaseSpan:
    """Weeks of one phase."""

    name: str  # empty where it would touch its neighbour on a phone
    at: str
    middle: str


@dataclass(frozen=True, slots=True)
class Chart:
    """Running time of every week."""

    height_px: float
    outer_px: float
    number_y: float
    phase_y: float
    rule_y: float
    bars: tuple[Bar, ...]
    phases: tuple[PhaseSpan, ...]
    top: str  # what the highest bar stands for
    alt: str


def week_views(
    plan: Plan, land: Land, features: Sequence[Feature], done: Mapping[int, WeekDone]
) -> tuple[WeekView, ...]:
    """All weeks, ready to print."""
    repeated = _repeated(plan.weeks)
    return tuple(_week(week, land, features, done.get(week.number), repeated) for week in plan.weeks)


def _repeated(weeks: Sequence[Week]) -> dict[str, dt.date]:
    """By id the strength sessions whose exercises the phase has had, and the day that had them first."""
    first: dict[object, dt.date] = {}
    repeated = {}
    for week in weeks:
        for one in week.sessions:
            if one.role != "strength" or one.cancelled:
                continue
            date = first.setdefault((week.phase, one.steps, one.caution), one.date)
            if date != one.date:
                repeated[one.id] = date
    return repeated


def _week(
    week: Week,
    land: Land,
    features: Sequence[Feature],
    done: WeekDone | None,
    repeated: Mapping[str, dt.date],
) -> WeekView:
    long_run = _long_run(week)
    races = [session.title for session in week.sessions if session.role in ("race", "tune_up")]
    return WeekView(
        number=week.number,
        dates=dates(week.first_day, week.last_day),
        first=week.first_day.isoformat(),
        last=week.last_day.isoformat(),
        phase=week.phase,
        recovery=week.recovery,
        purpose=words.sentence(week.purpose),
        distance=words.run(week.distance_m),
        time=say_minutes(week.duration_s).replace(" ", "\N{NO-BREAK SPACE}"),
        work=say_minutes(in_minutes(week.work_s) * 60),
        long_run=short_size(long_run) if long_run else Markup(""),
        race=", ".join(races),
        sessions=tuple(
            session_view(session, land, features, as_on=repeated.get(session.id)) for session in week.sessions
        ),
        done=_done(week, done) if done else Markup(""),
    )


def _long_run(week: Week) -> Session | None:
    return next((session for session in week.sessions if session.role == "long"), None)


def _done(week: Week, done: WeekDone) -> Markup:
    planned = sum(is_run(session) and not session.cancelled for session in week.sessions)
    return Markup("{} of {} runs, {}").format(done.sessions_done, planned, words.run(done.distance_m))


def dates(first: dt.date, last: dt.date) -> str:
    """``15–21 Mar`` or ``29 Mar – 4 Apr``."""
    end = words.short_date(last).split(" ", 1)[1]
    if first.month == last.month:
        return f"{first.day}–{end}"
    return f"{words.short_date(first).split(' ', 1)[1]} – {end}"


def weekdays() -> tuple[str, ...]:
    """Short names, Monday first."""
    return _DAYS


def chart(weeks: Sequence[Week], done: Mapping[int, WeekDone]) -> Chart:
    """Weeks as steps of the ground: running time, the part at effort 5 and above, the long run."""
    most = max([week.duration_s for week in weeks] + [day.duration_s for day in done.values()] + [3600.0])
    wide = ACROSS / max(len(weeks), 1)

    def y(duration_s: float) -> float:
        return round(CHART_PX * (1 - duration_s / most), 1)

    bars = []
    for place, week in enumerate(weeks):
        long_run = _long_run(week)
        logged = done.get(week.number)
        bars.append(
            Bar(
                x=round(place * wide, 2),
                wide=round(wide, 2),
                middle=f"{(place + 0.5) * wide / ACROSS * 100:.2f}%",
                high=round(CHART_PX - y(week.duration_s), 1),
                y=y(week.duration_s),
                work_high=round(CHART_PX - y(week.work_s), 1),
                work_y=y(week.work_s),
                long_y=y(long_run.duration_s) if long_run else 0.0,
                done_y=y(logged.duration_s) if logged else 0.0,
                label=str(week.number) if len(weeks) <= _ALL_NUMBERED or place % 2 else "",
                race=any(session.role == "race" for session in week.sessions),
            )
        )
    return Chart(
        height_px=CHART_PX,
        outer_px=CHART_PX + 36,
        number_y=CHART_PX + 14,
        phase_y=CHART_PX + 30,
        rule_y=CHART_PX + 32,
        bars=tuple(bars),
        phases=_phases(weeks, wide),
        top=say_minutes(most),
        alt=f"Running time of {len(weeks)} weeks, at most {say_minutes(most)}; the table has the numbers.",
    )


def _phases(weeks: Sequence[Week], wide: float) -> tuple[PhaseSpan, ...]:
    spans: list[tuple[str, int, int]] = []
    for place, week in enumerate(weeks):
        if spans and spans[-1][0] == week.phase:
            spans[-1] = (week.phase, spans[-1][1], place)
        else:
            spans.append((week.phase, place, place))
    return tuple(
        PhaseSpan(
            name if (last - first + 1) * wide > len(name) * _LETTER_WIDE else "",
            f"{first * wide / ACROSS * 100:.2f}%",
            f"{(first + last + 1) / 2 * wide / ACROSS * 100:.2f}%",
        )
        for name, first, last in spans
    )
