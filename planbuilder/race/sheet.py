"""The sheet of a course: every row of the race plan with its words and effort, before anyone has a clock.

Receives: course, features, remarks, the coach's wordings, the limits.
Gives: a ``Sheet``, worked out once and shared by all runners of a squad.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from planbuilder.course.types import Course, Feature, Remark
from planbuilder.demands.terrain import read_ground
from planbuilder.race.cues import CueBook, make_cue_book
from planbuilder.race.ladder import Ladder, easy_effort, effort_ladder, finish_ladder, race_class
from planbuilder.race.layout import Piece, course_pieces
from planbuilder.race.stretches import Margins, Rows, make_rows, marker_edges
from planbuilder.race.types import FINISHING, Aim
from planbuilder.settings.limits import Limits
from planbuilder.settings.models import Wording
from planbuilder.units import unit_m


@dataclass(frozen=True, eq=False)
class Sheet:
    """All rows of a race plan."""

    ladder: Ladder
    downhill_start: bool
    first_effort: tuple[float, float]  # of the first minutes
    pieces: tuple[Piece, ...]
    book: CueBook
    features: Rows
    km: Rows
    miles: Rows
    five_km: Rows


@lru_cache(maxsize=64)
def make_sheet(
    course: Course,
    features: tuple[Feature, ...],
    remarks: tuple[Remark, ...],
    wordings: tuple[Wording, ...],
    limits: Limits,
    lower_rpe: float = 0.0,
    easily: bool = False,
    aim: Aim = "time",
) -> Sheet:
    """The sheet of a course; ``lower_rpe`` takes the effort down on a day too hot for a time goal.

    ``easily`` is for a runner who may run the course, but not race it; ``aim`` is what the race is run for.
    """
    ladder = (finish_ladder if aim in FINISHING else effort_ladder)(course.distance_m, limits)
    margins = Margins.of(limits, marathon=race_class(course.distance_m) == "marathon")
    if easily:
        ladder = ladder.level(easy_effort(limits))
        margins = replace(margins, climb_rpe=0.0)
    elif lower_rpe:
        ladder = ladder.lowered(lower_rpe, limits.number("race.heat_rpe_most"))
    downhill_start = any(feature.kind == "downhill_start" for feature in features)
    first_effort = held_back(ladder, course.distance_m, limits) if downhill_start else None
    pieces = course_pieces(course, features, ladder, limits)
    book = make_cue_book(
        distance_m=course.distance_m,
        ladder=ladder,
        steep=limits.number("race.by_effort_grade"),
        features=features,
        remarks=remarks,
        first_mile_m=limits.number("race.first_mile_length"),
        too_hot=lower_rpe > 0,
        easily=easily,
        aim=aim,
    )
    words = {wording.of: wording.text for wording in wordings}
    unknown = "" if course.known else "not known: run by effort"

    def rows(names: list[str], edges: list[float], cues: list[str], grounds: list[str]) -> Rows:
        return make_rows(
            course,
            read_ground(course, limits),
            names=names,
            edges_m=edges,
            cues=cues,
            grounds=grounds,
            ladder=ladder,
            margins=margins,
            first_effort=first_effort,
            first_effort_to_m=limits.number("race.first_mile_length"),
        )

    def splits(word: str, length_m: float) -> Rows:
        edges = marker_edges(course.distance_m, length_m)
        grades = np.diff(np.interp(edges, course.at_m, course.height_m)) / np.diff(edges)
        places = zip(edges[:-1], edges[1:], grades.tolist(), strict=True)
        cues = [book.for_split(start, end, grade) for start, end, grade in places]
        grounds = [words.get(f"{word} {number}", unknown) for number in range(1, len(edges))]
        return rows(_split_names(edges, word, length_m), edges, cues, grounds)

    return Sheet(
        ladder=ladder,
        downhill_start=downhill_start,
        first_effort=first_effort or ladder.efforts[0],
        pieces=pieces,
        book=book,
        features=rows(
            [piece.name for piece in pieces],
            [pieces[0].from_m, *(piece.to_m for piece in pieces)],
            [book.for_piece(piece) for piece in pieces],
            [words.get(piece.name) or piece.own_words or unknown for piece in pieces],
        ),
        km=splits("km", unit_m("km")),
        miles=splits("mile", unit_m("mi")),
        five_km=splits("", 5000.0),
    )


def held_back(ladder: Ladder, distance_m: float, limits: Limits) -> tuple[float, float]:
    """Effort of the first mile of a downhill start."""
    low, high = ladder.efforts[0]
    most = limits.number("race.first_mile_rpe")
    if race_class(distance_m) in ("5k", "10k"):
        most = max(most, low - 1)
    return (min(low, most), min(high, most))


def _split_names(edges: list[float], word: str, length_m: float) -> list[str]:
    if word:
        names = [f"{word} {number}" for number in range(1, len(edges))]
    else:
        names = [f"{number * 5 - 5} to {number * 5} km" for number in range(1, len(edges))]
    if edges[-1] - edges[-2] < length_m - 1.0:
        names[-1] = "to the line"
    return names
