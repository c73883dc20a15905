"""When a test stands in the plan, for whom, and what its words promise."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import pytest

from planbuilder import pipeline
from planbuilder.block import read_block
from planbuilder.rules import check
from planbuilder.schedule import first_test, make_schedule, rule_context
from planbuilder.schedule.types import Schedule
from tests.schedule.builders import request_of

NOVICE: dict[str, Any] = {
    "distance": "10 km",
    "weeks": 12,
    "level": "novice",
    "weekly_distance": "27 km",
    "longest_run": "9 km",
    "running_months": 6,
    "days": ["tuesday", "thursday", "saturday", "sunday"],
}
CLUB: dict[str, Any] = {**NOVICE, "level": "club", "weekly_distance": "45 km", "longest_run": "14 km"}


def _plan(**runner: Any) -> Schedule:
    return make_schedule(request_of(**runner))


def test_a_club_runner_without_a_result_has_a_trial_in_the_first_two_weeks() -> None:
    date = first_test(_plan(**CLUB).weeks)
    assert date is not None
    assert date < dt.date(2027, 5, 16) - dt.timedelta(weeks=9)


@pytest.mark.parametrize(
    "who",
    [NOVICE, {**CLUB, "weeks": 5}, {**CLUB, "weekly_distance": "15 km", "longest_run": "6 km"}],
    ids=["a novice without a time goal", "too few weeks", "too little training"],
)
def test_nobody_is_tested_who_hopes_for_no_time(who: dict[str, Any]) -> None:
    # Common practice, no source: breathing is enough to finish well
    plan = _plan(**who)
    assert first_test(plan.weeks) is None
    said = [*(note.text for note in plan.notes), *(one.why for week in plan.weeks for one in week.sessions)]
    assert not any("test" in words.replace("latest", "") for words in said)


def test_a_novice_with_a_time_goal_is_told_how_to_get_a_result_out_of_a_controlled_test() -> None:
    plan = _plan(**NOVICE, goal_time="58:00")
    date = first_test(plan.weeks)
    (session,) = [one for week in plan.weeks for one in week.sessions if one.date == date]
    assert session.kind == "threshold_run"
    for words in ("measured loop", "remember where you got to", "distance and time"):
        assert words in session.why


MARATHON: dict[str, Any] = {
    "distance": "marathon",
    "weeks": 18,
    "level": "club",
    "weekly_distance": "55 km",
    "longest_run": "22 km",
    "results": [{"distance": "half marathon", "time": "1:45:00", "date": dt.date(2026, 12, 13)}],
}
WEEK = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")


@pytest.mark.parametrize("days", [WEEK[1:], (*WEEK[1:4], *WEEK[5:]), (*WEEK[:2], *WEEK[3:])])
@pytest.mark.parametrize("age", [30, 52])
def test_a_test_stands_four_days_behind_a_long_run_that_holds_work(days: tuple[str, ...], age: int) -> None:
    # Common practice, no source: tired legs measure tiredness
    request = request_of(**MARATHON, days=days, age=age)
    plan = make_schedule(request)
    date = first_test(plan.weeks)
    assert date is not None
    worked = [one.date for week in plan.weeks for one in week.sessions if one.role == "long" and one.work_s]
    assert min(((date - day).days for day in worked if day < date), default=9) >= 4
    assert not check(plan.all_weeks, rule_context(request))


def test_a_test_that_waited_into_the_next_phase_names_the_phase_it_stands_in() -> None:
    block = read_block(Path("demo_plans/rolling-10k"))
    tests = 0
    for plan in pipeline.plan_all(block):
        for week in plan.weeks:
            for session in week.sessions:
                if session.role == "test":
                    tests += 1
                    assert session.why.startswith(f"{week.phase.capitalize()} phase: ")
    assert tests
