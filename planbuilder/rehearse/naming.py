"""Sessions that say where: the hill and how far up it, the route with the climb at the right place."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from planbuilder.plan.types import Ground, GroundKind, Session, Step, Week
from planbuilder.plan.walk import Leg, timeline
from planbuilder.rehearse.types import DemandGround, LeadIn, LocalGround, Match
from planbuilder.settings.limits import Limits
from planbuilder.units import length_mark, place_mark, run_mark

_OWN_PLACE = ("race", "tune_up", "club", "strength", "cross")


@dataclass(frozen=True, slots=True)
class _Named:
    ground: str  # for Ground.words
    instruction: str  # joined to Step.words


def name_ground(weeks: Sequence[Week], found: LocalGround, limits: Limits) -> tuple[Week, ...]:
    """The same weeks with local hills and routes named in ``Ground.words`` and ``Step.words``; nothing else
    changes. Races, club nights and sessions with a place of their own stay as they are. For this runner's own
    page and feed, never for the board."""
    return tuple(
        replace(week, sessions=tuple(_session(session, found, limits) for session in week.sessions))
        for week in weeks
    )


def _session(session: Session, found: LocalGround, limits: Limits) -> Session:
    if session.role in _OWN_PLACE or session.place or session.cancelled:
        return session
    names = _names(session, found, limits)
    if not names:
        return session
    steps = tuple(
        _named(step, names[place]) if place in names else step for place, step in enumerate(session.steps)
    )
    return replace(session, steps=steps)


def _named(step: Step, name: _Named) -> Step:
    words = step.words
    if name.instruction:
        # Texts of steps come with and without a full stop; the instruction is a sentence of its own.
        words = f"{words.rstrip('. ')}. {name.instruction}" if words else name.instruction
    return replace(step, ground=replace(step.ground, words=name.ground or step.ground.words), words=words)


def _names(session: Session, found: LocalGround, limits: Limits) -> dict[int, _Named]:
    """What is said of each step, by its place in the session."""
    legs = timeline(session)
    named: dict[int, _Named] = {}
    route = _route_words(session, legs, found, limits)
    for place, step in enumerate(session.steps):
        if step.kind != "work" and not (
            step.kind in ("easy", "strides") and step.ground.kind in ("up", "drag")
        ):
            continue
        leg = next(leg for leg in legs if leg.step_no == place)
        name = _step_name(session, step, leg, found, limits)
        if name is not None:
            named[place] = name
    if route is not None:
        ground, instruction, match = route
        named[0] = _Named(ground, instruction)
        for place, name in named.items():
            kind = session.steps[place].ground.kind
            if place > 0 and kind in ("up", "drag"):
                named[place] = replace(name, ground=match.where)
            elif place > 0 and kind == "flat":
                named[place] = replace(name, ground=ground)
    return named


def _step_name(session: Session, step: Step, leg: Leg, found: LocalGround, limits: Limits) -> _Named | None:
    kind: GroundKind = step.ground.kind
    if kind in ("up", "drag"):
        hill = _best(session, found, lambda ground: ground.wanted.climbs, step.ground)
        return None if hill is None else _hill_words(step, leg, *hill, limits)
    if kind == "down":
        slope = _best(session, found, lambda ground: ground.wanted.kind == "descent", step.ground)
        return None if slope is None else _Named(slope[1].where, "")
    if kind == "rolling":
        ground = _best(session, found, lambda ground: ground.wanted.kind in ("rolling", "finish"), None)
        return None if ground is None else _Named(ground[1].where, "")
    if kind == "flat" and found.flats and not step.ground.words:
        flat = found.flats[0]
        return _Named(f"{flat.route}, {place_mark(flat.from_m)} to {place_mark(flat.to_m)}", "")
    return None


def _best(
    session: Session, found: LocalGround, suits: Callable[[DemandGround], bool], ground: Ground | None
) -> tuple[DemandGround, Match] | None:
    """The ground that answers the stretch this session rehearses, else the most important that suits; a hill
    that is run out and back is no place for repeats."""
    choices = []
    for answer in found.grounds:
        match = next((match for match in answer.matches if match.manner != "out and back"), None)
        if suits(answer) and match is not None:
            choices.append((answer, match))
    if not choices:
        return None

    def shared(choice: tuple[DemandGround, Match]) -> float:
        wanted = choice[0].wanted
        return max(
            (min(end, wanted.end_m) - max(start, wanted.start_m)) / max(end - start, wanted.length_m)
            for start, end in session.rehearses_m
        )

    if session.rehearses_m and max(map(shared, choices)) > 0:
        return max(choices, key=shared)
    if ground is not None and ground.grade is not None:
        grade = ground.grade
        return min(choices, key=lambda choice: abs(choice[1].local.grade - grade))
    return choices[0]


def _hill_words(step: Step, leg: Leg, ground: DemandGround, match: Match, limits: Limits) -> _Named:
    """Which hill, how far up it, and what to do where it is too short or of another grade."""
    hill_m = abs(match.to_m - match.from_m)
    toward = 1 if match.to_m > match.from_m else -1
    need_m = leg.distance_m
    foot, top = place_mark(match.from_m), place_mark(match.to_m)
    sentences = []
    if need_m <= hill_m * (1 + limits.number("rehearse.hill_end")):
        turn = place_mark(match.from_m + toward * min(need_m, hill_m))
        sentences.append(f"Here: {match.route}, up from {foot} to about {turn} ({length_mark(need_m)})")
        where = f"{match.route}, {foot} to {turn}"
    else:
        times = math.ceil(step.repeat * need_m / hill_m)
        sentences.append(
            f"Here: {times} times the hill from {foot} to {top} of {match.route}, jog back; it is shorter "
            f"than the {'repeats' if step.repeat > 1 else 'climb'}, so it is run more often"
        )
        where = f"{match.route}, {foot} to {top}, {times} times"
    if match.dose:
        sentences.append(match.dose[0].upper() + match.dose[1:])
    if not match.resembles:
        sentences.append(f"Nothing here resembles {ground.wanted.name} closely; this comes nearest")
    return _Named(where, ". ".join(sentences))


def _route_words(
    session: Session, legs: Sequence[Leg], found: LocalGround, limits: Limits
) -> tuple[str, str, Match] | None:
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


def _one_way(match: Match, lead_m: float) -> tuple[str, str, Match]:
    start_m = match.from_m - lead_m if match.direction == "as recorded" else match.from_m + lead_m
    other = "" if match.direction == "as recorded" else ", run the other way"
    return (
        match.route,
        f"Here: start at {place_mark(start_m)} of {match.route}{other}; it is flat for {run_mark(lead_m)}, "
        f"and the hill begins at {place_mark(lead_m)} of your run ({place_mark(match.from_m)} of the route)",
        match,
    )


def _out_first(match: Match, lead_m: float) -> tuple[str, str, Match]:
    return (
        match.route,
        f"Here: start at the foot of the hill, {place_mark(match.from_m)} of {match.route}; run the flat "
        f"away from it for {length_mark(lead_m / 2)}, turn and come back: the hill begins at "
        f"{place_mark(lead_m)} of your run",
        match,
    )


def _two_routes(
    hill: LeadIn, lead_m: float, found: LocalGround, limits: Limits
) -> tuple[str, str, Match] | None:
    match, before_m = hill.match, hill.flat_before_m
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
    start_m = match.from_m + (-before_m if match.direction == "as recorded" else before_m)
    then = (
        f"from {place_mark(start_m)}, flat to the hill at {place_mark(match.from_m)}"
        if before_m > 0
        else (f"and up the hill from {place_mark(match.from_m)}")
    )
    return (
        along,
        f"Here, two routes: first {run_mark(elsewhere_m)} on {along}{how}; then go over to {match.route}, "
        f"{then}. Count the way between them as part of the flat, or drive it and start again within ten "
        "minutes",
        match,
    )
