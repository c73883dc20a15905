"""The door of the course room: whatever a coach has, read into a ``Course``.

Receives: a file, or the race settings with the block folder.
Gives: a ``Course``, or ``InputProblems`` that name file and line.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from planbuilder.course.build import Ground, build_course
from planbuilder.course.described import ground_of_points, ground_of_stretches, guessed_ground, typed_note
from planbuilder.course.file_bytes import bytes_of
from planbuilder.course.guard import looks_like_xml, refuse_other_formats
from planbuilder.course.heights import HIGHEST_M, LOWEST_M, whole_heights
from planbuilder.course.trace import Trace, refuse_long, trace_of
from planbuilder.course.types import Course, CourseSource
from planbuilder.settings.limits import Limits
from planbuilder.settings.models import CourseFile, RaceSettings
from planbuilder.settings.notes import Note
from planbuilder.settings.problems import InputProblems, Problem
from planbuilder.units import height_mark, length_mark

if TYPE_CHECKING:
    from planbuilder.course.gpx import GpxFile

_BLOCK_FILE: Final = "block.toml"
_WHOLE_METRES_SHARE: Final = 0.95


def read_course(race: RaceSettings, folder: Path, limits: Limits, *, force: bool = False) -> Course:
    """The course of a race, from what the block folder holds: a file, points, a description, or a guess.

    folder: the block folder, which the course file may not leave. force: use a file whose length is that of
    another course. Raises InputProblems.
    """
    given = CourseFile.model_construct(file=race.course) if isinstance(race.course, str) else race.course
    if given is not None:
        path = _inside(given.file, folder)
        course = read_course_file(
            path, shown_as=given.file, limits=limits, distance_m=race.distance_m, force=force, file=given
        )
        return _checked_against_organiser(replace(course, name=race.name), race, limits)
    if race.points:
        ground = ground_of_points(race.name, race.points, _BLOCK_FILE)
    elif race.stretches:
        ground = ground_of_stretches(race.name, race.stretches, _BLOCK_FILE, limits, length_m=race.distance_m)
    else:
        ground = guessed_ground(race.name, limits, length_m=race.distance_m, why="No course is given.")
    course = build_course(ground, _BLOCK_FILE, limits, certified_m=race.distance_m, force=force)
    return _checked_against_organiser(course, race, limits)


def read_course_file(
    path: Path,
    *,
    shown_as: str,
    limits: Limits,
    distance_m: float | None = None,
    force: bool = False,
    file: CourseFile | None = None,
) -> Course:
    """A course from a GPX or CSV file.

    path: where the file lies; shown_as: its name in messages; distance_m: certified length [m], which scales
    the measured one; force: use it even where the lengths are those of different courses; file: laps, out and
    back, reverse, from and to. Raises InputProblems.
    """
    data = bytes_of(path, shown_as, limits)
    refuse_other_formats(data, shown_as)
    trace: Trace
    source: CourseSource
    if looks_like_xml(data):
        from planbuilder.course.gpx import read_gpx

        found = read_gpx(data, shown_as, limits)
        one_run_m = None if distance_m is None else distance_m / _times(file)
        trace = _trace(found, shown_as, limits, certified_m=one_run_m)
        source = "recorded" if found.timed else "planned"
    elif path.suffix.lower() == ".gpx":
        raise InputProblems(
            [Problem(shown_as, 1, "must be a GPX file", "not other text", "Export the course again.")]
        )
    else:
        from planbuilder.course.tables import read_table

        trace = read_table(data, shown_as, limits, certified_m=distance_m)
        source = "surveyed table"
    ground = _ground(path.stem, trace, source, limits)
    if file is not None:
        ground = _as_run(ground, trace, file, shown_as, limits)
    return build_course(ground, shown_as, limits, certified_m=distance_m, force=force)


def _inside(name: str, folder: Path) -> Path:
    home = folder.resolve()
    try:
        path = (home / name).resolve()
    except (OSError, ValueError):
        path = home.parent
    if not path.is_relative_to(home) or path == home:
        raise InputProblems(
            [
                Problem(
                    _BLOCK_FILE,
                    None,
                    "race.course must be a file inside the block folder",
                    f"not {name[:80]!r}",
                    "Copy the file into the block folder.",
                )
            ]
        )
    return path


def _ground(name: str, trace: Trace, source: CourseSource, limits: Limits) -> Ground:
    if source == "surveyed table" and trace.leg_m > limits.number("course.sparse_m"):
        typed = _typed_ground(name, trace, source)
        if typed is not None:
            return typed
    heights = whole_heights(trace.distance_m, trace.height_m, limits)
    if heights.height_m is None:
        guess = guessed_ground(
            name, limits, length_m=trace.length_m, why="The file gives the distance but no heights."
        )
        return replace(guess, notes=(*trace.notes, *heights.notes, *guess.notes))
    about = Note("course.source", _about(trace, source))
    drift = _drift(trace, heights.height_m, source, limits)
    return Ground(
        name=name,
        distance_m=trace.distance_m,
        height_m=heights.height_m,
        source=source,
        known=True,
        leg_m=trace.leg_m,
        notes=(*trace.notes, about, *heights.notes, *drift),
    )


def _typed_ground(name: str, trace: Trace, source: CourseSource) -> Ground | None:
    """A table as sparse as a person types it, taken as typed points; None where it lacks heights."""
    z = trace.height_m
    known = np.isfinite(z)
    if (
        not known[1:].all()
        or not ((z[known] > LOWEST_M) & (z[known] < HIGHEST_M)).all()
        or np.ptp(z[known]) == 0
    ):
        return None
    heights = np.interp(trace.distance_m, trace.distance_m[known], z[known])
    notes = (*trace.notes, typed_note(int(known.sum())))
    return Ground(name, trace.distance_m, heights, source, True, trace.leg_m, notes, typed=True)


def _drift(trace: Trace, height_m: NDArray[np.float64], source: CourseSource, limits: Limits) -> list[Note]:
    """A recording that ends where it began, at another height, drifted on the way."""
    apart = float(height_m[-1] - height_m[0])
    closed = trace.closing_gap_m <= limits.number("course.joining_gap_m")
    if source != "recorded" or not closed or abs(apart) < limits.number("course.drift_m"):
        return []
    return [
        Note(
            "course.drift_m",
            f"The course ends where it begins, but {height_mark(abs(apart))} "
            f"{'higher' if apart > 0 else 'lower'}: the heights drifted on the way.",
            "caution",
        )
    ]


def _about(trace: Trace, source: CourseSource) -> str:
    kind = {
        "recorded": "The file looks like a recording made on the move",
        "planned": "The file looks like a route drawn on a map",
        "surveyed table": "The file is a table of distances and heights",
    }.get(source, "The file is a course")
    finite = trace.height_m[np.isfinite(trace.height_m)]
    whole = finite.size and float(np.mean(finite == np.round(finite))) > _WHOLE_METRES_SHARE
    heights = "heights in whole metres" if whole else "heights finer than a metre"
    return f"{kind}: a point about every {height_mark(trace.leg_m)}, {heights}."


def _trace(found: GpxFile, shown_as: str, limits: Limits, *, certified_m: float | None) -> Trace:
    """The trace of a file; with latitude and longitude changed over where only so it has its length."""
    from planbuilder.course.gpx import swapped

    trace = trace_of(found, shown_as, limits, certified_m=certified_m)
    lowest, highest = limits.numbers("course.scale_refuse")
    if certified_m is None or lowest <= certified_m / trace.length_m <= highest:
        return trace
    lowest, highest = limits.numbers("course.scale_quiet")
    try:
        other = trace_of(swapped(found), shown_as, limits, certified_m=certified_m)
    except InputProblems:
        return trace
    return other if lowest <= certified_m / other.length_m <= highest else trace


def _times(file: CourseFile | None) -> int:
    if file is None:
        return 1
    return file.laps * (2 if file.out_and_back else 1)


def _as_run(ground: Ground, trace: Trace, file: CourseFile, shown_as: str, limits: Limits) -> Ground:
    """The ground as the race runs over it: cut, turned, there and back, round and round."""
    ground = _cut(ground, file, shown_as)
    whole_m = float(ground.distance_m[-1]) * _times(file)
    refuse_long(whole_m, shown_as, limits, f"Is it really run {file.laps} times?")
    d, z = ground.distance_m, ground.height_m
    notes = list(ground.notes)
    if file.reverse:
        d, z = d[-1] - d[::-1], z[::-1]
    if file.out_and_back:
        d, z = np.concatenate((d, 2 * d[-1] - d[-2::-1])), np.concatenate((z, z[-2::-1]))
    if file.laps > 1:
        whole = file.from_m is None and file.to_m is None
        gap = 0.0 if file.out_and_back else (trace.closing_gap_m if whole else 0.0)
        drift = float(z[-1] - z[0])
        if gap > 100:
            notes.append(
                Note(
                    "course.laps",
                    f"The lap does not close: it ends {length_mark(gap)} from where it begins.",
                    "caution",
                )
            )
            gap, drift = 0.0, 0.0
        elif ground.known and abs(drift) > 1:
            notes.append(
                Note(
                    "course.laps",
                    f"The lap ends {height_mark(abs(drift))} {'above' if drift > 0 else 'below'} its start; "
                    "the difference was spread over the lap.",
                )
            )
        z = z - drift * d / d[-1]
        lap = d[-1] + gap
        d = np.concatenate([d + lap * number for number in range(file.laps)])
        z = np.tile(z, file.laps)
    return replace(ground, distance_m=d, height_m=z, notes=tuple(notes))


def _cut(ground: Ground, file: CourseFile, shown_as: str) -> Ground:
    length = float(ground.distance_m[-1])
    start = 0.0 if file.from_m is None else file.from_m
    end = length if file.to_m is None else file.to_m
    if not 0 <= start < end <= length + 50:
        raise InputProblems(
            [
                Problem(
                    shown_as,
                    None,
                    f"must be run from a place to a later one within its {length / 1000:.2f} km",
                    f"not from {start / 1000:g} to {end / 1000:g} km",
                    "Use reverse to run it the other way.",
                )
            ]
        )
    if start == 0.0 and end >= length:
        return ground
    end = min(end, length)
    d, z = ground.distance_m, ground.height_m
    inside = (d > start) & (d < end)
    at = np.concatenate(([start], d[inside], [end]))
    heights = np.interp(at, d, z)
    return replace(ground, distance_m=at - start, height_m=heights)


def _checked_against_organiser(course: Course, race: RaceSettings, limits: Limits) -> Course:
    published = race.published_ascent_m
    if published is None or not course.known:
        return course
    share = limits.number("course.published_ascent_share")
    if abs(course.ascent_m - published) <= share * published:
        return course
    note = Note(
        "course.published_ascent_share",
        f"The organiser gives {height_mark(published)} of climb, the file {height_mark(course.ascent_m)}; "
        "they were counted on different scales, or the file is of another course.",
        "caution",
    )
    return replace(course, notes=(*course.notes, note))
