"""Realism of the goal: the bands coaches use, said kindly."""

from __future__ import annotations

import pytest

from planbuilder.race.goal import Factors, check_goal, race_name, volume_notes
from planbuilder.race.types import GoalCheck
from planbuilder.settings.models import RunnerSettings
from planbuilder.units import HALF_MARATHON_M, MARATHON_M
from tests.race.ground import LIMITS, form_of, prediction_of, runner_of

PAR_S = 6000.0


def goal_check(goal_time_s: float | None, *, weeks: int = 12, course: float = 1.0) -> GoalCheck:
    return check_goal(
        goal_time_s=goal_time_s,
        form=form_of(3.6),
        prediction=prediction_of(HALF_MARATHON_M, PAR_S),
        factors=Factors(course, course, 1.0),
        runner=runner_of(),
        block_weeks=weeks,
        limits=LIMITS,
    )


# The bands: common practice, the numbers are our choice within it.


@pytest.mark.parametrize(
    ("gap", "long_block", "short_block"),
    [
        (-0.02, "within form", "within form"),
        (0.0, "within form", "within form"),
        (0.01, "realistic", "ambitious"),
        (0.03, "ambitious", "stretch"),
        (0.05, "stretch", "not this block"),
        (0.08, "not this block", "not this block"),
    ],
)
def test_the_gap_between_goal_and_form_decides_what_the_coach_says(
    gap: float, long_block: str, short_block: str
) -> None:
    goal_s = PAR_S * (1 - gap)
    assert goal_check(goal_s, weeks=10).verdict == long_block
    assert goal_check(goal_s, weeks=9).verdict == short_block


def test_the_gap_is_measured_on_this_course() -> None:
    check = goal_check(PAR_S, course=1.04)
    assert check.predicted_time_s == pytest.approx(6240.0, abs=0.01)
    assert check.gap == pytest.approx(1 - 6000 / 6240, abs=1e-9)
    assert check.predicted_low_s == pytest.approx(6240 * 0.99, abs=0.01)


def test_a_goal_out_of_reach_names_the_next_checkpoint_and_a_goal_for_now() -> None:
    # 52:00 for 10 km at 1:56 on the course; 1:45 asks for about 47:00 (worked example of the trade).
    form = form_of(10000 / 3120.0)
    check = check_goal(
        goal_time_s=6300.0,
        form=form,
        prediction=prediction_of(HALF_MARATHON_M, 6884.0),
        factors=Factors(1.011, 1.011, 1.0),
        runner=runner_of(),
        block_weeks=12,
        limits=LIMITS,
    )
    assert check.sentence == (
        "Your results point to about 1:56:00 on this course. 1:45:00 here would first ask for a flat 10 "
        "km of "
        "about 47:05. How about 1:53:30 for this race, and 1:45:00 kept for a later one?"
    )


@pytest.mark.parametrize("gap", [None, -0.05, 0.01, 0.03, 0.05, 0.2])
def test_no_sentence_says_impossible_or_scolds(gap: float | None) -> None:
    sentence = goal_check(None if gap is None else PAR_S * (1 - gap)).sentence
    for word in ("impossible", "unrealistic", "never", "should have", "too slow"):
        assert word not in sentence
    assert "test" in sentence or "tune-up" in sentence or "10 km" in sentence


def test_goal_sessions_use_the_goal_up_to_three_per_cent() -> None:
    assert goal_check(PAR_S * 0.971).goal_for_sessions
    assert not goal_check(PAR_S * 0.969).goal_for_sessions


def test_race_effort_for_training_is_flat_equivalent() -> None:
    check = goal_check(None, course=1.05)
    assert check.race_flat_s_per_km == pytest.approx(PAR_S / HALF_MARATHON_M * 1000, abs=1e-6)


def test_grade_models_that_disagree_by_more_than_two_points_widen_the_range() -> None:
    check = check_goal(
        goal_time_s=None,
        form=form_of(3.6),
        prediction=prediction_of(HALF_MARATHON_M, PAR_S),
        factors=Factors(1.03, 1.06, 1.0),
        runner=runner_of(),
        block_weeks=12,
        limits=LIMITS,
    )
    assert check.predicted_high_s == pytest.approx(PAR_S * 1.01 * 1.06, abs=0.01)
    assert check.predicted_low_s == pytest.approx(PAR_S * 0.99 * 1.03, abs=0.01)


def test_few_kilometres_a_week_are_named_as_an_association() -> None:
    low = runner_of(weekly_distance="25 km")

    def rules(distance_m: float, runner: RunnerSettings) -> list[str]:
        return [note.rule for note in volume_notes(distance_m=distance_m, runner=runner, limits=LIMITS)]

    assert rules(MARATHON_M, low) == ["race.marathon_week"]
    assert rules(HALF_MARATHON_M, low) == ["race.long_runs_half"]
    assert rules(10000.0, low) == []
    assert rules(MARATHON_M, runner_of()) == []


def test_races_are_called_what_runners_call_them() -> None:
    assert [race_name(d) for d in (5000.0, 10000.0, HALF_MARATHON_M, MARATHON_M)] == [
        "5 km",
        "10 km",
        "half marathon",
        "marathon",
    ]
