"""From GPX bytes to lines on the ground: the one place that knows the GPX parser.

Receives: the bytes of a GPX file.
Gives: the tracks (else routes) of the file as arrays, and notes on what the guard mended.
"""

from __future__ import annotations

import datetime as dt
import gc
import re
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from planbuilder.course.counting import lines_text
from planbuilder.course.guard import Guarded, guard
from planbuilder.course.heights import HIGHEST_M, LOWEST_M
from planbuilder.settings.limits import Limits
from planbuilder.settings.notes import Note
from planbuilder.settings.problems import InputProblems, Problem
from planbuilder.units import count_of

_BEATS: Final = re.compile(r"[0-9]{1,3}(?:\.[0-9]{0,9})?")
_SWAPPED: Final = Note(
    "course.swapped", "Latitude and longitude were swapped in the file and have been put right.", "caution"
)


@dataclass(frozen=True, eq=False)
class Line:
    """A run of points as the file has it. Arrays of shape (n,)."""

    latitude_deg: NDArray[np.float64]
    longitude_deg: NDArray[np.float64]
    height_m: NDArray[np.float64]  # nan where missing
    line: NDArray[np.int64]  # line in the file
    track: int  # number of the track it belongs to


@dataclass(frozen=True, eq=False)
class GpxFile:
    """What a GPX file holds."""

    lines: tuple[Line, ...]  # segments in file order, at least two points in all
    timed: bool  # recorded on the move
    notes: tuple[Note, ...]


def swapped(file: GpxFile) -> GpxFile:
    """The same file with latitude and longitude changed over, where both can be."""
    lines = [
        replace(line, latitude_deg=line.longitude_deg, longitude_deg=line.latitude_deg) for line in file.lines
    ]
    return replace(file, lines=tuple(_inside_range(lines)[0]), notes=(*file.notes, _SWAPPED))


@contextmanager
def _collector_paused() -> Iterator[None]:
    """Building one tree leaves no garbage, and the collector would walk its 100,000 parts over and over."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def read_gpx(data: bytes, shown_as: str, limits: Limits) -> GpxFile:
    """The tracks of a GPX file, or its routes where it has no tracks. Raises InputProblems."""
    with _collector_paused():
        return _read(data, shown_as, limits)


def _read(data: bytes, shown_as: str, limits: Limits) -> GpxFile:
    guarded = guard(data, shown_as, limits)
    groups, numbers = _parse(guarded, shown_as)
    lines = []
    at = 0
    for track, segment in groups:
        lat = np.array([point.latitude for point in segment], dtype=np.float64)
        lon = np.array([point.longitude for point in segment], dtype=np.float64)
        ele = np.array(
            [np.nan if point.elevation is None else point.elevation for point in segment], dtype=np.float64
        )
        lines.append(Line(lat, lon, ele, np.array(numbers[at : at + len(segment)], dtype=np.int64), track))
        at += len(segment)
    turned = _look_swapped(lines)
    if turned:
        lines = [
            Line(line.longitude_deg, line.latitude_deg, line.height_m, line.line, line.track)
            for line in lines
        ]
    lines, outside = _inside_range(lines)
    if sum(len(line.line) for line in lines) < 2:
        bad = [*guarded.bad_places, *outside]
        where = f", not places that are missing or impossible ({lines_text(bad)})" if bad else ""
        raise InputProblems(
            [
                Problem(
                    shown_as,
                    min(bad) if bad else None,
                    f"must hold at least two points with latitude and longitude{where}",
                    "" if bad else "not fewer",
                    "Export the course again as a track.",
                )
            ]
        )
    return GpxFile(
        lines=tuple(lines),
        timed=guarded.timed_points > 0,
        notes=tuple(_notes(guarded, outside, turned=turned, limits=limits, kept=len(numbers))),
    )


@dataclass(frozen=True, eq=False)
class Timed:
    """The points of all tracks that have a usable place and time, in file order. Arrays of shape (n,)."""

    times: list[dt.datetime]  # aware
    latitude_deg: NDArray[np.float64]
    longitude_deg: NDArray[np.float64]
    height_m: NDArray[np.float64]  # nan where missing
    heart_rate: NDArray[np.float64]  # beats a minute, nan where missing
    line: NDArray[np.int64]  # line in the file


def read_timed(data: bytes, shown_as: str, limits: Limits) -> Timed:
    """The points of a recording. Raises InputProblems."""
    with _collector_paused():
        guarded = guard(data, shown_as, limits)
        groups, numbers = _parse(guarded, shown_as) if guarded.track_lines else ([], [])
    points = [point for _, segment in groups for point in segment]
    times = [_moment(text) for text in guarded.track_times]
    kept = [
        at
        for at, point in enumerate(points)
        if times[at] is not None and abs(point.latitude) <= 90 and abs(point.longitude) <= 180
    ]
    heights = (points[at].elevation for at in kept)
    return Timed(
        times=[moment for at in kept if (moment := times[at]) is not None],
        latitude_deg=np.array([points[at].latitude for at in kept], dtype=np.float64),
        longitude_deg=np.array([points[at].longitude for at in kept], dtype=np.float64),
        height_m=np.array([z if z is not None and LOWEST_M < z < HIGHEST_M else np.nan for z in heights]),
        heart_rate=np.array([_beats(guarded.track_beats[at]) for at in kept], dtype=np.float64),
        line=np.array([numbers[at] for at in kept], dtype=np.int64),
    )


def _moment(text: str) -> dt.datetime | None:
    """A moment as GPX writes it, in UTC where it names no zone; None for anything else."""
    try:
        found = dt.datetime.fromisoformat(text)
    except ValueError:
        return None
    return found if found.tzinfo else found.replace(tzinfo=dt.UTC)


def _beats(text: str) -> float:
    return float(text) if _BEATS.fullmatch(text) else float("nan")


def _parse(guarded: Guarded, shown_as: str) -> tuple[list[tuple[int, list[Any]]], list[int]]:
    import gpxpy
    import gpxpy.gpx

    try:
        parsed = gpxpy.parse(guarded.clean)
    except gpxpy.gpx.GPXException:
        raise InputProblems(
            [Problem(shown_as, None, "must be GPX", "not a file that its parser gives up on")]
        ) from None
    if guarded.track_lines:
        segments = [
            (number, segment.points)
            for number, track in enumerate(parsed.tracks)
            for segment in track.segments
            if segment.points
        ]
        return segments, guarded.track_lines
    if guarded.route_lines:
        routes = [(number, route.points) for number, route in enumerate(parsed.routes) if route.points]
        return routes, guarded.route_lines
    if guarded.bad_places:
        return [], []
    if guarded.waypoints:
        problem = Problem(
            shown_as,
            None,
            "must hold a track or a route",
            "not way points alone",
            "Export the course itself, not the places along it.",
        )
    else:
        problem = Problem(
            shown_as,
            None,
            "must hold a track or a route",
            "not an empty GPX file",
            "Export the course again.",
        )
    raise InputProblems([problem])


def _look_swapped(lines: list[Line]) -> bool:
    lat = np.concatenate([line.latitude_deg for line in lines]) if lines else np.empty(0)
    lon = np.concatenate([line.longitude_deg for line in lines]) if lines else np.empty(0)
    return bool(
        lat.size
        and np.mean((np.abs(lat) > 90) & (np.abs(lat) <= 180)) > 0.5
        and np.mean(np.abs(lon) <= 90) > 0.9
    )


def _inside_range(lines: list[Line]) -> tuple[list[Line], list[int]]:
    kept: list[Line] = []
    outside: list[int] = []
    for line in lines:
        good = (np.abs(line.latitude_deg) <= 90) & (np.abs(line.longitude_deg) <= 180)
        outside.extend(int(number) for number in line.line[~good])
        if good.any():
            kept.append(
                Line(
                    line.latitude_deg[good],
                    line.longitude_deg[good],
                    line.height_m[good],
                    line.line[good],
                    line.track,
                )
            )
    return kept, outside


def _notes(
    guarded: Guarded, outside: list[int], *, turned: bool, limits: Limits, kept: int
) -> Iterable[Note]:
    rule = "course.bad_points_share"
    bad = [*guarded.bad_places, *outside]
    if turned:
        yield _SWAPPED
    if bad:
        many = len(bad) > limits.number(rule) * (kept + len(guarded.bad_places))
        yield Note(
            rule,
            f"Left out: {count_of(len(bad), 'point')} without a usable place ({lines_text(bad)}).",
            "caution" if many else "info",
        )
    if guarded.bad_heights:
        yield Note(
            rule,
            f"Counted as missing: {count_of(len(guarded.bad_heights), 'height')} not written as a number "
            f"({lines_text(guarded.bad_heights)}).",
        )
    if guarded.decimal_commas:
        yield Note(rule, f"Mended: {count_of(guarded.decimal_commas, 'number')} with a decimal comma.")
    if guarded.back_in_time_line is not None:
        yield Note(
            "course.file_order",
            f"The times in the file run backwards at line {guarded.back_in_time_line}; "
            "the course follows the order of the points, times are not used.",
        )
