"""The head of every page: the race, its ground across the top, style and script."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from planbuilder.course.types import Course, Feature
from planbuilder.outputs.pages.environment import Dress, dress
from planbuilder.outputs.pages.ground import Land, Picture, land, picture
from planbuilder.plan.types import Plan, PlanRace
from planbuilder.units import System, say_date

_COURSE_PX = 130.0  # the course's own page shows it twice as high


@dataclass(frozen=True, slots=True)
class Frame:
    """What stands on top of every page."""

    title: str
    race_name: str
    race_day: str  # empty where the page belongs to a course alone
    race_date: str  # machine's form
    place: str
    units: System
    picture: Picture
    dress: Dress
    store: str  # where this phone keeps its marks


def course_frame(
    course: Course,
    features: Sequence[Feature],
    *,
    title: str,
    units: System,
) -> Frame:
    """The head of a page about a course."""
    return Frame(
        title=title,
        race_name=title,
        race_day="",
        race_date="",
        place="",
        units=units,
        picture=picture(land(course, height_px=_COURSE_PX), features, grades=True),
        dress=dress("units.js"),
        store="",
    )


def plan_frame(
    plan: Plan, *, title: str, script: str = "", store: str = "", drawn: Land | None = None
) -> Frame:
    """The head of a page about a race that somebody trains for; ``drawn`` is its land, where it is known."""
    return race_frame(
        plan.race,
        picture(drawn or land(plan.course), plan.features),
        title=title,
        units=plan.runner.units,
        script=script,
        store=store,
    )


def race_frame(
    race: PlanRace, drawn: Picture, *, title: str, units: System, script: str = "", store: str = ""
) -> Frame:
    """The head of a page about a race for all who run it."""
    return Frame(
        title=title,
        race_name=race.name,
        race_day=say_date(race.date, year=True),
        race_date=race.date.isoformat(),
        place=race.place,
        units=units,
        picture=drawn,
        dress=dress("units.js", *filter(None, [script])),
        store=store,
    )
