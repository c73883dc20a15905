"""Feature stretches from start to line, without gaps, whatever overlaps."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planbuilder.course.types import FeatureKind
from planbuilder.race.ladder import effort_ladder
from planbuilder.race.layout import lay_out
from tests.race.ground import LIMITS, course_of, feature

COURSE = course_of([(10000.0, 0.0)])
LADDER = effort_ladder(10000.0, LIMITS)
KINDS: tuple[FeatureKind, ...] = (
    "climb",
    "descent",
    "flat",
    "rolling",
    "drag",
    "downhill_start",
    "hilly_finish",
    "finish_drag",
)


def lay(*features: tuple[FeatureKind, float, float]) -> list[tuple[str, float, float]]:
    made = tuple(
        feature(COURSE, kind, start, end, name=f"{kind} {i}") for i, (kind, start, end) in enumerate(features)
    )
    pieces = lay_out(made, distance_m=10000.0, shortest_m=250.0, ladder=LADDER)
    return [(piece.name, piece.from_m, piece.to_m) for piece in pieces]


@given(
    st.lists(st.tuples(st.sampled_from(KINDS), st.floats(0.0, 9000.0), st.floats(300.0, 6000.0)), max_size=8)
)
def test_the_stretches_touch_each_other_from_start_to_line(
    drawn: list[tuple[FeatureKind, float, float]],
) -> None:
    pieces = lay(*((kind, start, min(start + length, 10000.0)) for kind, start, length in drawn))
    assert pieces[0][1] == 0.0
    assert pieces[-1][2] == 10000.0
    for (_, _, end), (_, start, _) in pairwise(pieces):
        assert end == start
    assert all(end > start for _, start, end in pieces)
    assert len({name for name, _, _ in pieces}) == len(pieces)


def test_a_climb_keeps_its_place_inside_rolling_ground() -> None:
    assert lay(("rolling", 0.0, 8000.0), ("climb", 3000.0, 3600.0)) == [
        ("rolling 0", 0.0, 3000.0),
        ("climb 1", 3000.0, 3600.0),
        ("rolling 0, part 2", 3600.0, 8000.0),
        ("to the line", 8000.0, 10000.0),
    ]


def test_odd_metres_after_a_crest_belong_to_what_follows() -> None:
    pieces = lay(("climb", 1000.0, 2000.0), ("descent", 2100.0, 3000.0))
    assert pieces[1:3] == [("climb 0", 1000.0, 2000.0), ("descent 1", 2000.0, 3000.0)]


def test_a_hilly_finish_names_no_ground_of_its_own() -> None:
    pieces = lay(("hilly_finish", 7500.0, 10000.0), ("climb", 8000.0, 8500.0))
    assert [name for name, _, _ in pieces] == ["to climb 1", "climb 1", "to the line"]


def test_ground_without_features_gets_the_four_stretches_of_the_ladder() -> None:
    assert [end for _, _, end in lay()] == pytest.approx([2000.0, 7000.0, 9000.0, 10000.0])
