"""One thing grows at a time, long runs work in turns, lighter weeks come in their rhythm.

The rules are common coaching practice without a source; their numbers are ours and stand in ``limits.toml``.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from functools import cache
from typing import Any

import pytest

from planbuilder.plan.types import Session, Week
from planbuilder.rules import RuleContext, check, exceptions, wishes
from planbuilder.rules.checks_growth import long_turns, midweek_cap_s, most_runs, rises, runs_of, working_long
from planbuilder.rules.checks_load import level_before, rise_cap, work_before, work_cap
from planbuilder.rules.checks_rhythm import full_easy_window, is_full_easy, load_before, loaded_limit, raced_m
from planbuilder.rules.context import is_loaded
from planbuilder.schedule import make_schedule, rule_context
from planbuilder.settings.limits import default_limits
from tests.schedule.builders import RACE_DAY, request_of

Weeks = tuple[Week, ...]

HALF: dict[str, Any] = {
    "weeks": 14,
    "weekly_distance": "52 km",
    "longest_run": "17 km",
    "fast_minutes": 40,
    "days": ("monday", "tuesday", "thursday", "saturday", "sunday"),
    "results": [{"distance": "10 km", "time": "43:30", "date": dt.date(2027, 2, 1)}],
}


@cache
def _plan(name: str = "half") -> tuple[Weeks, RuleContext]:
    more: dict[str, dict[str, Any]] = {
        "half": {},
        "long": {"weeks": 20},
        "tune-up": {
            "training": {
                "tune_ups": [
                    {"name": "Quarry 10", "date": RACE_DAY - dt.timedelta(days=28), "distance": "10 km"}
                ]
            }
        },
    }
    request = request_of(**{**HALF, **more[name]})
    return make_schedule(request).weeks, rule_context(request)


def _with(weeks: Weeks, index: int, sessions: list[Session], **sums: float) -> Weeks:
    week = replace(weeks[index], sessions=tuple(sessions), **sums)  # type: ignore[arg-type]
    return (*weeks[:index], week, *weeks[index + 1 :])


def _found(weeks: Weeks, context: RuleContext) -> set[str]:
    return {one.rule for one in check(weeks, context)}


# One thing at a time -------------------------------------------------------------------------------------


def test_distance_alone_or_work_alone_may_rise_to_its_cap_but_not_both_in_one_week() -> None:
    weeks, context = _plan()
    index = next(at for at, week in enumerate(weeks) if at >= 4 and is_loaded(week, context))
    level, work = level_before(weeks, index, context), work_before(weeks, index, context)
    far = level + 0.97 * (rise_cap(level, context) - level)
    hard = work + 0.97 * (work_cap(weeks, index, context) - work)
    sessions = [one for one in weeks[index].sessions if one.role != "long"]
    quiet = _with(weeks, index, sessions, distance_m=level, work_s=work)
    assert "load.one_thing" not in _found(quiet, context)
    for changes in ({"distance_m": far, "work_s": work}, {"distance_m": level, "work_s": hard}):
        assert "load.one_thing" not in _found(_with(weeks, index, sessions, **changes), context)
    both = _with(weeks, index, sessions, distance_m=far, work_s=hard)
    told = next(one for one in check(both, context) if one.rule == "load.one_thing")
    assert "weekly distance (97 %)" in told.text
    assert "work (97 %)" in told.text
    assert "90 %" in told.text


def test_a_coach_may_set_how_near_to_the_cap_two_things_may_come() -> None:
    weeks, context = _plan()
    strict = replace(context, limits=default_limits().with_overrides({"load.one_thing": 0.0}))
    assert "load.one_thing" not in _found(weeks, context)
    assert "load.one_thing" in _found(weeks, strict)


def test_what_does_not_grow_uses_no_share_of_its_rise() -> None:
    weeks, context = _plan()
    index = next(at for at, week in enumerate(weeks) if at >= 4 and is_loaded(week, context))
    empty = _with(weeks, index, [], distance_m=0.0, work_s=0.0)
    assert [rise.share for rise in rises(empty, index, context)] == [0.0, 0.0]


def test_a_running_day_is_added_once_in_three_weeks() -> None:
    weeks, context = _plan()
    loaded = [at for at, week in enumerate(weeks) if is_loaded(week, context)]
    usual = runs_of(weeks[loaded[0]])
    assert most_runs(weeks, loaded[0], context) is None
    assert most_runs(weeks, loaded[1], context) == usual + 1
    new = replace(
        weeks[loaded[1]].sessions[0], id="x", date=weeks[loaded[1]].first_day + dt.timedelta(days=2)
    )
    more = _with(weeks, loaded[1], [*weeks[loaded[1]].sessions, new])
    assert runs_of(more[loaded[1]]) == usual + 1
    assert most_runs(more, loaded[1] + 1, context) == usual + 1  # no second one so soon
    assert most_runs(more, loaded[1] + 4, context) == usual + 2


# Long runs with hard minutes -----------------------------------------------------------------------------


def test_the_numbers_of_working_long_runs_are_none_in_base_1_in_3_in_build_and_3_in_4_in_specific() -> None:
    _, context = _plan()
    turns = [long_turns(phase, context) for phase in ("base", "build", "specific")]
    assert turns == [(0, 1), (1, 3), (3, 4)]


@pytest.mark.parametrize(("phase", "hard", "broken"), [
    ("base", "x", True), ("base", ".", False), ("build", "x..x", False), ("build", "x.x", True),
    ("build", "xx", True), ("specific", "xxx.xxx", False), ("specific", "xxxx", True),
])  # fmt: skip
def test_long_runs_with_hard_minutes_come_in_turns(phase: str, hard: str, broken: bool) -> None:
    weeks, context = _plan()
    first = next(week for week in weeks if any(one.role == "long" for one in week.sessions))
    long = next(one for one in first.sessions if one.role == "long")
    made: list[Week] = []
    for number, sign in enumerate(hard):
        monday = weeks[0].first_day + dt.timedelta(weeks=number)
        run = replace(long, id=f"w{number}", date=monday + dt.timedelta(days=6), hard=sign == "x")
        made.append(replace(first, number=number + 1, first_day=monday, phase=phase, sessions=(run,)))  # type: ignore[arg-type]
    assert ("load.working_long" in _found(tuple(made), context)) is broken


def test_no_plan_for_a_marathon_works_in_four_long_runs_running() -> None:
    request = request_of(
        **{**HALF, "distance": "marathon", "weeks": 18, "weekly_distance": "70 km", "longest_run": "24 km"}
    )
    weeks = make_schedule(request).weeks
    working = [working_long(week) is not None for week in weeks]
    assert any(working)
    assert not any(all(working[at : at + 4]) for at in range(len(working) - 3))
    assert not any(one for one, week in zip(working, weeks, strict=True) if week.phase == "base")


# Rhythm --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("runner", "most"), [
    ({"age": 49}, 3), ({"age": 50}, 2), ({"age": 50, "loaded_weeks": 3}, 3),
    ({"age": 30, "loaded_weeks": 2}, 2),
    ({"age": 30, "level": "novice", "loaded_weeks": 3}, 2), ({"age": 17, "loaded_weeks": 3}, 2),
    ({"age": 55, "loaded_weeks": 3, "injured_last_6_months": True}, 2), ({}, 3),
])  # fmt: skip
def test_the_rhythm_is_2_to_1_from_50_unless_the_runner_answers_and_for_the_careful_whatever_they_answer(
    runner: dict[str, Any], most: int
) -> None:
    request = request_of(**{**HALF, "distance": "10 km", **runner})
    weeks, context = make_schedule(request).weeks, rule_context(request)
    assert loaded_limit(context) == most
    longest = run = 0
    for week in weeks:
        run = run + 1 if is_loaded(week, context) else 0
        longest = max(longest, run)
    assert longest == most
    assert not check(weeks, context)


@pytest.mark.parametrize("weeks", [17, 18, 20, 22, 24])
@pytest.mark.parametrize("distance", ["10 km", "half marathon", "marathon"])
def test_a_block_of_more_than_16_weeks_has_one_full_easy_week_near_its_middle(
    distance: str, weeks: int
) -> None:
    request = request_of(**{**HALF, "distance": distance, "weeks": weeks})
    plan, context = make_schedule(request).weeks, rule_context(request)
    full = [at for at in range(weeks) if is_full_easy(plan, at, context)]
    assert len(full) == 1
    week = plan[full[0]]
    assert 0.30 <= full[0] / (weeks - 1) <= 0.70
    assert week.distance_m <= 0.60 * load_before(plan, full[0], context) + 1
    assert not any(one.hard or one.work_s > 0 for one in week.sessions)
    assert week.recovery
    assert "full easy week" in week.purpose


def test_a_block_of_16_weeks_has_no_full_easy_week_and_asks_for_none() -> None:
    request = request_of(**{**HALF, "weeks": 16})
    plan, context = make_schedule(request).weeks, rule_context(request)
    assert not full_easy_window(context)
    assert not any("full easy week" in week.purpose for week in plan)
    assert "wish.full_easy_week" not in {one.rule for one in wishes(plan, context)}


def test_a_hard_session_in_the_full_easy_week_gives_the_wish_up_with_both_numbers() -> None:
    weeks, context = _plan("long")
    at = next(at for at in range(len(weeks)) if is_full_easy(weeks, at, context))
    hard = [replace(one, hard=True) for one in weeks[at].sessions]
    told = [one for one in wishes(_with(weeks, at, hard), context) if one.rule == "wish.full_easy_week"]
    assert [one.text.count("%") for one in told] == [2]


def test_the_race_of_a_tune_up_week_counts_towards_its_least_and_not_towards_its_most() -> None:
    weeks, context = _plan("tune-up")
    at = next(at for at, week in enumerate(weeks) if raced_m(week) > 0)
    level = load_before(weeks, at, context)
    assert weeks[at].distance_m < 0.65 * level < weeks[at].distance_m + raced_m(weeks[at])
    assert not exceptions(weeks, context)
    most = replace(weeks[at], distance_m=0.84 * level)
    assert "load.recovery_share" not in _found((*weeks[:at], most, *weeks[at + 1 :]), context)
    over = replace(weeks[at], distance_m=0.87 * level)
    assert "load.recovery_share" in _found((*weeks[:at], over, *weeks[at + 1 :]), context)


# The other easy runs -------------------------------------------------------------------------------------


def test_the_longest_other_easy_run_is_65_percent_of_the_long_one_or_40_minutes() -> None:
    _, context = _plan()
    assert midweek_cap_s(120 * 60, context) == pytest.approx(78 * 60)
    assert midweek_cap_s(50 * 60, context) == pytest.approx(40 * 60)


def test_one_long_easy_run_in_ten_weeks_is_no_matter_and_two_are_told() -> None:
    weeks, context = _plan()
    loaded = [at for at, week in enumerate(weeks) if is_loaded(week, context)]

    def longer(changed: Weeks, at: int) -> Weeks:
        easy = next(one for one in changed[at].sessions if one.role == "easy" and one.kind == "easy_run")
        runs = [replace(one, duration_s=6000.0) if one is easy else one for one in changed[at].sessions]
        return _with(changed, at, runs)

    with_easy = [at for at in loaded if any(one.kind == "easy_run" for one in weeks[at].sessions)]
    once = longer(weeks, with_easy[0])
    twice = longer(once, with_easy[1])
    assert "wish.midweek_easy" not in {one.rule for one in wishes(once, context)}
    told = next(one for one in wishes(twice, context) if one.rule == "wish.midweek_easy")
    assert "In 2 of" in told.text
    assert "1 h 40 min" in told.text
