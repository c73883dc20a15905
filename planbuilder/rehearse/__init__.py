"""Rehearse: which local ground, or which treadmill programme, stands in for a stretch of the race.

Receives: the course with its features and demands, route files of the runner's neighbourhood, the runner's
settings and paces, the weeks of the plan.
Gives: a ``RouteLibrary`` (kept between runs as an index without coordinates), ``LocalGround`` with the
closest stretches for each demand, the weeks with their hills and routes named, and for those without hills a
``TreadmillProgramme`` and the second choices. All of it is for the runner's own page and feed, never for the
board.
"""

from planbuilder.plan.local import (
    DemandGround,
    FlatStretch,
    LeadIn,
    LocalGround,
    Match,
    Profile,
    Rehearsal,
    SecondChoice,
    TreadmillMinute,
    TreadmillProgramme,
    Wanted,
)
from planbuilder.rehearse.ground import find_ground
from planbuilder.rehearse.library import (
    NOT_SEARCHED,
    RouteLibrary,
    forget_routes,
    index_routes,
    route_files,
    routes_in,
)
from planbuilder.rehearse.naming import name_ground
from planbuilder.rehearse.rehearsal import find_rehearsal
from planbuilder.rehearse.second_choices import second_choices
from planbuilder.rehearse.treadmill import treadmill_of, treadmill_programme

__all__ = [
    "NOT_SEARCHED",
    "DemandGround",
    "FlatStretch",
    "LeadIn",
    "LocalGround",
    "Match",
    "Profile",
    "Rehearsal",
    "RouteLibrary",
    "SecondChoice",
    "TreadmillMinute",
    "TreadmillProgramme",
    "Wanted",
    "find_ground",
    "find_rehearsal",
    "forget_routes",
    "index_routes",
    "name_ground",
    "route_files",
    "routes_in",
    "second_choices",
    "treadmill_of",
    "treadmill_programme",
]
