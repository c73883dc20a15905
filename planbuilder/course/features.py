"""Features: the stretches of a course that a coach would name.

Receives: a ``Course``.
Gives: its climbs, descents, flats, rolling ground, drags, downhill start, hilly finish and finish drag, in
race order, with the decisive climb marked. Small ground is named; what is trained is decided by ``demands``.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from planbuilder.course.profile import rise_and_fall
from planbuilder.course.types import Course, Feature, FeatureKind
from planbuilder.course.words import feature_words, name_features
from planbuilder.settings.limits import Limits

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

_HEIGHT_TOLERANCE_M: Final = 0.5  # thresholds are met as printed, in whole metres
_LENGTH_TOLERANCE_M: Final = 5.0
_BARRIER: Final = -1e6
_FLAT_HALF_M: Final = 250.0  # flat ground is judged over 500 m
_STEADY_SHARE: Final = 0.7


@dataclass(frozen=True, slots=True)
class _Piece:
    """A stretch between two grid points."""

    start: int
    end: int


def find_features(course: Course, limits: Limits) -> tuple[Feature, ...]:
    """All features of a course in the order of their start; they may overlap.

    Where the ground is a guess, or its points lie too far apart, one rolling stretch stands for all of it.
    """
    if not course.known or course.sparse:
        whole = _feature(course, "rolling", 0.0, course.distance_m, limits)
        return name_features((whole,), course)
    climbs = _steep(course, limits, up=True)
    descents = _steep(course, limits, up=False)
    drags = _drags(course, climbs, limits)
    found = [
        *(_of_piece(course, "climb", piece, limits) for piece in climbs),
        *(_of_piece(course, "descent", piece, limits) for piece in descents),
        *drags,
        *_finish_drag_on_climb(course, climbs, drags, limits),
        *_downhill_start(course, limits),
        *_hilly_finish(course, climbs, limits),
    ]
    found.extend(_flats_and_rolling(course, [*climbs, *descents], found, limits))
    ordered = tuple(sorted(found, key=lambda feature: (feature.start_m, -feature.end_m, feature.kind)))
    return name_features(_with_decisive(course, ordered, limits), course)


def ascent_between(course: Course, start_m: float, end_m: float, limits: Limits) -> tuple[float, float]:
    """Ascent and descent in metres between two places, counted as for the whole course."""
    return rise_and_fall(_heights(course, start_m, end_m), limits.number("course.rise_m"))


def _heights(course: Course, start_m: float, end_m: float) -> Array:
    at = course.at_m
    inside = (at > start_m) & (at < end_m)
    ends = np.interp([start_m, end_m], at, course.height_m)
    result: Array = np.concatenate((ends[:1], course.height_m[inside], ends[1:]))
    return result


def _feature(course: Course, kind: FeatureKind, start_m: float, end_m: float, limits: Limits) -> Feature:
    ascent, descent = ascent_between(course, start_m, end_m, limits)
    gain = course.height_at(end_m) - course.height_at(start_m)
    feature = Feature(
        kind=kind,
        name=kind,
        start_m=start_m,
        end_m=end_m,
        gain_m=gain,
        ascent_m=ascent,
        descent_m=descent,
        grade=gain / (end_m - start_m),
        steepest_grade=_steepest(course, kind, start_m, end_m),
        share_done=start_m / course.distance_m,
        decisive=False,
        words="",
    )
    return replace(feature, words=feature_words(feature, course))


def _of_piece(course: Course, kind: FeatureKind, piece: _Piece, limits: Limits) -> Feature:
    at = course.at_m
    return _feature(course, kind, float(at[piece.start]), float(at[piece.end]), limits)


def steepest_between(course: Course, start_m: float, end_m: float) -> float:
    """The grade over 100 m of largest size between two places, a fraction with its sign."""
    inside = _grades(course, start_m, end_m)
    return float(inside[int(np.argmax(np.abs(inside)))])


def _grades(course: Course, start_m: float, end_m: float) -> Array:
    at = course.at_m
    inside = course.grade[(at >= start_m + 50) & (at <= end_m - 50)]
    middle = np.interp([(start_m + end_m) / 2], at, course.grade)
    return inside if inside.size else middle


def _steepest(course: Course, kind: FeatureKind, start_m: float, end_m: float) -> float:
    inside = _grades(course, start_m, end_m)
    match kind:
        case "climb" | "drag" | "finish_drag" | "hilly_finish":
            return float(inside.max())
        case "descent" | "downhill_start":
            return float(inside.min())
        case _:
            return steepest_between(course, start_m, end_m)


# Climbs and descents -------------------------------------------------------------------------------------


def _best_runs(scores: list[float]) -> list[_Piece]:
    """All maximal scoring runs of a sequence, in order (Ruzzo & Tompa 1999, ISMB, linear-time algorithm)."""
    runs: list[tuple[int, int, float, float]] = []  # start, end, sum before, sum after
    total = 0.0
    for i, score in enumerate(scores):
        before, total = total, total + score
        if score <= 0:
            continue
        start, left, right = i, before, total
        while True:
            j = len(runs) - 1
            while j >= 0 and runs[j][2] >= left:
                j -= 1
            if j < 0 or runs[j][3] >= right:
                break
            start, left = runs[j][0], runs[j][2]
            del runs[j:]
        runs.append((start, i + 1, left, right))
    return [_Piece(start, end) for start, end, _, _ in runs]


def _steep(course: Course, limits: Limits, *, up: bool) -> list[_Piece]:
    """Climbs (or descents), long enough and high enough, parted where a coach would say two, not one."""
    sign = 1.0 if up else -1.0
    threshold = limits.number("course.climb_grade") * course.step_m
    rises = np.diff(course.height_m)
    scores, against = rises * sign - threshold, _best_runs((-rises * sign - threshold).tolist())
    for piece in _best_runs(scores.tolist()):
        for start, end in _parting(course, piece, against, limits):
            scores[start:end] = _BARRIER
    total = course.ascent_m if up else course.descent_m
    least = max(limits.number("course.climb_gain_m"), limits.number("course.climb_gain_share") * total)
    shortest = limits.number("course.climb_length_m")
    return [
        piece
        for piece in _best_runs(scores.tolist())
        if abs(_gain(course, piece)) >= least - _HEIGHT_TOLERANCE_M
        and (piece.end - piece.start) * course.step_m >= shortest - _LENGTH_TOLERANCE_M
    ]


def _parting(
    course: Course, piece: _Piece, against: list[_Piece], limits: Limits
) -> Iterable[tuple[int, int]]:
    """Plateaus and contrary slopes inside a climb (or descent) that are large beside it."""
    share = limits.number("course.parting_share")
    least_gain = max(limits.number("course.climb_gain_m"), share * abs(_gain(course, piece)))
    least_length = max(limits.number("course.plateau_m"), share * (piece.end - piece.start) * course.step_m)
    for other in against:
        inside = piece.start < other.start and other.end < piece.end
        if inside and abs(_gain(course, other)) >= least_gain - _HEIGHT_TOLERANCE_M:
            yield other.start, other.end
    level = np.abs(np.diff(course.height_m[piece.start : piece.end + 1]) / course.step_m)
    for start, end in _runs_of(level < limits.number("course.plateau_grade")):
        length = (end - start) * course.step_m
        net = abs(_gain(course, _Piece(piece.start + start, piece.start + end)))
        if length >= least_length - _LENGTH_TOLERANCE_M and net < limits.number("course.flat_grade") * length:
            yield piece.start + start, piece.start + end


def _gain(course: Course, piece: _Piece) -> float:
    return float(course.height_m[piece.end] - course.height_m[piece.start])


def _runs_of(mask: Mask) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.concatenate(([False], mask, [False])).astype(np.int8)))
    return [(int(start), int(end)) for start, end in edges.reshape(-1, 2)]


# Drags ---------------------------------------------------------------------------------------------------


def _drags(course: Course, climbs: list[_Piece], limits: Limits) -> list[Feature]:
    scores = np.diff(course.height_m) - limits.number("course.drag_grade") * course.step_m
    outside = scores.copy()
    for climb in climbs:
        outside[climb.start : climb.end] = _BARRIER
    drags: list[Feature] = []
    for candidates in (_best_runs(scores.tolist()), _best_runs(outside.tolist())):
        for piece in candidates:
            kind = _drag_kind(course, piece, climbs, limits)
            if kind is None:
                continue
            drag = _of_piece(course, kind, piece, limits)
            if all(_shared_m(drag, other) < 0.5 * drag.length_m for other in drags):
                drags.append(drag)
    return drags


def _drag_kind(course: Course, piece: _Piece, climbs: list[_Piece], limits: Limits) -> FeatureKind | None:
    length = (piece.end - piece.start) * course.step_m
    gain = _gain(course, piece)
    if length < limits.number("course.drag_length_m") - _LENGTH_TOLERANCE_M:
        return None
    covered = max((min(piece.end, climb.end) - max(piece.start, climb.start) for climb in climbs), default=0)
    if covered >= limits.number("course.drag_most_covered") * (piece.end - piece.start):
        return None
    mean = gain / length
    low, high = limits.numbers("demands.finish_drag_grade")
    to_line = course.distance_m - piece.end * course.step_m
    if to_line <= limits.number("demands.finish_drag_to_line_m") and low <= mean <= high:
        return "finish_drag"
    low, high = limits.numbers("course.drag_mean_grade")
    if gain >= limits.number("course.drag_gain_m") - _HEIGHT_TOLERANCE_M and low <= mean <= high:
        return "drag"
    return None


def _finish_drag_on_climb(
    course: Course, climbs: list[_Piece], drags: list[Feature], limits: Limits
) -> Iterable[Feature]:
    """A climb gentle enough to be a drag to the line bears that name as well."""
    if any(drag.kind == "finish_drag" for drag in drags):
        return
    _, high = limits.numbers("demands.finish_drag_grade")
    for climb in climbs:
        length = (climb.end - climb.start) * course.step_m
        to_line = course.distance_m - climb.end * course.step_m
        if (
            length >= limits.number("course.drag_length_m") - _LENGTH_TOLERANCE_M
            and to_line <= limits.number("demands.finish_drag_to_line_m")
            and _gain(course, climb) / length <= high
        ):
            yield _of_piece(course, "finish_drag", climb, limits)


# Start and finish ----------------------------------------------------------------------------------------


def _downhill_start(course: Course, limits: Limits) -> Iterable[Feature]:
    """The first one to two kilometres, where they fall at least so many metres a kilometre."""
    shortest, longest = limits.numbers("course.downhill_start_length_m")
    if course.distance_m <= shortest:
        return
    at = course.at_m
    inside = at[(at >= shortest - course.step_m / 2) & (at <= min(longest, course.distance_m))]
    drops = -np.interp(inside, at, course.height_m)
    worth = drops - limits.number("course.drag_grade") * inside
    end = int(np.argmax(worth))
    wanted = limits.number("course.downhill_start_m_per_km") * float(inside[end]) / 1000
    if drops[end] >= wanted - _HEIGHT_TOLERANCE_M:
        yield _feature(course, "downhill_start", 0.0, float(inside[end]), limits)


def _hilly_finish(course: Course, climbs: list[_Piece], limits: Limits) -> Iterable[Feature]:
    """The late part of the race, where any two of three signs say that it climbs."""
    late = (1 - limits.number("demands.late_share")) * course.distance_m
    length = course.distance_m - late
    ascent, _ = ascent_between(course, late, course.distance_m, limits)
    gain, least_length, least_grade = limits.numbers("demands.hilly_finish_climb")
    at = course.at_m
    parts = [(max(float(at[climb.start]), late), float(at[climb.end])) for climb in climbs]
    gains = [
        (course.height_at(end) - course.height_at(start), end - start) for start, end in parts if end > start
    ]
    short_race = course.distance_m <= limits.number("demands.short_race_m")
    if short_race and any(
        rise >= limits.number("demands.hilly_finish_short_gain_m") - _HEIGHT_TOLERANCE_M for rise, _ in gains
    ):
        yield _feature(course, "hilly_finish", late, course.distance_m, limits)
        return
    signs = (
        ascent / length * 1000 >= limits.number("demands.hilly_finish_m_per_km"),
        course.ascent_m > 0 and ascent >= limits.number("demands.hilly_finish_share") * course.ascent_m,
        any(
            rise >= gain - _HEIGHT_TOLERANCE_M or (run >= least_length and rise >= least_grade * run)
            for rise, run in gains
        ),
    )
    least_climb = limits.number("course.climb_gain_m") - _HEIGHT_TOLERANCE_M
    if sum(signs) >= 2 and ascent >= least_climb:
        yield _feature(course, "hilly_finish", late, course.distance_m, limits)


# Flat and rolling ground ---------------------------------------------------------------------------------


def _flats_and_rolling(
    course: Course, steep: list[_Piece], overlays: list[Feature], limits: Limits
) -> Iterable[Feature]:
    """What lies between climbs and descents: flat where it keeps level, else rolling."""
    taken = np.zeros(len(course.height_m) - 1, dtype=bool)
    for piece in steep:
        taken[piece.start : piece.end] = True
    for start, end in _runs_of(~taken):
        flat = np.zeros(end - start, dtype=bool)
        for a, b in _level_runs(course, start, end, limits):
            flat[a - start : b - start] = True
            yield _of_piece(course, "flat", _Piece(a, b), limits)
        for a, b in _runs_of(~flat):
            piece = _Piece(start + a, start + b)
            if (b - a) * course.step_m < limits.number("course.rolling_length_m") - _LENGTH_TOLERANCE_M:
                continue
            rolling = _of_piece(course, "rolling", piece, limits)
            covered = sum(
                _shared_m(rolling, other)
                for other in overlays
                if other.kind in ("drag", "finish_drag", "downhill_start")
            )
            if covered < _STEADY_SHARE * rolling.length_m:
                yield rolling


def _level_runs(course: Course, start: int, end: int, limits: Limits) -> list[tuple[int, int]]:
    """Long runs of a gap whose grade over 500 m keeps level; changes below a rise that counts are ignored."""
    reach = max(1, round(_FLAT_HALF_M / course.step_m))
    here = np.arange(start, end)
    left, right = np.maximum(here - reach, start), np.minimum(here + 1 + reach, end)
    slope = (course.height_m[right] - course.height_m[left]) / ((right - left) * course.step_m)
    level = np.abs(slope) < limits.number("course.flat_grade")
    for a, b in _runs_of(~level):
        piece = course.height_m[start + a : start + b + 1]
        if float(np.ptp(piece)) < limits.number("course.rise_m"):
            level[a:b] = True
    shortest = limits.number("course.flat_length_m") - _LENGTH_TOLERANCE_M
    between = limits.number("course.plateau_m") - _LENGTH_TOLERANCE_M
    n = len(course.height_m) - 1
    runs = []
    for a, b in _runs_of(level):
        whole_gap = a == 0 and b == end - start and start > 0 and end < n
        if (b - a) * course.step_m >= (between if whole_gap else shortest):
            runs.append((start + a, start + b))
    return runs


def _shared_m(one: Feature, other: Feature) -> float:
    return max(0.0, min(one.end_m, other.end_m) - max(one.start_m, other.start_m))


# The decisive climb --------------------------------------------------------------------------------------


def ranked_climbs(course: Course, features: Iterable[Feature], limits: Limits) -> tuple[Feature, ...]:
    """Climbs and drags that can decide the race, the weightiest first: gain x (0.5 + share done).

    None on a flat course, except those that make its finish hilly.
    """
    features = tuple(features)
    flat_below = limits.numbers("demands.class_m_per_km")[0]
    flat = course.ascent_m / course.distance_m * 1000 < flat_below
    finish = next((feature for feature in features if feature.kind == "hilly_finish"), None)
    least_gain, least_length = limits.numbers("demands.decisive_least")
    able = [
        feature
        for feature in features
        if feature.kind in ("climb", "drag", "finish_drag")
        and (feature.gain_m >= least_gain - _HEIGHT_TOLERANCE_M or feature.length_m >= least_length)
        and (not flat or (finish is not None and feature.kind == "climb" and _shared_m(feature, finish) > 0))
    ]
    able.sort(key=lambda feature: (-feature.gain_m * (0.5 + feature.share_done), feature.start_m))
    kept: list[Feature] = []
    for feature in able:
        if all(_shared_m(feature, other) < 0.5 * min(feature.length_m, other.length_m) for other in kept):
            kept.append(feature)
    return tuple(kept)


def _with_decisive(course: Course, features: tuple[Feature, ...], limits: Limits) -> tuple[Feature, ...]:
    ranked = ranked_climbs(course, features, limits)
    if not ranked:
        return features
    return tuple(replace(feature, decisive=feature is ranked[0]) for feature in features)
