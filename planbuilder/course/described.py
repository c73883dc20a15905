"""Courses without a file: typed points, a plain description, or nothing at all.

Receives: ``[[race.point]]``, ``[[race.stretch]]`` or only the distance of a race.
Gives: a ``Ground`` to build a course from.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from planbuilder.course.build import Ground
from planbuilder.settings.limits import Limits
from planbuilder.settings.models import CoursePoint, CourseStretch
from planbuilder.settings.notes import Note
from planbuilder.settings.problems import InputProblems, Problem
from planbuilder.units import FOOT_M, length_mark, place_mark

Array = NDArray[np.float64]

_UP: Final = r"(?:climbs?|rises?|up|uphill|ascends?|gains?)"
_DOWN: Final = r"(?:falls?|drops?|down|downhill|descends?|loses?)"
_STEEPNESS: Final = {"gentle": 0.01, "gently": 0.01, "noticeable": 0.03, "steep": 0.06, "steeply": 0.06}
_WALKERS: Final = {"walk": 0.08, "walkers": 0.08, "walking": 0.08}
_HEIGHT: Final = re.compile(r"(\d+(?:\.\d+)?)\s*(m|metres?|meters?|ft|feet)\b")
_GRADE: Final = re.compile(r"(\d+(?:\.\d+)?)\s*(?:%|percent|per cent)")
_STEP_M: Final = 25.0


def ground_of_points(name: str, points: Sequence[CoursePoint], file: str) -> Ground:
    """A course from the points of a printed profile, straight between them. Raises InputProblems."""
    problems = []
    if len(points) < 2:
        problems.append(Problem(file, None, "race.point must be given at least twice", "not once"))
    for before, after in pairwise(points):
        if after.distance_m <= before.distance_m:
            problems.append(
                Problem(
                    file,
                    None,
                    "race.point must come in the order of the race",
                    f"not {after.distance_m / 1000:g} km after {before.distance_m / 1000:g} km",
                    "Sort the points by distance.",
                )
            )
    if points and points[0].distance_m < 0:
        problems.append(Problem(file, None, "race.point distance must be 0 or more", "not negative"))
    if problems:
        raise InputProblems(problems)
    d = np.array([point.distance_m for point in points])
    z = np.array([point.elevation_m for point in points])
    notes = [typed_note(len(points))]
    if d[0] > 0:
        notes.append(
            Note(
                "course.from_points",
                f"Nothing is typed before {place_mark(float(d[0]))}; it counts as level.",
                "assumed",
            )
        )
        d, z = np.concatenate(([0.0], d)), np.concatenate((z[:1], z))
    return Ground(name, d, z, "typed points", True, 0.0, tuple(notes))


def typed_note(points: int) -> Note:
    """That nothing was measured between the points of a profile."""
    return Note(
        "course.from_points", f"The profile was typed from {points} points; the ground between is straight."
    )


def ground_of_stretches(
    name: str, stretches: Sequence[CourseStretch], file: str, limits: Limits, *, length_m: float
) -> Ground:
    """A course from stretches told in words; ground that nobody described counts as level.

    length_m: length of the race [m]. Raises InputProblems for words that say nothing about the ground, and
    for stretches that overlap, run backwards or lie beyond the line.
    """
    problems = [problem for stretch in stretches for problem in _misplaced(stretch, file, length_m)]
    ordered = sorted(stretches, key=lambda stretch: stretch.from_m)
    for before, after in pairwise(ordered):
        if after.from_m < before.to_m - 1:
            problems.append(
                Problem(
                    file,
                    None,
                    "race.stretch must not overlap another",
                    f"not {_say(after)} with {_say(before)}",
                )
            )
    rises = [_rise_m(stretch) for stretch in ordered]
    problems.extend(
        Problem(
            file,
            None,
            "race.stretch words must say what the ground does",
            f"not {stretch.words[:40]!r}",
            'Write "climbs 12 m", "falls 8 m", "climbs at 2 %", "flat" or "rolling".',
        )
        for stretch, rise in zip(ordered, rises, strict=True)
        if rise is None
    )
    if problems:
        raise InputProblems(problems)
    d, z = [np.array([0.0])], [np.array([0.0])]
    described = 0.0
    for stretch, rise in zip(ordered, rises, strict=True):
        start, end = stretch.from_m, min(stretch.to_m, length_m)
        at = np.linspace(start, end, max(2, math.ceil((end - start) / _STEP_M) + 1))
        up = np.linspace(0.0, rise or 0.0, len(at))
        if _is_rolling(stretch.words):
            up = up + _waves(at - start, end - start, limits)
        d.append(at)
        z.append(z[-1][-1] + up)
        described += end - start
    d.append(np.array([length_m]))
    z.append(z[-1][-1:])
    notes = [
        Note(
            "course.described", "The profile was built from a description in words, not measured.", "assumed"
        )
    ]
    if described < length_m - 100:
        notes.append(
            Note(
                "course.described",
                f"{length_mark(length_m - described)} of the course are not described and count as level.",
                "assumed",
            )
        )
    return Ground(name, np.concatenate(d), np.concatenate(z), "described", True, 0.0, tuple(notes))


def guessed_ground(name: str, limits: Limits, *, length_m: float, why: str) -> Ground:
    """Rolling ground of a race whose course nobody gave; why: the sentence that says what is missing."""
    at = np.linspace(0.0, length_m, max(2, math.ceil(length_m / _STEP_M) + 1))
    note = Note(
        "course.guess_m_per_km", f"{why} The plan assumes rolling ground until you add one.", "assumed"
    )
    return Ground(name, at, _waves(at, length_m, limits), "unknown", False, 0.0, (note,))


def _waves(at_m: Array, length_m: float, limits: Limits) -> Array:
    swing = limits.number("course.guess_swing_m")
    count = max(1, round(length_m / 1000 * limits.number("course.guess_m_per_km") / swing))
    if length_m < 400:
        return np.zeros_like(at_m)
    return swing / 2 * (1 - np.cos(2 * np.pi * count * at_m / length_m))


def _misplaced(stretch: CourseStretch, file: str, length_m: float) -> list[Problem]:
    if stretch.to_m <= stretch.from_m or stretch.from_m < 0:
        return [
            Problem(file, None, "race.stretch must run from a place to a later one", f"not {_say(stretch)}")
        ]
    if stretch.to_m > length_m * 1.01:
        return [
            Problem(
                file,
                None,
                f"race.stretch must end by the line at {length_m / 1000:g} km",
                f"not {_say(stretch)}",
            )
        ]
    return []


def _say(stretch: CourseStretch) -> str:
    return f"{stretch.from_m / 1000:g} to {stretch.to_m / 1000:g} km"


def _is_rolling(words: str) -> bool:
    return re.search(r"\b(rolling|rolls|undulat\w*|ups and downs)\b", words.lower()) is not None


def _rise_m(stretch: CourseStretch) -> float | None:
    """Net height of a described stretch in metres; None where the words do not say."""
    words = stretch.words.lower().replace("\N{MINUS SIGN}", "-")
    length = stretch.to_m - stretch.from_m
    up, down = re.search(rf"\b{_UP}\b", words), re.search(rf"\b{_DOWN}\b", words)
    if up is None and down is None:
        if _is_rolling(words) or re.search(r"\b(flat|level|plateau)\b", words):
            return 0.0
        return None
    if up is not None and down is not None:
        return 0.0 if _is_rolling(words) else None
    sign = 1.0 if up is not None else -1.0
    if height := _HEIGHT.search(words):
        return sign * float(height[1]) * (FOOT_M if height[2].startswith("f") else 1.0)
    if grade := _GRADE.search(words):
        return sign * float(grade[1]) / 100 * length
    for table in (_WALKERS, _STEEPNESS):
        for word, steepness in table.items():
            if re.search(rf"\b{word}\b", words):
                return sign * steepness * length
    return None
