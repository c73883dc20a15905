"""Courses made by hand, with answers known beforehand, and the many ways in which files write them."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from pyproj import Geod

from planbuilder.course import Course, read_course_file
from planbuilder.settings.limits import default_limits

Array = NDArray[np.float64]
GEOD = Geod(ellps="WGS84")  # PROJ: Karney 2013, J Geodesy 87:43, exact to nanometres
LIMITS = default_limits()
NS = ' xmlns="http://www.topografix.com/GPX/1/1"'


@dataclass(frozen=True, eq=False, repr=False)
class HandMade:
    """Points on the ellipsoid with heights."""

    lat: Array
    lon: Array
    ele: Array

    @property
    def length_m(self) -> float:
        """Sum of the geodesics from point to point [m]."""
        return float(GEOD.line_length(self.lon, self.lat))

    def reverse(self) -> HandMade:
        return HandMade(self.lat[::-1], self.lon[::-1], self.ele[::-1])

    def with_ele(self, ele: Array) -> HandMade:
        return replace(self, ele=np.asarray(ele, dtype=float))

    def points(self, tag: str = "trkpt", *, ele: Callable[[float], str] = "{:.6f}".format) -> list[str]:
        return [
            f'<{tag} lat="{lat:.10f}" lon="{lon:.10f}">'
            + (f"<ele>{ele(z)}</ele>" if np.isfinite(z) else "")
            + f"</{tag}>"
            for lat, lon, z in zip(self.lat, self.lon, self.ele, strict=True)
        ]

    def gpx(self) -> str:
        return gpx_of([self.points()])


def gpx_of(
    segments: Iterable[Iterable[str]], *, version: str = "1.1", namespace: str = NS, tracks: bool = False
) -> str:
    """A GPX document; with ``tracks`` every segment stands in a track of its own."""
    joined = ["<trkseg>" + "\n".join(points) + "</trkseg>" for points in segments]
    body = "".join(f"<trk>{one}</trk>" for one in joined) if tracks else f"<trk>{''.join(joined)}</trk>"
    head = f'<gpx version="{version}" creator="tests"{namespace}>'
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{head}{body}</gpx>'


def winding(
    distances_m: Array,
    heights_m: Array,
    *,
    lat: float = 12.0,
    lon: float = 34.0,
    turn: float = 40.0,
) -> HandMade:
    """A winding line whose geodesic legs have exactly the lengths asked for."""
    legs = np.diff(distances_m)
    azimuth = 50 + turn * np.sin(distances_m[:-1] / 900)
    lats, lons = [lat], [lon]
    for leg, direction in zip(legs, azimuth, strict=True):
        lon, lat, _ = GEOD.fwd(lon, lat, direction, leg)
        lats.append(lat)
        lons.append(lon)
    return HandMade(np.array(lats), np.array(lons), np.asarray(heights_m, dtype=float))


@cache
def sine(spacing_m: float = 10.0, *, base_m: float = 250.0) -> HandMade:
    """8,000 m with a swing of 40 m and a wave of 4 km: 80 m up, 80 m down, three climbs (20, 40, 20 m)."""
    at = np.linspace(0, 8000, round(8000 / spacing_m) + 1)
    return winding(at, base_m + 20 * np.sin(2 * np.pi * at / 4000))


def broken(*corners: tuple[float, float], spacing_m: float = 10.0) -> HandMade:
    """Straight slopes between corners (distance [m], height [m])."""
    length = corners[-1][0]
    at = np.linspace(0, length, round(length / spacing_m) + 1)
    return winding(at, np.interp(at, [x for x, _ in corners], [z for _, z in corners]))


def read(content: str | bytes | HandMade, folder: Path, name: str = "course.gpx", **given: object) -> Course:
    """The course that the reader makes of a file with this content."""
    if isinstance(content, HandMade):
        content = content.gpx()
    path = folder / name
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return read_course_file(path, shown_as=name, limits=LIMITS, **given)  # type: ignore[arg-type]
