"""The features of hand-made courses are those a coach would name, where a coach would put them."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from planbuilder.course import Course, Feature, find_features, make_splits, ranked_climbs
from planbuilder.units import MILE_M, say_in
from tests.course.hand_made import LIMITS, broken, read, sine, winding


def features_of(course: Course, kind: str) -> list[Feature]:
    return [feature for feature in find_features(course, LIMITS) if feature.kind == kind]


def course_of(*corners: tuple[float, float], folder: Path) -> Course:
    return read(broken(*corners), folder)


def test_a_climb_between_two_flats_is_bounded_at_its_corners(tmp_path: Path) -> None:
    course = course_of((0, 50), (4000, 50.5), (5000, 90.5), (8000, 91), folder=tmp_path)
    (climb,) = features_of(course, "climb")
    assert (climb.start_m, climb.end_m) == pytest.approx((4000, 5000), abs=60)
    assert climb.gain_m == pytest.approx(40, abs=1)
    assert climb.grade == pytest.approx(0.04, abs=0.004)
    assert climb.steepest_grade == pytest.approx(0.04, abs=0.002)
    assert climb.share_done == pytest.approx(0.5, abs=0.01)
    assert [flat.kind for flat in features_of(course, "flat")] == ["flat", "flat"]


def test_a_last_mile_that_rises_ten_metres_is_a_finish_drag(tmp_path: Path) -> None:
    course = course_of((0, 50), (8400, 50.5), (10000, 60.5), folder=tmp_path)
    (drag,) = features_of(course, "finish_drag")
    assert drag.end_m == pytest.approx(10000, abs=1)
    assert drag.start_m == pytest.approx(8400, abs=100)
    assert drag.gain_m == pytest.approx(10, abs=0.5)
    assert not features_of(course, "climb")


def test_a_long_gentle_rise_far_from_the_line_is_a_drag(tmp_path: Path) -> None:
    course = course_of((0, 50), (3000, 50), (4500, 62), (10000, 61), folder=tmp_path)
    (drag,) = features_of(course, "drag")
    assert (drag.start_m, drag.end_m) == pytest.approx((3000, 4500), abs=100)
    assert drag.gain_m == pytest.approx(12, abs=0.5)


def test_a_first_kilometre_that_falls_six_metres_is_a_downhill_start(tmp_path: Path) -> None:
    course = course_of((0, 60), (1000, 54), (10000, 54.5), folder=tmp_path)
    (start,) = features_of(course, "downhill_start")
    assert start.start_m == 0
    assert start.end_m == pytest.approx(1000, abs=30)
    assert start.gain_m == pytest.approx(-6, abs=0.3)


def test_a_first_mile_that_falls_ten_metres_is_a_downhill_start_of_a_mile(tmp_path: Path) -> None:
    course = course_of((0, 60), (MILE_M, 50), (10000, 50.5), folder=tmp_path)
    (start,) = features_of(course, "downhill_start")
    assert start.end_m == pytest.approx(MILE_M, abs=50)


def test_a_first_kilometre_that_falls_four_metres_is_none(tmp_path: Path) -> None:
    assert not features_of(course_of((0, 60), (1000, 56), (10000, 56.5), folder=tmp_path), "downhill_start")


@pytest.mark.parametrize("plateau_m", [600, 1200])
def test_a_plateau_between_two_climbs_parts_them_and_is_named(plateau_m: float, tmp_path: Path) -> None:
    top = 4000 + plateau_m
    course = course_of(
        (0, 50), (3000, 50), (4000, 85), (top, 85), (top + 1000, 120), (9000, 120), folder=tmp_path
    )
    first, second = features_of(course, "climb")
    assert (first.end_m, second.start_m) == pytest.approx((4000, top), abs=60)
    plateau = next(flat for flat in features_of(course, "flat") if 3500 < flat.start_m < 4500)
    assert (plateau.start_m, plateau.end_m) == pytest.approx((4000, top), abs=60)


def test_a_dip_too_small_to_matter_does_not_part_a_climb(tmp_path: Path) -> None:
    course = course_of((0, 50), (2000, 50), (3000, 90), (3200, 87), (4200, 127), (8000, 127), folder=tmp_path)
    (climb,) = features_of(course, "climb")
    assert (climb.start_m, climb.end_m) == pytest.approx((2000, 4200), abs=60)


def test_hills_one_after_another_are_one_climb_each(tmp_path: Path) -> None:
    corners = [(0.0, 20.0)]
    for hill in range(4):
        at = 1000 + hill * 1600
        corners += [(at, 20.0), (at + 600, 38.0), (at + 1100, 20.0)]
    course = course_of(*corners, (8000, 20.0), folder=tmp_path)
    climbs = features_of(course, "climb")
    assert [climb.start_m for climb in climbs] == pytest.approx([1000, 2600, 4200, 5800], abs=60)
    assert [climb.name for climb in climbs] == ["climb 1", "climb 2", "climb 3", "climb 4"]
    assert [fall.start_m for fall in features_of(course, "descent")] == pytest.approx(
        [1600, 3200, 4800, 6400], abs=60
    )


def test_ground_that_waves_without_a_climb_is_rolling(tmp_path: Path) -> None:
    at = np.arange(0, 10_001, 10.0)
    course = read(winding(at, 100 + 3 * np.sin(at / 130)), tmp_path)
    found = find_features(course, LIMITS)
    assert {feature.kind for feature in found} == {"rolling"}
    assert found[0].length_m == pytest.approx(10_000, abs=700)


def test_level_ground_is_one_long_flat(tmp_path: Path) -> None:
    at = np.arange(0, 10_001, 10.0)
    course = read(winding(at, 100 + 0.8 * np.sin(at / 200)), tmp_path)
    (flat,) = find_features(course, LIMITS)
    assert (flat.kind, flat.name) == ("flat", "the long flat")
    assert flat.length_m == pytest.approx(10_000, abs=1)


def test_a_late_hill_makes_a_hilly_finish_and_decides_a_flat_course(tmp_path: Path) -> None:
    course = course_of((0, 50), (16500, 50), (17700, 92), (18700, 60), (21097.5, 62), folder=tmp_path)
    (finish,) = features_of(course, "hilly_finish")
    assert finish.end_m == pytest.approx(course.distance_m)
    assert finish.start_m == pytest.approx(0.75 * course.distance_m)
    (climb,) = features_of(course, "climb")
    assert climb.decisive


def test_nothing_decides_a_flat_course(tmp_path: Path) -> None:
    course = course_of((0, 50), (4000, 50), (4500, 66), (5200, 50), (15000, 50), folder=tmp_path)
    assert features_of(course, "climb")
    assert not [feature for feature in find_features(course, LIMITS) if feature.decisive]


def test_the_decisive_climb_weighs_gain_by_the_share_of_the_race_run(tmp_path: Path) -> None:
    """40 m at the start weigh 40 x (0.5 + 0.05) = 22; 30 m at 80 % weigh 30 x (0.5 + 0.8) = 39."""
    course = course_of(
        (0, 50), (500, 50), (1500, 90), (3000, 50), (8000, 50), (8800, 80), (10000, 50), folder=tmp_path
    )
    (decisive,) = (feature for feature in find_features(course, LIMITS) if feature.decisive)
    assert decisive.start_m == pytest.approx(8000, abs=60)
    ranked = ranked_climbs(course, find_features(course, LIMITS), LIMITS)
    assert [climb.name for climb in ranked] == ["climb 2", "climb 1"]


def test_features_come_in_race_order_with_names_of_their_own(tmp_path: Path) -> None:
    found = find_features(read(sine(), tmp_path), LIMITS)
    assert [feature.start_m for feature in found] == sorted(feature.start_m for feature in found)
    assert len({feature.name for feature in found}) == len(found)


def test_every_sentence_says_metres_or_feet_as_the_reader_wants(tmp_path: Path) -> None:
    for feature in find_features(read(sine(), tmp_path), LIMITS):
        for system in ("km", "mi"):
            words = say_in(feature.words, system)
            assert "{" not in words
            assert words.endswith(".")


def test_points_too_far_apart_give_no_list_of_climbs(tmp_path: Path) -> None:
    course = read(sine(400.0), tmp_path)
    assert course.sparse
    assert course.climb_uncertain
    assert [feature.kind for feature in find_features(course, LIMITS)] == ["rolling"]


@pytest.mark.parametrize(("system", "unit"), [("km", 1000.0), ("mi", MILE_M)])
def test_splits_cover_the_course_and_add_up(system: str, unit: float, tmp_path: Path) -> None:
    course = read(sine(), tmp_path)
    splits = make_splits(course, system, LIMITS)  # type: ignore[arg-type]
    assert splits[0].from_m == 0
    assert splits[-1].to_m == course.distance_m
    assert all(before.to_m == after.from_m for before, after in pairwise(splits))
    assert all(split.to_m - split.from_m == pytest.approx(unit) for split in splits[:-1])
    assert sum(split.net_m for split in splits) == pytest.approx(course.height_m[-1], abs=1e-9)
    assert all(split.ascent_m - split.descent_m == pytest.approx(split.net_m, abs=1e-9) for split in splits)


def test_the_splits_of_the_sine_say_what_its_ground_does(tmp_path: Path) -> None:
    words = [say_in(split.words, "km") for split in make_splits(read(sine(), tmp_path), "km", LIMITS)]
    assert words[0].startswith("Climbs 20 m, 3.1 %")
    assert words[1].startswith("Falls 20 m")
