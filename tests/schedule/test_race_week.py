"""Race week has its usual shape for every distance, number of days and weekday of the race.

Windows and lengths: common practice, no source, but for the length of the taper (Bosquet et al. 2007).
"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from planbuilder.plan.types import Session
from planbuilder.race import parse_conditions, plan_race
from planbuilder.rules import check, wishes
from planbuilder.rules.checks_taper import taper_range
from planbuilder.runner import predict
from planbuilder.schedule import Schedule, make_schedule, rule_context
from planbuilder.settings.limits import default_limits
from tests.schedule.builders import FLAT, LATE_CLIMB, LIMITS, RACE_DAY, Heights, request_of

DAYS = {
    3: ("tuesday", "thursday", "sunday"),
    4: ("tuesday", "thursday", "saturday", "sunday"),
    5: ("tuesday", "wednesday", "thursday", "saturday", "sunday"),
    6: ("tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"),
    7: ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"),
}
WEEKLY_KM = {"5 km": 38, "10 km": 44, "half marathon": 50, "marathon": 60}


def _plan(distance: str, days: int, race_date: dt.date, *nights: str) -> tuple[Schedule, dict[int, Session]]:
    """The plan, and the runs of its last six days by days before the race."""
    request = request_of(
        distance=distance,
        weeks=16 if distance == "marathon" else 10,
        shape=FLAT,
        race_date=race_date,
        training={"club_nights": [{"day": day, "time": "19:00"} for day in nights]},
        days=DAYS[days],
        weekly_distance=f"{WEEKLY_KM[distance]} km",
        longest_run=f"{WEEKLY_KM[distance] // 3} km",
        results=[{"distance": "10 km", "time": "46:00", "date": dt.date(2027, 1, 20)}],
        age=35,
    )
    plan = make_schedule(request)
    assert not check(plan.weeks, rule_context(request))
    last = [session for week in plan.weeks[-2:] for session in week.sessions if session.role != "race"]
    left = {(race_date - session.date).days: session for session in last}
    return plan, {days: session for days, session in left.items() if days <= 6}


@pytest.mark.parametrize("distance", WEEKLY_KM)
@pytest.mark.parametrize("days", DAYS)
@pytest.mark.parametrize("weekday", ["sunday", "saturday", "wednesday"])
def test_one_short_touch_of_race_effort_stands_three_to_five_days_before_the_race(
    distance: str, days: int, weekday: str
) -> None:
    race_date = RACE_DAY - dt.timedelta(days={"sunday": 0, "saturday": 1, "wednesday": 4}[weekday])
    _, last = _plan(distance, days, race_date)
    touches = [before for before, session in last.items() if session.kind == "race_touch"]
    able = [before for before in (3, 4, 5) if _weekday(race_date, before) in DAYS[days]]
    assert len(touches) == 1
    assert 3 <= touches[0] <= (5 if able else 6)
    assert not any(session.hard for before, session in last.items() if before not in touches)
    assert last[touches[0]].work_s <= 15 * 60


@pytest.mark.parametrize("distance", WEEKLY_KM)
@pytest.mark.parametrize("days", DAYS)
@pytest.mark.parametrize("back", range(7))
def test_easy_runs_of_the_last_days_are_short_whatever_the_weekday_of_the_race(
    distance: str, days: int, back: int
) -> None:
    _, last = _plan(distance, days, RACE_DAY - dt.timedelta(days=back), "tuesday", "thursday")
    most = default_limits().table("taper.last_days_run")
    for before, session in last.items():
        if session.role == "long":
            assert before == 6
            continue
        assert session.duration_s <= 60 * (45 if session.kind == "race_touch" else most[str(before)])
    if 1 in last:
        assert last[1].kind == "shakeout"  # with strides
        assert 0 < last[1].work_s <= 90


def _weekday(race_date: dt.date, before: int) -> str:
    return f"{race_date - dt.timedelta(days=before):%A}".lower()


def test_three_days_before_a_ten_kilometre_race_a_club_night_is_a_touch_too_short_to_be_hard() -> None:
    race_date = RACE_DAY - dt.timedelta(
        days=1
    )  # Saturday; the only running days left are Wednesday and Friday
    request = request_of(
        distance="10 km",
        weeks=10,
        shape=FLAT,
        race_date=race_date,
        training={"club_nights": [{"day": "wednesday", "time": "19:15"}]},
        days=("wednesday", "friday", "sunday"),
        weekly_distance="25 mi",
        longest_run="9 mi",
        results=[{"distance": "10 km", "time": "49:30", "date": dt.date(2027, 2, 28)}],
        age=41,
    )
    plan = make_schedule(request)
    assert not check(plan.weeks, rule_context(request))
    wednesday, friday, _race = plan.weeks[-1].sessions
    assert (wednesday.role, wednesday.kind, wednesday.hard) == ("club", "race_touch", False)
    assert wednesday.work_s >= 3 * 60
    assert wednesday.duration_s <= 55 * 60
    assert friday.kind == "shakeout"


@pytest.mark.parametrize("distance", ["5 km", "10 km"])
@pytest.mark.parametrize("back", [0, 1, 2, 3, 4])
def test_the_taper_of_a_short_race_lasts_seven_to_ten_days_on_any_weekday(distance: str, back: int) -> None:
    plan, last = _plan(distance, 5, RACE_DAY - dt.timedelta(days=back))
    assert not [note for note in plan.notes if note.rule == "wish.taper_length"]
    assert not any(session.role == "long" and before < 6 for before, session in last.items())


def test_a_full_long_run_on_the_first_day_of_the_taper_makes_it_too_short() -> None:
    request = request_of(
        distance="10 km",
        weeks=10,
        shape=LATE_CLIMB,
        race_date=RACE_DAY - dt.timedelta(days=1),
        weekly_distance="45 km",
        longest_run="15 km",
        days=DAYS[5],
        results=[{"distance": "10 km", "time": "46:00", "date": dt.date(2027, 2, 1)}],
    )
    plan, context = make_schedule(request), rule_context(request)
    assert "wish.taper_length" not in {one.rule for one in wishes(plan.weeks, context)}
    week = plan.weeks[-2]
    longer = [replace(one, duration_s=110 * 60) if one.role == "long" else one for one in week.sessions]
    spoiled = (*plan.weeks[:-2], replace(week, sessions=tuple(longer)), plan.weeks[-1])
    found = {one.rule: one.text for one in wishes(spoiled, context)}
    assert "lasts 6 days; 7 to 10 were wished for" in found["wish.taper_length"]


def test_a_race_week_without_its_touch_is_told_with_both_numbers() -> None:
    request = request_of(
        distance="10 km",
        weeks=10,
        shape=FLAT,
        weekly_distance="45 km",
        longest_run="15 km",
        days=DAYS[5],
        results=[{"distance": "10 km", "time": "46:00", "date": dt.date(2027, 2, 1)}],
    )
    plan, context = make_schedule(request), rule_context(request)
    last = plan.weeks[-1]
    left = tuple(session for session in last.sessions if session.kind != "race_touch")
    assert len(left) == len(last.sessions) - 1
    found = {one.rule: one.text for one in wishes((*plan.weeks[:-1], replace(last, sessions=left)), context)}
    assert "3 to 5 days before were wished for" in found["wish.race_touch"]


@pytest.mark.parametrize(("age", "level"), [(60, "novice"), (45, "intermediate"), (15, "intermediate")])
def test_the_touch_is_no_longer_than_a_usual_key_session_and_45_minutes(age: int, level: str) -> None:
    # common practice, no source: 10 to 15 min easy, strides, a few repeats, some minutes home
    request = request_of(
        distance="10 km",
        weeks=12,
        shape=FLAT,
        level=level,
        weekly_distance="20 km" if level == "novice" else "28 km",
        longest_run="7 km" if level == "novice" else "10 km",
        days=DAYS[3],
        results=[{"distance": "5 km", "time": "28:00", "date": dt.date(2027, 2, 20)}],
        age=age,
    )
    plan, context = make_schedule(request), rule_context(request)
    assert not check(plan.weeks, context)
    touch = next(one for one in plan.weeks[-1].sessions if one.kind == "race_touch")
    keys = [one.duration_s for week in plan.weeks[:-1] for one in week.sessions if one.role == "key"]
    assert touch.duration_s <= min(45 * 60, sorted(keys)[len(keys) // 2] + 60)
    # what it no longer holds is no reason to call the week too short
    least_m, _ = taper_range(plan.weeks, len(plan.weeks) - 1, context)
    assert least_m <= plan.weeks[-1].distance_m


def test_a_touch_of_46_minutes_in_race_week_is_a_breach_with_both_numbers() -> None:
    plan, last = _plan("half marathon", 5, RACE_DAY)
    touch = next(session for session in last.values() if session.kind == "race_touch")
    longer = replace(touch, duration_s=46 * 60.0)
    week = plan.weeks[-1]
    sessions = tuple(longer if one is touch else one for one in week.sessions)
    request = request_of(weeks=10, shape=FLAT, days=DAYS[5], weekly_distance="50 km", longest_run="16 km")
    found = check((*plan.weeks[:-1], replace(week, sessions=sessions)), rule_context(request))
    told = next(one.text for one in found if one.rule == "taper.touch")
    assert "46 min" in told
    assert "45 min" in told


@pytest.mark.parametrize("days_before", [0, 1, 4, 5])
def test_a_block_that_begins_in_race_week_holds_one_week_and_one_race(days_before: int) -> None:
    plan = make_schedule(request_of(first_day=RACE_DAY - dt.timedelta(days=days_before)))
    assert len(plan.weeks) == 1
    assert sum(session.role == "race" for session in plan.weeks[0].sessions) == 1


@pytest.mark.parametrize("shape", [FLAT, LATE_CLIMB])
def test_the_race_of_a_hot_day_has_the_efforts_and_the_length_of_its_race_plan(shape: Heights) -> None:
    """25 °C and 70 % humidity: no time goal, efforts one step lower (common practice, no source)."""
    request = request_of(
        shape=shape,
        weekly_distance="50 km",
        results=[{"distance": "10 km", "time": "46:00", "date": dt.date(2027, 1, 20)}],
    )
    plan = plan_race(
        race=request.race,
        conditions=parse_conditions("25C 70%"),
        runner=request.runner,
        course=request.course,
        features=request.features,
        demands=request.demands,
        remarks=(),
        form=request.form,
        prediction=predict(request.form, distance_m=21_097.5, weekly_distance_m=50_000.0, limits=LIMITS),
        block_weeks=12,
        limits=LIMITS,
    )
    assert plan.finish_time_s is None
    schedule = make_schedule(replace(request, race_plan=plan))
    (race,) = (one for week in schedule.weeks for one in week.sessions if one.role == "race")
    efforts = [stretch.effort_rpe for stretch in plan.features]
    asked = (min(low for low, _ in efforts), max(high for _, high in efforts))
    assert race.steps[0].effort_rpe == asked
    assert asked[1] <= 8
    assert race.duration_s == plan.goal.predicted_time_s
    assert "clock second" not in race.steps[0].words
