"""Sentences of the ground read as a coach would say them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from planbuilder.course import find_features
from planbuilder.course.types import Split
from planbuilder.course.words import feature_words, split_words
from planbuilder.units import say_in
from tests.course.hand_made import LIMITS, broken, read


def test_ground_that_goes_one_way_is_said_to_fall_gently_and_not_to_roll(tmp_path: Path) -> None:
    course = read(broken((0, 80), (3000, 80), (5000, 68), (10_000, 68)), tmp_path)
    said = {one.name: say_in(one.words, "km") for one in find_features(course, LIMITS)}
    assert said["gentle fall"].startswith("Falls 10 m gently in ")
    assert not any(name.startswith("rolling") for name in said)


def test_a_slope_of_one_grade_is_said_once(tmp_path: Path) -> None:
    course = read(broken((0, 50), (4000, 50.5), (5000, 90.5), (8000, 91)), tmp_path)
    climb = next(one for one in find_features(course, LIMITS) if one.kind == "climb")
    even = replace(climb, grade=0.04, steepest_grade=0.04)
    assert say_in(feature_words(even, course), "km").endswith(" in 1.0 km, 4 % all the way.")
    steeper = replace(climb, grade=0.03, steepest_grade=0.05)
    assert say_in(feature_words(steeper, course), "km").endswith(", 3 % on average, 5 % at most.")


def _split(*, net_m: float, ascent_m: float, descent_m: float) -> Split:
    return Split(14, 13_000.0, 14_000.0, net_m, ascent_m, descent_m, net_m / 1000, 0.012, "")


def test_a_kilometre_that_goes_one_way_says_the_height_that_stands_beside_it() -> None:
    # small rises and falls are not counted as climbed, so the two sums may differ from the net
    assert say_in(split_words(_split(net_m=-7.2, ascent_m=0.4, descent_m=6.1)), "km") == "Falls 7 m."
    assert say_in(split_words(_split(net_m=9.3, ascent_m=10.4, descent_m=1.1)), "km") == "Rises 9 m."
    both = say_in(split_words(_split(net_m=0.5, ascent_m=3.0, descent_m=1.5)), "km")
    assert both.startswith("Up 3 m and down ")
