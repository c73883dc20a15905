"""Long runs that go flat first and then up: the routes on which the hill comes at the right place."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from planbuilder.plan.local import LeadIn, LocalGround, Match
from planbuilder.plan.types import Session
from planbuilder.plan.walk import Leg
from planbuilder.settings.limits import Limits
from planbuilder.units import length_mark, place_mark, run_mark


@dataclass(frozen=True, slots=True)
class LongRunRoute:
    """Where to run a long run, and the hill it ends on."""

    ground: str  # the route of the flat part
    words: str
    hill: Match


def long_run_route(
    session: Session, legs: Sequence[Leg], found: LocalGround, limits: Limits
) -> LongRunRoute | None:
    """For a run that goes flat first and then up: the route, or the two routes, with the hill at the right
    place. None for other runs, and where the library has no such ground."""
    first_up = next((leg for leg in legs if leg.ground.kind in ("up", "drag")), None)
    if first_up is None or session.role != "long" or not found.lead_ins:
        return None
    lead_m = first_up.start_m
    if lead_m < limits.number("rehearse.lead_of_long_run"):
        return None
    choices = _of_this_session(session, found.lead_ins)
    for choice in choices:
        if choice.flat_before_m >= lead_m:
            return _one_way(choice.match, lead_m)
    for choice in choices:
        if choice.flat_before_m >= lead_m / 2:
            return _out_first(choice.match, lead_m)
    return _two_routes(choices[0], lead_m, found, limits)


def _of_this_session(session: Session, lead_ins: Sequence[LeadIn]) -> list[LeadIn]:
    """The hills of the stretch that this session rehearses, else all."""
    meant = [
        lead
        for lead in lead_ins
        for start, end in session.rehearses_m
        if min(end, lead.wanted.end_m) > max(start, lead.wanted.start_m)
    ]
    return meant or list(lead_ins)


def _ahead_of(match: Match, lead_m: float) -> float:
    """The place on the route that the runner passes ``lead_m`` before the match."""
    return max(0.0, match.from_m - lead_m) if match.direction == "as recorded" else match.from_m + lead_m


def _one_way(match: Match, lead_m: float) -> LongRunRoute:
    start_m = _ahead_of(match, lead_m)
    other = "" if match.direction == "as recorded" else ", run the other way"
    return LongRunRoute(
        match.route,
        f"Here: start at {place_mark(start_m)} of {match.route}{other}; it is flat for {run_mark(lead_m)}, "
        f"and the hill begins at {place_mark(lead_m)} of your run ({place_mark(match.from_m)} of the route)",
        match,
    )


def _out_first(match: Match, lead_m: float) -> LongRunRoute:
    return LongRunRoute(
        match.route,
        f"Here: start at the foot of the hill, {place_mark(match.from_m)} of {match.route}; run the flat "
        f"away from it for {length_mark(lead_m / 2)}, turn and come back: the hill begins at "
        f"{place_mark(lead_m)} of your run",
        match,
    )


def _two_routes(hill: LeadIn, lead_m: float, found: LocalGround, limits: Limits) -> LongRunRoute | None:
    match, before_m = hill.match, hill.flat_before_m
    if before_m < limits.number("rehearse.shortest_flat"):
        before_m = 0.0
    elsewhere_m = lead_m - before_m
    most = limits.number("rehearse.most_laps")
    flats = (
        flat for flat in found.flats if flat.route != match.route and flat.length_m * most >= elsewhere_m
    )
    flat = next(flats, None)
    if flat is None:
        return None
    ways = math.ceil(elsewhere_m / flat.length_m)
    how = {1: "", 2: ", out and back"}.get(ways, ", to and fro")
    along = f"{flat.route}, {place_mark(flat.from_m)} to {place_mark(flat.to_m)}"
    start_m = _ahead_of(match, before_m)
    then = (
        f"from {place_mark(start_m)}, flat to the hill at {place_mark(match.from_m)}"
        if before_m > 0
        else (f"and up the hill from {place_mark(match.from_m)}")
    )
    return LongRunRoute(
        along,
        f"Here, two routes: first {run_mark(elsewhere_m)} on {along}{how}; then go over to {match.route}, "
        f"{then}. Count the way between them as part of the flat, or drive it and start again within ten "
        "minutes",
        match,
    )
