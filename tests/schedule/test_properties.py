"""No generated plan breaks a limit, refusing is not a way out, and wishes are worth wishing for."""

from __future__ import annotations

import sys
from collections import Counter
from random import Random
from typing import Any

import pytest
from hypothesis import example, given, settings

from planbuilder.rules import check
from planbuilder.schedule import Schedule, make_schedule, rule_context
from tests.schedule.builders import request_of, show
from tests.schedule.random_blocks import odd, odd_block, sensible, sensible_block


def _sound(block: dict[str, Any]) -> Schedule:
    """The plan of a block, after everything that must hold for every plan has been looked at."""
    request = request_of(**block)
    plan = make_schedule(request)
    broken = check(plan.weeks, rule_context(request))
    assert not broken, f"{block}\n{broken}\n{show(plan.weeks)}"
    ids = [session.id for week in plan.weeks for session in week.sessions]
    assert len(ids) == len(set(ids))
    dates = [session.date for week in plan.weeks for session in week.sessions]
    assert dates == sorted(dates)
    assert plan.refused == any(note.kind == "refusal" for note in plan.notes)
    if plan.refused:
        assert plan.notes[0].kind == "refusal"
    for note in plan.notes:
        if note.kind == "given_up":
            assert sum(character.isdigit() for character in note.text) >= 2, note.text
    return plan


@given(sensible())
@settings(max_examples=90)
def test_no_plan_of_a_sensible_runner_breaks_a_limit(block: dict[str, Any]) -> None:
    _sound(block)


@given(odd())
@example(odd_block(Random(358)))  # a sum of tenths of a metre was longer than the week it filled
@settings(max_examples=60)
def test_no_plan_of_an_odd_runner_breaks_a_limit_either(block: dict[str, Any]) -> None:
    _sound(block)


def _shares(seeds: range) -> tuple[int, Counter[str]]:
    counted: Counter[str] = Counter()
    for seed in seeds:
        plan = _sound(sensible_block(Random(seed)))
        counted["plan"] += not plan.refused
        counted["no exception"] += not any(note.kind == "exception" for note in plan.notes)
        counted.update({note.rule for note in plan.notes if note.kind == "given_up"})
    return len(seeds), counted


def _judge(count: int, shares: Counter[str]) -> None:
    for name, number in shares.most_common():
        sys.stdout.write(f"{name}: {number / count:.0%} of {count}\n")
    assert shares["plan"] >= 0.95 * count
    assert shares["no exception"] >= 0.80 * count
    given_up = {name: number for name, number in shares.items() if name not in ("plan", "no exception")}
    assert max(given_up.values(), default=0) <= 0.20 * count, given_up


def test_refusing_is_not_a_way_out_and_no_wish_is_given_up_by_more_than_one_runner_in_five() -> None:
    _judge(*_shares(range(1000, 1120)))


@pytest.mark.slow
def test_thousands_of_plans_break_no_limit_and_keep_the_same_shares() -> None:
    _judge(*_shares(range(2000, 5000)))


@pytest.mark.slow
def test_thousands_of_odd_runners_break_no_limit() -> None:
    for seed in range(2000):
        _sound(odd_block(Random(seed)))
