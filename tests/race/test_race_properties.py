"""What must hold for every grade model, every course and every form."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from planbuilder.course import find_features
from planbuilder.course.types import Course, Feature
from planbuilder.demands.terrain import build_terrain
from planbuilder.physiology.gradient import GRADE_MODELS, GradeModel
from planbuilder.race import plan_race
from planbuilder.race.plan_a import effort_ceilings
from planbuilder.race.types import Strategy
from planbuilder.runner import predict
from planbuilder.settings.models import Conditions
from planbuilder.units import HALF_MARATHON_M, MARATHON_M
from tests.race.ground import (
    LIMITS,
    course_at,
    course_of,
    demands_of,
    feature,
    form_of,
    plan_of,
    race_of,
    runner_of,
)
from tests.runner.samples import course as equal_stretches
from tests.runner.samples import form, result, runner

Array = NDArray[np.float64]
MODELS = st.sampled_from(GRADE_MODELS)
STRATEGIES: st.SearchStrategy[Strategy] = st.sampled_from(["even effort", "hold back", "pace group"])
SPEEDS = st.floats(2.0, 5.5)
DISTANCES = st.sampled_from([5000.0, 10000.0, 16093.44, 21097.5, 42195.0])


@st.composite
def heights(draw: st.DrawFn, *, closed: bool = False) -> Array:
    """Smooth heights at 401 even steps of a course of 10 km: waves of up to 6 % and an even rise or fall."""
    at = np.linspace(0.0, 1.0, 401)
    height: Array = np.zeros_like(at)
    for _ in range(draw(st.integers(1, 3))):
        count = draw(st.integers(1, 12))
        size, shift = draw(st.floats(0.0, 60.0)) / count, draw(st.floats(0.0, 1.0))
        height += size * np.sin(2 * np.pi * (count * at + shift))
    height -= height[0]
    if not closed:
        height += at * draw(st.floats(-150.0, 150.0))
    return height


@st.composite
def courses(draw: st.DrawFn, *, closed: bool = False) -> tuple[Course, tuple[Feature, ...]]:
    """A course of any usual length with climbs named on it."""
    distance_m = draw(DISTANCES)
    course = course_at(draw(heights(closed=closed)) * distance_m / 10000.0, distance_m)
    starts = draw(st.lists(st.floats(0.0, 0.9), max_size=4, unique=True))
    features = [
        feature(course, "climb", share * distance_m, (share + 0.08) * distance_m, name=f"climb {i}")
        for i, share in enumerate(sorted(starts))
    ]
    return course, tuple(features)


def course_factor(course: Course, features: tuple[Feature, ...], model: GradeModel, speed: float) -> float:
    terrain = build_terrain(
        course=course, features=features, limits=LIMITS, model=model, level_speed_mps=speed
    )
    return terrain.course_factor


@given(ground=courses(closed=True), model=MODELS, speed=SPEEDS)
def test_no_closed_loop_is_faster_than_flat(
    ground: tuple[Course, tuple[Feature, ...]], model: GradeModel, speed: float
) -> None:
    assert course_factor(*ground, model, speed) >= 1 - 1e-9


@given(height=heights(), model=MODELS, speed=SPEEDS, more=st.floats(1.0, 2.0))
def test_the_same_course_with_every_hill_higher_is_never_faster(
    height: Array, model: GradeModel, speed: float, more: float
) -> None:
    if height[-1] < 0:
        height = -height  # net downhill, higher hills would also mean a longer fall to the line
    lower = course_factor(course_at(height, 10000.0), (), model, speed)
    higher = course_factor(course_at(height * more, 10000.0), (), model, speed)
    assert higher >= lower - 1e-9


@given(
    grade=st.floats(0.0, 0.05),
    place=st.floats(0.05, 0.7),
    gain_m=st.floats(1.0, 40.0),
    model=MODELS,
    speed=SPEEDS,
)
def test_a_hill_put_in_the_way_is_never_faster(
    grade: float, place: float, gain_m: float, model: GradeModel, speed: float
) -> None:
    at = np.linspace(0.0, 1.0, 401)
    hill = gain_m * np.clip(1 - np.abs(at - place - 0.1) / 0.1, 0.0, None)
    without = course_factor(course_at(at * grade * 10000, 10000.0), (), model, speed)
    with_hill = course_factor(course_at(at * grade * 10000 + hill, 10000.0), (), model, speed)
    assert with_hill >= without - 1e-9


@settings(max_examples=40)
@given(ground=courses(), model=MODELS, speed=SPEEDS, strategy=STRATEGIES)
def test_every_table_adds_up_to_the_finish_and_every_band_holds_its_target(
    ground: tuple[Course, tuple[Feature, ...]], model: GradeModel, speed: float, strategy: Strategy
) -> None:
    course, features = ground
    plan = plan_of(
        course,
        features=features,
        flat_s=course.distance_m / speed,
        runner=runner_of(strategy=strategy),
        model=model,
    )
    assert plan.finish_time_s is not None
    for table in (plan.features, plan.splits_km, plan.splits_mi, plan.splits_5k):
        clock_s, edge_m = 0.0, 0.0
        for row in table:
            assert row.from_m == pytest.approx(edge_m, abs=1e-6), "no gaps"
            assert row.time_s is not None
            assert row.time_s > 0
            assert row.clock_s == pytest.approx(clock_s + row.time_s, abs=1e-6)
            assert row.pace_s_per_km is not None
            assert row.pace_low_s_per_km is not None
            assert row.pace_high_s_per_km is not None
            assert row.pace_low_s_per_km <= row.pace_s_per_km <= row.pace_high_s_per_km
            assert row.pace_s_per_km == pytest.approx(row.time_s / (row.to_m - row.from_m) * 1000, abs=1e-6)
            clock_s, edge_m = clock_s + row.time_s, row.to_m
        assert edge_m == pytest.approx(course.distance_m, abs=1e-6)
        assert clock_s == pytest.approx(plan.finish_time_s, abs=0.1)


@settings(max_examples=40)
@given(ground=courses(), model=MODELS, speed=SPEEDS, share=st.floats(0.55, 1.2), strategy=STRATEGIES)
def test_no_goal_takes_the_effort_above_its_ceilings(
    ground: tuple[Course, tuple[Feature, ...]],
    model: GradeModel,
    speed: float,
    share: float,
    strategy: Strategy,
) -> None:
    course, features = ground
    goal_s = course.distance_m / speed * share
    form = form_of(speed)
    plan = plan_of(
        course,
        features=features,
        flat_s=course.distance_m / speed,
        form=form,
        runner=runner_of(strategy=strategy),
        model=model,
        goal_time_s=goal_s,
    )
    terrain = build_terrain(
        course=course, features=features, limits=LIMITS, model=model, level_speed_mps=speed
    )
    ceilings = effort_ceilings(terrain, form, LIMITS)
    least_s = float(np.sum(terrain.flat_m / ceilings))
    assert plan.finish_time_s == pytest.approx(max(goal_s, least_s), abs=0.1)
    capped = [note for note in plan.notes if note.rule == "race.effort_ceiling"]
    assert bool(capped) == (goal_s < least_s)
    clock = np.interp(
        course.at_m,
        [0.0, *(row.to_m for row in plan.splits_km)],
        [0.0, *(row.clock_s or 0.0 for row in plan.splits_km)],
    )
    least_clock = np.interp(
        [row.to_m for row in plan.splits_km],
        course.at_m,
        np.concatenate(([0.0], np.cumsum(terrain.flat_m / ceilings))),
    )
    assert clock[-1] == pytest.approx(plan.finish_time_s, abs=1e-6)
    assert np.all(np.array([row.clock_s for row in plan.splits_km]) >= least_clock - 1e-6)


@settings(max_examples=40)
@given(ground=courses(), model=MODELS, speed=SPEEDS, faster=st.floats(0.005, 0.2))
def test_a_runner_in_better_form_gets_a_faster_plan(
    ground: tuple[Course, tuple[Feature, ...]], model: GradeModel, speed: float, faster: float
) -> None:
    course, features = ground
    slow_s = course.distance_m / speed
    slow = plan_of(course, features=features, flat_s=slow_s, model=model)
    fast = plan_of(course, features=features, flat_s=slow_s * (1 - faster), model=model)
    assert slow.finish_time_s is not None
    assert fast.finish_time_s is not None
    assert fast.finish_time_s < slow.finish_time_s


@settings(max_examples=30)
@given(ground=courses(), speed=SPEEDS)
def test_a_runner_in_miles_and_one_in_kilometres_get_the_same_plan(
    ground: tuple[Course, tuple[Feature, ...]], speed: float
) -> None:
    course, features = ground
    flat_s = course.distance_m / speed
    one = plan_of(course, features=features, flat_s=flat_s, runner=runner_of(units="km"))
    other = plan_of(course, features=features, flat_s=flat_s, runner=runner_of(units="mi"))
    assert one == other


@settings(max_examples=40)
@given(ground=courses(), speed=SPEEDS)
def test_effort_never_falls_by_more_than_one_except_downhill(
    ground: tuple[Course, tuple[Feature, ...]], speed: float
) -> None:
    course, features = ground
    plan = plan_of(course, features=features, flat_s=course.distance_m / speed)
    for table in (plan.features, plan.splits_km, plan.splits_mi, plan.splits_5k):
        for before, after in pairwise(table):
            if after.grade >= -0.015:
                assert after.effort_rpe[0] >= before.effort_rpe[0] - 1
                assert after.effort_rpe[1] >= before.effort_rpe[1] - 1


def test_the_first_mile_is_never_planned_quicker_than_three_per_cent_below_flat_equivalent_pace() -> None:
    course = course_of([(1609.344, -0.06), (8390.656, 0.01)])
    plan = plan_of(course, flat_s=2400.0, form=form_of(4.2), model="energy cost")
    flat_pace = (plan.finish_time_s or 0.0) / plan.course_factor / 10.0
    assert plan.splits_mi[0].pace_s_per_km == pytest.approx(0.97 * flat_pace, rel=1e-3)
    assert (plan.splits_mi[0].pace_low_s_per_km or 0.0) >= 0.97 * flat_pace * (1 - 1e-3)


@pytest.mark.parametrize(
    ("distance", "distance_m"),
    [("5 km", 5000.0), ("10 km", 10_000.0), ("half marathon", HALF_MARATHON_M), ("marathon", MARATHON_M)],
)
@given(
    grades=st.lists(st.sampled_from([-0.04, -0.02, 0.0, 0.02, 0.04]), min_size=3, max_size=12),
    tempo=st.integers(210, 420),
    air=st.sampled_from(["4 C", "16 C", "20 C"]),
)
@settings(max_examples=15)
def test_a_result_comes_back_as_the_time_of_the_same_course_on_the_same_day(
    distance: str, distance_m: float, grades: list[float], tempo: int, air: str
) -> None:
    """What a course and a day took from a result, a race plan over it on such a day charges again."""
    run_s = round(tempo * distance_m / 1000)
    around = equal_stretches([*grades, *(-grade for grade in grades)], distance_m=distance_m)
    clock = f"{run_s // 3600}:{run_s % 3600 // 60:02d}:{run_s % 60:02d}"
    who = runner(results=[result(distance, clock, course="c.csv", temperature=air, humidity="60%")])
    found = form(who, courses={"c.csv": around}, race_distance_m=distance_m)
    if found.anchor is None:  # the course took more than can be compared
        return
    features = find_features(around, LIMITS)
    plan = plan_race(
        race=race_of(distance_m),
        runner=who,
        course=around,
        features=features,
        demands=demands_of(around, features),
        remarks=(),
        form=found,
        prediction=predict(found, distance_m=distance_m, weekly_distance_m=50_000, limits=LIMITS),
        block_weeks=12,
        limits=LIMITS,
        conditions=Conditions.model_validate({"temperature": air, "humidity": "60%"}),
    )
    assert plan.goal.predicted_time_s == pytest.approx(run_s, abs=1.0)
    assert plan.finish_time_s == pytest.approx(run_s, abs=1.0)
