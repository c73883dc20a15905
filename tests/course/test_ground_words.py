"""Sentences of the ground read as a coach would say them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from planbuilder.course import find_features
from planbuilder.course.words import feature_words
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
