"""A run that was recorded: time, distance and heart rate along the way, without places.

Receives: the bytes of a GPX file with times.
Gives: a ``Recording``; where it was run is used to measure it and then forgotten.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from planbuilder.course.file_bytes import bytes_of
from planbuilder.course.geodesy import earth_points_m, legs_m
from planbuilder.settings.limits import Limits
from planbuilder.settings.models import FIRST_YEAR, LAST_YEAR
from planbuilder.settings.problems import InputProblems, Problem
from planbuilder.units import count_of

if TYPE_CHECKING:
    from planbuilder.course.gpx import Timed

_EPOCH: Final = dt.datetime(2000, 1, 1, tzinfo=dt.UTC)
_LONGEST_S: Final = 24 * 3600.0  # further from the middle of a recording no point of the same run can be


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
    from planbuilder.course.gpx import read_timed

    found = read_timed(bytes_of(path, shown_as, limits), shown_as, limits)
    seconds = np.array([(moment - _EPOCH).total_seconds() for moment in found.times])
    order = np.argsort(seconds, kind="stable")
    at_s = seconds[order]
    if len(at_s) < 2 or at_s[-1] <= at_s[0]:
        must = "a recording must hold at least two points with a time"
        raise InputProblems([Problem(shown_as, None, must, "not a course without times")])
    _refuse_wrong_clock(seconds, found, shown_as)
    return Recording(
        start=found.times[int(order[0])],
        time_s=at_s - at_s[0],
        distance_m=np.concatenate(
            [[0.0], np.cumsum(legs_m(earth_points_m(found.latitude_deg[order], found.longitude_deg[order])))]
        ),
        height_m=found.height_m[order],
        heart_rate=found.heart_rate[order],
    )


def _refuse_wrong_clock(seconds: NDArray[np.float64], found: Timed, shown_as: str) -> None:
    """A clock that was set in the middle of a run, or that was never set."""
    middle = int(np.argsort(seconds, kind="stable")[len(seconds) // 2])
    strange = np.flatnonzero(np.abs(seconds - seconds[middle]) > _LONGEST_S)
    if strange.size:
        first = int(strange[0])
        raise InputProblems(
            [
                Problem(
                    shown_as,
                    int(found.line[first]),
                    f"a recording must be of one run, about {found.times[middle]:%Y-%m-%d}",
                    f"not with {count_of(strange.size, 'point')} of another day, here "
                    f"{found.times[first]:%Y-%m-%d}",
                    "The watch's clock jumped: take these points out, or the file.",
                )
            ]
        )
    if not FIRST_YEAR <= found.times[middle].year <= LAST_YEAR:
        must = f"a recording must be of the years {FIRST_YEAR} to {LAST_YEAR}"
        found_ = f"not of {found.times[middle].year}"
        raise InputProblems(
            [Problem(shown_as, int(found.line[middle]), must, found_, "Set the watch's clock.")]
        )
