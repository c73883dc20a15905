"""Eating and drinking: published ranges, places on the course, thirst."""

from __future__ import annotations

import re
from itertools import pairwise

import pytest

from planbuilder.course import find_features
from planbuilder.course.types import Remark
from planbuilder.race.fuelling import care_words, fuel_range, fuelling_words, intake_times_s
from planbuilder.units import HALF_MARATHON_M, MARATHON_M
from tests.race.ground import LIMITS, course_of, late_climb_half, plan_of

PORTION_G = 22.0


# Jeukendrup 2014: up to about an hour nothing; 1 to 2 h up to 30 g/h; 2 to 3 h up to 60; longer up to 90 when
# practised. 30 to 60 g/h for 1 to 2.5 h (from memory).


@pytest.mark.parametrize(
    ("minutes", "low", "high"), [(40, 0, 0), (75, 0, 30), (105, 30, 60), (150, 30, 60), (240, 30, 90)]
)
def test_carbohydrate_an_hour_lies_within_the_published_range(minutes: int, low: float, high: float) -> None:
    ours = fuel_range(minutes * 60.0, LIMITS)
    assert low <= ours[0] <= ours[1] <= high


@pytest.mark.parametrize("minutes", [91, 105, 120, 150, 180, 240, 330])
def test_what_is_planned_adds_up_to_the_range_that_is_printed(minutes: int) -> None:
    times = intake_times_s(minutes * 60.0, None, LIMITS)
    low, high = fuel_range(minutes * 60.0, LIMITS)
    an_hour = len(times) * PORTION_G / (minutes / 60)
    assert low - 5 <= an_hour <= high + 5
    assert times[0][0] >= 25 * 60
    assert times[-1][0] <= minutes * 60 - 20 * 60


@pytest.mark.parametrize("minutes", [30, 75, 110, 200, 300])
def test_drinking_is_to_thirst_and_never_an_amount(minutes: int) -> None:
    words = fuelling_words(minutes * 60.0, LIMITS)
    assert "to thirst" in words.lower()
    assert not re.search(r"\d\s*(ml|l\b|litre|liter|oz|kcal|kg)", words)


def test_one_intake_comes_well_before_the_decisive_climb_and_none_on_it() -> None:
    course, features = late_climb_half()
    stations = tuple(Remark(at_m, "water", True) for at_m in (5000.0, 10000.0, 14500.0, 16600.0))
    plan = plan_of(course, features=features, remarks=stations, flat_s=6000.0)
    foot_s = plan.features[3].clock_s
    assert foot_s is not None
    before = [intake for intake in plan.intakes if "before the climb" in intake.words]
    assert len(before) == 1
    assert before[0].clock_s is not None
    assert 5 * 60 <= foot_s - before[0].clock_s <= 15 * 60
    climb = plan.features[4]
    assert not any(climb.from_m - 500 < intake.at_m < climb.to_m for intake in plan.intakes)


def test_intakes_move_to_stations_that_are_near_and_come_in_race_order() -> None:
    stations = tuple(Remark(5000.0 * i, "water", True) for i in range(1, 9))
    plan = plan_of(course_of([(MARATHON_M, 0.0)]), remarks=stations, flat_s=12600.0)
    places = [intake.at_m for intake in plan.intakes]
    assert places == sorted(places)
    assert len(set(places)) == len(places)
    at_stations = [intake for intake in plan.intakes if intake.at_m % 5000 == 0]
    assert len(at_stations) >= 4
    assert all("at the station (water)" in intake.words for intake in at_stations)


@pytest.mark.parametrize("flat_s", range(9000, 21000, 500))
@pytest.mark.parametrize("climb", [(0.55, 0.58), (0.70, 0.76), (0.72, 0.80), (0.86, 0.93)])
def test_no_two_intakes_come_close_together_around_the_decisive_climb(
    flat_s: int, climb: tuple[float, float]
) -> None:
    """At a rate an hour, half the usual distance between two is too near; the sum of the race stays in or
    beside the published range, up to 90 g an hour, and not below 30 (Jeukendrup 2014)."""
    foot, top = climb
    shares = [(foot, 0.0), (top - foot, 0.035), (1 - top, 0.0)]
    course = course_of([(MARATHON_M * share, grade) for share, grade in shares])
    features = find_features(course, LIMITS)
    stations = tuple(Remark(2500.0 * i, "water", True) for i in range(1, 17))
    for remarks in ((), stations):
        plan = plan_of(course, features=features, remarks=remarks, flat_s=float(flat_s))
        clocks = [intake.clock_s or 0.0 for intake in plan.intakes]
        assert all(later - now >= 15 * 60 - 1 for now, later in pairwise(clocks)), clocks
        assert max((later - now for now, later in pairwise(clocks)), default=0) <= 45 * 60
        assert 30 <= len(clocks) * PORTION_G / ((plan.finish_time_s or 0.0) / 3600) <= 90


def test_a_short_race_needs_nothing_on_the_way() -> None:
    plan = plan_of(course_of([(10000.0, 0.0)]), flat_s=2500.0)
    assert plan.intakes == ()
    assert "needs nothing on the way" in plan.fuelling


def test_the_clock_of_an_intake_is_the_clock_of_its_place() -> None:
    plan = plan_of(course_of([(HALF_MARATHON_M, 0.0)]), flat_s=6000.0)
    for intake in plan.intakes:
        assert intake.clock_s == pytest.approx(intake.at_m / HALF_MARATHON_M * 6000.0, abs=0.5)


# Caffeine and painkillers: common practice, and the risk of the second published (Wilderness Environ Med
# 2009;20:139-143). Never a dose.


def test_caffeine_only_as_rehearsed_and_never_for_the_young() -> None:
    grown = care_words(distance_m=MARATHON_M, age=40, limits=LIMITS)
    assert "in at least 3 long runs" in grown
    assert "never under 18" in grown
    assert "in at least 2 long runs" in care_words(distance_m=HALF_MARATHON_M, age=None, limits=LIMITS)
    young = care_words(distance_m=10000.0, age=17, limits=LIMITS)
    assert young.startswith("Under 18 no caffeine for a race.")
    assert not re.search(r"\d\s*(mg|g/kg|g\b|cups?)", grown + young)


def test_no_anti_inflammatory_painkiller_before_or_during_the_race() -> None:
    plan = plan_of(course_of([(10000.0, 0.0)]), flat_s=2500.0)
    assert "No anti-inflammatory painkillers, such as ibuprofen, in the 24 hours before" in plan.fuelling
    assert "a reason not to start" in plan.fuelling


def test_a_coach_can_set_the_numbers_of_both() -> None:
    changed = {"race.caffeine_age": 21, "race.painkiller_free": 48, "race.fuel_rehearsed": [4, 4, 4, 4]}
    words = care_words(distance_m=10000.0, age=None, limits=LIMITS.with_overrides(changed))
    assert "in at least 4 long runs" in words
    assert "never under 21" in words
    assert "in the 48 hours before" in words


def test_the_steps_of_the_carbohydrate_ranges_can_be_set() -> None:
    limits = LIMITS.with_overrides({"race.fuel_from_durations": [4000, 12000]})
    assert fuel_range(4500.0, limits) == (30.0, 45.0)
    assert fuel_range(11000.0, limits) == (30.0, 45.0)


@pytest.mark.parametrize("flat_s", range(5000, 12000, 250))
def test_nothing_is_eaten_on_the_decisive_climb_however_fast_the_runner(flat_s: int) -> None:
    course, features = late_climb_half()
    stations = tuple(Remark(at_m, "water", True) for at_m in (5000.0, 10000.0, 17000.0))
    for remarks in ((), stations):
        plan = plan_of(course, features=features, remarks=remarks, flat_s=float(flat_s))
        climb = next(row for row in plan.features if row.name == "climb 2")
        places = [intake.at_m for intake in plan.intakes]
        assert not any(climb.from_m <= at_m < climb.to_m - 1 for at_m in places)
        assert places == sorted(places)
