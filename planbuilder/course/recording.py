"""A run that was recorded: time, distance and heart rate along the way, without places.

Receives: the bytes of a GPX file with times.
Gives: a ``Recording``; where it was run is used to measure it and then forgotten.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from planbuilder.course.geodesy import earth_points_m, legs_m
from planbuilder.course.guard import guard
from planbuilder.settings.limits import Limits
from planbuilder.settings.problems import InputProblems, Problem

_HEART_RATE_TAG = "hr"


@dataclass(frozen=True, eq=False)
class Recording:
    """One run. Arrays of shape (n,), one entry a point."""

    start: dt.datetime  # aware
    time_s: NDArray[np.float64]  # since the start
    distance_m: NDArray[np.float64]  # along the ground
    height_m: NDArray[np.float64]  # nan where missing
    heart_rate: NDArray[np.float64]  # beats a minute, nan where missing

    @property
    def duration_s(self) -> float:
        """From the first point to the last."""
        return float(self.time_s[-1])

    @property
    def whole_m(self) -> float:
        """How far."""
        return float(self.distance_m[-1])

    @property
    def ascent_m(self) -> float:
        """Rises of heights smoothed over 60 s; 0 without heights."""
        if not np.isfinite(self.height_m).all() or len(self.height_m) < 2:
            return 0.0
        even_s = np.arange(0.0, self.duration_s + 1.0, 1.0)
        height = np.interp(even_s, self.time_s, self.height_m)
        width = min(61, len(height))
        padded = np.pad(height, width // 2, mode="edge")
        smooth = np.convolve(padded, np.ones(width) / width, mode="valid")
        rises = np.diff(smooth)
        return float(rises[rises > 0].sum())

    def between(self, from_m: float, to_m: float) -> tuple[float, float | None]:
        """Seconds from one place along the recording to another, and the mean heart rate there."""
        at_s = np.interp([from_m, to_m], self.distance_m, self.time_s)
        inside = (self.distance_m >= from_m) & (self.distance_m <= to_m) & np.isfinite(self.heart_rate)
        beats = float(self.heart_rate[inside].mean()) if inside.any() else None
        return float(at_s[1] - at_s[0]), beats


def read_recording(path: Path, *, shown_as: str, limits: Limits) -> Recording:
    """The run in a GPX file. Raises InputProblems for anything else, and for a file without times."""
    try:
        data = path.read_bytes()
    except OSError as error:
        must = "the recording must be readable"
        raise InputProblems([Problem(shown_as, None, must, str(error.strerror).lower())]) from None
    guard(data, shown_as, limits)
    points = sorted(_points(data, shown_as), key=lambda point: point.time)
    if len(points) < 2 or points[-1].time <= points[0].time:
        must = "a recording must hold at least two points with a time"
        raise InputProblems([Problem(shown_as, None, must, "not a course without times")])
    latitude = np.array([point.latitude for point in points], dtype=np.float64)
    longitude = np.array([point.longitude for point in points], dtype=np.float64)
    start = _aware(points[0].time)
    return Recording(
        start=start,
        time_s=np.array([(_aware(point.time) - start).total_seconds() for point in points]),
        distance_m=np.concatenate([[0.0], np.cumsum(legs_m(earth_points_m(latitude, longitude)))]),
        height_m=np.array([np.nan if p.elevation is None else p.elevation for p in points], dtype=np.float64),
        heart_rate=np.array([_heart_rate(point) for point in points], dtype=np.float64),
    )


def _points(data: bytes, shown_as: str) -> Iterator[Any]:
    import gpxpy
    import gpxpy.gpx

    try:
        parsed = gpxpy.parse(data.decode("utf-8-sig"))
    except (gpxpy.gpx.GPXException, UnicodeDecodeError):
        raise InputProblems([Problem(shown_as, None, "must be GPX in UTF-8", "not another file")]) from None
    for track in parsed.tracks:
        for segment in track.segments:
            yield from (point for point in segment.points if point.time is not None)


def _aware(moment: dt.datetime) -> dt.datetime:
    return moment if moment.tzinfo else moment.replace(tzinfo=dt.UTC)


def _heart_rate(point: Any) -> float:
    """Beats a minute from whatever extension names them so."""
    for extension in point.extensions:
        for element in extension.iter():
            if str(element.tag).rpartition("}")[2] == _HEART_RATE_TAG:
                try:
                    return float(element.text)
                except (TypeError, ValueError):
                    return float("nan")
    return float("nan")
