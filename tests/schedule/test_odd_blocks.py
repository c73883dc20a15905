"""Blocks of unusual kind, read line by line as the runner who must do them tomorrow: each line makes sense.

Numbers without a source beside them are common practice.
"""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from planbuilder.plan.types import Session, Week
from planbuilder.schedule import Schedule, make_schedule
from tests.schedule.builders import FLAT, RACE_DAY, Heights, request_of

HALF: dict[str, Any] = {
    "weekly_distance": "42 km",
    "longest_run": "16 km",
    "fast_minutes": 25,
    "days": ("tuesday", "wednesday", "thursday", "saturday", "sunday"),
    "results": [{"distance": "10 km", "time": "46:20", "date": dt.date(2027, 1, 24)}],
    "age": 41,
}
ADVANCED: dict[str, Any] = {
    "distance": "marathon",
    "weeks": 16,
    "weekly_distance": "100 km",
    "longest_run": "27 km",
    "fast_minutes": 60,
    "days": ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"),
    "two_a_day": True,
    "running_months": 120,
    "age": 33,
    "results": [{"distance": "half marathon", "time": "1:17:30", "date": dt.date(2026, 12, 20)}],
}
LONG_BLOCK: dict[str, Any] = {
    **HALF,
    "distance": "marathon",
    "weeks": 24,
    "weekly_distance": "48 km",
    "longest_run": "18 km",
    "results": [{"distance": "half marathon", "time": "1:41:00", "date": dt.date(2026, 11, 15)}],
}
THREE_DAYS: dict[str, Any] = {
    **LONG_BLOCK,
    "weeks": 16,
    "weekly_distance": "42 km",
    "longest_run": "19 km",
    "days": ("tuesday", "thursday", "sunday"),
}
HILLY: Heights = tuple((number / 18, 48.0 * (number % 2)) for number in range(19))


def _plan(block: dict[str, Any], **changes: Any) -> Schedule:
    return make_schedule(request_of(**{**block, **changes}))


def _all(plan: Schedule) -> list[Session]:
    return [session for week in plan.weeks for session in week.sessions]


def _main_min(session: Session) -> float:
    return sum(step.repeat * (step.duration_s or 0.0) for step in session.steps if step.kind == "work") / 60


def _week_of(plan: Schedule, date: dt.date) -> Week:
    return next(week for week in plan.weeks if week.first_day <= date <= week.last_day)


@pytest.mark.parametrize("block", [HALF, LONG_BLOCK, THREE_DAYS], ids=("half", "24 weeks", "three days"))
def test_what_is_called_repeats_is_repeated(block: dict[str, Any]) -> None:
    for session in _all(_plan(block)):
        work = [step for step in session.steps if step.kind == "work"]
        if session.kind in ("threshold_repeats", "goal_repeats", "race_touch", "controlled_downhill"):
            assert sum(step.repeat for step in work) >= 2, session


@pytest.mark.parametrize("block", [HALF, ADVANCED, THREE_DAYS], ids=("half", "advanced", "three days"))
def test_easy_running_before_strides_and_long_warm_ups_last_round_minutes(block: dict[str, Any]) -> None:
    plan = _plan(block)
    for session in _all(plan):
        first = session.steps[0].duration_s or 0.0
        if session.kind in ("strides", "hill_sprints"):
            assert round(first / 60) % 5 == 0, session
            assert session.duration_s == pytest.approx(round(session.duration_s / 300) * 300, abs=1.0)
            assert (session.steps[-1].duration_s or 0.0) % 60 == 0
        elif session.role == "key" and first > 900:
            assert first % 300 == 0, session


def test_no_day_is_given_to_a_handful_of_minutes_at_threshold() -> None:
    plan = _plan(LONG_BLOCK, shape=FLAT)
    for session in _all(plan):
        if session.kind in ("threshold_repeats", "threshold_run", "goal_repeats", "fartlek"):
            assert _main_min(session) >= 8, session


def test_descents_that_are_planned_hold_more_than_one_short_stretch() -> None:
    downs = [one for one in _all(_plan(ADVANCED, shape=HILLY)) if one.kind == "controlled_downhill"]
    assert len(downs) >= 2
    for session in downs:
        assert any(step.kind == "work" and step.repeat >= 3 for step in session.steps), session
        assert _main_min(session) >= 1


def test_the_week_of_a_tune_up_is_fresh_and_the_one_behind_a_raced_half_is_no_peak() -> None:
    day = RACE_DAY - dt.timedelta(days=35)
    race = {"name": "Weir", "date": day, "distance": "half marathon", "course": "hilly"}
    plan = _plan(ADVANCED, shape=HILLY, training={"tune_ups": [race]})
    week = _week_of(plan, day)
    assert [one.hard for one in week.sessions if one.role == "tune_up"] == [True]
    for session in week.sessions:
        if session.hard and session.date < day:
            assert _main_min(session) <= 15, session
    before = [one for one in week.sessions if one.date == day - dt.timedelta(days=2)]
    usual = max(one.duration_s for one in week.sessions if one.role == "easy")
    assert all(one.duration_s <= 0.85 * usual for one in before)
    behind = plan.weeks[week.number]
    assert behind.distance_m < 0.95 * max(one.distance_m for one in plan.weeks[: week.number])
    soon = [one for one in behind.sessions if one.date <= day + dt.timedelta(days=3)]
    assert max(one.duration_s for one in soon) <= 55 * 60


@pytest.mark.parametrize("runs", [2, 3])
def test_two_weeks_away_keep_one_short_session_each_and_a_longer_run_beside_two(
    runs: int,
) -> None:
    # Spiering et al. 2021: endurance is held on two sessions a week where the intensity is kept;
    # 40 and 75 min: common practice, no source
    first = dt.date(2027, 3, 29)
    last = first + dt.timedelta(days=13)
    plan = _plan(HALF, weeks=12, away=[{"from": first, "to": last, "runs": runs}])
    away = [week for week in plan.weeks if first <= week.first_day <= last]
    assert len(away) == 2
    for week in away:
        assert len(week.sessions) == runs
        assert sum(one.hard for one in week.sessions) == 1
        shorter = sorted(one.duration_s for one in week.sessions)[: 2 if runs == 3 else runs]
        assert max(shorter) <= 40 * 60
        longs = [one for one in week.sessions if one.role == "long"]
        assert [one.hard for one in longs] == [False] * (runs == 3)
        assert all(50 * 60 <= one.duration_s <= 75 * 60 for one in longs)
        assert not any(one.course_specific for one in week.sessions)
        assert week.work_s <= 0.25 * week.duration_s


def test_on_three_days_no_easy_run_of_the_taper_is_a_second_long_run() -> None:
    plan = _plan(THREE_DAYS, shape=FLAT)
    taper = [week for week in plan.weeks if week.phase == "taper"][:-1]
    assert len(taper) == 2
    for week in taper:
        long = next(one for one in week.sessions if one.role == "long")
        assert max(one.duration_s for one in week.sessions if one.role == "easy") <= 0.75 * long.duration_s
    # Bosquet et al. 2007: the load of a taper falls progressively
    assert taper[1].work_s < taper[0].work_s


def test_the_race_week_of_a_young_runner_has_short_runs_and_no_long_touch() -> None:
    plan = make_schedule(
        request_of(
            distance="5 km",
            weeks=9,
            age=16,
            weekly_distance="22 km",
            longest_run="8 km",
            fast_minutes=15,
            days=("tuesday", "thursday", "saturday", "sunday"),
            results=[{"distance": "3 km", "time": "12:10", "date": dt.date(2027, 2, 20)}],
            training={"club_nights": [{"day": "tuesday", "time": "18:30"}]},
        )
    )
    runs = [one for one in plan.weeks[-1].sessions if one.role != "race"]
    assert len(runs) == 3
    assert max(one.duration_s for one in runs) <= 40 * 60
    longs = [one.duration_s for one in _all(plan) if one.role == "long"]
    assert max(one.duration_s for one in runs) < longs[-1]


def test_a_flat_session_comes_before_the_hills_where_a_fortnight_would_pass_without_one() -> None:
    block = {
        **HALF,
        "weeks": 12,
        "shape": ((0, 0), (0.73, 2), (0.89, 108), (1, 98)),
        "weekly_distance": "36 km",
        "longest_run": "13 km",
        "fast_minutes": 15,
        "days": ("monday", "wednesday", "friday", "sunday"),
        "hills": False,
        "treadmill": {"max_grade_percent": 10},
        "results": [{"distance": "10 km", "time": "51:30", "date": dt.date(2027, 2, 1)}],
        "age": 36,
    }
    plan = _plan(block)
    assert not any(note.rule == "wish.flat_rhythm" for note in plan.notes)
    assert any(one.kind == "long_hill_reps" for one in _all(plan))


@pytest.mark.parametrize("long_run_day", [None, "sunday"], ids=("nothing said", "a day that is not run"))
@pytest.mark.parametrize("level", ["novice", "intermediate"])
def test_a_runner_without_sundays_has_long_runs_and_key_sessions(
    level: str, long_run_day: str | None
) -> None:
    said = {"long_run_day": long_run_day} if long_run_day else {}
    days = ("monday", "wednesday", "saturday")
    plan = _plan(HALF, weeks=12, level=level, weekly_distance="30 km", longest_run="12 km", days=days, **said)
    weeks = [week for week in plan.weeks if week.phase in ("base", "build", "specific")]
    for week in weeks:
        assert any(one.role == "long" for one in week.sessions), week.number
    busy = sum(any(one.role == "key" or one.work_s > 180 for one in week.sessions) for week in weeks)
    assert busy >= len(weeks) - 1
    if long_run_day is None:
        assert {one.date.weekday() for one in _all(plan) if one.role == "long"} == {5}
        assert not any(note.rule == "wish.long_run_day" for note in plan.notes)
