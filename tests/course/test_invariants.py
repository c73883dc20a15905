"""What must hold for any course at all."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from planbuilder.course import Course, find_features
from planbuilder.settings.models import CourseFile
from tests.course.hand_made import LIMITS, HandMade, gpx_of, read, winding

QUICK = settings(max_examples=20, suppress_health_check=[HealthCheck.function_scoped_fixture])


@st.composite
def courses(draw: st.DrawFn) -> HandMade:
    """2 to 12 km of hills of every size, with a little noise."""
    length = draw(st.integers(2000, 12_000))
    spacing = draw(st.sampled_from([7.0, 10.0, 25.0]))
    at = np.arange(0, length, spacing)
    heights = np.full(len(at), draw(st.floats(20, 3000)))
    for _ in range(draw(st.integers(1, 5))):
        wave = draw(st.floats(400, 9000))
        swing = draw(st.floats(0, 0.012)) * wave
        heights += swing * np.sin(2 * np.pi * at / wave + draw(st.floats(0, 6.3)))
    noise = np.random.default_rng(draw(st.integers(0, 999))).normal(
        0, draw(st.sampled_from([0.0, 0.3])), len(at)
    )
    return winding(at, np.round(heights - min(0.0, heights.min() - 16) + noise, 2))


def steep_stretches(course: Course, kind: str) -> list[tuple[float, float, float]]:
    return [
        (feature.start_m, feature.end_m, abs(feature.gain_m))
        for feature in find_features(course, LIMITS)
        if feature.kind == kind
    ]


def same(one: Course, other: Course) -> None:
    assert one.measured_m == pytest.approx(other.measured_m, rel=1e-9)
    assert one.ascent_m == pytest.approx(other.ascent_m, abs=1e-5)
    assert one.descent_m == pytest.approx(other.descent_m, abs=1e-5)
    assert one.height_m == pytest.approx(other.height_m, abs=1e-5)


@QUICK
@given(made=courses())
def test_a_course_run_the_other_way_swaps_ascent_and_descent_and_mirrors_its_features(
    made: HandMade, tmp_path: Path
) -> None:
    there, back = read(made, tmp_path), read(made.reverse(), tmp_path)
    assert back.ascent_m == pytest.approx(there.descent_m, abs=0.2)
    assert back.descent_m == pytest.approx(there.ascent_m, abs=0.2)
    length = there.distance_m
    climbs = steep_stretches(there, "climb")
    mirrored = [
        (length - end, length - start, gain) for start, end, gain in steep_stretches(back, "descent")
    ][::-1]
    assert len(climbs) == len(mirrored)
    for climb, descent in zip(climbs, mirrored, strict=True):
        assert climb == pytest.approx(descent, abs=11)


@QUICK
@given(made=courses(), higher=st.floats(0, 4000))
def test_the_same_course_on_higher_ground_is_the_same(made: HandMade, higher: float, tmp_path: Path) -> None:
    same(read(made, tmp_path), read(made.with_ele(made.ele + higher), tmp_path))


@QUICK
@given(made=courses())
def test_every_point_three_times_changes_nothing(made: HandMade, tmp_path: Path) -> None:
    tripled = gpx_of([[point for point in made.points() for _ in range(3)]])
    same(read(made, tmp_path), read(tripled, tmp_path))


@QUICK
@given(made=courses(), cuts=st.lists(st.floats(0, 1), max_size=5))
def test_splitting_into_segments_changes_nothing(made: HandMade, cuts: list[float], tmp_path: Path) -> None:
    points = made.points()
    at = [0, *sorted(int(cut * len(points)) for cut in cuts), len(points)]
    split = gpx_of([points[start:end] for start, end in pairwise(at)])
    same(read(made, tmp_path), read(split, tmp_path))


@QUICK
@given(made=courses())
def test_ascent_and_descent_add_up_and_reach_the_highest_point(made: HandMade, tmp_path: Path) -> None:
    course = read(made, tmp_path)
    heights = course.height_m
    assert course.ascent_m - course.descent_m == pytest.approx(heights[-1] - heights[0], abs=1e-9)
    assert heights[-1] - heights[0] == pytest.approx(made.ele[-1] - made.ele[0], abs=1e-6)
    assert course.ascent_m >= heights.max() - heights[0] - 1e-9
    assert course.descent_m >= heights[0] - heights.min() - 1e-9
    assert course.ascent_low_m <= course.ascent_m <= course.ascent_high_m


@QUICK
@given(made=courses())
def test_there_and_back_climbs_as_much_as_it_falls(made: HandMade, tmp_path: Path) -> None:
    file = CourseFile(file="course.gpx", out_and_back=True)
    course = read(made, tmp_path, file=file)
    assert course.ascent_m == pytest.approx(course.descent_m, abs=1e-6)
    assert course.distance_m == pytest.approx(2 * read(made, tmp_path).distance_m, rel=1e-9)


@QUICK
@given(made=courses(), scale=st.floats(0.97, 1.03))
def test_a_scale_within_three_percent_moves_ascent_less_than_one(
    made: HandMade, scale: float, tmp_path: Path
) -> None:
    course = read(made, tmp_path)
    assume(course.ascent_m > 30)
    scaled = read(made, tmp_path, distance_m=course.measured_m * scale, force=True)
    assert scaled.ascent_m == pytest.approx(course.ascent_m, rel=0.01)


@QUICK
@given(made=courses())
def test_the_grid_ends_on_the_line_and_features_lie_on_the_course(made: HandMade, tmp_path: Path) -> None:
    course = read(made, tmp_path)
    assert (len(course.height_m) - 1) * course.step_m == pytest.approx(course.distance_m, rel=1e-12)
    assert len(course.grade) == len(course.height_m)
    for feature in find_features(course, LIMITS):
        assert 0 <= feature.start_m < feature.end_m <= course.distance_m + 1e-6
        assert feature.ascent_m - feature.descent_m == pytest.approx(feature.gain_m, abs=1e-6)


@QUICK
@given(made=courses())
def test_the_same_bytes_give_the_same_course(made: HandMade, tmp_path: Path) -> None:
    one, other = read(made, tmp_path), read(made, tmp_path)
    assert np.array_equal(one.height_m, other.height_m)
    assert (one.ascent_m, one.notes) == (other.ascent_m, other.notes)
