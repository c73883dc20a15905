"""Distances, certified courses and watches, and the one use of heart rate by age."""

from __future__ import annotations

import pytest

from planbuilder.physiology.heart_rate import usual_maximum_bpm
from planbuilder.physiology.road import (
    laid_out_length_m,
    watch_overshoot,
    within_drop_limit,
    within_separation_limit,
)
from planbuilder.units import HALF_MARATHON_M, MARATHON_M, MILE_M, YARD_M, parse_distance


def test_road_distances_are_exact() -> None:
    """World Athletics; 26 miles 385 yards come to 42,194.988 m."""
    assert MARATHON_M == 42_195.0
    assert HALF_MARATHON_M == 21_097.5
    assert parse_distance("10 mi") == pytest.approx(16_093.44, abs=1e-9)
    imperial_m = 26 * MILE_M + 385 * YARD_M
    assert imperial_m == pytest.approx(42_194.988, abs=1e-3)


@pytest.mark.parametrize(
    ("distance_m", "laid_out_m"), [(42_195.0, 42_237.195), (10_000.0, 10_010.0), (21_097.5, 21_118.6)]
)
def test_certified_courses_are_laid_out_a_thousandth_long(distance_m: float, laid_out_m: float) -> None:
    """National course-measurement sites: the short-course prevention factor of 1.001."""
    assert laid_out_length_m(distance_m) == pytest.approx(laid_out_m, abs=0.01)


def test_a_record_course_falls_one_metre_a_kilometre_at_most() -> None:
    """World Athletics and AIMS: 42.195 m on a marathon."""
    assert within_drop_limit(distance_m=MARATHON_M, drop_m=42.19)
    assert not within_drop_limit(distance_m=MARATHON_M, drop_m=42.20)
    assert within_drop_limit(distance_m=MARATHON_M, drop_m=-100.0)


def test_start_and_finish_of_a_record_course_lie_within_half_the_distance() -> None:
    assert within_separation_limit(distance_m=10_000.0, separation_m=5000.0)
    assert not within_separation_limit(distance_m=10_000.0, separation_m=5100.0)


def test_a_watch_reads_long_on_a_certified_course() -> None:
    """42.67 km on a certified marathon is 1.1 % over, inside the 0.6 to 1.9 % of Johansson et al. 2020."""
    assert watch_overshoot(recorded_m=42_670.0, certified_m=MARATHON_M) == pytest.approx(0.0113, abs=1e-4)
    with pytest.raises(ValueError, match=r"certified distance must be 1 to .* not 0"):
        watch_overshoot(recorded_m=100.0, certified_m=0.0)


@pytest.mark.parametrize(("age", "bpm"), [(20, 194), (30, 187), (40, 180), (50, 173), (60, 166), (70, 159)])
def test_usual_maximal_heart_rate_by_age(age: int, bpm: int) -> None:
    """Tanaka et al. 2001, equation in the abstract."""
    assert usual_maximum_bpm(age) == pytest.approx(bpm, abs=1e-9)


@pytest.mark.parametrize("age", [17, 82])
def test_usual_maximal_heart_rate_is_for_the_ages_studied(age: int) -> None:
    with pytest.raises(ValueError, match=f"age must be 18 to 81 .* not {age}"):
        usual_maximum_bpm(age)
