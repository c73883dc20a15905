"""Weeks and phases, counted back from race day.

Receives: first day, race day, distance, the phase tables of the limits.
Gives: the calendar weeks of a block, each with its phase.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Final

from planbuilder.plan.types import Phase
from planbuilder.settings.limits import Limits

LIGHT_BEFORE: Final = 10  # days: the week before a taper no longer than this is a light one already
MADE_UP_DAYS: Final = 2  # of a taper that begins on Saturday or Sunday
PHASES: Final[tuple[Phase, ...]] = ("base", "build", "specific", "taper")


@dataclass(frozen=True, slots=True)
class Frame:
    """One calendar week before anything is planned in it."""

    number: int  # 1 for the first
    first_day: dt.date
    last_day: dt.date  # Sunday, or race day
    phase: Phase

    @property
    def stub(self) -> bool:
        """Whether it is a short first week."""
        return self.first_day.weekday() != 0

    @property
    def days(self) -> tuple[dt.date, ...]:
        """Its dates."""
        count = (self.last_day - self.first_day).days + 1
        return tuple(self.first_day + dt.timedelta(days=day) for day in range(count))


def monday_of(date: dt.date) -> dt.date:
    """The Monday of a date's week."""
    return date - dt.timedelta(days=date.weekday())


def whole_weeks(first_day: dt.date, race_date: dt.date) -> int:
    """Weeks of a block from the first Monday in it to race week, race week counted."""
    first_monday = first_day if first_day.weekday() == 0 else monday_of(first_day) + dt.timedelta(days=7)
    return max(0, (monday_of(race_date) - first_monday).days // 7 + 1)


def table_name(race_distance_m: float) -> str:
    """Which phase table holds for a distance."""
    if race_distance_m < 16_000:
        return "phase.short_races"
    return "phase.half_marathon" if race_distance_m < 30_000 else "phase.marathon"


def lengths(
    weeks: int, *, race_distance_m: float, race_date: dt.date, limits: Limits, taper_days: tuple[float, float]
) -> tuple[int, int, int, int]:
    """Weeks of base, build, specific and taper.

    The end is protected: a block too short for the table loses its beginning. An odd week goes to base, in a
    short block to build. The taper has the whole weeks that come nearest to its range of days; it may begin
    with the last days of the week before.
    """
    rows = {int(key): value for key, value in limits.table(table_name(race_distance_m)).items()}
    row = max((key for key in rows if key <= weeks), default=min(rows))
    base, build, specific, taper = (int(value) for value in rows[row])
    taper = _taper_weeks(taper, race_date, taper_days)
    extra = weeks - (base + build + specific + taper)
    if extra > 0:
        base, build = (base + extra, build) if weeks >= 10 else (base, build + extra)
    taper = min(taper, max(1, weeks - 1)) if weeks < 6 else taper
    specific = min(specific, max(0, weeks - taper))
    build = min(build, max(0, weeks - taper - specific))
    return max(0, weeks - taper - specific - build), build, specific, taper


def _taper_weeks(planned: int, race_date: dt.date, taper_days: tuple[float, float]) -> int:
    low, high = taper_days

    def miss(count: int) -> tuple[float, int]:
        days = 7 * (count - 1) + race_date.weekday() + 1
        made_up = MADE_UP_DAYS if days <= LIGHT_BEFORE else 0
        return max(low - days - made_up, days - high, 0.0), abs(count - planned)

    return min((1, 2, 3), key=miss)


def frames(
    first_day: dt.date,
    race_date: dt.date,
    *,
    race_distance_m: float,
    limits: Limits,
    taper_days: tuple[float, float],
    races: bool = True,
) -> tuple[Frame, ...]:
    """The calendar weeks of a block, the last one ending on race day.

    Without a race to run (``races``) there is nothing to rehearse and nothing to rest for: build to the end,
    and the last week is a whole one.
    """
    count = whole_weeks(first_day, race_date)
    parts = lengths(
        count, race_distance_m=race_distance_m, race_date=race_date, limits=limits, taper_days=taper_days
    )
    phases: list[Phase] = [phase for phase, length in zip(PHASES, parts, strict=True) for _ in range(length)]
    if not races:
        phases = ["base" if phase == "base" else "build" for phase in phases]
    monday = monday_of(first_day)
    if first_day.weekday() != 0 and count:  # in race week there is no week before it
        phases.insert(0, phases[0] if phases else "taper" if races else "base")
    found = []
    for number, phase in enumerate(phases, start=1):
        sunday = monday + dt.timedelta(days=6)
        found.append(
            Frame(
                number=number,
                first_day=max(monday, first_day),
                last_day=min(sunday, race_date) if races else sunday,
                phase=phase,
            )
        )
        monday += dt.timedelta(days=7)
    return tuple(found)
