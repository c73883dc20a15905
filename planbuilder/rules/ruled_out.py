"""What a session's own entry in the library says against it: a sore place, too little running, the race.

Receives: a template, what is known of the runner on a day.
Gives: a few words, or nothing.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass
from typing import Final

from planbuilder.rules.library import Template
from planbuilder.rules.safety import flagged
from planbuilder.runner.types import Level
from planbuilder.settings.models import RunnerSettings
from planbuilder.units import count_of

_WEEKS_A_MONTH: Final = 365.25 / 12 / 7


@dataclass(frozen=True, slots=True)
class OnTheDay:
    """What an entry of the library asks about."""

    sore: tuple[tuple[str, int], ...] = ()  # places no practitioner has cleared, with their pain, 0 to 10
    running_weeks: float = math.inf  # of a novice, with those of the block; infinite for anybody else
    days_to_race: float = math.inf


def on_the_day(
    runner: RunnerSettings, level: Level, *, first_day: dt.date, race_day: dt.date, on: dt.date
) -> OnTheDay:
    """What is known of a runner on a day of the block that begins on ``first_day``."""
    weeks = math.inf
    if level == "novice" and runner.running_months is not None:
        weeks = runner.running_months * _WEEKS_A_MONTH + (on - first_day).days / 7
    sore = (one for one in runner.injuries if flagged(one) and one.cleared is None)
    return OnTheDay(tuple((one.place, one.pain) for one in sore), weeks, (race_day - on).days)


def left_out(template: Template, day: OnTheDay) -> str:
    """Why a kind of session is left out on that day, "" where nothing speaks against it.

    >>> from planbuilder.rules.library import load_library
    >>> left_out(load_library().template("intervals"), OnTheDay(running_weeks=3))
    'it asks a novice for 8 weeks of regular running, and there are 3'
    """
    when = template.not_when
    if when.pain is not None and any(
        pain >= when.pain and (not when.places or place in when.places) for place, pain in day.sore
    ):
        return f"it is left out from {when.pain} of 10 on, and what is flagged is no less"
    if day.running_weeks < when.novice_weeks:
        weeks = count_of(when.novice_weeks, "week")
        return f"it asks a novice for {weeks} of regular running, and there are {day.running_weeks:.0f}"
    if 0 < day.days_to_race < when.days_before_race:
        days = count_of(when.days_before_race, "day")
        return f"it is left out in the last {days} before the race, and there are {day.days_to_race:.0f}"
    return ""
