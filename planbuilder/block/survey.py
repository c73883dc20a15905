"""The ground of a block, read once for all its runners.

Receives: a block and the runners that plans are made for, or a course file that belongs to no block.
Gives: a ``Survey``: the course of the race with its features and demands, every other course that is named,
local routes.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from planbuilder.block.course_files import course_files
from planbuilder.block.types import Block, BlockRunner
from planbuilder.course import (
    Course,
    Feature,
    Remark,
    check_wordings,
    find_features,
    read_course,
    read_course_file,
    remarks_of,
    with_wordings,
)
from planbuilder.demands import CourseDemands, find_demands
from planbuilder.rehearse import LocalGround, find_ground, route_files, routes_in
from planbuilder.settings.limits import default_limits

ROUTES: Final = "routes"  # the folder of local routes in a block


@dataclass(frozen=True, slots=True)
class Survey:
    """The course of a block, read once for all runners."""

    course: Course
    features: tuple[Feature, ...]
    demands: CourseDemands
    remarks: tuple[Remark, ...]
    other_courses: Mapping[str, Course]  # of results and tune-ups, by the path a person wrote
    local: Mapping[str, LocalGround]  # by the runner who has routes of their own; "" for all others


def survey(block: Block, runners: Sequence[BlockRunner], more: Iterable[str] = ()) -> Survey:
    """Read the course of the race, those that results and tune-ups of these runners name, and ``more``."""
    race, limits = block.settings.race, block.limits
    course = read_course(race, block.folder, limits)
    found = find_features(course, limits)
    check_wordings(race, course, found)
    features = with_wordings(found, race.wordings)
    demands = find_demands(course, features, limits)
    routes = block.folder / ROUTES
    keys = {runner.key for runner in block.runners}
    local = {}
    having = {path.relative_to(routes).parts[0] for path in route_files(routes)}
    for own in ("", *(runner.key for runner in runners if runner.key in having)):
        library = routes_in(routes, own=own, others=keys - {own}, limits=limits)
        if library is not None:
            local[own] = find_ground(course, features, demands, library, limits)
    return Survey(
        course=course,
        features=features,
        demands=demands,
        remarks=remarks_of(race),
        other_courses=other_courses(block, runners, more),
        local=local,
    )


def other_courses(
    block: Block, runners: Sequence[BlockRunner], more: Iterable[str] = ()
) -> dict[str, Course]:
    """The courses that results and tune-ups of these runners name, and ``more``."""
    return {
        path: read_course_file(block.folder / path, shown_as=path, limits=block.limits)
        for path in course_files(block, runners, more)
    }


def survey_file(file: Path, *, distance_m: float | None, force: bool) -> Survey:
    """Read a course file that belongs to no block."""
    limits = default_limits()
    course = read_course_file(file, shown_as=str(file), limits=limits, distance_m=distance_m, force=force)
    features = find_features(course, limits)
    return Survey(course, features, find_demands(course, features, limits), (), {}, {})
