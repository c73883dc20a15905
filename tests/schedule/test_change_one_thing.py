"""Change one thing, and only what hangs on it changes."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Any

import pytest

from planbuilder.plan.types import Session, Week
from planbuilder.schedule import Schedule, make_schedule
from tests.schedule.builders import FLAT, RACE_DAY, Heights, request_of

EARLY_CLIMB: Heights = ((0, 0), (0.14, 0), (0.24, 95), (0.34, 60), (1, 60))
MOVED_CLIMB: Heights = ((0, 0), (0.80, 0), (0.90, 95), (1, 60))
FALLING: Heights = ((0, 40), (0.06, 12), (0.5, 12), (0.56, 0), (0.8, 2), (0.875, 38), (0.94, 22), (1, 26))
HALF: dict[str, Any] = {
    "weeks": 14,
    "weekly_distance": "52 km",
    "longest_run": "17 km",
    "fast_minutes": 40,
    "days": ("monday", "tuesday", "thursday", "saturday", "sunday"),
    "goal_time": "1:36:00",
    "results": [{"distance": "10 km", "time": "43:30", "date": dt.date(2027, 2, 1)}],
    "training": {"club_nights": [{"day": "tuesday", "time": "19:00"}]},
}
CLIMBING = ("hill_finish_long_run", "race_simulation")
DESCENDING = ("controlled_downhill", "downhill_start")


def _plan(**changes: Any) -> Schedule:
    return make_schedule(request_of(**{**HALF, **changes}))


def _all(plan: Schedule) -> list[Session]:
    return [session for week in plan.weeks for session in week.sessions]


def _training(plan: Schedule) -> list[Session]:
    return [one for one in _all(plan) if one.role not in ("race", "tune_up")]


def _total_m(plan: Schedule) -> float:
    return sum(week.distance_m for week in plan.weeks)


def _count(plan: Schedule, *kinds: str) -> int:
    return sum(one.kind in kinds for one in _all(plan))


def test_a_flat_course_has_no_hill_finishes_no_simulation_and_no_descents_and_the_same_distance() -> None:
    hilly, flat = _plan(shape=FALLING), _plan(shape=FLAT)
    assert _count(hilly, *CLIMBING) >= 3
    assert _count(hilly, *DESCENDING) >= 2
    assert _count(flat, *CLIMBING, *DESCENDING, "long_hill_reps", "uphill_tempo", "drag_session") == 0
    assert _total_m(flat) == pytest.approx(_total_m(hilly), rel=0.03)


def test_moving_the_only_climb_to_the_end_brings_hill_finishes_and_little_more_climbing() -> None:
    early, late = _plan(shape=EARLY_CLIMB), _plan(shape=MOVED_CLIMB)
    assert _count(early, "hill_finish_long_run") == 0
    assert _count(late, "hill_finish_long_run") >= 2
    climbs = [sum(one.climb_m for one in _training(plan)) for plan in (early, late)]
    assert climbs[1] == pytest.approx(climbs[0], rel=0.20)


def test_one_week_more_leaves_the_last_three_weeks_as_they_are_and_grows_the_base() -> None:
    # the runner comes with the same fitness and result, a week earlier
    short, long = _plan(weeks=14), _plan(weeks=15)

    def kinds(weeks: tuple[Week, ...]) -> list[list[tuple[int, str]]]:
        return [[(one.date.toordinal(), one.kind) for one in week.sessions] for week in weeks]

    assert kinds(short.weeks[-2:]) == kinds(long.weeks[-2:])
    assert [week.phase for week in short.weeks[-3:]] == [week.phase for week in long.weeks[-3:]]
    for one, other in zip(short.weeks[-3:], long.weeks[-3:], strict=True):
        assert other.distance_m == pytest.approx(one.distance_m, rel=0.06)
    bases = [sum(week.phase == "base" for week in plan.weeks) for plan in (short, long)]
    assert bases[1] == bases[0] + 1


def test_kilometres_or_miles_give_the_same_metres_and_dates() -> None:
    metric, imperial = _plan(units="km"), _plan(units="mi")
    assert [(one.id, one.date, one.distance_m, one.duration_s) for one in _all(metric)] == [
        (one.id, one.date, one.distance_m, one.duration_s) for one in _all(imperial)
    ]


def test_another_time_zone_gives_the_same_local_dates() -> None:
    request = request_of(**HALF)
    moved = replace(request, race=request.race.model_copy(update={"timezone": "Pacific/Auckland"}))
    assert make_schedule(moved).weeks == make_schedule(request).weeks


def test_one_day_less_keeps_the_hard_sessions_and_lengthens_no_long_run() -> None:
    five, four = _plan(), _plan(days=("monday", "tuesday", "thursday", "sunday"))
    for more, fewer in zip(five.weeks, four.weeks, strict=True):
        assert fewer.distance_m <= more.distance_m * 1.03 + 500
        assert sum(one.hard for one in fewer.sessions) <= 3
        longest = [
            max((one.distance_m for one in week.sessions if one.role == "long"), default=0)
            for week in (more, fewer)
        ]
        assert longest[1] <= longest[0] * 1.1 + 500
    hard = [sum(one.hard for one in _training(plan)) for plan in (five, four)]
    assert hard[1] >= 0.75 * hard[0]


def test_a_slower_result_slows_the_paces_and_not_the_load() -> None:
    quick = _plan()
    slow = _plan(results=[{"distance": "10 km", "time": "46:30", "date": dt.date(2027, 2, 1)}])

    def paces(plan: Schedule) -> float:
        steps = [step for one in _training(plan) for step in one.steps if step.band == "threshold"]
        return min(step.pace_s_per_km[0] for step in steps if step.pace_s_per_km is not None)

    assert paces(slow) > paces(quick) + 5
    assert _total_m(slow) <= _total_m(quick) * 1.02


def test_the_same_request_twice_gives_the_same_plan() -> None:
    assert _plan().weeks == _plan().weeks
    assert _plan().notes == _plan().notes


def test_turning_50_changes_only_what_the_runner_can_answer() -> None:
    before, after = _plan(age=49), _plan(age=50)
    answered = _plan(age=50, easy_days_after_hard=1, loaded_weeks=3)
    assert answered.weeks == before.weeks
    assert [week.phase for week in after.weeks] == [week.phase for week in before.weeks]
    assert _total_m(after) == pytest.approx(_total_m(before), rel=0.03)
    assert any("From 50" in note.text for note in after.notes)
    assert not any("From 50" in note.text for note in before.notes)


def test_another_name_changes_nothing_in_the_plan() -> None:
    assert _plan(name="Someone Else").weeks == _plan().weeks


def test_another_squad_changes_the_club_night_at_most() -> None:
    alone = _plan(training={})
    squad = _plan()
    assert sum(week.distance_m for week in squad.weeks) == pytest.approx(_total_m(alone), rel=0.03)
    assert [week.phase for week in squad.weeks] == [week.phase for week in alone.weeks]


def test_a_knee_flag_takes_the_descents_and_an_achilles_flag_takes_the_climbs() -> None:
    healthy = _plan(shape=FALLING)
    knee = _plan(shape=FALLING, injuries=[{"place": "knee", "pain": 1}])
    achilles = _plan(shape=FALLING, injuries=[{"place": "achilles", "pain": 1}])

    def climbs(plan: Schedule) -> int:
        return sum(any((s.ground.grade or 0) > 0.01 for s in one.steps) for one in _training(plan))

    def descends(plan: Schedule) -> int:
        return sum(any((s.ground.grade or 0) < -0.01 for s in one.steps) for one in _training(plan))

    assert climbs(healthy) > 0
    assert descends(healthy) > 0
    assert climbs(knee) > 0
    assert descends(knee) == 0
    assert climbs(achilles) == 0
    assert descends(achilles) > 0


def test_two_runners_on_a_club_night_start_together_with_their_own_paces() -> None:
    one = _plan()
    other = _plan(results=[{"distance": "10 km", "time": "47:00", "date": dt.date(2027, 2, 1)}])
    nights = [
        {session.date: session for session in _all(plan) if session.role == "club"} for plan in (one, other)
    ]
    assert nights[0].keys() == nights[1].keys()
    assert all(nights[0][date].start_time == nights[1][date].start_time == dt.time(19) for date in nights[0])


def test_flattening_the_end_of_the_race_moves_no_day_and_no_phase() -> None:
    hilly, flat = _plan(), _plan(shape=FLAT)
    assert [week.phase for week in hilly.weeks] == [week.phase for week in flat.weeks]
    assert [week.recovery for week in hilly.weeks] == [week.recovery for week in flat.weeks]


def test_more_weekly_distance_means_more_distance_in_the_block_and_the_same_race_day() -> None:
    less, more = _plan(weekly_distance="45 km"), _plan(weekly_distance="58 km")
    assert _total_m(more) > _total_m(less)
    assert more.weeks[-1].last_day == less.weeks[-1].last_day == RACE_DAY


def test_a_tune_up_takes_the_place_of_the_long_run_and_lightens_its_week() -> None:
    day = RACE_DAY - dt.timedelta(days=28)
    race = {"name": "Quarry 10", "date": day, "distance": "10 km", "course": "hilly"}
    plan = _plan(training={**HALF["training"], "tune_ups": [race]})
    week = next(week for week in plan.weeks if week.first_day <= day <= week.last_day)
    before = [one for one in plan.weeks if one.number < week.number and not one.recovery][-1]
    assert week.recovery
    assert not any(one.role == "long" for one in week.sessions)
    raced = next(one.distance_m for one in week.sessions if one.role == "tune_up")
    assert 0.65 <= (week.distance_m + raced) / before.distance_m <= 0.85


@pytest.mark.parametrize(
    ("course", "told", "ground", "climb_m"),
    [
        ({"course": "hilly", "climb": "110 m"}, " (hilly, {h:110.0} of climbing)", "any", 110.0),
        ({"course": "rolling"}, " (rolling)", "any", 0.0),
        ({"course": "flat"}, "", "flat", 0.0),
    ],
)
def test_a_tune_up_bears_the_name_of_its_race_and_says_what_is_known_of_its_ground(
    course: dict[str, str], told: str, ground: str, climb_m: float
) -> None:
    day = RACE_DAY - dt.timedelta(days=28)
    race = {"name": "Quarry 10", "date": day, "distance": "10 km", **course}
    plan = _plan(training={**HALF["training"], "tune_ups": [race]})
    (session,) = (one for one in _all(plan) if one.role == "tune_up")
    (step,) = (step for step in session.steps if step.kind == "race")
    assert session.title == "Tune-up: Quarry 10"
    assert session.climb_m == climb_m
    assert step.words.startswith(f"Quarry 10{told}: ")
    assert step.ground.kind == ground
