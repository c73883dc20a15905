"""When a session of the library is left out: a sore place, a new runner, the race too near."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from planbuilder.plan.types import Session
from planbuilder.rules import check, load_library
from planbuilder.rules.ruled_out import OnTheDay, left_out, on_the_day
from planbuilder.runner.types import Level
from planbuilder.schedule import Schedule, make_schedule, rule_context
from planbuilder.settings.models import RunnerSettings
from tests.schedule.builders import RACE_DAY, request_of

FIRST = dt.date(2027, 2, 22)


@pytest.mark.parametrize(
    ("kind", "day", "out"),
    [
        ("short_hill_reps", OnTheDay(sore=(("calf", 2),)), True),
        ("short_hill_reps", OnTheDay(sore=(("calf", 1),)), False),
        ("short_hill_reps", OnTheDay(sore=(("knee", 2),)), False),
        ("test", OnTheDay(sore=(("knee", 1),)), True),
        ("intervals", OnTheDay(running_weeks=7.9), True),
        ("intervals", OnTheDay(running_weeks=8.0), False),
        ("long_hill_reps", OnTheDay(days_to_race=9), True),
        ("long_hill_reps", OnTheDay(days_to_race=10), False),
        ("easy_run", OnTheDay((("calf", 4),), 0.0, 1), False),
        ("cross_training", OnTheDay((("calf", 9),), 0.0, 1), False),
    ],
)
def test_an_entry_leaves_its_session_out_from_its_numbers_on(kind: str, day: OnTheDay, out: bool) -> None:
    """Pain from 2 for hills, from 1 for a test, 8 weeks for intervals, the last 10 days: common practice."""
    assert bool(left_out(load_library().template(kind), day)) is out


def test_weeks_of_running_count_for_novices_and_go_on_in_the_block() -> None:
    """3 months are 13.0 weeks; a runner who did not say how long, or is no novice, is not asked."""

    def weeks(level: Level, **settings: object) -> float:
        runner = RunnerSettings.model_validate({"name": "Ada B", **settings})
        on = FIRST + dt.timedelta(days=14)
        return on_the_day(runner, level, first_day=FIRST, race_day=RACE_DAY, on=on).running_weeks

    assert weeks("novice", running_months=3) == pytest.approx(15.0, abs=0.1)
    assert weeks("novice", running_months=0) == 2.0
    assert weeks("novice") == math.inf
    assert weeks("club", running_months=3) == math.inf


def _kinds(plan: Schedule) -> dict[str, list[Session]]:
    found: dict[str, list[Session]] = {}
    for week in plan.weeks:
        for session in week.sessions:
            found.setdefault(session.kind, []).append(session)
    return found


def test_a_novice_of_no_months_waits_for_hills_and_intervals() -> None:
    request = request_of(
        weeks=16, running_months=0, weekly_distance="28 km", longest_run="10 km", level="novice"
    )
    held = _kinds(make_schedule(request))
    waits = {"short_hill_reps": 6, "long_hill_reps": 6, "intervals": 8, "rolling_long_run": 6}
    assert any(kind in held for kind in waits)
    for kind, weeks in waits.items():
        assert all((one.date - request.first_day).days >= 7 * weeks for one in held.get(kind, ()))


def test_what_a_coach_writes_into_an_entry_holds(tmp_path: Path) -> None:
    request = request_of(
        weeks=12,
        weekly_distance="55 km",
        longest_run="18 km",
        fast_minutes=40,
        results=[{"distance": "10 km", "time": "42:30", "date": FIRST}],
    )
    usual = make_schedule(request)
    assert min((RACE_DAY - one.date).days for one in _kinds(usual)["goal_repeats"]) < 25
    entry = '[goal_repeats]\nnot_when = { days_before_race = 25, words = "Only on the tow path." }\n'
    (tmp_path / "sessions.toml").write_text(entry, "utf-8")
    changed = replace(request, library=load_library(tmp_path / "sessions.toml"))
    plan = make_schedule(changed)
    held = _kinds(plan)["goal_repeats"]
    assert min((RACE_DAY - one.date).days for one in held) >= 25
    assert all("Only on the tow path." in one.caution for one in held)
    assert check(plan.weeks, rule_context(changed)) == ()
    assert "session.not_when" in {
        one.rule for one in check(make_schedule(request).weeks, rule_context(changed))
    }


def test_with_any_niggle_a_controlled_run_stands_for_the_test() -> None:
    runner: dict[str, Any] = {"weekly_distance": "45 km", "longest_run": "14 km", "fast_minutes": 20}
    sound = _kinds(make_schedule(request_of(weeks=12, **runner)))
    assert "test" in sound
    sore = make_schedule(request_of(weeks=12, injuries=[{"place": "knee", "pain": 1}], **runner))
    tests = [one for week in sore.weeks for one in week.sessions if one.role == "test"]
    assert {one.kind for one in tests} == {"threshold_run"}
