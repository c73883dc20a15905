"""How fast local ground is found and the index is read; prints ratios. Run: pytest -m benchmark -s <this
file>."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from planbuilder.rehearse.library import Route, RouteLibrary, climb_so_far, index_routes
from planbuilder.rehearse.search import Searcher, closest, straight
from planbuilder.settings.limits import default_limits

pytestmark = pytest.mark.benchmark
Array = NDArray[np.float64]
ROUTES = 1000
LENGTH_M = 10_000.0


def _best_s(
    work: Callable[[], object], times: int = 15, clock: Callable[[], float] = time.process_time
) -> float:
    """Best of some runs; processor time, unless a clock is given, so that other work does not count."""
    spent = []
    for _ in range(times):
        start = clock()
        work()
        spent.append(clock() - start)
    return min(spent)


def _heights(rng: np.random.Generator, step_m: float) -> Array:
    at = np.arange(0.0, LENGTH_M + step_m / 2, step_m)
    lengths = rng.uniform(400.0, 6000.0, (8, 1))
    waves = (
        lengths
        * rng.uniform(0.0005, 0.006, (8, 1))
        * np.sin(2 * np.pi * at / lengths + rng.uniform(0, 6.3, (8, 1)))
    )
    height = waves.sum(axis=0)
    return np.asarray(height - height[0], dtype=np.float64)


def _search(searcher: Searcher, wanted: Array) -> list[tuple[int, float]]:
    """One 5 km stretch, both directions, filtered by climb, the five best of each."""
    found = []
    for backward in (False, True):
        reading = straight(wanted, 5000.0, backward=backward)
        alike = searcher.alike(reading, least_m=10.0, share=0.25, reversal_m=3.0)
        found += closest(alike, searcher.distances(reading, alike), cells=reading.cells, how_many=5)
    return sorted(found, key=lambda place: place[1])


def test_a_search_costs_at_most_four_correlations_and_a_twentieth_of_plain_arithmetic() -> None:
    rng = np.random.default_rng(1)
    routes = []
    for number in range(ROUTES):
        height = _heights(rng, 20.0)
        routes.append(Route(str(number), "", str(number), LENGTH_M, height, climb_so_far(height, 3.0)))
    library = RouteLibrary(routes)
    wanted = routes[500].height_m[100:351]
    reading = straight(wanted, 5000.0, backward=False)
    cost = library.cost_forward
    assert library.cost_backward.size == cost.size >= 500_000
    searcher = Searcher(library)
    route, at_m = library.place(_search(searcher, wanted)[0][0])
    assert route is routes[500]
    assert at_m == pytest.approx(2000.0)

    correlate_s = _best_s(lambda: np.correlate(cost, reading.wanted_cost, "valid"))
    search_s = _best_s(lambda: _search(searcher, wanted))
    first_s = _best_s(lambda: _search(Searcher(library), wanted))

    def plain() -> Array:
        windows = np.lib.stride_tricks.sliding_window_view(cost, reading.cells)
        return np.asarray(((windows - reading.wanted_cost) ** 2).sum(axis=1))

    plain_s = _best_s(plain, times=3)
    print(
        f"\n10,000 km, 5 km wanted, both directions and filters: {search_s * 1e3:.0f} ms"
        f"\n  in np.correlate of that array with that stretch ({correlate_s * 1e3:.0f} ms): "
        f"{search_s / correlate_s:.2f} times; the first search of a library {first_s / correlate_s:.2f} times"
        f"\n  against sliding_window_view arithmetic of one direction ({plain_s * 1e3:.0f} ms): "
        f"{plain_s / search_s:.0f} times faster; the first search {plain_s / first_s:.0f} times"
    )
    assert first_s <= 4 * correlate_s
    assert plain_s >= 20 * search_s


def test_an_index_of_a_thousand_routes_loads_in_a_tenth_of_the_time_it_takes_to_build(tmp_path: Path) -> None:
    rng = np.random.default_rng(2)
    files = []
    for number in range(ROUTES):
        points = "".join(
            f'<trkpt lat="{-47 + at / 111_195:.6f}" lon="-12.5"><ele>{70 + height:.1f}</ele></trkpt>'
            for at, height in zip(np.arange(0.0, LENGTH_M + 10, 20.0), _heights(rng, 20.0), strict=True)
        )
        files.append(tmp_path / f"route {number}.gpx")
        files[-1].write_text(
            '<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>'
            f"{points}</trkseg></trk></gpx>",
            "utf-8",
        )
    cache = tmp_path / "index.npz"

    def index() -> RouteLibrary:
        return index_routes(files, folder=tmp_path, limits=default_limits(), cache=cache)

    build_s = _best_s(index, times=1, clock=time.perf_counter)
    load_s = _best_s(index, times=3, clock=time.perf_counter)
    ready_s = _best_s(lambda: Searcher(index()), times=3, clock=time.perf_counter)
    print(
        f"\n1,000 routes: built in {build_s:.1f} s, loaded with every digest checked in {load_s:.2f} s "
        f"({build_s / load_s:.0f} times faster), ready to search in {ready_s:.2f} s; "
        f"index {cache.stat().st_size / 1e6:.1f} MB"
    )
    assert len(index()) == ROUTES
    assert load_s < build_s / 10
    assert ready_s < build_s / 10
