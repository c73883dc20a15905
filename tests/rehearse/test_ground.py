"""From a course and a folder of routes to named local ground."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from planbuilder.course import read_course_file
from planbuilder.course.types import Course, Feature
from planbuilder.demands.types import CourseDemands, Demand
from planbuilder.rehearse import LocalGround, RouteLibrary, find_ground, index_routes
from planbuilder.rehearse.library import Route
from planbuilder.settings.limits import Limits
from planbuilder.units import say_in

Array = NDArray[np.float64]
FOOT, TOP, LINE = 15_000.0, 16_200.0, 21_100.0


@pytest.fixture
def course(make_course: Callable[..., Course]) -> Course:
    """Flat for 15 km, 48 m up at 4 %, down again, flat to the line."""
    return make_course([(0, 0), (FOOT, 6), (TOP, 54), (18_600, 6), (LINE, 6)])


@pytest.fixture
def features() -> tuple[Feature, ...]:
    climb = Feature(
        "climb", "climb 1", FOOT, TOP, 48.0, 48.0, 0.0, 0.04, 0.04, FOOT / LINE, decisive=True, words=""
    )
    fall = Feature(
        *("descent", "descent 1", TOP, 18_600.0, -48.0, 0.0, 48.0, -0.02, -0.02, TOP / LINE),
        decisive=False,
        words="",
    )
    return (climb, fall)


@pytest.fixture
def demands(features: tuple[Feature, ...]) -> CourseDemands:
    climb, fall = features
    asked = (
        Demand("late_climb", FOOT, TOP, 0.04, 48.0, FOOT / LINE, climb, ""),
        Demand("long_descent", TOP, 18_600.0, -0.02, -48.0, TOP / LINE, fall, ""),
    )
    return CourseDemands("rolling", "", 3.0, asked, climb, None, 48.0, LINE, 48.0)


def _pieces(points: list[tuple[float, float]]) -> Array:
    places, heights = np.array(points, dtype=np.float64).T
    at = np.linspace(0.0, places[-1], round(places[-1] / 20) + 1)
    return np.asarray(np.interp(at, places, heights), dtype=np.float64)


@pytest.fixture
def hills(make_route: Callable[..., Route]) -> RouteLibrary:
    return RouteLibrary(
        [
            make_route(_pieces([(0, 0), (8000, 4)]), name="canal path"),
            make_route(_pieces([(0, 0), (3000, 1), (4200, 49), (6000, 13)]), name="quarry lane"),
            make_route(_pieces([(0, 0), (3200, 2), (3700, 22), (4300, 22)]), name="mill hill"),
        ]
    )


def _best(found: LocalGround, kind: str) -> str:
    ground = next(ground for ground in found.grounds if ground.wanted.kind == kind)
    return f"{say_in(ground.matches[0].where, 'km')}: {say_in(ground.matches[0].words, 'km')}"


def test_the_decisive_climb_is_matched_with_the_hill_of_its_length_and_grade(
    course: Course, features: tuple[Feature, ...], demands: CourseDemands, hills: RouteLibrary, limits: Limits
) -> None:
    found = find_ground(course, features, demands, hills, limits)
    best = found.grounds[0].matches[0]
    assert found.grounds[0].wanted.kind == "decisive climb"
    assert (best.route, best.manner, best.direction) == ("quarry lane", "straight", "as recorded")
    assert best.from_m == pytest.approx(3000, abs=20)
    assert best.to_m == pytest.approx(4200, abs=20)
    assert best.rms_cost < 0.01
    assert best.words == "much the same ground all the way"
    assert len(best.local.height_m) == len(best.wanted.height_m)
    assert best.local.height_m[0] == best.wanted.height_m[0] == 0.0


def test_a_short_hill_is_run_several_times_with_a_jog_back(
    course: Course, features: tuple[Feature, ...], demands: CourseDemands, hills: RouteLibrary, limits: Limits
) -> None:
    only_short = RouteLibrary([route for route in hills.routes if route.name != "quarry lane"])
    found = find_ground(course, features, demands, only_short, limits)
    best = found.grounds[0].matches[0]
    assert best.manner == "laps"
    assert best.laps == 3
    assert say_in(best.where, "km") == "3 times the hill from km 3.2 to km 3.6 of mill hill, jog back"
    assert say_in(best.where, "mi") == "3 times the hill from mile 2.0 to mile 2.2 of mill hill, jog back"
    assert best.local.ascent_m == pytest.approx(48.0, abs=1.0)


def test_flat_then_hill_is_looked_for_as_one(
    course: Course, features: tuple[Feature, ...], demands: CourseDemands, hills: RouteLibrary, limits: Limits
) -> None:
    found = find_ground(course, features, demands, hills, limits)
    assert _best(found, "flat then hill") == (
        "quarry lane, from km 0.0 to km 4.2: much the same ground all the way"
    )


def test_a_descent_is_found_on_a_hill_run_the_other_way(
    course: Course,
    features: tuple[Feature, ...],
    demands: CourseDemands,
    make_route: Callable[..., Route],
    limits: Limits,
) -> None:
    up = make_route(_pieces([(0, 0), (1000, 0), (3400, 48), (4000, 48)]), name="long drag")
    found = find_ground(course, features, demands, RouteLibrary([up]), limits)
    fall = next(ground for ground in found.grounds if ground.wanted.kind == "descent")
    assert fall.matches[0].direction == "the other way"
    assert fall.matches[0].from_m == pytest.approx(3400, abs=20)
    assert fall.matches[0].to_m == pytest.approx(1000, abs=20)
    assert say_in(fall.matches[0].where, "km") == "long drag, from km 3.4 back to km 1.0"


def test_over_the_top_and_down_is_rehearsed_out_and_back(
    make_course: Callable[..., Course],
    demands: CourseDemands,
    make_route: Callable[..., Route],
    limits: Limits,
) -> None:
    hump = make_course([(0, 0), (6000, 0), (7000, 40), (8000, 0)])
    plain = dataclasses.replace(demands, demands=(), decisive=None, distance_m=8000.0)
    one_side = make_route(_pieces([(0, 0), (2000, 0), (3000, 40)]), name="dead end")
    found = find_ground(hump, (), plain, RouteLibrary([one_side]), limits)
    finish = next(ground for ground in found.grounds if ground.wanted.kind == "finish")
    best = finish.matches[0]
    assert best.manner == "out and back"
    assert best.turn_m == pytest.approx(3000, abs=1)
    assert say_in(best.where, "km") == "dead end, out from km 2.0 to km 3.0, turn, and back to km 2.0"


def test_flat_country_says_that_nothing_resembles_the_climb_and_names_the_best_substitute(
    course: Course,
    features: tuple[Feature, ...],
    demands: CourseDemands,
    make_route: Callable[..., Route],
    limits: Limits,
) -> None:
    dyke = RouteLibrary([make_route(_pieces([(0, 0), (5000, 3), (9000, 0)]), name="dyke road")])
    ground = find_ground(course, features, demands, dyke, limits).grounds[0]
    assert not ground.found
    assert ground.matches
    assert not ground.matches[0].resembles
    assert re.fullmatch(
        r"Nothing here resembles climb 1: the nearest is \d+\.\d % apart in the cost of running, and we ask "
        r"for 8 %\. The best substitute is .*dyke road.*",
        say_in(ground.words, "km"),
    )
    assert "47 m less climb, gentler all the way" in say_in(ground.words, "km")


def test_no_routes_at_all_is_said_and_nothing_is_made_up(
    course: Course, features: tuple[Feature, ...], demands: CourseDemands, limits: Limits
) -> None:
    found = find_ground(course, features, demands, RouteLibrary([]), limits)
    assert all(not ground.matches and not ground.found for ground in found.grounds)
    assert found.grounds[0].words == "Nothing here can stand in for climb 1: no local route is long enough."
    assert (found.flats, found.lead_ins) == ((), ())


def test_where_every_route_is_short_the_last_part_of_the_stretch_is_looked_for(
    course: Course,
    features: tuple[Feature, ...],
    demands: CourseDemands,
    make_route: Callable[..., Route],
    limits: Limits,
) -> None:
    short = RouteLibrary([make_route(_pieces([(0, 0), (600, 24)]), name="back stairs")])
    found = find_ground(course, features, demands, short, limits)
    finish = next(ground for ground in found.grounds if ground.wanted.kind == "finish")
    assert say_in(finish.words, "km").startswith(
        "No route here is as long as the finish; only its last 600 m"
    )
    assert finish.wanted.end_m == LINE


def test_ground_that_is_not_known_is_not_matched(
    course: Course, features: tuple[Feature, ...], demands: CourseDemands, hills: RouteLibrary, limits: Limits
) -> None:
    guessed = dataclasses.replace(course, known=False)
    found = find_ground(guessed, features, demands, hills, limits)
    assert found.grounds == ()
    assert found.notes[-1].kind == "assumed"


def test_a_reversed_library_gives_the_mirrored_result(
    course: Course,
    features: tuple[Feature, ...],
    demands: CourseDemands,
    waves: Callable[..., Array],
    make_route: Callable[..., Route],
    reversed_library: Callable[[RouteLibrary], RouteLibrary],
    limits: Limits,
) -> None:
    rng = np.random.default_rng(11)
    library = RouteLibrary([make_route(waves(8000.0 + 130 * n, rng), name=f"loop {n}") for n in range(12)])
    # Even ground has ties that no order settles, so the race's ground is bumpy here.
    bumpy = waves(LINE, rng, 10.0)
    course = dataclasses.replace(course, height_m=course.height_m + bumpy[: len(course.height_m)] - bumpy[0])
    there = find_ground(course, features, demands, library, limits)
    back = find_ground(course, features, demands, reversed_library(library), limits)
    lengths = {route.name: route.length_m for route in library.routes}
    assert len(there.grounds) == len(back.grounds) >= 4
    for one, other in zip(there.grounds, back.grounds, strict=True):
        a, b = one.matches[0], other.matches[0]
        assert (a.route, a.manner, a.laps) == (b.route, b.manner, b.laps)
        assert a.direction != b.direction
        assert a.rms_cost == pytest.approx(b.rms_cost, abs=1e-9)
        assert b.from_m == pytest.approx(lengths[a.route] - a.from_m, abs=1e-6)
        assert b.to_m == pytest.approx(lengths[a.route] - a.to_m, abs=1e-6)
        assert a.local.height_m == pytest.approx(b.local.height_m, abs=1e-9)


def test_a_runner_who_lives_on_the_course_is_sent_to_the_course(
    features: tuple[Feature, ...],
    demands: CourseDemands,
    tmp_path: Path,
    write_gpx: Callable[..., Path],
    limits: Limits,
) -> None:
    """From files to matches: the race's own road is found at its own place, both ways."""
    heights = _pieces([(0, 0), (FOOT, 6), (TOP, 54), (18_600, 6), (LINE, 6)])
    file = write_gpx(tmp_path / "race road.gpx", heights)
    write_gpx(tmp_path / "turned round.gpx", heights[::-1])
    course = read_course_file(file, shown_as=file.name, limits=limits)
    for name, places in (("race road", (FOOT, TOP)), ("turned round", (LINE - FOOT, LINE - TOP))):
        library = index_routes([tmp_path / f"{name}.gpx"], folder=tmp_path, limits=limits, cache=None)
        best = find_ground(course, features, demands, library, limits).grounds[0].matches[0]
        assert best.route == name
        assert best.rms_cost < 0.005
        assert best.from_m == pytest.approx(places[0], abs=60)
        assert best.to_m == pytest.approx(places[1], abs=60)


def test_a_flatter_course_asks_for_no_hill(
    make_course: Callable[..., Course], demands: CourseDemands, hills: RouteLibrary, limits: Limits
) -> None:
    flat = make_course([(0, 0), (LINE, 10)])
    none = dataclasses.replace(demands, demands=(), decisive=None)
    found = find_ground(flat, (), none, hills, limits)
    assert {ground.wanted.kind for ground in found.grounds} == {"finish", "start"}
    assert found.lead_ins == ()


def test_what_comes_out_holds_no_coordinates(
    course: Course,
    features: tuple[Feature, ...],
    demands: CourseDemands,
    tmp_path: Path,
    write_gpx: Callable[..., Path],
    limits: Limits,
) -> None:
    """The files lie at 47.1 S, 12.7 W, from 61 m above the sea."""
    heights = _pieces([(0, 0), (3000, 1), (4200, 49), (6000, 13)])
    for number in range(3):
        write_gpx(tmp_path / f"route {number} -47.123456 -12.654321.gpx", heights * (1 + number / 10))
    library = index_routes(sorted(tmp_path.glob("*.gpx")), folder=tmp_path, limits=limits, cache=None)
    found = find_ground(course, features, demands, library, limits)
    text = repr(found)
    assert "route 0" in text
    assert not re.search(r"47\.1234|12\.6543|\b61\.0", text)
    for ground in found.grounds:
        for match in ground.matches:
            assert match.local.height_m[0] == 0.0


def test_steeper_and_gentler_hills_change_the_time(
    course: Course,
    features: tuple[Feature, ...],
    demands: CourseDemands,
    make_route: Callable[..., Route],
    limits: Limits,
) -> None:
    """A too steep hill: 60 to 75 % of the time; a too gentle one: 120 %. Common practice, no source."""
    steep = RouteLibrary([make_route(_pieces([(0, 0), (1200, 96)]), name="stair lane")])
    gentle = RouteLibrary([make_route(_pieces([(0, 0), (1200, 20)]), name="long meadow")])
    best = find_ground(course, features, demands, steep, limits).grounds[0].matches[0]
    assert best.dose == "steeper than the race: 60–75 % of the time, same effort"
    best = find_ground(course, features, demands, gentle, limits).grounds[0].matches[0]
    assert best.dose == "gentler than the race: 120 % of the time, same effort"
