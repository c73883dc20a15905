"""What everybody reads after three lost weeks: one honest sentence about the race, on both pages."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from planbuilder import living, pipeline
from planbuilder.block import read_block
from planbuilder.block.log_table import LogLine
from planbuilder.delivery.pages import pages_of
from planbuilder.outputs.pages import Links
from planbuilder.outputs.pages.coach_page import coach_entry
from planbuilder.pipeline import PlanNow
from planbuilder.units import say_in
from tests.accepted_half import WHO, accepted_half, noon

FIRST, LAST, TODAY = dt.date(2027, 4, 5), dt.date(2027, 4, 25), dt.date(2027, 4, 26)
HONEST = "Behind 21 days without running expect a slower race than the "


def now(folder: Path) -> PlanNow:
    (found,) = pipeline.plans_now(read_block(folder))
    return found


def replan(folder: Path, day: dt.date) -> None:
    found = list(living.propose(read_block(folder), today=day))
    living.accept(read_block(folder), found, by="replan", today=day, now=noon(day))


@pytest.fixture(params=["missed", "ill"])
def lost(tmp_path: Path, request: pytest.FixtureRequest) -> Path:
    """Three weeks that were logged as missed, or told of as an illness; re-planned behind them."""
    folder = accepted_half(tmp_path)
    if request.param == "missed":
        runs = [one for one in now(folder).plan.sessions if one.role not in ("strength", "cross")]
        living.add_to_log(
            folder,
            [LogLine(str(one.date), WHO, one.id, "missed") for one in runs if FIRST <= one.date <= LAST],
        )
    else:
        told = {
            "do": "ill",
            "from": FIRST + dt.timedelta(days=1),
            "to": LAST - dt.timedelta(days=1),
            "fever": True,
        }
        living.edit(folder, {**told, "runner": WHO, "on": TODAY}, today=TODAY, now=noon(TODAY))
    replan(folder, TODAY)
    return folder


def test_runner_and_coach_read_what_lost_weeks_mean_for_the_race(lost: Path) -> None:
    """Advised against below 70 % of a half, and forbidden nothing: common practice, no source."""
    there = now(lost)
    outlook = say_in(there.told.outlook, "km")
    assert HONEST in outlook
    assert "For race day this points to a time between" not in outlook
    runner = pages_of(there, Links())["plan.html"].decode()
    coach = str(coach_entry(there.plan, (), there.told.outlook))
    for page in (runner, coach):
        assert HONEST in page
        assert "walk and run by turns for the finish" in page
    assert not there.plan.runner.refused


def test_plan_a_steps_back_and_the_goal_is_no_longer_within_reach(tmp_path: Path, lost: Path) -> None:
    (tmp_path / "before").mkdir()
    before, after = now(accepted_half(tmp_path / "before")).plan.race_plan, now(lost).plan.race_plan
    assert after.finish_time_s == before.outcomes[1].time_s
    assert (after.finish_time_s or 0) >= (after.goal.predicted_time_s or 0)
    assert "is within what you can do now" in before.goal.sentence
    assert "within" not in after.goal.sentence
    assert "before 21 days without running" in after.goal.sentence


def test_a_result_after_the_lost_weeks_opens_the_goal_again(lost: Path) -> None:
    day = TODAY + dt.timedelta(days=13)
    raced = {"do": "result", "date": day, "distance": "10 km", "time": "46:10", "runner": WHO, "on": day}
    living.edit(lost, raced, today=day, now=noon(day))
    replan(lost, day)
    assert "without running" not in now(lost).plan.race_plan.goal.sentence
    assert HONEST not in now(lost).told.outlook


def test_reasons_of_the_weeks_ahead_speak_of_the_plan_as_it_stands(lost: Path) -> None:
    there = now(lost)
    week, (accepted,) = there.plan.weeks[8], [one for one in there.weeks if one.number == 9]
    assert [one.distance_m for one in week.sessions] == [one.distance_m for one in accepted.sessions]
    for session in week.sessions:
        assert not any("the aim was" in reason.text for reason in session.reasons)
        assert not session.why.startswith("Specific phase")
