"""The days after the race: rest by its distance, then a few short easy runs.

Two to five days without running after a half marathon, five to ten after a marathon: common practice, no
source.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest

from planbuilder.plan.types import Session, Week
from planbuilder.rules import check
from planbuilder.schedule import make_schedule
from planbuilder.schedule.block import rule_context
from planbuilder.schedule.replan import EditLine, Replan, Situation, replan
from planbuilder.schedule.replan.done import outlook
from tests.schedule.builders import request_of
from tests.schedule.random_histories import done, edit
from tests.schedule.test_replan import DAY, REQUEST, WEEKS, sessions

RACE = next(one for one in sessions(WEEKS) if one.role == "race")


def after(weeks: Sequence[Week]) -> list[Session]:
    return [one for week in weeks if week.phase == "after" for one in week.sessions]


@pytest.mark.parametrize(("distance", "least", "most"), [("10 km", 1, 3), ("half marathon", 2, 5)])
def test_rest_by_the_distance_and_then_easy_runs_on_the_runners_days(
    distance: str, least: int, most: int
) -> None:
    request = request_of(distance=distance)
    runs = after(make_schedule(request).all_weeks)
    rested = (runs[0].date - request.race.date).days - 1
    assert least <= rested <= most + 6  # the first of the runner's days behind the rest
    assert [one.role for one in runs] == ["after"] * 3
    assert all(one.work_s == 0 and not one.hard and one.duration_s <= 2400 for one in runs)
    assert all((two.date - one.date).days > 1 for one, two in pairwise(runs))
    days = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
    assert all(days[one.date.weekday()] in request.runner.days for one in runs)


def test_the_rules_judge_the_weeks_up_to_the_race() -> None:
    context = rule_context(REQUEST)
    assert check(WEEKS, context) == check([week for week in WEEKS if week.phase != "after"], context)


def test_a_runner_who_may_not_run_has_no_days_after_the_race() -> None:
    request = request_of(injuries=[{"place": "foot", "pain": 6, "since": dt.date(2027, 2, 1)}])
    assert not after(make_schedule(request).all_weeks)


def on_the_day_after(race: Any, *, edits: tuple[EditLine, ...] = ()) -> Replan:
    return replan(
        Situation(
            request=REQUEST, accepted=WEEKS, original=WEEKS, today=RACE.date + DAY, log=(race,), edits=edits
        )
    )


def test_a_race_as_expected_leaves_the_days_after_it_alone() -> None:
    answer = on_the_day_after(done(RACE, duration_s=RACE.duration_s, effort_rpe=9.0))
    assert answer.weeks == WEEKS
    assert not answer.notes


def test_once_the_race_is_run_nothing_is_predicted_for_it_any_more() -> None:
    situation = Situation(request=REQUEST, accepted=WEEKS, original=WEEKS, today=RACE.date + DAY)
    before = [one for one in sessions(WEEKS) if one.role == "club"][-1]
    assert "For race day" in outlook(replace(situation, log=(done(before),)))
    assert not outlook(replace(situation, log=(done(before), done(RACE, duration_s=RACE.duration_s))))


def test_a_race_that_took_much_longer_asks_for_more_rest_and_pain_for_a_stop() -> None:
    high_s = REQUEST.race_plan.goal.predicted_high_s
    assert high_s is not None
    slow = on_the_day_after(done(RACE, duration_s=high_s * 1.15))
    assert [one.cancelled for one in after(slow.weeks)] == [True, False, False]
    sore = on_the_day_after(done(RACE, duration_s=RACE.duration_s, pain=6, place="calf"))
    within = [one for one in after(sore.weeks) if one.date <= RACE.date + 7 * DAY]
    assert within
    assert all(one.kind == "cross_training" or one.cancelled for one in within)


def test_an_illness_after_the_race_clears_the_days_it_lasts() -> None:
    first = after(WEEKS)[0]
    ill = edit("edit/ill/ines-a/1", do="ill", on=RACE.date + DAY, fever=True,
               **{"from": RACE.date + DAY, "to": first.date})  # fmt: skip
    answer = on_the_day_after(done(RACE, duration_s=RACE.duration_s), edits=(ill,))
    assert next(one for one in after(answer.weeks) if one.id == first.id).cancelled
