"""The plan says no in its first line, kindly, and still hands over everything that is allowed."""

from __future__ import annotations

import datetime as dt
from itertools import pairwise
from typing import Any

import pytest

from planbuilder.plan.types import Session
from planbuilder.rules import check
from planbuilder.schedule import Schedule, make_schedule, rule_context
from tests.schedule.builders import request_of

HALF: dict[str, Any] = {
    "weeks": 12,
    "weekly_distance": "42 km",
    "longest_run": "14 km",
    "fast_minutes": 25,
    "results": [{"distance": "10 km", "time": "48:00", "date": dt.date(2027, 2, 10)}],
}


def _plan(**changes: Any) -> Schedule:
    return make_schedule(request_of(**{**HALF, **changes}))


def _all(plan: Schedule) -> list[Session]:
    return [session for week in plan.weeks for session in week.sessions]


def _first(plan: Schedule) -> str:
    assert plan.refused
    assert plan.notes[0].kind == "refusal"
    return plan.notes[0].text


def test_a_sensible_runner_is_not_refused() -> None:
    assert not _plan().refused


def test_too_short_a_runway_is_said_first_and_the_ramp_stays_as_gentle_as_ever() -> None:
    plan = _plan(weeks=6)
    assert "6 weeks are too few" in _first(plan)
    assert "10 are the least" in _first(plan)
    assert "later date" in _first(plan)
    assert all(sum(one.hard and one.role != "race" for one in week.sessions) <= 1 for week in plan.weeks)
    volumes = [week.distance_m for week in plan.weeks]
    assert max(volumes) <= 42_000 * 1.2


def test_a_goal_far_beyond_form_is_answered_with_the_next_checkpoint_and_todays_paces() -> None:
    plan = _plan(goal_time="1:30:00")
    assert plan.refused
    assert any(note.rule == "race.goal" and note.kind == "refusal" for note in plan.notes)
    paces = [
        step.pace_s_per_km[0]
        for one in _all(plan)
        for step in one.steps
        if step.band == "race effort" and step.pace_s_per_km is not None
    ]
    assert min(paces) > 5400 / 21.0975 * 1.02  # slower than the goal asks for


@pytest.mark.parametrize("answer", [None, "needed"])
def test_without_an_answer_to_the_health_questions_everything_stays_easy_and_says_what_to_answer(
    answer: str | None,
) -> None:
    plan = _plan(screening=answer)
    assert "our coach" in _first(plan)
    assert "screening =" not in _first(plan)  # what only the coach can type is said to the coach
    assert any("screening =" in note.text for note in plan.private_notes)
    assert max(step.effort_rpe[1] for one in _all(plan) for step in one.steps) <= 4
    assert len(_all(plan)) > 30


def test_a_club_that_holds_the_answers_is_enough() -> None:
    plan = _plan(screening=None, training={"screening_held_by_club": True})
    assert not plan.refused
    assert any(one.hard for one in _all(plan) if one.role != "race")


def test_a_minor_over_the_limit_keeps_the_training_loses_the_race_and_is_offered_another() -> None:
    # UK Athletics rule 207 as quoted by St Mary's University in 2013: 15 km at 16
    plan = _plan(age=16)
    assert "{d:15000}" in _first(plan)
    assert not any(one.role == "race" for one in _all(plan))
    assert all(len(week.sessions) <= 5 for week in plan.weeks)
    assert max(one.duration_s for one in _all(plan)) <= 75 * 60


def test_a_minor_under_the_limit_keeps_the_race() -> None:
    plan = _plan(age=17, distance="10 km")
    assert not plan.refused
    assert any(one.role == "race" for one in _all(plan))


@pytest.mark.parametrize("age", [16, 19])
def test_the_organisers_youngest_age_keeps_a_younger_runner_out_of_the_race(age: int) -> None:
    # UK Athletics rule 207 as quoted by St Mary's University in 2013: "the stricter local rule wins"
    plan = _plan(age=age, distance="5 km", minimum_age=age + 1)
    assert f"youngest age for this race is {age + 1}, and you are {age}" in _first(plan)
    assert not any(one.role == "race" for one in _all(plan))
    assert any(one.role == "long" for one in _all(plan))


def test_who_is_old_enough_for_the_organiser_races() -> None:
    plan = _plan(age=16, distance="5 km", minimum_age=16)
    assert not plan.refused
    assert any(one.role == "race" for one in _all(plan))


def test_nobody_who_is_kept_from_the_race_is_told_how_to_run_it_all_the_same() -> None:
    for plan in (_plan(age=16), _plan(age=14, distance="5 km"), _plan(age=16, minimum_age=20)):
        said = " ".join(note.text for note in plan.notes)
        assert plan.refused
        for words in ("if you start", "closing time", "After the race", "The race is", "tune-up"):
            assert words not in said


KEPT: dict[str, dict[str, Any]] = {
    "by age": {"age": 16},
    "by the organiser": {"age": 15, "distance": "10 km", "minimum_age": 16},
    "grown": {"age": 19, "distance": "half marathon", "minimum_age": 20},
    "grown marathoner": {
        "age": 19,
        "distance": "marathon",
        "minimum_age": 20,
        "weeks": 16,
        "weekly_distance": "60 km",
        "longest_run": "24 km",
        "days": ["monday", "tuesday", "wednesday", "thursday", "saturday", "sunday"],
    },
}
RACE_KINDS = ("race_touch", "shakeout", "goal_repeats", "race_simulation", "long_run_goal_effort")


@pytest.mark.parametrize("kept", KEPT)
@pytest.mark.parametrize("weekday", range(7))
def test_who_is_kept_from_the_race_trains_on_and_neither_rehearses_it_nor_rests_for_it(
    kept: str, weekday: int
) -> None:
    # Common practice, no source: there is nothing to taper for
    day = dt.date(2027, 5, 10) + dt.timedelta(days=weekday)
    request = request_of(**{**HALF, **KEPT[kept], "race_date": day})
    plan, context = make_schedule(request), rule_context(request)
    assert not check(plan.all_weeks, context)
    assert {week.phase for week in plan.all_weeks} <= {"base", "build"}
    assert not any(one.kind in RACE_KINDS or one.rehearses_m for one in _all(plan))
    assert not any(one.course_specific for one in _all(plan))
    said = [
        *(note.text for note in plan.notes if note.kind != "refusal"),
        *(week.purpose for week in plan.weeks),
        *(one.why for one in _all(plan)),
    ]
    for words in ("race effort", "tomorrow", "Taper", "of the race itself", "days before the race"):
        assert not any(words in text for text in said), words
    last = plan.weeks[-1]
    assert last.last_day.weekday() == 6
    assert any(one.hard for one in last.sessions) or last.recovery or weekday in (1, 3)  # a usual running day
    assert last.distance_m > 0.6 * max(week.distance_m for week in plan.weeks)
    assert not any(one.date == day for one in _all(plan))


def test_below_15_there_is_no_block_at_all_and_one_sentence_says_what_to_do_instead() -> None:
    plan = _plan(age=14, distance="5 km", weekly_distance="15 km", longest_run="5 km")
    assert "15" in _first(plan)
    for words in ("club night", "another sport", "short race for your age"):
        assert words in _first(plan)
    assert plan.all_weeks == ()
    assert len(plan.notes) == 1


def test_a_sore_bone_stops_all_running_and_the_way_back_is_written_for_the_coach() -> None:
    plan = _plan(injuries=[{"place": "bone", "pain": 3}])
    assert "licensed practitioner" in _first(plan)
    assert {one.role for one in _all(plan)} == {"cross"}
    assert "walk" in plan.private_notes[0].text
    assert "downhill last" in plan.private_notes[0].text
    assert not any("bone" in note.text for note in plan.notes)


def test_clearance_brings_the_running_back() -> None:
    plan = _plan(injuries=[{"place": "bone", "pain": 0, "cleared": dt.date(2027, 2, 1)}])
    assert not plan.refused
    assert any(one.role == "long" for one in _all(plan))


def test_pain_of_3_takes_the_hard_running_and_leaves_the_easy() -> None:
    plan = _plan(injuries=[{"place": "other", "pain": 3}])
    assert not any(one.hard for one in _all(plan) if one.role != "race")
    assert any(one.role == "long" for one in _all(plan))


def test_with_a_pain_of_3_the_first_week_is_eased_and_no_week_holds_more_than_before() -> None:
    # Silbernagel et al. 2007 allowed pain up to 5 of 10; a coach does not treat, so less: common practice
    plan = _plan(injuries=[{"place": "achilles", "pain": 3}])
    assert plan.weeks[0].distance_m == pytest.approx(0.7 * 42_000, rel=0.05)
    assert max(week.distance_m for week in plan.weeks) <= 42_000 * 1.02
    loaded = [week.distance_m for week in plan.weeks[:9] if not week.recovery]
    assert all(b <= a * 1.2 for a, b in pairwise(loaded))
    assert "first week holds 70 %" in plan.private_notes[0].text
    assert not any(
        place in note.text.lower() for note in plan.notes for place in ("achilles", "sore", "pain")
    )


def test_a_pain_of_3_that_lasts_stops_running_until_a_practitioner_has_cleared_it() -> None:
    sore = {"place": "achilles", "pain": 3, "since": dt.date(2027, 2, 10)}  # the block begins on 22 February
    plan = _plan(injuries=[sore])
    assert "licensed practitioner" in _first(plan)
    assert {one.role for one in _all(plan)} == {"cross"}
    assert "because it lasts: 12 days" in plan.private_notes[0].text
    cleared = _plan(injuries=[{**sore, "cleared": dt.date(2027, 2, 19)}])
    assert any(one.role == "long" for one in _all(cleared))
    assert not any(one.hard for one in _all(cleared) if one.role != "race")


def test_a_pain_of_2_may_last() -> None:
    plan = _plan(injuries=[{"place": "achilles", "pain": 2, "since": dt.date(2026, 12, 1)}])
    assert not plan.refused
    assert any(one.hard for one in _all(plan) if one.role != "race")


def test_training_a_little_below_the_entry_is_a_caution_and_no_refusal() -> None:
    plan = _plan(weekly_distance="28 km", longest_run="10 km")
    assert not plan.refused
    assert any(note.rule == "phase.runway" and note.kind == "caution" for note in plan.notes)


def test_no_note_promises_scolds_or_diagnoses() -> None:
    said = " ".join(
        note.text.lower()
        for plan in (_plan(), _plan(weeks=5), _plan(screening=None), _plan(age=16))
        for note in plan.notes
    )
    for word in ("guarantee", "you must", "impossible", "lazy", "failed", "diagnos"):
        assert word not in said


def test_without_a_named_race_the_plan_says_which_tune_up_would_fit_and_when() -> None:
    # common practice, no source: 10 km three to five weeks before a half marathon
    advice = [note.text for note in _plan().notes if note.rule == "tune_up.candidate"]
    assert len(advice) == 1
    assert "{d:10000}" in advice[0]
    assert "Sunday 11 April and Sunday 25 April" in advice[0]


def test_candidates_are_judged_and_not_planned() -> None:
    day = dt.date(2027, 4, 18)
    races = [
        {"name": "Quarry 10", "date": day, "distance": "10 km", "entered": False},
        {"name": "Late Mile", "date": dt.date(2027, 5, 11), "distance": "half marathon", "entered": False},
    ]
    plan = _plan(training={"tune_ups": races})
    said = [note.text for note in plan.notes if note.rule == "tune_up.candidate"]
    assert "Quarry 10 fits" in said[0]
    assert "Late Mile comes too near" in said[1]
    assert not any(one.role == "tune_up" for one in _all(plan))


def test_a_very_long_block_is_planned_again_when_24_weeks_remain() -> None:
    assert any("24 weeks remain" in note.text for note in _plan(weeks=28).notes)
    assert not any("24 weeks remain" in note.text for note in _plan(weeks=24).notes)
