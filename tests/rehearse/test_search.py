"""The search against plain arithmetic over every window."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from planbuilder.physiology.gradient import energy_cost_j_per_kg_m
from planbuilder.rehearse.library import Route, RouteLibrary, climb_so_far
from planbuilder.rehearse.search import Reading, Searcher, closest, laps, out_and_back, readings, straight

Array = NDArray[np.float64]


def _cost(grade: Array) -> Array:
    return energy_cost_j_per_kg_m(np.clip(grade, -0.45, 0.45)) / 3.6 - 1


def _walk(route: Route, reading: Reading, first: int) -> Array:
    """Heights met by the runner, written out cell by cell without looking at the search."""
    met = [0.0]
    for piece in reading.pieces:
        cells = range(first + piece.window_from, first + piece.window_from + piece.cells)
        for cell in reversed(cells) if piece.backward else cells:
            rise = route.height_m[cell + 1] - route.height_m[cell]
            met.append(met[-1] + (-rise if piece.backward else rise))
    return np.array(met)


def _brute(routes: list[Route], reading: Reading) -> dict[tuple[str, int], float]:
    found = {}
    for route in routes:
        step = route.length_m / (len(route.height_m) - 1)
        for first in range(len(route.height_m) - reading.cells):
            cost = _cost(np.diff(_walk(route, reading, first)) / step)
            found[route.name, first] = float(np.sqrt(np.mean((cost - reading.wanted_cost) ** 2)))
    return found


def _routes(seed: int, lengths: list[int]) -> list[Route]:
    rng = np.random.default_rng(seed)
    made = []
    for number, cells in enumerate(lengths):
        height = np.concatenate([[0.0], np.cumsum(rng.normal(0.0, 0.8, cells))])
        made.append(
            Route(str(number), "", f"route {number}", cells * 20.0, height, climb_so_far(height, 3.0))
        )
    return made


@settings(max_examples=25)
@given(
    seed=st.integers(0, 10_000),
    lengths=st.lists(st.integers(4, 90), min_size=1, max_size=5),
    wanted_cells=st.integers(3, 40),
    climbs=st.booleans(),
)
def test_the_closest_window_is_the_one_that_plain_arithmetic_finds(
    seed: int, lengths: list[int], wanted_cells: int, climbs: bool
) -> None:
    routes = _routes(seed, lengths)
    searcher = Searcher(RouteLibrary(routes))
    height = np.cumsum(np.random.default_rng(seed + 1).normal(0.1, 0.8, wanted_cells + 1))
    for reading in readings(height, wanted_cells * 20.0, climbs=climbs, most_laps=4, shortest_hill_m=60.0):
        points = searcher.inside(reading)
        distances = searcher.distances(reading, points)
        brute = _brute(routes, reading)
        places = closest(points, distances, cells=reading.cells, how_many=1)
        assert bool(places) == bool(brute)
        assert len(points) == len(brute)
        if brute:
            point, distance = places[0]
            route, at_m = searcher.library.place(point)
            assert distance == pytest.approx(min(brute.values()), abs=2e-6)
            assert brute[route.name, round(at_m / 20.0)] == pytest.approx(min(brute.values()), abs=2e-6)
            assert searcher.exact(reading, point) == pytest.approx(brute[route.name, round(at_m / 20.0)])


@settings(max_examples=25)
@given(seed=st.integers(0, 10_000), wanted_cells=st.integers(3, 40), climbs=st.booleans())
def test_the_filter_on_climb_lets_through_what_adding_up_by_hand_lets_through(
    seed: int, wanted_cells: int, climbs: bool
) -> None:
    routes = _routes(seed, [30, 60])
    searcher = Searcher(RouteLibrary(routes))
    rng = np.random.default_rng(seed + 1)
    height = np.cumsum(rng.normal(0.0, 0.8, wanted_cells + 1))
    for reading in readings(height, wanted_cells * 20.0, climbs=climbs, most_laps=3, shortest_hill_m=60.0):
        alike = set(searcher.alike(reading, least_m=4.0, share=0.25, reversal_m=3.0).tolist())
        for point in searcher.inside(reading).tolist():
            route, at_m = searcher.library.place(point)
            up = down = 0.0
            for piece in reading.pieces:
                first = round(at_m / 20.0) + piece.window_from
                rise = route.climbed_m[first + piece.cells] - route.climbed_m[first]
                fall = rise - (route.height_m[first + piece.cells] - route.height_m[first])
                up, down = (up + fall, down + rise) if piece.backward else (up + rise, down + fall)
            there = climb_so_far(reading.wanted_height_m, 3.0)[-1]
            drop = there - reading.wanted_height_m[-1]
            by_hand = abs(up - there) <= max(4.0, 0.25 * there) and abs(down - drop) <= max(4.0, 0.25 * drop)
            assert (point in alike) == bool(by_hand)


def _closest(searcher: Searcher, reading: Reading) -> tuple[int, float]:
    points = searcher.inside(reading)
    return closest(points, searcher.distances(reading, points), cells=reading.cells, how_many=1)[0]


def test_places_that_are_named_share_no_ground() -> None:
    points = np.flatnonzero(np.random.default_rng(4).uniform(size=500) < 0.8)
    distances = np.random.default_rng(5).uniform(0.0, 1.0, len(points))
    places = [point for point, _ in closest(points, distances, cells=30, how_many=8)]
    assert len(places) == 8
    assert set(places) <= set(points.tolist())
    assert min(abs(a - b) for a in places for b in places if a != b) >= 30
    assert places[0] == points[np.argmin(distances)]


def test_a_dead_flat_library_gives_its_first_place_not_a_rounding_error() -> None:
    flat = np.zeros(300)
    searcher = Searcher(RouteLibrary([Route("a", "", "a", 5980.0, flat, flat)]))
    point, distance = _closest(searcher, straight(np.zeros(60), 1180.0, backward=False))
    assert point == 0
    assert distance == pytest.approx(0.0, abs=1e-6)


def test_out_and_back_meets_the_hill_and_comes_down_it_again() -> None:
    up = np.concatenate([np.zeros(20), np.arange(1.0, 31.0)])
    searcher = Searcher(RouteLibrary([Route("a", "", "a", 980.0, up, climb_so_far(up, 3.0))]))
    over = np.concatenate([np.arange(31.0), np.arange(29.0, -1.0, -1.0)])
    reading = out_and_back(over, 1200.0, out_cells=30, backward=False)
    point, distance = _closest(searcher, reading)
    assert point == 19
    assert distance == pytest.approx(0.0, abs=1e-6)
    assert searcher.heights(reading, point).tolist() == pytest.approx(over.tolist(), abs=1e-9)


def test_laps_put_the_same_hill_one_after_the_other() -> None:
    hill = np.concatenate([np.zeros(10), np.arange(1.0, 16.0)])
    searcher = Searcher(RouteLibrary([Route("a", "", "a", 480.0, hill, climb_so_far(hill, 3.0))]))
    reading = laps(np.arange(61.0), 1200.0, times=4, backward=False)
    point, distance = _closest(searcher, reading)
    assert point == 9
    assert distance == pytest.approx(0.0, abs=1e-6)
    assert searcher.heights(reading, point)[-1] == pytest.approx(60.0, abs=1e-9)


def test_the_right_stretch_is_found_again_through_noise_stretching_and_shift(
    waves: Callable[..., Array], make_route: Callable[..., Route]
) -> None:
    """Promised: at least 95 of 100 with 0.8 m of height noise, 3 % longer or shorter, up to 150 m along.

    The noise lies on points 10 m apart and goes through the same smoothing as every course (40 m, see the
    course room's choice of filter); the library is 200 routes of 10 km, from
    nearly flat to hilly.
    """
    rng = np.random.default_rng(2027)
    fine = [waves(10_000.0, rng, 10.0) * rng.uniform(0.1, 1.0) for _ in range(200)]
    searcher = Searcher(
        RouteLibrary([make_route(height[::2], name=f"route {n}") for n, height in enumerate(fine)])
    )
    kernel = np.exp(-0.5 * (np.arange(-16, 17) * 10.0 / 40.0) ** 2)
    kernel /= kernel.sum()
    trials, right = 120, 0
    for _ in range(trials):
        number, scale = int(rng.integers(200)), rng.uniform(0.97, 1.03)
        first_m = rng.uniform(300.0, 4300.0)
        copied_m = first_m + rng.uniform(-150.0, 150.0)
        at = copied_m + np.arange(-16, 517) * 10.0 * scale
        height = np.interp(at, np.arange(1001) * 10.0, fine[number]) + rng.normal(0.0, 0.8, len(at))
        smooth = np.convolve(height, kernel, "valid")
        backward = bool(rng.integers(2))
        smooth = smooth[::-1] if backward else smooth
        best: tuple[float, int, bool] | None = None
        for way in (False, True):
            reading = straight(smooth, 10.0 * (len(smooth) - 1), backward=way)
            alike = searcher.alike(reading, least_m=10.0, share=0.25, reversal_m=3.0)
            distances = searcher.distances(reading, alike)
            for point, distance in closest(alike, distances, cells=reading.cells, how_many=1):
                if best is None or distance < best[0]:
                    best = (distance, point, way)
        if best is not None:
            route, at_m = searcher.library.place(best[1])
            near = abs(at_m - copied_m) <= 300.0
            right += route.name == f"route {number}" and near and best[2] is backward
    assert right / trials >= 0.95
