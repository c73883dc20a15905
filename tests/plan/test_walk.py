"""Walking through a session: order of the rounds, and the sums."""

from __future__ import annotations

import datetime as dt
import itertools
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planbuilder.plan.types import Ground, Session, Step
from planbuilder.plan.walk import effort_factor, grade_factor, measure, timeline

EASY_S_PER_KM = 360.0


def make_step(**changes: Any) -> Step:
    settings: dict[str, Any] = {
        "kind": "work",
        "repeat": 1,
        "duration_s": 60.0,
        "distance_m": None,
        "effort_rpe": (6.0, 7.0),
        "pace_s_per_km": None,
        "ground": Ground("flat", 0.0),
        "words": "a step",
    }
    return Step(**{**settings, **changes})


def make_session(*steps: Step, distance_m: float) -> Session:
    found = measure(steps)
    return Session(
        id="w01-key",
        role="key",
        date=dt.date(2027, 3, 2),
        start_time=None,
        place="",
        kind="intervals",
        title="Intervals",
        steps=steps,
        distance_m=distance_m,
        duration_s=found.duration_s,
        hard=found.hard,
        work_s=found.work_s,
        hard_s=found.hard_s,
        climb_m=found.climb_m,
        descent_work_s=found.descent_work_s,
        course_specific=False,
        rehearses_m=(),
        why="A session for the tests.",
        reasons=(),
    )


SIX_AND_FIVE = (
    make_step(kind="warm_up", duration_s=600.0, effort_rpe=(2.0, 3.0)),
    make_step(repeat=6, duration_s=180.0, set_no=1),
    make_step(kind="recovery", repeat=5, duration_s=90.0, effort_rpe=(1.0, 2.0), set_no=1),
    make_step(kind="cool_down", duration_s=300.0, effort_rpe=(1.0, 2.0)),
)


def test_six_repeats_and_five_recoveries_alternate_and_end_on_work() -> None:
    legs = timeline(SIX_AND_FIVE)
    assert [leg.kind for leg in legs] == [
        "warm_up",
        *["work", "recovery"] * 5,
        "work",
        "cool_down",
    ]
    assert [leg.round_no for leg in legs if leg.kind == "work"] == [0, 1, 2, 3, 4, 5]


def test_times_and_places_follow_one_another_without_gaps() -> None:
    legs = timeline(SIX_AND_FIVE)
    assert legs[0].start_s == 0
    assert legs[0].start_m == 0
    for before, after in itertools.pairwise(legs):
        assert after.start_s == pytest.approx(before.start_s + before.duration_s, abs=1e-6)
        assert after.start_m == pytest.approx(before.start_m + before.distance_m, abs=1e-6)


def test_steps_outside_a_set_repeat_one_after_the_other() -> None:
    steps = (make_step(repeat=3, words="a"), make_step(repeat=2, words="b"))
    assert [leg.words for leg in timeline(steps)] == ["a", "a", "a", "b", "b"]


def test_two_sets_side_by_side_stay_apart() -> None:
    steps = (
        make_step(repeat=2, words="a", set_no=1),
        make_step(repeat=2, words="b", set_no=1),
        make_step(repeat=2, words="c", set_no=2),
        make_step(repeat=1, words="d", set_no=2),
    )
    assert [leg.words for leg in timeline(steps)] == ["a", "b", "a", "b", "c", "d", "c"]


def test_a_paced_step_is_as_long_as_its_pace_says() -> None:
    """By hand: 10 min at 5:00 to 5:20 a kilometre is 600 s / 310 s per km."""
    (leg,) = timeline((make_step(duration_s=600.0, pace_s_per_km=(300.0, 320.0)),))
    assert leg.distance_m == pytest.approx(600 / 310 * 1000, abs=0.01)


def test_a_step_given_in_metres_lasts_as_long_as_its_pace_says() -> None:
    (leg,) = timeline((make_step(duration_s=None, distance_m=3000.0, pace_s_per_km=(240.0, 240.0)),))
    assert leg.duration_s == pytest.approx(720.0, abs=0.01)
    assert leg.distance_m == 3000.0


def test_work_begins_at_five_and_hard_at_six() -> None:
    steps = tuple(make_step(effort_rpe=(rpe, rpe)) for rpe in (4.0, 5.0, 5.5, 6.0, 9.0))
    found = measure(steps)
    assert found.work_s == 240.0
    assert found.hard_s == 120.0


def test_six_hard_minutes_make_a_session_hard() -> None:
    assert not measure((make_step(duration_s=359.0),)).hard
    assert measure((make_step(duration_s=360.0),)).hard


def test_three_minutes_of_descent_at_race_effort_make_a_session_hard() -> None:
    down = Ground("down", -0.03)
    assert not measure((make_step(duration_s=179.0, ground=down, effort_rpe=(5.0, 5.0)),)).hard
    assert measure((make_step(duration_s=180.0, ground=down, effort_rpe=(5.0, 5.0)),)).hard
    jog = measure((make_step(duration_s=600.0, ground=down, effort_rpe=(1.0, 2.0)),))
    assert jog.descent_work_s == 0


def test_climbing_counts_the_way_up_only() -> None:
    """By hand: 4 min at 4:00 a kilometre is 1000 m; 5 % of it is 50 m."""
    up = make_step(duration_s=240.0, pace_s_per_km=(240.0, 240.0), ground=Ground("up", 0.05))
    down = make_step(duration_s=240.0, pace_s_per_km=(240.0, 240.0), ground=Ground("down", -0.05))
    assert measure((up, down)).climb_m == pytest.approx(50.0, abs=0.01)


def test_strength_and_cross_training_are_no_running() -> None:
    steps = (
        make_step(kind="strength", duration_s=1800.0, effort_rpe=(6.0, 8.0)),
        make_step(kind="cross_training", duration_s=1800.0, effort_rpe=(6.0, 7.0)),
    )
    found = measure(steps)
    assert (found.distance_m, found.work_s, found.duration_s) == (0.0, 0.0, 3600.0)
    assert not found.hard


def test_a_session_is_walked_to_the_distance_it_was_given() -> None:
    session = make_session(*SIX_AND_FIVE, distance_m=9876.0)
    legs = timeline(session)
    assert legs[-1].start_m + legs[-1].distance_m == pytest.approx(9876.0, abs=0.01)
    assert measure(session).distance_m == pytest.approx(9876.0, abs=0.01)


def test_a_session_without_running_is_walked_in_time_alone() -> None:
    step = make_step(kind="strength", duration_s=1200.0)
    (leg,) = timeline(make_session(step, distance_m=0.0))
    assert leg.distance_m == 0.0
    assert leg.duration_s == 1200.0


def test_slopes_cost_and_give_back_as_coaches_reckon() -> None:
    """3.3 % a percent up, 1.8 % a percent down (Davies 1980); a steep descent gives back no more than a
    moderate one (common practice, no source)."""
    assert grade_factor(0.0) == 1.0
    assert grade_factor(0.03) == pytest.approx(1.099, abs=1e-9)
    assert grade_factor(-0.03) == pytest.approx(0.946, abs=1e-9)
    assert 1 > grade_factor(-0.12) >= grade_factor(-0.05)


def test_more_effort_is_never_slower() -> None:
    factors = [effort_factor(tenths / 10) for tenths in range(0, 101)]
    assert all(after <= before for before, after in itertools.pairwise(factors))
    assert effort_factor(3.0) == 1.0


def test_an_empty_session_adds_up_to_nothing() -> None:
    assert timeline(()) == ()
    assert measure(()).duration_s == 0


STEPS = st.lists(
    st.builds(
        make_step,
        kind=st.sampled_from(["warm_up", "work", "recovery", "easy", "strides", "strength"]),
        repeat=st.integers(1, 8),
        duration_s=st.floats(5, 3600),
        effort_rpe=st.tuples(st.floats(0, 10), st.floats(0, 10)).map(lambda pair: tuple(sorted(pair))),
        pace_s_per_km=st.none() | st.just((250.0, 270.0)),
        ground=st.floats(-0.15, 0.15).map(lambda grade: Ground("up" if grade > 0 else "down", grade)),
        set_no=st.integers(0, 2),
    ),
    max_size=7,
)


@given(STEPS)
def test_the_sums_are_those_of_the_timeline(steps: list[Step]) -> None:
    legs = timeline(steps, easy_s_per_km=EASY_S_PER_KM)
    found = measure(steps, easy_s_per_km=EASY_S_PER_KM)
    assert len(legs) == sum(step.repeat for step in steps)
    assert found.duration_s == pytest.approx(sum(leg.duration_s for leg in legs), rel=1e-9, abs=1e-6)
    assert found.distance_m == pytest.approx(sum(leg.distance_m for leg in legs), rel=1e-9, abs=1e-6)
    assert found.climb_m == pytest.approx(sum(leg.climb_m for leg in legs), rel=1e-9, abs=1e-6)
    assert found.work_s == pytest.approx(
        sum(leg.duration_s for leg in legs if leg.is_work), rel=1e-9, abs=1e-6
    )
    assert found.hard_s == pytest.approx(
        sum(leg.duration_s for leg in legs if leg.is_hard), rel=1e-9, abs=1e-6
    )
    assert found.descent_work_s == pytest.approx(
        sum(leg.duration_s for leg in legs if leg.is_descent_work), rel=1e-9, abs=1e-6
    )
