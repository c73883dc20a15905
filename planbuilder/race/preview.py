"""The coach's preview of the course, for everybody: what the ground does, what to do, where people go wrong.

Receives: course, features, demands, remarks, sample paces.
Gives: stretches from start to line with what each costs or gives back at those paces.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from planbuilder.course.types import Course, Feature, FeatureKind, Remark
from planbuilder.demands.terrain import Array, build_terrain, running_sum
from planbuilder.demands.types import CourseDemands
from planbuilder.race.ladder import Ladder
from planbuilder.race.layout import Piece
from planbuilder.race.sheet import make_sheet
from planbuilder.race.stretches import Rows
from planbuilder.race.types import PreviewStretch
from planbuilder.settings.limits import Limits
from planbuilder.units import height_mark, length_mark, say_minutes

_MISTAKES: Final[dict[FeatureKind, str]] = {
    "climb": "Most hold the pace instead of the effort, and pay for it in the minute after the top",
    "descent": "Many brake with stiff knees, or chase the clock and find it in their thighs later",
    "drag": "It is too gentle to see: people think they are fading, and push",
    "flat": "Boredom: a little faster every kilometre until there is nothing left for the ground to come",
    "rolling": "Racing every rise and resting on every fall, when it should be the other way round",
    "downhill_start": "Nearly everyone runs the quickest minutes of the day here, and they are the dearest",
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
    known = features if course.known else ()
    sheet = make_sheet(course, known, remarks, (), limits)
    rows = sheet.features
    costs = np.array([_costs(course, known, limits, rows, pace) for pace in sample_paces])
    return tuple(
        PreviewStretch(
            name=piece.name,
            from_m=piece.from_m,
            to_m=piece.to_m,
            grade=grade,
            gain_m=gain_m,
            decisive=piece.feature is not None and piece.feature.decisive,
            ground=said if piece.whole or not course.known else f"{length_mark(piece.length_m)}: {said}",
            todo=cue,
            mistake=_mistake(piece, sheet.ladder, course.distance_m, limits, demands),
            costs_s_per_km=tuple(costs[:, i].tolist()),
        )
        for i, (piece, (grade, gain_m, said, cue, _)) in enumerate(
            zip(sheet.pieces, rows.shapes, strict=True)
        )
    )


def _costs(
    course: Course, features: tuple[Feature, ...], limits: Limits, rows: Rows, pace_s_per_km: float
) -> Array:
    """What each stretch costs against level ground, s/km."""
    terrain = build_terrain(
        course=course, features=features, limits=limits, level_speed_mps=1000 / pace_s_per_km
    )
    flat_m = np.diff(np.interp(rows.edges_m, terrain.ground.at_m, running_sum(terrain.flat_m)))
    costs: Array = (flat_m / rows.lengths_m - 1) * pace_s_per_km
    return costs


def _mistake(piece: Piece, ladder: Ladder, distance_m: float, limits: Limits, demands: CourseDemands) -> str:
    feature = piece.feature
    if feature is None:
        return _BETWEEN[ladder.rung((piece.from_m + piece.to_m) / 2 / distance_m)]
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
