"""Sessions that say where: the hill and how far up it, the route with the climb at the right place."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from planbuilder.plan.local import LocalGround, WantedKind
from planbuilder.plan.types import GroundKind, Session, Step, Week
from planbuilder.plan.walk import Leg, timeline
from planbuilder.rehearse.hills import Hill, choose_hill, nearest_ground
from planbuilder.rehearse.long_runs import LongRunRoute, long_run_route
from planbuilder.settings.limits import Limits
from planbuilder.units import count_of, length_mark, place_mark

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
    route = long_run_route(session, legs, found, limits)
    for place, step in enumerate(session.steps):
        if step.kind != "work" and not (
            step.kind in ("easy", "strides") and step.ground.kind in ("up", "drag")
        ):
            continue
        leg = next(leg for leg in legs if leg.step_no == place)
        name = _step_name(session, step, leg, found, limits, route)
        if name is not None:
            named[place] = name
    if route is not None:
        named[0] = _Named(route.ground, route.words)
    return named


def _step_name(
    session: Session,
    step: Step,
    leg: Leg,
    found: LocalGround,
    limits: Limits,
    route: LongRunRoute | None,
) -> _Named | None:
    kind: GroundKind = step.ground.kind
    if kind == "up" and route is not None:
        return _hill_words(step, leg.distance_m, Hill(route.hill, route.hill.dose, ""), limits)
    if kind in ("up", "drag"):
        hill = choose_hill(session, step, leg.distance_m, found, limits)
        return None if hill is None else _hill_words(step, leg.distance_m, hill, limits)
    if kind == "flat" and route is not None:
        return _Named(route.ground, "")
    if kind == "flat" and found.flats and not step.ground.words:
        flat = found.flats[0]
        return _Named(f"{flat.route}, {place_mark(flat.from_m)} to {place_mark(flat.to_m)}", "")
    wanted: dict[GroundKind, tuple[WantedKind, ...]] = {
        "down": ("descent",),
        "rolling": ("rolling", "finish"),
    }
    ground = nearest_ground(session, [g for g in found.grounds if g.wanted.kind in wanted.get(kind, ())])
    return None if ground is None else _Named(ground.matches[0].where, "")


def _hill_words(step: Step, need_m: float, hill: Hill, limits: Limits) -> _Named:
    """Which hill, how far up it, and what to do where it is too short or of another grade."""
    match, hill_m = hill.match, hill.length_m
    toward = 1 if match.to_m > match.from_m else -1
    foot, top = place_mark(match.from_m), place_mark(match.to_m)
    if need_m <= hill_m * (1 + limits.number("rehearse.hill_end")):
        turn = place_mark(match.from_m + toward * min(need_m, hill_m))
        sentences = [f"Here: {match.route}, up from {foot} to about {turn} ({length_mark(need_m)})"]
        where = f"{match.route}, {foot} to {turn}"
    else:
        times = math.ceil(step.repeat * need_m / hill_m)
        shorter = f"shorter than the {'repeats' if step.repeat > 1 else 'climb'}, so it is run more often"
        sentences = [
            f"Here: {count_of(times, 'time')} the hill from {foot} to {top} of {match.route}, jog back; "
            f"it is {shorter}"
        ]
        where = f"{match.route}, {foot} to {top}, {count_of(times, 'time')}"
    sentences += [words[0].upper() + words[1:] for words in (hill.dose, hill.caveat) if words]
    return _Named(where, ". ".join(sentences))
