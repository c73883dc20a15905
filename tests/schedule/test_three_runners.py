"""Three runners to get right by hand first."""

from __future__ import annotations

import datetime as dt
from functools import cache
from itertools import pairwise
from typing import Any

import pytest

from planbuilder.plan.types import Session, Week
from planbuilder.rules import check
from planbuilder.schedule import Schedule, make_schedule, rule_context
from planbuilder.units import say_minutes
from tests.schedule.builders import FLAT, RACE_DAY, request_of, show

NOVICE: dict[str, Any] = {
    "weeks": 10,
    "weekly_distance": "30 km",
    "longest_run": "11 km",
    "level": "novice",
    "fast_minutes": 8,
    "results": [{"distance": "10 km", "time": "1:02:00", "date": dt.date(2027, 2, 14)}],
}
MARATHONER: dict[str, Any] = {
    "distance": "marathon",
    "weeks": 16,
    "weekly_distance": "90 km",
    "longest_run": "26 km",
    "days": ("monday", "tuesday", "wednesday", "thursday", "saturday", "sunday"),
    "fast_minutes": 50,
    "results": [{"distance": "half marathon", "time": "1:22:00", "date": dt.date(2027, 1, 10)}],
    "training": {
        "club_nights": [{"day": "tuesday", "time": "19:00"}, {"day": "thursday", "time": "19:00"}],
        "tune_ups": [
            {
                "name": "Quarry Half",
                "date": RACE_DAY - dt.timedelta(days=24),
                "distance": "half marathon",
                "course": "hilly",
            }
        ],
    },
}
ACHILLES: dict[str, Any] = {
    "distance": "10 km",
    "weeks": 12,
    "shape": FLAT,
    "weekly_distance": "35 km",
    "longest_run": "12 km",
    "age": 52,
    "hills": False,
    "fast_minutes": 20,
    "injuries": [{"place": "achilles", "pain": 2}],
    "results": [{"distance": "10 km", "time": "48:30", "date": dt.date(2027, 3, 1) - dt.timedelta(weeks=14)}],
}
RUNNERS = {"novice": NOVICE, "marathoner": MARATHONER, "sore Achilles": ACHILLES}


@cache
def _plan(name: str) -> Schedule:
    return make_schedule(request_of(**RUNNERS[name]))


def _all(weeks: tuple[Week, ...]) -> list[Session]:
    return [session for week in weeks for session in week.sessions]


@pytest.mark.parametrize("name", RUNNERS)
def test_each_of_the_three_gets_a_plan_without_a_breach_or_a_refusal(name: str) -> None:
    plan = _plan(name)
    broken = check(plan.weeks, rule_context(request_of(**RUNNERS[name])))
    assert not broken, show(plan.weeks)
    assert not plan.refused
    assert plan.weeks[-1].last_day == RACE_DAY
    assert plan.weeks[-1].sessions[-1].role == "race"


@pytest.mark.parametrize("name", RUNNERS)
def test_no_two_neighbouring_weeks_read_as_copies(name: str) -> None:
    def reads(week: Week) -> list[tuple[int, str, int]]:
        return [(one.date.weekday(), one.kind, round(one.duration_s / 60)) for one in week.sessions]

    weeks = _plan(name).weeks
    assert all(reads(first) != reads(second) for first, second in pairwise(weeks))


def test_the_novice_meets_the_late_climb_on_tired_legs_and_rehearses_it_once() -> None:
    weeks = _plan("novice").weeks
    late = [one for one in _all(weeks) if one.kind == "hill_finish_long_run"]
    assert len(late) >= 2
    simulation = [one for one in _all(weeks) if one.kind == "race_simulation"]
    assert len(simulation) == 1
    assert 10 <= (RACE_DAY - simulation[0].date).days <= 21
    assert any(first >= 16_000 for one in late for first, _ in one.rehearses_m)


def test_the_novice_runs_at_most_one_hard_session_a_week_and_rests_three_days() -> None:
    for week in _plan("novice").weeks:
        assert sum(one.hard and one.role != "race" for one in week.sessions) <= 1
        assert len({one.date for one in week.sessions}) <= 4


def test_the_marathoner_has_a_club_session_on_every_club_night() -> None:
    race = RACE_DAY - dt.timedelta(days=24)
    for week in _plan("marathoner").weeks:
        for day in (1, 3):
            date = week.first_day + dt.timedelta(days=day)
            if date != race:
                assert [one.role for one in week.sessions if one.date == date] == ["club"], date


def test_a_hilly_half_24_days_before_a_marathon_is_run_at_marathon_effort_and_rested_around() -> None:
    sessions = _all(_plan("marathoner").weeks)
    race = next(one for one in sessions if one.role == "tune_up")
    assert max(step.effort_rpe[1] for step in race.steps if step.kind == "race") <= 6
    near = [one for one in sessions if one.hard and one is not race and abs((one.date - race.date).days) <= 4]
    assert not near
    week = next(week for week in _plan("marathoner").weeks if race in week.sessions)
    assert not any(one.role == "long" for one in week.sessions)


def test_the_marathoner_runs_long_with_marathon_effort_at_least_twice() -> None:
    longs = [one for one in _all(_plan("marathoner").weeks) if one.kind == "long_run_goal_effort"]
    assert sum(one.work_s >= 50 * 60 for one in longs) >= 2
    assert max(one.distance_m for one in _all(_plan("marathoner").weeks) if one.role == "long") >= 28_000


def test_a_sore_achilles_takes_hills_strides_and_all_out_running_out_of_the_plan() -> None:
    for one in _all(_plan("sore Achilles").weeks):
        if one.role == "race":
            continue
        assert all((step.ground.grade or 0) <= 0.01 for step in one.steps), one.id
        assert all(step.kind != "strides" for step in one.steps), one.id
        assert max(step.effort_rpe[1] for step in one.steps) < 9.5, one.id


def test_a_result_of_14_weeks_is_too_old_and_a_controlled_test_stands_in_the_first_two_weeks() -> None:
    tests = [one for one in _all(_plan("sore Achilles").weeks) if one.role == "test"]
    assert [one.id[:3] for one in tests][:1] in (["w01"], ["w02"])
    assert all(one.kind != "test" for one in tests)  # nothing all-out


def test_at_52_two_easy_days_lie_between_hard_sessions() -> None:
    hard = [one.date for one in _all(_plan("sore Achilles").weeks) if one.hard and one.role != "race"]
    assert min((second - first).days for first, second in pairwise(hard)) >= 3


def test_health_is_written_for_the_coach_alone() -> None:
    plan = _plan("sore Achilles")
    assert any("Achilles" in note.text for note in plan.private_notes)
    said = [note.text for note in plan.notes] + [f"{one.title} {one.why}" for one in _all(plan.weeks)]
    assert not any("achilles" in text.lower() for text in said)


def test_a_time_trial_on_a_club_night_is_run_once() -> None:
    old = MARATHONER | {
        "weeks": 18,
        "results": [{"distance": "half marathon", "time": "1:22:00", "date": dt.date(2026, 12, 13)}],
    }
    sessions = _all(make_schedule(request_of(**old)).weeks)
    tested = [one for one in sessions if any(reason.rule == "schedule.test" for reason in one.reasons)]
    assert [one.role for one in tested] == ["club"]


@pytest.mark.parametrize("name", RUNNERS)
def test_a_recovery_run_is_as_short_as_the_library_says_and_the_words_have_the_minutes(name: str) -> None:
    request = request_of(**RUNNERS[name])
    span = request.library.template("recovery_run").minutes
    assert span is not None
    for session in _all(_plan(name).weeks):
        if session.kind == "recovery_run":
            assert session.duration_s <= span.of(request.level)[1] * 60
        for step in session.steps:
            if step.duration_s is not None and step.repeat == 1:
                assert say_minutes(step.duration_s) in step.words or not step.words[:1].isdigit()
