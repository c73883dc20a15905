"""The profile of a course drawn for a terminal."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from planbuilder.course.types import Course, Feature
from planbuilder.units import System, say_height, unit_m

_ROWS: Final = 9
_NARROWEST: Final = 30
_WIDEST: Final = 160
_EIGHTHS: Final = " ▁▂▃▄▅▆▇█"


def draw_profile(
    course: Course, features: tuple[Feature, ...], *, width: int, system: System, plain: bool
) -> str:
    """The profile as lines of text at most ``width`` signs wide.

    width: signs a line of the terminal holds; plain: ASCII alone, for a terminal or file that has no blocks.
    Below the ground stand the splits and the numbers of climbs, the decisive one starred.
    """
    heights = course.height_m
    low, high = float(heights.min()), float(heights.max())
    labels = [say_height(high, system), say_height(low, system)]
    margin = max(len(label) for label in labels) + 1
    columns = max(_NARROWEST, min(width, _WIDEST)) - margin - 1
    edges = np.linspace(0, course.distance_m, columns + 1)
    middles = (edges[1:] + edges[:-1]) / 2
    span = max(high - low, 10.0)
    levels = (np.interp(middles, course.at_m, heights) - low) / span * (_ROWS - 0.5) + 0.5
    lines = []
    for row in range(_ROWS - 1, -1, -1):
        label = labels[0] if row == _ROWS - 1 else labels[1] if row == 0 else ""
        cells = "".join(_cell(float(level) - row, plain=plain) for level in levels)
        lines.append(f"{label:>{margin - 1}} {cells}".rstrip())
    lines.append(" " * margin + _axis(course, columns, system))
    marks = _marks(features, course.distance_m, columns)
    if marks.strip():
        lines.append(" " * margin + marks.rstrip())
    return "\n".join(line.rstrip() for line in lines)


def _cell(filled: float, *, plain: bool) -> str:
    if plain:
        return "#" if filled >= 0.5 else " "
    return _EIGHTHS[min(8, max(0, math.floor(filled * 8 + 0.5)))]


def _axis(course: Course, columns: int, system: System) -> str:
    unit = unit_m(system)
    count = math.floor(course.distance_m / unit)
    every = next(
        step for step in (1, 2, 5, 10, 20, 50, 100, 500, 10_000) if columns / max(1, count / step) >= 5
    )
    signs = [" "] * columns
    for number in range(0, count + 1, every):
        text = str(number) if number else f"0 {system}"
        at = round(number * unit / course.distance_m * (columns - 1))
        if at + len(text) <= columns and all(sign == " " for sign in signs[max(0, at - 1) : at + len(text)]):
            signs[at : at + len(text)] = text
    return "".join(signs)


def _marks(features: tuple[Feature, ...], distance_m: float, columns: int) -> str:
    signs = [" "] * columns
    for feature in features:
        if feature.kind != "climb" and not feature.decisive:
            continue
        number = feature.name.rsplit(" ", 1)[-1]
        text = (number if number.isdigit() else "^") + ("*" if feature.decisive else "")
        middle = (feature.start_m + feature.end_m) / 2
        at = min(round(middle / distance_m * (columns - 1)), columns - len(text))
        if all(sign == " " for sign in signs[max(0, at - 1) : at + len(text)]):
            signs[at : at + len(text)] = text
    return "".join(signs)
