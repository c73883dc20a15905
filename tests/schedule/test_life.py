"""A plan fits the runner's life: days, minutes, clock times, holidays, strength, two runs a day."""

from __future__ import annotations

import datetime as dt
from itertools import pairwise
from typing import Any

from planbuilder.plan.types import Session
from planbuilder.schedule import Schedule, make_schedule
from planbuilder.settings.models import WEEKDAYS
from tests.schedule.builders import RACE_DAY, request_of

SIX = ("monday", "tuesday", "wednesday", "thursday", "saturday", "sunday")
CLUB: dict[str, Any] = {
    "weeks": 12,
    "weekly_distance": "66 km",
    "longest_run": "20 km",
    "fast_minutes": 45,
    "days": SIX,
    "results": [{"distance": "10 km", "time": "40:30", "date": dt.date(2027, 2, 10)}],
    "training": {"club_nights": [{"day": "tuesday", "time": "19:00", "place": "The track"}]},
}


def _plan(**changes: Any) -> Schedule:
    return make_schedule(request_of(**{**CLUB, **changes}))


def _all(plan: Schedule) -> list[Session]:
    return [session for week in plan.weeks for session in week.sessions]


def _runs(plan: Schedule) -> list[Session]:
    return [one for one in _all(plan) if one.role not in ("strength", "race")]


def test_runs_stand_on_the_runners_days_and_the_long_run_on_the_chosen_one() -> None:
    plan = _plan(long_run_day="saturday")
    assert {WEEKDAYS[one.date.weekday()] for one in _runs(plan)} <= set(SIX)
    longs = [one for one in _all(plan) if one.role == "long"]
    assert sum(one.date.weekday() == 5 for one in longs) >= 0.9 * len(longs)


def test_no_session_is_longer_than_its_day() -> None:
    plan = _plan(minutes={"wednesday": 45, "thursday": 60})
    for one in _runs(plan):
        most = {2: 45, 3: 60}.get(one.date.weekday())
        assert most is None or one.duration_s <= most * 60, one.id


def test_club_nights_carry_their_place_and_time_and_other_days_the_runners_own() -> None:
    plan = _plan(times={"thursday": dt.time(6, 30)})
    for one in _runs(plan):
        if one.date.weekday() == 1:
            assert (one.role, one.start_time, one.place) == ("club", dt.time(19), "The track")
        elif one.date.weekday() == 3:
            assert one.start_time == dt.time(6, 30)
        else:
            assert one.start_time is None


def test_an_evening_club_night_and_an_early_morning_are_44_hours_apart_when_both_are_hard() -> None:
    plan = _plan(times={day: dt.time(6) for day in SIX})
    hard = [one for one in _runs(plan) if one.hard]
    for first, second in pairwise(hard):
        starts = [dt.datetime.combine(one.date, one.start_time or dt.time(6)) for one in (first, second)]
        assert (starts[1] - starts[0]).total_seconds() >= 44 * 3600


def test_a_holiday_holds_no_more_runs_than_the_runner_said_and_short_ones() -> None:
    first, last = dt.date(2027, 4, 5), dt.date(2027, 4, 11)
    plan = _plan(away=[{"from": first, "to": last, "runs": 2, "why": "holiday"}])
    away = [one for one in _runs(plan) if first <= one.date <= last]
    assert 0 < len(away) <= 2
    assert all(one.duration_s <= 40 * 60 for one in away)
    assert any(note.kind == "exception" for note in plan.notes)


def test_strength_stands_on_hard_days_or_well_before_one_and_ends_ten_days_before_the_race() -> None:
    # Blagrove RC et al. 2018, Sports Med 48:1117: two or three a week; placement is common practice
    plan = _plan(strength=True)
    strength = [one for one in _all(plan) if one.role == "strength"]
    assert len(strength) >= 12
    assert all((RACE_DAY - one.date).days >= 10 for one in strength)
    hard = {one.date for one in _runs(plan) if one.hard}
    stressed = hard | {one.date for one in _runs(plan) if one.role == "long"}
    for one in strength:
        assert one.date in hard or one.date + dt.timedelta(days=1) not in stressed
    per_week = [sum(one.role == "strength" for one in week.sessions) for week in plan.weeks]
    assert max(per_week) == 2
    assert per_week[-1] == 0


def test_strength_changes_no_run() -> None:
    assert [(one.date, one.kind, one.duration_s) for one in _runs(_plan(strength=True))] == [
        (one.date, one.kind, one.duration_s) for one in _runs(_plan())
    ]


def test_two_runs_a_day_only_for_those_who_want_them_and_run_enough() -> None:
    def doubles(plan: Schedule) -> int:
        return len(_runs(plan)) - len({one.date for one in _runs(plan)})

    high = {"weekly_distance": "96 km", "longest_run": "26 km", "distance": "marathon", "weeks": 16}
    assert doubles(_plan(two_a_day=True)) == 0
    assert doubles(_plan(**high)) == 0
    assert doubles(_plan(**high, two_a_day=True)) > 0
    second = [one for one in _runs(_plan(**high, two_a_day=True)) if one.start_time == dt.time(18)]
    assert all(one.duration_s <= 40 * 60 and not one.hard for one in second)


def test_minutes_print_round_and_every_title_is_in_words() -> None:
    for one in _runs(_plan()):
        assert one.title
        assert not any(character.isdigit() for character in one.title)
        if one.role == "easy":
            assert one.duration_s % 300 == 0 or one.kind in ("strides", "shakeout", "hill_sprints")


def test_what_is_hard_is_not_called_easy_and_easy_days_say_easy() -> None:
    for one in _runs(_plan()):
        if one.kind in ("easy_run", "group_easy", "strides"):
            assert "easy" in one.title.lower()
            assert not one.hard
