"""The coach's preview of the course, for everybody: what the ground does, what to do, where people go wrong.

Receives: course, features, demands, remarks, sample paces.
Gives: stretches from start to line with what each costs or gives back at those paces.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from planbuilder.course.types import Course, Feature, FeatureKind, Remark
from planbuilder.demands.types import CourseDemands
from planbuilder.race.cues import make_cue_book
from planbuilder.race.ladder import effort_ladder
from planbuilder.race.layout import Piece, course_pieces
from planbuilder.race.stretches import ground_words
from planbuilder.race.terrain import build_terrain, running_sum
from planbuilder.race.types import PreviewStretch
from planbuilder.settings.limits import Limits
from planbuilder.units import height_mark, length_mark, place_mark, say_minutes

_MISTAKES: Final[dict[FeatureKind, str]] = {
    "climb": "Most hold the pace instead of the effort, and pay for it in the minute after the top",
    "descent": "Many brake with stiff knees, or chase the clock and find it in their thighs later",
    "drag": "It is too gentle to see: people think they are fading, and push",
    "flat": "Boredom: a little faster every kilometre until there is nothing left for the ground to come",
    "rolling": "Racing every rise and resting on every fall, when it should be the other way round",
    "downhill_start": "The quickest minutes of the day come here for nearly everyone, and they are the "
    "dearest",
    "finish_drag": "Sprinting at the first sight of the line: it is still rising",
    "hilly_finish": "Arriving with nothing left, because the easy ground before it was run too hard",
}
_BETWEEN: Final = (
    "Starting with the crowd instead of with your own effort",
    "Filling a good patch with speed that is needed later",
    "Waiting for it to feel easy again: from here it does not, and that is right",
    "Saving something for afterwards",
)


def preview(
    *,
    course: Course,
    features: tuple[Feature, ...],
    demands: CourseDemands,
    remarks: tuple[Remark, ...],
    limits: Limits,
    sample_paces: tuple[float, ...],
) -> tuple[PreviewStretch, ...]:
    """The course stretch by stretch, as everybody meets it.

    ``sample_paces`` are paces on level ground, s/km. Every stretch says what it costs (or gives back,
    negative) in s/km at each of them, by the default grade model under the race rules.
    """
    ladder = effort_ladder(course.distance_m, limits)
    known = features if course.known else ()
    pieces = course_pieces(course, known, ladder, limits)
    book = make_cue_book(
        distance_m=course.distance_m,
        ladder=ladder,
        steep=limits.number("race.by_effort_grade"),
        features=known,
        remarks=remarks,
        wordings=(),
        first_mile_m=limits.number("race.first_mile_length"),
    )
    edges = np.array([pieces[0].from_m, *(piece.to_m for piece in pieces)])
    lengths = np.diff(edges)
    costs = np.array([_costs(course, known, limits, edges, lengths, pace) for pace in sample_paces])
    rises = np.diff(course.height_m)
    heights, ups, downs = (
        np.diff(np.interp(edges, course.at_m, sums))
        for sums in (
            course.height_m,
            running_sum(np.maximum(rises, 0.0)),
            running_sum(np.maximum(-rises, 0.0)),
        )
    )
    return tuple(
        PreviewStretch(
            name=piece.name,
            from_m=piece.from_m,
            to_m=piece.to_m,
            grade=float(heights[i] / lengths[i]),
            gain_m=float(heights[i]),
            decisive=piece.feature is not None and piece.feature.decisive,
            ground=_ground(piece, course.known, float(heights[i]), float(ups[i]), float(downs[i])),
            todo=book.for_piece(piece),
            mistake=_mistake(
                piece, ladder.rung((piece.from_m + piece.to_m) / 2 / course.distance_m), limits, demands
            ),
            costs_s_per_km=tuple(float(cost) for cost in costs[:, i]),
        )
        for i, piece in enumerate(pieces)
    )


def _costs(
    course: Course,
    features: tuple[Feature, ...],
    limits: Limits,
    edges: np.ndarray[tuple[int], np.dtype[np.float64]],
    lengths: np.ndarray[tuple[int], np.dtype[np.float64]],
    pace_s_per_km: float,
) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    terrain = build_terrain(
        course=course, features=features, limits=limits, level_speed_mps=1000 / pace_s_per_km
    )
    flat_m = np.diff(np.interp(edges, terrain.at_m, running_sum(terrain.flat_m)))
    costs: np.ndarray[tuple[int], np.dtype[np.float64]] = (flat_m / lengths - 1) * pace_s_per_km
    return costs


def _ground(piece: Piece, known: bool, gain_m: float, up_m: float, down_m: float) -> str:
    if not known:
        return "Not known"
    if piece.feature is not None and piece.whole:
        return piece.feature.words
    length_m = piece.to_m - piece.from_m
    words = ground_words(gain_m / length_m, gain_m, up_m, down_m)
    return f"{length_mark(length_m)} from {place_mark(piece.from_m)}: {words}"


def _mistake(piece: Piece, rung: int, limits: Limits, demands: CourseDemands) -> str:
    feature = piece.feature
    if feature is None:
        return _BETWEEN[rung]
    if feature.decisive:
        seconds = say_minutes(limits.number("race.settle_seconds"))
        late = (
            f" {height_mark(demands.late_gain_m)} of climbing stand in the last quarter."
            if demands.late_gain_m >= 15
            else ""
        )
        return (
            "Running it by the watch: even strong runners stay slow for about "
            f"{seconds} after a top they have raced to.{late}"
        )
    return _MISTAKES[feature.kind]
