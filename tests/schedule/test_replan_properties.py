"""What re-planning promises, over random runners and random histories.

The promises are those of common coaching practice (no source) and of the published cap on a single run
(Frandsen et al. 2025) that ``planbuilder.rules`` checks.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from functools import lru_cache
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from planbuilder.plan.types import Session, Week
from planbuilder.rules.context import is_training_run
from planbuilder.schedule import Request, make_schedule
from planbuilder.schedule.replan import Replan, Situation, replan
from tests.schedule.builders import request_of
from tests.schedule.random_blocks import sensible
from tests.schedule.random_histories import health_edits, logs, session_edits

DAY = dt.timedelta(days=1)
MAREN: dict[str, Any] = {
    "weekly_distance": "44 km",
    "longest_run": "16 km",
    "fast_minutes": 25,
    "days": ("tuesday", "wednesday", "thursday", "saturday", "sunday"),
    "results": [{"distance": "10 km", "time": "46:30", "date": dt.date(2027, 2, 14)}],
    "training": {"club_nights": [{"day": "tuesday", "time": "19:00"}]},
}


@lru_cache(maxsize=1)
def maren() -> tuple[Request, tuple[Week, ...]]:
    request = request_of(**MAREN)
    return request, make_schedule(request).all_weeks


@st.composite
def situations(draw: st.DrawFn, *, anyone: bool, edited: bool) -> Situation:
    request, weeks = maren()
    if anyone:
        request = request_of(**draw(sensible()))
        weeks = make_schedule(request).all_weeks
    days = (request.race.date - weeks[0].first_day).days
    today = weeks[0].first_day + draw(st.integers(0, days - 1)) * DAY
    edits = draw(health_edits(weeks, today))
    if edited:
        edits = (*edits, *draw(session_edits(weeks, today)))
    return Situation(
        request=request,
        accepted=weeks,
        original=weeks,
        today=today,
        log=draw(logs(weeks, today)),
        edits=edits,
    )


def again(situation: Situation, answer: Replan) -> Situation:
    """The same day once more, after the answer was accepted."""
    return replace(
        situation, accepted=answer.weeks, answered=frozenset({line.line for line in situation.edits})
    )


def ahead_m(weeks: tuple[Week, ...], today: dt.date) -> float:
    return sum(
        one.distance_m
        for week in weeks
        for one in week.sessions
        if one.date >= today and is_training_run(one) and not one.cancelled
    )


def check_promises(situation: Situation, answer: Replan) -> None:
    today, before, after = situation.today, situation.accepted, answer.weeks
    past = [[one for one in week.sessions if one.date < today] for week in before]
    assert [[one for one in week.sessions if one.date < today] for week in after] == past
    race = [one for week in before for one in week.sessions if one.role == "race"]
    assert [one for week in after for one in week.sessions if one.role == "race"] == race
    assert {one.id for week in after for one in week.sessions} == {
        one.id for week in before for one in week.sessions
    }
    assert ahead_m(after, today) <= ahead_m(before, today) + 1
    assert all(change.why for change in answer.changes)


@given(situations(anyone=False, edited=False))
@settings(max_examples=20)
def test_whatever_happens_all_rules_hold_and_nothing_gets_heavier(situation: Situation) -> None:
    answer = replan(situation)
    check_promises(situation, answer)
    assert not answer.breaches
    for one, two in zip(situation.accepted, answer.weeks, strict=True):
        assert two.distance_m <= one.distance_m + 1
        assert two.work_s <= one.work_s + 1
        longs = [max((run.distance_m for run in week.sessions if run.role == "long"), default=0.0)
                 for week in (one, two)]  # fmt: skip
        assert longs[1] <= longs[0] + 1


@given(situations(anyone=False, edited=True))
@settings(max_examples=15)
def test_asked_again_with_nothing_new_it_changes_nothing(situation: Situation) -> None:
    answer = replan(situation)
    assert not replan(again(situation, answer)).changes


@lru_cache(maxsize=2)
def first_paces(result: str) -> tuple[Request, tuple[Week, ...]]:
    """The request with a first result of week 4, and the weeks that were accepted without one."""
    without = request_of(**{**MAREN, "results": []})
    ran = [{"distance": "10 km", "time": result, "date": without.first_day + 27 * DAY}]
    return request_of(**{**MAREN, "results": ran}), make_schedule(without).all_weeks


def paced(weeks: tuple[Week, ...]) -> set[str]:
    steps = {one.id: one.steps for week in weeks for one in week.sessions}
    return {id_ for id_, own in steps.items() if any(step.pace_s_per_km is not None for step in own)}


def size_of(one: Session) -> tuple[object, ...]:
    return one.date, one.kind, one.distance_m, one.duration_s, one.work_s, one.climb_m, one.cancelled


@given(situations(anyone=False, edited=False), st.sampled_from(("41:00", "58:00")))
@settings(max_examples=12, phases=(Phase.explicit, Phase.generate))
@pytest.mark.filterwarnings("ignore:Generating overly large repr")
def test_whatever_happened_before_a_first_result_it_brings_paces_and_nothing_more(
    lived: Situation, result: str
) -> None:
    request, weeks = first_paces(result)
    ids = {one.id for week in weeks for one in week.sessions}
    log = tuple(line for line in lived.log if line.session in ids)
    source = "Your paces now come from your 10 km"
    situation = replace(lived, request=request, accepted=weeks, original=weeks, log=log, new_source=source)
    answer = replan(situation)
    check_promises(situation, answer)
    assert not answer.breaches
    by_paces_alone = 0
    for change in answer.changes:
        assert change.before is not None
        assert change.after is not None
        if all(why.text.startswith(source) for why in change.why):
            by_paces_alone += 1
            assert size_of(change.after) == size_of(change.before)
    ahead = {one.id for week in weeks for one in week.sessions if one.date >= situation.today}
    assert by_paces_alone or not answer.changes
    assert paced(answer.weeks) <= ahead
    easy = {
        one.id
        for week in answer.weeks
        for one in week.sessions
        if one.kind in ("easy_run", "long_run") and one.id in ahead and not one.cancelled
    }
    assert easy <= paced(answer.weeks)
    assert not replan(again(replace(situation, new_source=None), answer)).changes


@pytest.mark.slow
@given(situations(anyone=True, edited=False))
@settings(
    max_examples=300,
    phases=(Phase.explicit, Phase.generate),
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
@pytest.mark.filterwarnings("ignore:Generating overly large repr")
def test_the_promises_hold_for_any_runner(situation: Situation) -> None:
    answer = replan(situation)
    check_promises(situation, answer)
    assert not answer.breaches
    assert not replan(again(situation, answer)).changes


@pytest.mark.parametrize("week", range(1, 13))
def test_with_nothing_missed_nothing_changes(week: int) -> None:
    """Invariant of change-one-thing testing: common practice, no source."""
    request, weeks = maren()
    today = weeks[week - 1].first_day
    answer = replan(Situation(request=request, accepted=weeks, original=weeks, today=today))
    assert answer.weeks == weeks
    assert not answer.changes
    assert not answer.breaches
