"""The course: from a file or a description to a profile that can be trusted.

Receives: the race settings and the files of the block folder they name.
Gives: a ``Course`` (types.py), its features, its splits and the coach's remarks.

The way through: ``guard`` and ``gpx`` (or ``tables``, ``described``) -> ``trace`` -> ``heights`` -> ``build``
on the grid of ``profile`` -> ``features``, ``splits``, ``words`` and ``draw``.
"""

from planbuilder.course.draw import draw_profile
from planbuilder.course.features import ascent_between, find_features, ranked_climbs, steepest_between
from planbuilder.course.read import read_course, read_course_file
from planbuilder.course.splits import make_splits
from planbuilder.course.types import Course, CourseSource, Feature, FeatureKind, Remark, Split
from planbuilder.course.words import (
    check_wordings,
    remarks_of,
    split_name,
    splits_with_wordings,
    with_wordings,
)

__all__ = [
    "Course",
    "CourseSource",
    "Feature",
    "FeatureKind",
    "Remark",
    "Split",
    "ascent_between",
    "check_wordings",
    "draw_profile",
    "find_features",
    "make_splits",
    "ranked_climbs",
    "read_course",
    "read_course_file",
    "remarks_of",
    "split_name",
    "splits_with_wordings",
    "steepest_between",
    "with_wordings",
]
