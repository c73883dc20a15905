"""Local ground for every stretch of the race, closest first, or an honest no."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from planbuilder.course.types import Course, Feature
from planbuilder.demands.types import CourseDemands
from planbuilder.plan.local import DemandGround, LeadIn, LocalGround, Match, Wanted
from planbuilder.rehearse.difference import difference_words, dose_words
from planbuilder.rehearse.flat import flat_before, flat_stretches
from planbuilder.rehearse.library import RouteLibrary, cells_of
from planbuilder.rehearse.search import Reading, Searcher, closest, readings, straight
from planbuilder.rehearse.wanted import profile, shortened, wanted_stretches
from planbuilder.settings.limits import Limits
from planbuilder.settings.notes import Note
from planbuilder.units import count_of, length_mark, place_mark, say_grade

RULE: Final = "rehearse.closest_cost"


@dataclass(frozen=True, slots=True)
class _Candidate:
    rank: float  # distance with the handicap of laps
    order: int  # of its reading: straight before out and back before laps
    reading: Reading
    point: int

    @property
    def span(self) -> range:
        return range(self.point, self.point + self.reading.cells)


def find_ground(
    course: Course,
    features: Sequence[Feature],
    demands: CourseDemands,
    library: RouteLibrary,
    limits: Limits,
) -> LocalGround:
    """The stretches of local routes that best rehearse each demand of the course.

    Each stretch of the race is laid over every window of every route, both directions, out and back and (for
    climbs) laps, and ranked by the root mean square difference in energy cost, metre by metre. Where nothing
    is close enough the best substitute is given, marked as such. The result holds names, distances and
    relative heights only.
    """
    searcher = Searcher(library)
    grounds = []
    for stretch in wanted_stretches(course, features, demands, limits):
        grounds.append(_search(course, stretch, searcher, limits))
    hills = [ground for ground in grounds if ground.wanted.climbs and ground.found]
    lead_ins = tuple(
        LeadIn(ground.wanted, match, flat_before(library, match, limits))
        for ground in hills
        for match in ground.matches
        if match.manner != "out and back"
    )
    unknown = Note(RULE, "The race's ground is not known, so no local ground was looked for.", "assumed")
    return LocalGround(
        tuple(grounds),
        lead_ins,
        ordinary_hills(searcher, limits),
        flat_stretches(library, limits),
        len(library),
        () if course.known else (unknown,),
    )


def closest_matches(stretch: Wanted, searcher: Searcher, limits: Limits) -> tuple[Match, ...]:
    """Local places for one stretch, closest first; all of them resemble it, or none does and they are the
    best substitutes. Empty where no route is long enough."""
    ways = _readings(stretch, limits)
    candidates = _candidates(ways, searcher, limits, alike=True)
    resembles = bool(candidates)
    chosen = _apart(
        candidates or _candidates(ways, searcher, limits, alike=False),
        int(limits.number("rehearse.most_matches")),
    )
    return tuple(_match(one, stretch, searcher, limits, resembles=resembles) for one in chosen)


def _candidates(
    ways: Sequence[Reading], searcher: Searcher, limits: Limits, *, alike: bool
) -> list[_Candidate]:
    """The closest windows of every reading: those that resemble the stretch, or whatever there is."""
    most = limits.number(RULE) if alike else np.inf
    found = []
    for order, reading in enumerate(ways):
        points = searcher.alike(reading, **_likeness(limits)) if alike else searcher.inside(reading)
        distances = searcher.distances(reading, points)
        near = distances <= most
        handicap = limits.number("rehearse.lap_handicap") * (len(reading.pieces) - 1)
        how_many = int(limits.number("rehearse.most_matches"))
        for point, distance in closest(points[near], distances[near], cells=reading.cells, how_many=how_many):
            found.append(_Candidate(distance + handicap, order, reading, point))
    return found


def _likeness(limits: Limits) -> dict[str, float]:
    return {
        "least_m": limits.number("rehearse.same_climb"),
        "share": limits.number("rehearse.same_climb_share"),
        "reversal_m": limits.number("rehearse.reversal"),
    }


def ordinary_hills(searcher: Searcher, limits: Limits) -> tuple[Match, ...]:
    """The steadiest local hill of each usual grade and length, for hill work that rehearses no stretch of the
    race in particular; only where there is one of that grade."""
    found: dict[tuple[str, float, float], Match] = {}
    for grade in limits.numbers("rehearse.hill_grades"):
        for length_m in limits.numbers("rehearse.hill_lengths"):
            height = np.linspace(0.0, grade * length_m, cells_of(length_m) + 1)
            rising = profile(height, length_m, reversal_m=limits.number("rehearse.reversal"))
            stretch = Wanted("climb", f"a hill of {say_grade(grade)}", 0.0, length_m, rising)
            ways = [straight(height, length_m, backward=backward) for backward in (False, True)]
            for one in _apart(_candidates(ways, searcher, limits, alike=True), 1):
                match = _match(one, stretch, searcher, limits, resembles=True)
                found.setdefault((match.route, match.from_m, match.to_m), match)
    return tuple(found.values())


def _readings(stretch: Wanted, limits: Limits) -> list[Reading]:
    return list(
        readings(
            np.array(stretch.profile.height_m),
            stretch.length_m,
            climbs=stretch.climbs,
            most_laps=int(limits.number("rehearse.most_laps")),
            shortest_hill_m=limits.number("rehearse.shortest_hill"),
        )
    )


def _search(course: Course, stretch: Wanted, searcher: Searcher, limits: Limits) -> DemandGround:
    matches = closest_matches(stretch, searcher, limits)
    longest_m = searcher.library.longest_m
    if matches or longest_m < limits.number("rehearse.shortest_hill"):
        return DemandGround(stretch, matches, _headline(stretch, matches, limits))
    part = shortened(course, stretch, longest_m, limits=limits)
    matches = closest_matches(part, searcher, limits)
    which = "first" if part.start_m == stretch.start_m else "last"
    words = (
        f"No route here is as long as {stretch.name}; only its {which} {length_mark(part.length_m)} was "
        f"looked for. {_headline(part, matches, limits)}"
    )
    return DemandGround(part, matches, words)


def _apart(candidates: list[_Candidate], how_many: int) -> list[_Candidate]:
    chosen: list[_Candidate] = []
    for one in sorted(candidates, key=lambda one: (one.rank, one.order, one.point)):
        if all(one.span.stop <= other.span.start or other.span.stop <= one.span.start for other in chosen):
            chosen.append(one)
        if len(chosen) == how_many:
            break
    return chosen


def _match(one: _Candidate, stretch: Wanted, searcher: Searcher, limits: Limits, *, resembles: bool) -> Match:
    reading, first = one.reading, one.reading.pieces[0]
    route, window_m = searcher.library.place(one.point)
    step_m = route.length_m / (len(route.height_m) - 1)
    ends_m = [window_m + cells * step_m for cells in (first.window_from, first.window_from + first.cells)]
    from_m, to_m = ends_m[::-1] if first.backward else ends_m
    turn_m = None
    if reading.manner == "out and back":
        last = reading.pieces[1]
        turn_m = to_m
        to_m = window_m + (last.window_from + (last.cells if last.backward is False else 0)) * step_m
    reversal_m = limits.number("rehearse.reversal")
    length_m = step_m * (len(reading.wanted_height_m) - 1)
    local = profile(searcher.heights(reading, one.point), length_m, reversal_m=reversal_m)
    there = profile(reading.wanted_height_m, stretch.length_m, reversal_m=reversal_m)
    grade_difference = local.grade - there.grade
    return Match(
        route=route.name,
        from_m=from_m,
        to_m=to_m,
        turn_m=turn_m,
        direction="the other way" if first.backward else "as recorded",
        manner=reading.manner,
        laps=reading.laps,
        rms_cost=searcher.exact(reading, one.point),
        resembles=resembles,
        grade_difference=grade_difference,
        where=_where(route.name, from_m, to_m, turn_m, reading),
        words=difference_words(local, there, limits),
        dose=dose_words(grade_difference, limits) if stretch.climbs else "",
        local=local,
        wanted=there,
    )


def _where(route: str, from_m: float, to_m: float, turn_m: float | None, reading: Reading) -> str:
    start, end = place_mark(from_m), place_mark(to_m)
    if reading.manner == "laps":
        return f"{count_of(reading.laps, 'time')} the hill from {start} to {end} of {route}, jog back"
    if turn_m is not None:
        return f"{route}, out from {start} to {place_mark(turn_m)}, turn, and back to {end}"
    return f"{route}, from {start} {'back ' if reading.backward else ''}to {end}"


def _headline(stretch: Wanted, matches: Sequence[Match], limits: Limits) -> str:
    if not matches:
        return f"Nothing here can stand in for {stretch.name}: no local route is long enough."
    best = matches[0]
    apart = f"{best.rms_cost * 100:.1f} %"
    if best.resembles:
        return (
            f"For {stretch.name}: {best.where}. Cost of running {apart} apart, metre by metre: {best.words}."
        )
    asked = f"{limits.number(RULE) * 100:.0f} %"
    reason = (
        f"the nearest is {apart} apart in the cost of running, and we ask for {asked}"
        if best.rms_cost > limits.number(RULE)
        else "what comes near in grade has another amount of climb or descent"
    )
    return (
        f"Nothing here resembles {stretch.name}: {reason}. The best substitute is {best.where}: {best.words}."
    )
