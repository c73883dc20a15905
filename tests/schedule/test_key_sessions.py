"""Which key session stands in a week, and what stands in for one that does not fit.

The order of the kinds and what replaces what: common practice, no source.
"""

from __future__ import annotations

import datetime as dt
from functools import lru_cache
from itertools import pairwise
from pathlib import Path
from random import Random

import pytest

from planbuilder.block import read_block
from planbuilder.block.survey import survey
from planbuilder.pipeline import request_for, with_nights
from planbuilder.plan.types import Session
from planbuilder.rules import check
from planbuilder.schedule import Schedule, make_schedule, rule_context
from planbuilder.settings.models import WEEKDAYS
from tests.schedule.builders import LIMITS, RACE_DAY, Heights, request_of
from tests.schedule.random_blocks import sensible_block

NEEDS = (
    *("load.work_rise", "load.climb_rise", "load.single_run_cap"),
    *("session.worth_warming_up", "session.smallest_set"),
)
HOUSE = Path(__file__).parents[2]


@lru_cache
def _plan(folder: str, name: str) -> Schedule:
    """The plan of one runner of a block, after it was checked."""
    block = read_block(HOUSE / folder)
    ground = survey(block, block.runners)
    if len(block.runners) > 1:
        block, _ = with_nights(block, ground)
    runner = next(one for one in block.runners if one.settings.name == name)
    request = request_for(block, ground, runner)
    plan = make_schedule(request)
    assert not check(plan.weeks, rule_context(request))
    return plan


def _of(plan: Schedule, kind: str, *phases: str) -> list[Session]:
    return [one for week in plan.weeks if week.phase in phases for one in week.sessions if one.kind == kind]


def test_a_long_flat_before_the_climb_is_rehearsed_at_race_effort_beside_a_club_night() -> None:
    found = _of(_plan("demo_plans/late-climb-half", "Maren T"), "goal_repeats", "specific")
    assert found
    assert all(session.course_specific and "long flat" in session.why for session in found)


def test_long_runs_name_the_amount_to_eat_that_the_race_plan_names() -> None:
    """A half marathon in 1 h 44 min: 30 to 45 g an hour (common practice, no source)."""
    plan = _plan("demo_plans/late-climb-half", "Maren T")
    said = [one.fuelling for week in plan.weeks for one in week.sessions if "race day" in one.fuelling]
    assert len(said) >= 4
    assert all("30 to 45 g" in text for text in said)


def test_what_stands_in_for_a_session_says_what_was_considered_before_it() -> None:
    found = []
    for seed in range(60, 90):
        plan = make_schedule(request_of(**sensible_block(Random(seed))))
        found += [
            session.reasons
            for week in plan.weeks
            for session in week.sessions
            if any(reason.text.startswith("Considered before it: ") for reason in session.reasons)
        ]
    assert found
    for reasons in found:
        assert any(reason.rule in NEEDS for reason in reasons)
        assert not any("Its turn comes" in reason.text for reason in reasons)  # that was the other's


def test_a_novice_of_three_days_has_a_touch_of_race_effort_before_the_race() -> None:
    plan = _plan("demo_plans/rolling-10k", "Wim D")
    assert len(_of(plan, "race_touch", "taper")) == 1
    assert "wish.race_touch" not in {note.rule for note in plan.notes}


def test_no_long_run_is_copied_a_third_time_and_the_shorter_one_says_why() -> None:
    plan = _plan("tests/golden/plans/marathon_with_two_club_nights", "Fenna B")
    assert "wish.long_variety" not in {note.rule for note in plan.notes}
    longs = [one for week in plan.weeks for one in week.sessions if one.role == "long"]
    back = [one for one in longs if any(reason.rule == "load.long_alike" for reason in one.reasons)]
    assert back
    for one in back:
        before = longs[longs.index(one) - 1]
        assert 0.75 * before.duration_s < one.duration_s < before.duration_s


@pytest.mark.parametrize("seed", range(40))
def test_strides_and_small_sets_stand_where_a_coach_would_put_them(seed: int) -> None:
    plan = make_schedule(request_of(**sensible_block(Random(seed))))
    given_up = {note.rule for note in plan.notes if note.kind == "given_up"}
    assert not {"wish.fresh_strides", "wish.worth_warming_up"} & given_up


def test_race_effort_takes_the_long_flat_where_no_other_session_is_on_the_course() -> None:
    looked_at = 0
    for seed in range(1000, 1060):
        request = request_of(**sensible_block(Random(seed)))
        if not request.demands.has("long_flat"):
            continue
        for week in make_schedule(request).weeks:
            keys = [one for one in week.sessions if one.role in ("key", "club")]
            repeats = [one for one in keys if one.kind == "goal_repeats"]
            if week.phase == "specific" and not week.recovery and repeats:
                looked_at += 1
                assert any(one.course_specific or one.descent_work_s for one in keys), (seed, week.number)
    assert looked_at > 10


@pytest.mark.parametrize("seed", [1010, 1020, 1064, 1256])
def test_a_hilly_course_has_its_ground_in_every_loaded_week_of_the_specific_phase(seed: int) -> None:
    request = request_of(**sensible_block(Random(seed)))
    assert request.demands.course_class in ("hilly", "very hilly")
    plan = make_schedule(request)
    assert "wish.course_sessions" not in {note.rule for note in plan.notes}


FALLING: Heights = ((0, 0), (0.095, -40), (0.57, -220), (0.66, -210), (0.815, -305), (1, -305))


@pytest.mark.parametrize("minutes", [50, 57, 64, 70])
def test_slow_runners_rehearse_the_descents_of_a_falling_race_as_late_as_quick_ones(minutes: int) -> None:
    """Ten to 21 days before a half marathon, each at most five minutes more than the last: our choice."""
    result = {
        "distance": "10 km",
        "time": f"{minutes // 60}:{minutes % 60:02}:00",
        "date": dt.date(2027, 2, 10),
    }
    plan = make_schedule(
        request_of(shape=FALLING, results=[result], weekly_distance="42 km", longest_run="14 km")
    )
    descents = [one for week in plan.weeks for one in week.sessions if one.descent_work_s > 0]
    assert len(descents) >= 3
    assert 10 <= (RACE_DAY - descents[-1].date).days <= 21
    assert descents[-1].descent_work_s >= 180


def test_descents_grow_steeper_and_one_long_run_comes_down_where_the_race_does() -> None:
    """The gentle slope comes first, a late one in a long run too: common practice, no source."""
    plan = make_schedule(request_of(shape=FALLING, weekly_distance="45 km", longest_run="16 km"))
    sessions = [one for week in plan.weeks for one in week.sessions]
    slopes = [
        min(step.ground.grade or 0 for step in one.steps)
        for one in sessions
        if one.kind == "controlled_downhill"
    ]
    assert slopes[0] == max(slopes)
    assert min(slopes) < slopes[0]
    (long,) = (one for one in sessions if one.kind == "descent_long_run")
    assert not long.hard
    assert (RACE_DAY - long.date).days >= 10
    ((start_m, _),) = long.rehearses_m
    assert start_m == pytest.approx(0.66 * 21_097.5, abs=200)


ROLLS: Heights = tuple((place / 16, (15 if place == 13 else 9) * (place % 2)) for place in range(17))


def test_a_rolling_race_is_rehearsed_on_rolling_ground_beside_its_climb() -> None:
    """Rolling race effort and circuits; level rhythm every fortnight: common practice, no source."""
    plan = make_schedule(
        request_of(
            distance="10 km", weeks=16, shape=ROLLS, weekly_distance="60 km", longest_run="18 km",
            fast_minutes=45, level="club",
        )
    )  # fmt: skip
    assert not any(note.rule in ("wish.course_sessions", "wish.flat_rhythm") for note in plan.notes)
    rolling = [
        one
        for one in _of(plan, "goal_repeats", "specific")
        if any(step.kind == "work" and step.ground.kind == "rolling" for step in one.steps)
    ]
    assert rolling
    assert len(rolling) < len(_of(plan, "goal_repeats", "specific", "taper"))
    assert all(step.pace_s_per_km is None for one in rolling for step in one.steps if step.kind == "work")
    assert _of(plan, "hill_circuit", "build", "specific")
    assert all("the rolling ground" in one.why for one in rolling)


@pytest.mark.parametrize("days", [4, 5, 6])
def test_hard_hill_finishes_stand_twelve_days_apart(days: int) -> None:
    """Seven after one at RPE 5; the last one and the simulation may stand a week apart. Our choice."""
    shape = ((0, 0), (0.76, 6), (0.82, 78), (0.9, 50), (1, 60))
    plan = make_schedule(
        request_of(
            distance="marathon", weeks=16, shape=shape, weekly_distance="60 km", longest_run="20 km",
            level="club", days=WEEKDAYS[7 - days :], fast_minutes=40,
        )
    )  # fmt: skip
    late = [
        one
        for week in plan.weeks
        for one in week.sessions
        if one.kind in ("hill_finish_long_run", "race_simulation")
    ]
    assert len(late) >= 3
    for before, after in pairwise(late):
        gentle = not before.hard
        near = gentle or after.kind == "race_simulation"
        assert (after.date - before.date).days >= (7 if near else 12), (before.date, after.date)
    assert days < 5 or not any(note.rule == "wish.marathon_effort" for note in plan.notes)


@pytest.mark.parametrize("seed", [2031])
def test_a_tune_up_on_a_monday_leaves_a_rest_day_in_the_week_before(seed: int) -> None:
    request = request_of(**sensible_block(Random(seed)))
    monday = request.training.tune_ups[0].date
    assert monday.weekday() == 0
    weeks = make_schedule(request).weeks
    assert not check(weeks, rule_context(request))
    ran = {one.date for week in weeks for one in week.sessions if 0 < (monday - one.date).days < 7}
    assert len(ran) <= 5


# Rolling ground: 8 to 15 m of climb a km ask for a rolling long run every second week from build on (common
# practice, no source); the climbing of a week stays a limit.

SEVEN_HILLS: Heights = tuple((turn / 14, 0.0 if turn % 2 == 0 else 50.0) for turn in range(15))


@pytest.mark.parametrize(
    ("distance", "weeks", "share"), [("marathon", 16, 1.0), ("marathon", 14, 1.0), ("half marathon", 12, 0.5)]
)
def test_on_a_hilly_course_long_runs_roll_every_second_week_from_build_on(
    distance: str, weeks: int, share: float
) -> None:
    request = request_of(
        distance=distance,
        weeks=weeks,
        shape=tuple((at, rise * share) for at, rise in SEVEN_HILLS),
        weekly_distance="50 km",
        longest_run="20 km",
        days=["tuesday", "wednesday", "thursday", "saturday", "sunday"],
        results=[{"distance": "half marathon", "time": "1:41:00", "date": "2026-12-13"}],
        age=41,
    )
    assert request.demands.course_class == "hilly"
    plan = make_schedule(request)
    assert not check(plan.weeks, rule_context(request))
    ahead = [week for week in plan.weeks if week.phase in ("build", "specific") and not week.recovery]
    longs = [one for week in ahead for one in week.sessions if one.role == "long"]
    rolls = [any(step.ground.kind == "rolling" for step in one.steps) for one in longs]
    late = [one.kind in ("hill_finish_long_run", "race_simulation") for one in longs]
    assert sum(rolls) >= (len(longs) - sum(late)) // 2
    assert sum(rolls) >= 2
    assert not any(note.rule == "wish.rolling_ground" for note in plan.notes)


def test_rolling_ground_that_the_climbing_of_a_week_forbids_is_given_up_with_a_note() -> None:
    request = request_of(
        distance="marathon",
        weeks=14,
        shape=SEVEN_HILLS,
        weekly_distance="70 km",
        longest_run="25 km",
        weekly_climb="0 m",
        results=[{"distance": "half marathon", "time": "1:41:00", "date": "2026-12-13"}],
        limits=LIMITS.with_overrides({"load.climb_step": 5, "load.climb_rise": 1.0}),
        age=41,
    )
    plan = make_schedule(request)
    assert not _of(plan, "rolling_long_run", "build", "specific")
    note = next(note for note in plan.notes if note.rule == "wish.rolling_ground")
    assert note.kind == "given_up"
    assert "over rolling ground" in note.text
