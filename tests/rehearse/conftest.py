"""Made-up routes and courses: nobody runs them, nothing lies there."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from planbuilder.course.types import Course
from planbuilder.rehearse.library import Route, RouteLibrary, climb_so_far
from planbuilder.settings.limits import Limits, default_limits

Array = NDArray[np.float64]
M_PER_DEGREE = 111_195.0


@pytest.fixture(scope="session")
def limits() -> Limits:
    return default_limits()


@pytest.fixture(scope="session")
def make_course() -> Callable[..., Course]:
    """A course of straight pieces: (place in metres, height in metres)."""

    def make(points: Sequence[tuple[float, float]], name: str = "Long Reach Half") -> Course:
        places, heights = np.array(points, dtype=np.float64).T
        distance_m = float(places[-1])
        steps = round(distance_m / 10)
        at = np.linspace(0.0, distance_m, steps + 1)
        height = np.interp(at, places, heights - heights[0])
        rises = np.diff(height)
        ascent, descent = float(rises[rises > 0].sum()), float(-rises[rises < 0].sum())
        return Course(
            name=name,
            distance_m=distance_m,
            measured_m=distance_m,
            step_m=distance_m / steps,
            height_m=height,
            grade=np.gradient(height, at),
            ascent_m=ascent,
            descent_m=descent,
            ascent_low_m=ascent,
            ascent_high_m=ascent,
            source="surveyed table",
            known=True,
            climb_uncertain=False,
            notes=(),
        )

    return make


@pytest.fixture(scope="session")
def make_route() -> Callable[..., Route]:
    """A route from heights on its grid."""

    def make(height_m: Array, length_m: float | None = None, name: str = "mill lane") -> Route:
        heights = np.asarray(height_m, dtype=np.float64) - height_m[0]
        length = 20.0 * (len(heights) - 1) if length_m is None else length_m
        return Route(name, "", name, length, heights, climb_so_far(heights, 3.0))

    return make


@pytest.fixture(scope="session")
def waves() -> Callable[..., Array]:
    """Heights every ``step_m`` metres of ground made of waves 400 m to 6 km long."""

    def make(length_m: float, rng: np.random.Generator, step_m: float = 20.0) -> Array:
        at = np.arange(0.0, length_m + step_m / 2, step_m)
        lengths = rng.uniform(400.0, 6000.0, 8)
        sizes = lengths * rng.uniform(0.0005, 0.006, 8)
        shifts = rng.uniform(0.0, 2 * np.pi, 8)
        height = sum(
            size * np.sin(2 * np.pi * at / length + shift)
            for size, length, shift in zip(sizes, lengths, shifts, strict=True)
        )
        return np.asarray(height, dtype=np.float64)

    return make


@pytest.fixture(scope="session")
def reversed_library() -> Callable[[RouteLibrary], RouteLibrary]:
    """The same routes recorded from their other end."""

    def turn(library: RouteLibrary) -> RouteLibrary:
        turned = []
        for route in library.routes:
            heights = route.height_m[::-1] - route.height_m[-1]
            turned.append(
                Route(route.key, "", route.name, route.length_m, heights, climb_so_far(heights, 3.0))
            )
        return RouteLibrary(turned)

    return turn


@pytest.fixture(scope="session")
def write_gpx() -> Callable[..., Path]:
    """A GPX track due north from a place in the open sea, heights every ``step_m`` metres."""

    def write(path: Path, height_m: Array, step_m: float = 20.0) -> Path:
        points = "".join(
            f'<trkpt lat="{-47.123456 + number * step_m / M_PER_DEGREE:.7f}" lon="-12.654321">'
            f"<ele>{61.0 + height:.2f}</ele></trkpt>"
            for number, height in enumerate(height_m)
        )
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(
            '<?xml version="1.0"?><gpx version="1.1" creator="made up" '
            'xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>' + points + "</trkseg></trk></gpx>",
            "utf-8",
        )
        return path

    return write
