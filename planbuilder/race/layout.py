"""Feature stretches without gaps: overlapping features and the ground between them, from start to line.

Receives: the features of the course, the effort ladder.
Gives: pieces of ground in race order that touch each other, each with the feature it comes from.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from planbuilder.course.types import Course, Feature, FeatureKind
from planbuilder.race.ladder import Ladder
from planbuilder.settings.limits import Limits

# Which feature names a piece of ground that several claim; "hilly_finish" is made of others and names none.
_RANK: Final[dict[FeatureKind, int]] = {
    "finish_drag": 0,
    "climb": 1,
    "downhill_start": 2,
    "descent": 3,
    "drag": 4,
    "flat": 5,
    "rolling": 6,
}
_GENERIC: Final = ("the opening", "the settled part", "the working part", "the finish")


@dataclass(frozen=True, slots=True)
class Piece:
    """A piece of ground; ``feature`` is None between features."""

    name: str
    from_m: float
    to_m: float
    feature: Feature | None

    @property
    def length_m(self) -> float:
        """Length, metres."""
        return self.to_m - self.from_m

    @property
    def whole(self) -> bool:
        """Whether it is a feature in its full length."""
        return (
            self.feature is not None
            and abs(self.from_m - self.feature.start_m) < 1.0
            and abs(self.to_m - self.feature.end_m) < 1.0
        )

    @property
    def own_words(self) -> str:
        """What the feature says of its ground, where it is shown in its full length."""
        return self.feature.words if self.feature is not None and self.whole else ""


def generic_pieces(distance_m: float, ladder: Ladder) -> tuple[Piece, ...]:
    """Four stretches by effort, where the ground is not known or has nothing to name."""
    edges = [0.0, *(end * distance_m for end in ladder.ends[:-1]), distance_m]
    return tuple(
        Piece(name, start, end, None)
        for name, start, end in zip(_GENERIC, edges[:-1], edges[1:], strict=True)
    )


def course_pieces(
    course: Course, features: tuple[Feature, ...], ladder: Ladder, limits: Limits
) -> tuple[Piece, ...]:
    """The stretches of a course: feature by feature, or the four generic ones where it is not known."""
    if not course.known:
        return generic_pieces(course.distance_m, ladder)
    return lay_out(
        features,
        distance_m=course.distance_m,
        shortest_m=limits.number("race.stretch_shortest"),
        ladder=ladder,
    )


def lay_out(
    features: tuple[Feature, ...], *, distance_m: float, shortest_m: float, ladder: Ladder
) -> tuple[Piece, ...]:
    """Pieces from 0 to ``distance_m`` without gaps; generic ones where no feature names any ground."""
    placed: list[Piece] = []
    named = [feature for feature in features if feature.kind in _RANK]
    for feature in sorted(named, key=lambda one: (not one.decisive, _RANK[one.kind], one.start_m)):
        for start, end in _free(placed, max(feature.start_m, 0.0), min(feature.end_m, distance_m)):
            if end - start >= min(shortest_m, 0.5 * feature.length_m):
                placed.append(Piece(feature.name, start, end, feature))
        placed.sort(key=lambda piece: piece.from_m)
    if not placed:
        return generic_pieces(distance_m, ladder)
    return _unique(_without_gaps(placed, distance_m, shortest_m))


def _free(placed: list[Piece], start_m: float, end_m: float) -> list[tuple[float, float]]:
    free: list[tuple[float, float]] = []
    at = start_m
    for piece in placed:
        if piece.to_m <= at or piece.from_m >= end_m:
            continue
        if piece.from_m > at:
            free.append((at, piece.from_m))
        at = max(at, piece.to_m)
    if end_m > at:
        free.append((at, end_m))
    return free


def _without_gaps(placed: list[Piece], distance_m: float, shortest_m: float) -> list[Piece]:
    pieces: list[Piece] = []
    at = 0.0
    for piece in placed:
        begins_m = piece.from_m
        if begins_m - at >= shortest_m:
            pieces.append(Piece(f"to {piece.name}", at, begins_m, None))
        elif pieces and (_is(piece, "climb") or not _is(pieces[-1], "climb", "descent")):
            pieces[-1] = replace(pieces[-1], to_m=begins_m)
        else:
            begins_m = at  # a crest stays where it is: the odd metres after it belong to what follows
        pieces.append(replace(piece, from_m=begins_m))
        at = piece.to_m
    if distance_m - at >= shortest_m:
        pieces.append(Piece("to the line", at, distance_m, None))
    else:
        pieces[-1] = replace(pieces[-1], to_m=distance_m)
    return pieces


def _is(piece: Piece, *kinds: FeatureKind) -> bool:
    return piece.feature is not None and piece.feature.kind in kinds


def _unique(pieces: list[Piece]) -> tuple[Piece, ...]:
    seen: dict[str, int] = {}
    named: list[Piece] = []
    for piece in pieces:
        seen[piece.name] = seen.get(piece.name, 0) + 1
        named.append(
            piece if seen[piece.name] == 1 else replace(piece, name=f"{piece.name}, part {seen[piece.name]}")
        )
    return tuple(named)
