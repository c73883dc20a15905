"""The course split by split, as the markers stand at the roadside."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Final

from planbuilder.course.features import ascent_between, steepest_between
from planbuilder.course.types import Course, Split
from planbuilder.course.words import split_words
from planbuilder.settings.limits import Limits
from planbuilder.units import System, unit_m

_NO_SPLIT_M: Final = 50.0  # what is left before the line makes a split of its own from this length


def make_splits(course: Course, system: System, limits: Limits) -> tuple[Split, ...]:
    """Every kilometre or mile of a course and what is left before the line."""
    unit = unit_m(system)
    count = max(1, math.ceil((course.distance_m - _NO_SPLIT_M) / unit))
    splits = []
    for number in range(1, count + 1):
        start, end = (number - 1) * unit, number * unit
        if number == count:
            end = course.distance_m
        net = course.height_at(end) - course.height_at(start)
        ascent, descent = ascent_between(course, start, end, limits)
        split = Split(
            number=number,
            from_m=start,
            to_m=end,
            net_m=net,
            ascent_m=ascent,
            descent_m=descent,
            grade=net / (end - start),
            steepest_grade=steepest_between(course, start, end),
            words="",
        )
        splits.append(replace(split, words=split_words(split)))
    return tuple(splits)
